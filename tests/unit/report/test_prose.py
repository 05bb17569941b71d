"""Quantities in sentences are found by their units; what is no quantity stays text."""

import pytest

from tubfem.report.measures import MEASURES
from tubfem.report.prose import KINDS, pieces


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("softest there: 0.16 deg/m, 30 % of the twist on 0.42 m.", [("rate", 0.16), ("run", 0.42)]),
        (
            "in sill.top at x 778, y -688, z 284 mm, torque -",
            [("length", 0.778), ("length", -0.688), ("length", 0.284)],
        ),
        ("between dash and seat_back (x = 500 to 1000 mm)", [("length", 0.5), ("length", 1.0)]),
        ("2430 N·m/deg under 1000 N·m", [("stiffness", 2430.0), ("torque", 1000.0)]),
        (
            "351 N/mm per mm along, 0.395 N·mm/mm per degree, 534 across",  # the last has no unit
            [("line_stiffness", 351e6), ("line_turning", 0.395)],
        ),
        ("ISO 12215-5:2008, M8, 1 in 14, 18 x 4 x 4 bricks, part 3m, joint a/b 4.5", []),
        ("600 g/m2 of cloth, 0.45 kg/m²", [("cloth", 0.6), ("areal", 0.45)]),
        ("24 to 31 MPa for the same 80 kg/m3 foam", [("stress", 24e6), ("stress", 31e6), ("density", 80.0)]),
        ("E1 13.2 GPa; cell of 365 to 886 cm²", [("modulus", 13.2e9), ("cut", 0.0365), ("cut", 0.0886)]),
        ("foam80 inside pillar: 2.19 l, 0.175 kg", [("volume", 2.19e-3), ("mass", 0.175)]),
        (
            "a 120 x 80 mm rectangle, up to x = 1, y = -2, z = 3 mm",
            [("length", v) for v in (0.12, 0.08, 1e-3, -2e-3, 3e-3)],
        ),
    ],
)
def test_numbers_with_units_are_found(text, found):
    split = list(pieces(text))
    assert "".join(piece.text for piece in split) == text
    numbers = [(piece.kind, piece.value) for piece in split if piece.value is not None]
    assert [kind for kind, _ in numbers] == [kind for kind, _ in found]
    assert [value for _, value in numbers] == pytest.approx([value for _, value in found])


def test_every_unit_is_that_of_its_kind():
    assert list(KINDS) == [unit for unit in KINDS if list(pieces(f"1 {unit}"))[-2].text == unit]  # no shorter one first
    for unit, kind in KINDS.items():
        assert MEASURES[kind].unit == unit
