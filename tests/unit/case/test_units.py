"""Text or number to SI."""

import math

import pytest

from tubfem.case.units import USUAL, by_pint, read_quantity


@pytest.mark.parametrize(
    ("value", "dimension", "si"),
    [
        (15, "length", 0.015),
        (690, "length", 0.69),
        ("15 mm", "length", 0.015),
        ("58 in", "length", 58 * 0.0254),  # inch: 25.4 mm by definition
        ("12", "length", 0.012),
        (45, "angle", math.pi / 4),
        ("30 deg", "angle", math.pi / 6),
        ("30°", "angle", math.pi / 6),
        ("17 oz/yd^2", "areal weight", 17 * 0.028349523125 / 0.9144**2),  # ounce and yard by definition
        ("17 oz/yd2", "areal weight", 17 * 0.028349523125 / 0.9144**2),
        ("600 g/m²", "areal weight", 0.6),
        ("80 kg/m^3", "density", 80.0),
        ("1000 N*m", "moment", 1000.0),
        ("1000 Nm", "moment", 1000.0),
        ("1 kN·m", "moment", 1000.0),
        ("5 kNmm", "moment", 5.0),
        ("740 ft-lb", "moment", 740 * 4.4482216152605 * 0.3048),
        ("740 lb ft", "moment", 740 * 4.4482216152605 * 0.3048),
        ("700 Pa", "stress", 700.0),
        ("3000 psi", "stress", 3000 * 4.4482216152605 / 0.0254**2),  # pound-force by definition
        ("0.6 N/mm", "stiffness", 600.0),
        ("500 N/mm^2", "line stiffness", 5e8),
        ("2 kN/mm/mm", "line stiffness", 2e9),
        ("1 N*m/deg/m", "line stiffness in rotation", 180 / math.pi),
        ("3 g", "acceleration", 3 * 9.80665),  # standard gravity by definition
        ("45 %", "ratio", 0.45),
        (0.45, "ratio", 0.45),
        (0, "force", 0.0),
    ],
)
def test_reads_to_si(value, dimension, si):
    assert read_quantity(value, dimension) == pytest.approx(si, rel=1e-12)


def test_a_bare_length_takes_the_unit_of_the_case():
    assert read_quantity(10, "length", length_unit="in") == pytest.approx(0.254, rel=1e-12)
    assert read_quantity("10 mm", "length", length_unit="in") == pytest.approx(0.010, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "dimension", "words"),
    [
        (600, "areal weight", "has no unit"),
        ("600 g/m", "areal weight", "is not an areal weight"),
        ("15 mmm", "length", 'no unit "mmm"'),
        ("1,5 mm", "length", 'decimal comma. Write "1.5 mm"'),
        ("thick", "length", "is not a length"),
        (True, "length", "true or false"),
        ([1], "length", "is not a length"),
        ("5 kg", "force", "is not a force"),
        ("3 m; import os", "length", "no unit"),
    ],
)
def test_says_what_is_wrong(value, dimension, words):
    with pytest.raises(ValueError, match=words.replace(".", r"\.").replace("comma\\.", "comma.")):
        read_quantity(value, dimension)


@pytest.mark.parametrize("unit", USUAL)
def test_usual_units_are_as_pint_has_them(unit):
    assert USUAL[unit] == by_pint(*unit)
