"""Whatever stands in a case file: it is read whole or refused in words, never with another exception."""

import copy
import datetime
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tubfem.case.lines import key_lines
from tubfem.case.read import check_case
from tubfem.case.sources import Sources, read_sources
from tubfem.errors import CaseError

ROOT = Path(__file__).parents[2]
PATHS = (ROOT / "tests" / "data" / "starter_like.toml", *sorted((ROOT / "cases").glob("*.toml")))
TEXTS = {path.name: path.read_text() for path in PATHS}
WRONG = st.sampled_from(
    [
        *(0, -1, 7, 1.5, float("nan"), float("inf"), True, "", "x", "a/b", "a.b", "*", "1,5 mm", "12 kg"),
        *("floor", "front", "sill.in_low", "sill.in_low@rear", "front_*", datetime.date(2026, 1, 1)),
        *([], {}, [1], [1, 2], [[]], [{}], ["a", "b"], {"x": 1}, {"on": "x"}, {"like": "x"}),
    ]
)


def places(value, path=()):
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from places(inner, (*path, key))


@st.composite
def damaged(draw):
    """A case with one to three values replaced, taken out or renamed."""
    name = draw(st.sampled_from(sorted(TEXTS)))
    raw = tomllib.loads(TEXTS[name])
    lines = {path: f"{name}:{line}" for path, line in key_lines(TEXTS[name]).lines.items()}
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(sorted(places(raw), key=str)))
        holder = raw
        for part in path[:-1]:
            holder = holder[part]
        match draw(st.sampled_from(["replace", "remove", "rename"])):
            case "replace":
                holder[path[-1]] = copy.deepcopy(draw(WRONG))
            case "remove":
                del holder[path[-1]]
            case "rename" if isinstance(holder, dict):
                holder["renamed"] = holder.pop(path[-1])
    return Sources(raw, lines, ())


def read(sources):
    try:
        return check_case(sources, "b.toml"), ()
    except CaseError as error:
        return None, error.messages


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(damaged())
def test_a_damaged_case_is_read_or_refused_in_words(sources):
    case, messages = read(sources)
    if case is None:
        assert messages
        assert all(": " in message and "\n" not in message for message in messages)
        assert not any(word in message for message in messages for word in ("Value error", "pydantic", "<", "Input "))
    else:
        assert case.load_cases
        assert all(layup.stack for layup in case.layups.values())


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_reading_leaves_what_was_given_untouched(path):
    sources = read_sources(path)
    before = copy.deepcopy(sources.raw)
    check_case(sources, path.name)
    assert sources.raw == before
