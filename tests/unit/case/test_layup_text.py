"""One grammar for entries of a stack."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tubfem.case.layup_text import EntryText, parse_entry
from tubfem.case.stuff import Layup, StackEntry


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("biax600", EntryText("biax600", 1, None, None)),
        ("2 x biax600", EntryText("biax600", 2, None, None)),
        ("2 x biax600 @ 45", EntryText("biax600", 2, 45.0, None)),
        ("uni300@-30.5", EntryText("uni300", 1, -30.5, None)),
        ("3 × uni-300 @ +90 deg", EntryText("uni-300", 3, 90.0, None)),
        ("foam80 15 mm", EntryText("foam80", 1, None, "15 mm")),
        ("foam80 0.5 in", EntryText("foam80", 1, None, "0.5 in")),
        ("foam80 15", EntryText("foam80", 1, None, "15")),
    ],
)
def test_reads_an_entry(text, entry):
    assert parse_entry(text) == entry


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "cannot be read"),
        ("2 biax600", "cannot be read"),
        ("0 x biax600", "0 plies"),
        ("1.5 x biax600", "1.5 plies"),
        ("biax600 @ +-45", "is not an angle"),
        ("biax600 @", "is not an angle"),
        ("2 x foam80 15 mm", "neither a count nor an angle"),
        ("foam80 15 mm @ 45", "neither a count nor an angle"),
    ],
)
def test_says_what_an_entry_looks_like(text, words):
    with pytest.raises(ValueError, match=words):
        parse_entry(text)


@given(st.integers(1, 20), st.integers(-90, 90))
def test_an_entry_reads_back_as_it_is_written(count, angle):
    entry = Layup.model_validate([f"{count} x biax600 @ {angle}"]).stack[0]
    assert Layup.model_validate([entry.text]).stack[0] == entry


def test_a_core_reads_back_as_it_is_written():
    entry = StackEntry.model_validate("foam80 12.5 mm")
    assert entry.thickness == pytest.approx(0.0125)
    assert StackEntry.model_validate(entry.text) == entry
