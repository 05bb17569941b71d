"""Mass of what joints are made of beside their panels: hand sums, whatever the mesh."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.case.joining import JointKind
from tubfem.case.schema import Case
from tubfem.case.sections import plain_tub
from tubfem.geometry.mesher import mesh_tub
from tubfem.laminate.fillet import fillet_area, fillet_shear
from tubfem.tub.fillets import joint_masses, lumped
from tubfem.tub.joints import join
from tubfem.tub.plies import base_thickness

LENGTH, WIDTH, RADIUS = 1.2, 0.06, 0.012
PLY, PASTE = 1600 * 1e-3, 900.0  # kg/m2, kg/m3
TABBED = {"kind": "tabbed", "tab": ["2 x sheet"], "width": 60, "sides": 2, "fillet": 12, "filler": "paste"}


TABLES = {
    "plies": {"sheet": {"E": "20 GPa", "nu": 0.25, "thickness": 1.0, "density": "1600 kg/m^3"}},
    "fillers": {"paste": {"density": "900 kg/m^3", "shear_modulus": "0.7 GPa"}},
    "layups": {"floor": ["sheet"], "wall": ["sheet"]},
    "joints": {"floor/wall": "joint"},
}


def case(**kind):
    return Case.model_validate({**TABLES, "joint_kinds": {"joint": kind}})


def standing(cells, lean=90.0, y0=-0.4):
    """A wall at an angle on a floor that goes on beyond it (or, with y0 = 0, ends there); along x from 0.1 on."""
    up = np.array([0.0, np.cos(np.radians(lean)), np.sin(np.radians(lean))])
    root = np.array([[0.1, 0, 0], [0.1 + LENGTH, 0, 0]])
    floor = [(0.1, y0, 0), (0.1 + LENGTH, y0, 0), (0.1 + LENGTH, 0.4, 0), (0.1, 0.4, 0)]
    wall = [root[0], root[1], root[1] + 0.4 * up, root[0] + 0.4 * up]
    across = cells if y0 == 0 else 2 * cells
    return tub_mesh([panel("floor", floor, (2 * cells, across)), panel("wall", wall, (2 * cells, cells))])


def moulded_to(made, **layups):
    """The case with more panels, moulded to what `layups` says beside their plies."""
    return made.model_copy(
        update={
            "layups": {**made.layups, **{name: made.layups["wall"] for name in layups}},
            "joints": {**made.joints, **{pair: "moulded" for pairs in layups.values() for pair in pairs}},
            "joint_kinds": {**made.joint_kinds, "moulded": JointKind(kind="continuous")},
        }
    )


def masses(kind, mesh):
    made = case(**kind)
    (found,) = joint_masses(made, join(made, mesh).ties)
    return found


@pytest.mark.parametrize("cells", [2, 4, 7])
@pytest.mark.parametrize("lean", [90.0, 60.0])
def test_hand_sum_of_a_wall_that_stands_on_a_floor(cells, lean):
    """Two tabs of two plies: legs on wall and floor and both arcs, half a turn together; a fillet on either side."""
    found = masses(TABBED, standing(cells, lean))
    arcs = RADIUS * (np.pi - np.radians(lean)) + RADIUS * np.radians(lean)
    assert_allclose(found.tabs, 2 * PLY * LENGTH * (4 * WIDTH + arcs), rtol=1e-9)
    areas = fillet_area(RADIUS, np.radians(lean)) + fillet_area(RADIUS, np.pi - np.radians(lean))
    assert_allclose(found.filler, PASTE * LENGTH * areas, rtol=1e-9)
    assert_allclose(found.centre, [0.1 + LENGTH / 2, 0, 0], atol=1e-12)
    assert found.adhesive == 0.0


@pytest.mark.parametrize("cells", [2, 5])
def test_a_line_whose_end_is_not_parted_is_weighed_whole(cells):
    """Where a third panel is moulded to both no spring stands for the last half element, but tabs lie there as well."""
    floor = [(0.1, -0.4, 0), (0.1 + LENGTH, -0.4, 0), (0.1 + LENGTH, 0.4, 0), (0.1, 0.4, 0)]
    wall = [(0.1, 0, 0), (0.1 + LENGTH, 0, 0), (0.1 + LENGTH, 0, 0.4), (0.1, 0, 0.4)]
    front = [(0.1, -0.4, 0), (0.1, 0.4, 0), (0.1, 0.4, 0.4), (0.1, -0.4, 0.4)]
    panels = [
        ("floor", floor, 2 * cells, 2 * cells),
        ("wall", wall, 2 * cells, cells),
        ("front", front, 2 * cells, cells),
    ]
    mesh = tub_mesh([panel(name, corners, (nx, ny)) for name, corners, nx, ny in panels])
    made = moulded_to(case(**TABBED), front=("front/*",))
    (ties,) = join(made, mesh).ties
    assert ties.lengths.sum() < LENGTH * (1 - 0.2 / cells)
    (found,) = joint_masses(made, (ties,))
    assert_allclose(found.tabs, 2 * PLY * LENGTH * (4 * WIDTH + RADIUS * np.pi), rtol=1e-9)
    assert_allclose(lumped([found], 1000).sum(), found.total, rtol=1e-12)


def test_a_right_angle_of_20_mm_weighs_what_the_trade_reckons():
    """0.8 to 1.2 g/cm3 x (1 - pi/4) R2: some 0.09 kg a metre and corner (common practice, no source)."""
    kind = {**TABBED, "fillet": 20}
    assert_allclose(masses(kind, standing(2)).filler / (2 * LENGTH), 0.09, atol=0.015)


@pytest.mark.parametrize("lean", [90.0, 120.0])
def test_a_corner_has_one_fillet_inside_it(lean):
    found = masses(TABBED, standing(3, lean, y0=0.0))
    assert_allclose(found.filler, PASTE * LENGTH * fillet_area(RADIUS, np.radians(lean)), rtol=1e-9)
    assert_allclose(found.tabs, 2 * PLY * LENGTH * 2 * (2 * WIDTH + RADIUS * (np.pi - np.radians(lean))), rtol=1e-9)


def filler_of_the_line(made, mesh):
    found = joint_masses(made, join(made, mesh).ties)
    assert len(found) == 1
    return found[0].filler


@pytest.mark.parametrize("sides", [1, 2])
def test_a_floor_of_two_panels_has_the_fillets_of_one(sides):
    """The wall stands where both floors, moulded together, end: one fillet on either side all the same."""
    kind = {**TABBED, "sides": sides}
    made = moulded_to(case(**kind), more=("floor/more",))
    made = made.model_copy(update={"joints": {**made.joints, "more/wall": "joint"}})
    up = [(0.1, 0, 0), (0.1 + LENGTH, 0, 0), (0.1 + LENGTH, 0.2, 0.4), (0.1, 0.2, 0.4)]
    floors = [[(0.1, a, 0), (0.1 + LENGTH, a, 0), (0.1 + LENGTH, b, 0), (0.1, b, 0)] for a, b in ((-0.3, 0), (0, 0.5))]
    panels = zip(("floor", "more", "wall"), (*floors, up), strict=True)
    mesh = tub_mesh([panel(name, corners, (6, 3)) for name, corners in panels])
    lean = np.arctan2(0.4, 0.2)
    areas = fillet_area(RADIUS, lean) + fillet_area(RADIUS, np.pi - lean)
    assert_allclose(filler_of_the_line(made, mesh), sides / 2 * PASTE * LENGTH * areas, rtol=1e-4)  # angles to 0.001°


@pytest.mark.parametrize("under", [0.2, 0.9])
def test_a_floor_at_the_corner_of_a_box_has_its_fillet_at_the_wall(under):
    """Beside it the box's bottom goes on in line, however wide that is."""
    made = moulded_to(case(**TABBED), bottom=("bottom/wall",))
    made = made.model_copy(update={"joints": {**made.joints, "bottom/floor": "joint"}})
    x0, x1 = 0.1, 0.1 + LENGTH
    mesh = tub_mesh(
        [
            panel("floor", [(x0, -0.4, 0), (x1, -0.4, 0), (x1, 0, 0), (x0, 0, 0)], (6, 3)),
            panel("wall", [(x0, 0, 0), (x1, 0, 0), (x1, 0, 0.4), (x0, 0, 0.4)], (6, 3)),
            panel("bottom", [(x0, 0, 0), (x1, 0, 0), (x1, under, 0), (x0, under, 0)], (6, 3)),
        ]
    )
    assert_allclose(filler_of_the_line(made, mesh), PASTE * LENGTH * fillet_area(RADIUS, np.pi / 2), rtol=1e-9)


