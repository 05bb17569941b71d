import math

import pytest

from tubfem.report.numbers import margin, percent, place, three


@pytest.mark.parametrize(
    ("value", "shown"),
    [(2425.1, "2430"), (0.0123456, "0.0123"), (9.996, "10.0"), (999.6, "1000"), (0.0, "0"), (-31.23, "-31.2")],
)
def test_three_digits_and_no_exponent(value, shown):
    assert three(value) == shown


def test_infinite_margins_are_words():
    assert three(math.inf) == "no limit"
    assert margin(math.inf) == "> 10"


@pytest.mark.parametrize(("value", "shown"), [(0.4242, "+0.42"), (-0.0012, "-0.001"), (-0.25, "-0.25"), (12.0, "> 10")])
def test_a_margin_never_rounds_its_sign_away(value, shown):
    assert margin(value) == shown


def test_share_and_place():
    assert [percent(0.234), percent(0.0234), percent(0.0996)] == ["23 %", "2.3 %", "10 %"]
    assert place((0.0123, -0.0004, 1.4)) == "12, 0, 1400"
