"""The README's one-line uses give what the README quotes."""

import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
QUOTED = [
    (command.strip(), text)
    for (kind, command), (next_kind, text) in pairwise(BLOCKS)
    if kind == "sh" and next_kind == "text" and "--add" in command
]


def plain(text):
    return [" ".join(line.split()) for line in text.splitlines() if line.strip()]


def test_two_commands_set_everything_up():
    first, second = (text for kind, text in BLOCKS if kind == "sh" and "venv" in text.split(".venv/bin")[0])
    assert first.rstrip().endswith("tubfem run cases/two_seat_roadster.toml")
    assert "pytest" in second.splitlines()[-1]
    assert [text for kind, text in BLOCKS[:2]] == [first, second]


@pytest.mark.parametrize(("command", "quoted"), QUOTED)
def test_quoted_output_is_what_comes(command, quoted, tmp_path):
    words = command.replace("'", "").split()
    assert words[:2] == [".venv/bin/tubfem", "run"]
    done = subprocess.run(
        [sys.executable, "-m", "tubfem", *words[1:], "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = plain(done.stdout)
    assert [line for line in plain(quoted) if line not in told] == []
