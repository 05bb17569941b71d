"""Lint and formatting, as one test each, so that the README's test command covers them."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def ruff(*arguments):
    return subprocess.run([sys.executable, "-m", "ruff", *arguments, str(ROOT)], capture_output=True, text=True)


def test_lint():
    result = ruff("check", "--no-cache")
    assert result.returncode == 0, result.stdout


def test_format():
    result = ruff("format", "--check", "--no-cache")
    assert result.returncode == 0, result.stdout + result.stderr