@pytest.mark.parametrize("size", [150, 60])
def test_a_floor_that_goes_on_along_part_of_the_line_has_two_fillets_there(size):
    """A wall over 0.3 m of floor, then for 0.7 m along its border: two fillets, then one."""
    wall = [[0, 0, 0], [0, 1000, 0], [0, 1000, 300], [0, 0, 300]]
    floor = [[-200, 0, 0], [-200, 300, 0], [0, 300, 0], [0, 1000, 0], [300, 1000, 0], [300, 0, 0]]
    panels = {
        "floor": {"outline": floor, "tool": "down"},
        "wall": {"outline": wall, "tool": "fore", "zero": "up", "measured": "middle"},
    }
    stations = {"front": -200, "rear": 300}
    made = Case.model_validate(
        {**TABLES, "joint_kinds": {"joint": TABBED}} | {"stations": stations, "mesh": {"size": size}, "panels": panels}
    )
    mesh = mesh_tub(plain_tub(made, base_thickness(made)))
    areas = (2 * 0.3 + 0.7) * fillet_area(RADIUS, np.pi / 2)
    assert_allclose(filler_of_the_line(made, mesh), PASTE * areas, rtol=1e-4)  # angles to 0.001°


def test_what_is_not_named_is_not_weighed():
    without = {key: value for key, value in TABBED.items() if key != "filler"}
    assert masses(without, standing(2)).filler == 0.0
    made = case(kind="fastened", bolt="M6", pitch=80)
    assert joint_masses(made, join(made, standing(2)).ties) == ()


