"""docs/verification.md: what it refers to exists, and every recording test has a place on it."""

import re
from pathlib import Path

import pytest
from verification_page import FAMILIES, write_page

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "verification.md"


def test_plots_are_there_and_small():
    plots = re.findall(r"\]\((verification/\S+\.png)\)", PAGE.read_text())
    assert plots
    for plot in plots:
        assert (PAGE.parent / plot).stat().st_size < 200_000
    assert sorted(f"verification/{path.name}" for path in (PAGE.parent / "verification").iterdir()) == sorted(plots)


def test_every_recording_module_has_a_family():
    families = {module for _, _, modules in FAMILIES for module in modules}
    modules = (ROOT / "tests" / "verification").glob("test_*.py")
    assert {path.stem for path in modules if re.search(r"\brecord\b[,)]", path.read_text())} == families


def test_half_a_run_is_refused(tmp_path):
    with pytest.raises(ValueError, match="needs every verification test"):
        write_page(tmp_path, [])
    assert not list(tmp_path.iterdir())
