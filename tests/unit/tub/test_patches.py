"""Patches of the case on a real mesh: round an opening, along a border, round a point, on one side."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.schema import Case
from tubfem.case.sections import plain_tub
from tubfem.case.shapes import Recess
from tubfem.errors import CaseError
from tubfem.geometry.mesher import mesh_tub
from tubfem.run import change_case
from tubfem.tub.layup import lay_plies, region_mass
from tubfem.tub.plies import base_thickness

PLY = {"E": "70 GPa", "nu": 0.3, "thickness": 1.0, "density": "1000 kg/m^3"}


def case(patches, *, mirror=None):
    across = {"across": True} if mirror else {}
    y = (0, 300) if mirror else (-300, 300)
    outline = [[0, y[0], 0], [0, y[1], 0], [800, y[1], 0], [800, y[0], 0]]
    return Case.model_validate(
        {
            "mirror": mirror,
            "mesh": {"size": 40},
            "stations": {"front": 0, "rear": 800},
            "panels": {
                "floor": {
                    "outline": outline[1:3] if mirror else outline,
                    "tool": "down",
                    "openings": {"hole": {"circle": 120, "at": [400, 150]}},
                    **across,
                }
            },
            "plies": {"sheet": PLY},
            "layups": {"floor": ["sheet"]},
            "patches": patches,
        }
    )


def added(patches, **more):
    """Area [m²] that the patches add to the floor's, and the note of each."""
    own, plain = case(patches, **more), case({}, **more)
    thickness = base_thickness(own)
    mesh = mesh_tub(plain_tub(own, thickness))
    layup = lay_plies(own, mesh, thickness)
    return region_mass(mesh, layup)["floor"] - region_mass(mesh, lay_plies(plain, mesh, thickness))[
        "floor"
    ], layup.notes


RING = np.pi * (0.09**2 - 0.06**2)


@pytest.mark.parametrize(
    ("patch", "area"),
    [
        ({"around": "opening.hole", "ply": "sheet", "width": 30}, RING),
        ({"around": "edge of floor", "ply": "sheet", "width": 50}, 0.8 * 0.6 - 0.7 * 0.5),
        ({"on": "floor", "at": [200, -100], "ply": "2 x sheet", "radius": 80}, 2 * np.pi * 0.08**2),
    ],
)
def test_patch_has_its_area(patch, area):
    # The mesh draws the hole with 18 chords, so the sheet round it has 1.6 % of the ring's area more than a circle
    # leaves. The circle of 80 mm is right to half a cell for each ply: cells are a quarter of an element wide, an
    # element at most 1.3 times the 40 mm asked for, so half a cell of 13 mm is 0.42 % of the circle.
    mass, notes = added({"extra": patch})
    assert_allclose(mass, area, rtol=2e-2 if "opening" in str(patch) else 4.2e-3)
    assert notes[0].startswith("patch extra on floor: ")


def test_stepped_plies_round_a_recess_lie_on_its_panel():
    # hand sum: strips of 40 and 28 mm beside a rectangle of 200 x 150 mm, outer corners round; measured to half a cell
    # of each ply, 13 mm of 10 000 along: 0.5 %
    recess = {"rectangle": [200, 150], "at": [550, -120], "depth": 25, "towards": "down", "draft": "30 deg"}
    own = case({"extra": {"on": "floor", "around": "recess.seat", "ply": "2 x sheet", "width": 40, "stagger": 12}})
    floor = own.panels["floor"]
    floor = floor.model_copy(update={"recesses": {"seat": Recess.model_validate(recess)}})
    layups = {**own.layups, "floor.seat": own.layups["floor"]}
    own = own.model_copy(update={"panels": {"floor": floor}, "layups": layups})
    thickness = base_thickness(own)
    mesh = mesh_tub(plain_tub(own, thickness))
    patched, plain = (
        region_mass(mesh, lay_plies(each, mesh, thickness)) for each in (own, own.model_copy(update={"patches": {}}))
    )
    area = sum(0.7 * w + np.pi * w**2 for w in (0.040, 0.028))
    assert_allclose(patched["floor"] - plain["floor"], area, rtol=5e-3)
    assert_allclose(patched["floor.seat"], plain["floor.seat"], rtol=1e-12)


def test_plies_added_one_by_one_each_end_at_their_own_step():
    # hand sum: circles of 120, 100 and 80 mm, each to half a cell (see above) of the smallest: 0.42 %
    own = {"on": "floor", "at": [200, -100], "ply": "sheet", "radius": 120, "stagger": 20}
    plain, thickness = case({"extra": own}), base_thickness(case({}))
    mesh = mesh_tub(plain_tub(plain, thickness))
    bare = region_mass(mesh, lay_plies(case({}), mesh, thickness))["floor"]
    for texts in (["patch:extra=sheet*2"], ["patch:extra=sheet"] * 2, ["patch:extra=sheet", "patch:extra=sheet@45"]):
        laid = region_mass(mesh, lay_plies(change_case(plain, add=texts), mesh, thickness))["floor"]
        assert_allclose(laid - bare, np.pi * (0.12**2 + 0.10**2 + 0.08**2), rtol=4.2e-3)


def test_patch_over_the_middle_exists_on_both_sides_unless_only_one_is_meant():
    ring = {"around": "opening.hole", "ply": "sheet", "width": 30}
    both, notes = added({"extra": ring}, mirror="y")
    assert [note.split(":")[0] for note in notes] == ["patch extra on floor right", "patch extra on floor left"]
    one, _ = added({"extra": {**ring, "only": "left"}}, mirror="y")
    assert_allclose([both, one], [2 * RING, RING], rtol=2e-2)
    assert_allclose(both, 2 * one, rtol=1e-12)


@pytest.mark.parametrize(
    ("patch", "words"),
    [
        ({"around": "opening.gap", "ply": "sheet", "width": 30}, "0 panels have opening.gap"),
        ({"on": "floor", "around": "recess.seat", "ply": "sheet", "width": 30}, "floor has no recess seat"),
        ({"on": "roof", "at": [1, 2], "ply": "sheet", "radius": 30}, 'no panel or wall "roof"'),
        ({"at": [1, 2], "ply": "sheet", "radius": 30}, "write on = PANEL"),
        ({"on": "floor", "at": [5000, 100], "ply": "sheet", "radius": 30}, "mm outside floor, past its edge"),
        ({"on": "floor", "at": [300, 100], "ply": "sheet", "radius": 3000}, "its 3000 mm radius holds all of floor"),
    ],
)
def test_patch_without_a_place_is_told(patch, words):
    own = case({"extra": patch})
    mesh = mesh_tub(plain_tub(case({}), {}))
    with pytest.raises(CaseError, match=words):
        lay_plies(own, mesh)