def test_adhesive_of_a_flange():
    found = masses({"kind": "bonded", "width": 25, "bond_thickness": 1.5}, standing(2))
    assert_allclose(found.adhesive, 1180 * 0.025 * 0.0015 * LENGTH, rtol=1e-9)  # the library's thickened epoxy
    assert found.tabs == found.filler == 0.0


def test_lumps_are_the_same_masses_at_both_panels():
    made, mesh = case(**TABBED), standing(4)
    joined = join(made, mesh)
    found = joint_masses(made, joined.ties)
    nodes = joined.split.mesh_node
    lumps = lumped(found, len(nodes))
    assert_allclose(lumps.sum(), found[0].total, rtol=1e-12)
    assert_allclose(lumps @ mesh.points[nodes] / lumps.sum(), found[0].centre, atol=1e-12)
    assert np.flatnonzero(lumps).tolist() == sorted(np.unique(joined.ties[0].pairs))


def test_panels_in_line_have_no_fillet_and_that_is_told():
    made = case(**TABBED)
    mesh = standing(3, 180.0, y0=0.0)
    joined = join(made, mesh)
    assert any("lie in line, so there is no fillet and no paste is counted" in text for text in joined.notes)
    (found,) = joint_masses(made, joined.ties)
    assert found.filler == 0.0
    assert_allclose(found.tabs, 2 * PLY * LENGTH * 4 * WIDTH, rtol=1e-9)
    assert not any("in line" in text for text in join(case(**{**TABBED, "filler": None, "fillet": 0}), mesh).notes)


def test_the_note_tells_what_the_filler_holds():
    (note,) = join(case(**TABBED), standing(2)).notes
    both = float(f"{2e-6 * fillet_shear(RADIUS, np.pi / 2, 0.7e9):.3g}")
    assert note.endswith(f"; {both:g} N/mm per mm of that along by paste")
