"""Whether a folder's pictures can be made again from its JSON files alone, and these are explained."""

import re
from pathlib import Path

from tubfem.report.redraw import redraw

ROOT = Path(__file__).parents[1]
NAMED = {
    *("regions", "joints", "joint_margins", "others", "load_cases", "cost", "cloth", "margins"),
    *("single_run_bands", "cloth_left_out", "weaker"),
}


def assert_drawn_again(out, *names):
    """Take the pictures of these studies away: `redraw` makes each once more, byte for byte, and nothing else moves."""
    pictures = [f"{name}.png" for name in names]
    before = {file.name: file.read_bytes() for file in out.iterdir()}
    for picture in pictures:
        (out / picture).unlink()
    assert set(pictures) <= set(redraw(out))
    assert {file.name: file.read_bytes() for file in out.iterdir()} == before


def assert_documented(name, contents):
    """Every key of a study's file stands in docs/files.md, under the file's name; names of a case are no keys."""
    (told,) = re.findall(rf"\*\*`{name}`\*\*: (.*)", (ROOT / "docs" / "files.md").read_text(encoding="utf-8"))
    known = set(re.findall(r"`(\w+)`", told)) | {"schema", "tubfem_version", "case"}
    assert _keys({key: value for key, value in contents.items() if key != "case"}) <= known


def _keys(value):
    if isinstance(value, list):
        return set().union(*map(_keys, value))
    if not isinstance(value, dict):
        return set()
    found = set()
    for key, item in value.items():
        found.add(key)
        entries = list(item.values()) if key in NAMED and isinstance(item, dict) else [item]
        found |= set().union(*map(_keys, entries))
    return found
