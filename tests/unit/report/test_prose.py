"""Quantities in sentences are found by their units; what is no quantity stays text."""

import pytest

from tubfem.report.measures import MEASURES
from tubfem.report.prose import pieces


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
        ("351 N/mm per mm along, 534 across", []),  # the second has no unit: neither is shown in another
        ("ISO 12215-5:2008, 600 g/m2, M8, part 3m, joint a/b 4.5", []),
        ("24 to 31 MPa for the same 80 kg/m3 foam", [("stress", 24e6), ("stress", 31e6)]),
    ],
)
def test_numbers_with_units_are_found(text, found):
    split = list(pieces(text))
    assert "".join(piece.text for piece in split) == text
    numbers = [(piece.kind, piece.value) for piece in split if piece.value is not None]
    assert [kind for kind, _ in numbers] == [kind for kind, _ in found]
    assert [value for _, value in numbers] == pytest.approx([value for _, value in found])


def test_every_unit_is_that_of_its_kind():
    for piece in pieces("1 N·m/deg, 1 N·m, 1 N/mm, 1 deg/m, 1 MPa, 1 mm, 1 kg, 1 m², 1 m, 1 N"):
        if piece.kind is not None and piece.value is None:
            assert MEASURES[piece.kind].unit == piece.text
