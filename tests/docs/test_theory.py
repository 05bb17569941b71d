"""docs/theory.md: every displayed equation has a number of its own, and every number that code cites is there."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
THEORY = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
CITED = re.compile(r"\(((?:[A-Z]\.\d+(?:, | to |-|\)))+)")  # (J.1), (J.9, J.10), (V.2 to V.4), (F.3-F.5)
NUMBER = re.compile(r"[A-Z]\.\d+")


def numbers(text):
    return [number for group in CITED.findall(text) for number in NUMBER.findall(group)]


def test_no_number_is_given_twice():
    shown = [number for line in THEORY.splitlines() if line.startswith("> ") for number in numbers(line[-16:])]
    assert len(shown) > 50
    assert len(set(shown)) == len(shown), sorted({number for number in shown if shown.count(number) > 1})


def test_a_letter_belongs_to_one_section():
    home = {}
    for section in re.split(r"(?m)^## ", THEORY)[1:]:
        for line in section.splitlines()[1:]:
            if line.startswith("> "):
                for number in numbers(line[-16:]):
                    home.setdefault(number[0], set()).add(section.splitlines()[0])
    assert all(len(sections) == 1 for sections in home.values()), home


def test_every_number_cited_in_code_is_there():
    known = set(numbers(THEORY))
    files = [*(ROOT / "tubfem").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    cited = {(number, path.name) for path in files for number in numbers(path.read_text(encoding="utf-8"))}
    assert len(cited) > 40
    assert not {each for each in cited if each[0] not in known}
