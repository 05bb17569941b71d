"""Line numbers of keys, against texts in which tomllib reads the line numbers as values."""

import re
import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from tubfem.case.lines import key_lines

TEXT = '''title = 1
[a]              # [not.a.table] = 3
b = 3
"c/d" = 4
at.front = { x = 5, y = [5,
  { z = 6 }] }
text = """
[k]
b = 3
"""
later = 11
[a.e.'f g']
list = [
  # a comment, with ] and }
  "15 ] # not a comment",
  { ply = 16, laps = { floor = 16 } },
]
[[many]]
n = 19
[[many]]
n = 21
sub.key = 22
'''


def test_every_key_and_entry_has_its_line():
    lines = key_lines(TEXT).lines
    expected = {
        ("title",): 1,
        ("a",): 2,
        ("a", "b"): 3,
        ("a", "c/d"): 4,
        ("a", "at", "front"): 5,
        ("a", "at", "front", "y", 0): 5,
        ("a", "at", "front", "y", 1, "z"): 6,
        ("a", "later"): 11,
        ("a", "e", "f g"): 12,
        ("a", "e", "f g", "list"): 13,
        ("a", "e", "f g", "list", 0): 15,
        ("a", "e", "f g", "list", 1, "laps", "floor"): 16,
        ("many", 0, "n"): 19,
        ("many", 1, "n"): 21,
        ("many", 1, "sub", "key"): 22,
    }
    assert {path: lines[path] for path in expected} == expected
    assert key_lines(TEXT).repeats == ()


def paths(value, path=()):
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from paths(inner, (*path, key))


def test_nothing_that_tomllib_reads_is_without_a_line():
    lines = key_lines(TEXT).lines
    assert set(paths(tomllib.loads(TEXT.replace("y = [5,\n  { z = 6 }]", "y = [5]")))) <= set(lines)


def test_what_is_given_twice_is_found():
    repeats = key_lines('[layups]\nfloor = ["a"]\n[layups.floor]\nstack = ["b"]\n[b]\nx = 1\nx = 2\n').repeats
    assert repeats == ((("layups", "floor"), 3, 2), (("b", "x"), 7, 6))


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="[]{}=\"',.#\n ab1", max_size=60))
def test_broken_text_never_stops_the_walk(text):
    lines = key_lines(text).lines
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())


@settings(max_examples=100, deadline=None)
@given(st.text(alphabet="[]{}=\"',.#\n ab1", max_size=40))
def test_every_key_of_sound_text_has_a_line(text):
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    quoted = re.search(r"[\"']", text)  # escapes and empty quoted keys are not names of a case
    assert quoted or set(paths(raw)) <= set(key_lines(text).lines)
