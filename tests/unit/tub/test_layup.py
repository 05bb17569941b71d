"""Stacks by element: order of what is laid, angles, covered mass."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.case.changes import add_plies
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.tub.layup import lay_plies, mixed, panel_mass, region_mass
from tubfem.tub.plies import base_stacks, base_thickness

PLIES = {
    "ud": {"E1": "40 GPa", "E2": "10 GPa", "G12": "4 GPa", "nu12": 0.3, "thickness": 0.5, "density": "1800 kg/m^3"},
    "mat": {"E": "8 GPa", "nu": 0.3, "thickness": 1.0, "density": "1500 kg/m^3"},
    "biax": {"fibre": "e-glass", "architecture": "biaxial +-45 stitched", "areal_weight": "600 g/m^2"},
}
CORES = {"foam": {"density": "80 kg/m^3", "E": "60 MPa", "G": "25 MPa"}}


def case(layups, **more):
    table = {
        "plies": PLIES,
        "cores": CORES,
        "layups": layups,
        "defaults": {"resin": "epoxy, room-temperature cure", "process": "hand"},
        **more,
    }
    return Case.model_validate(table)


def floor(cells=(8, 6), **more):
    return panel("floor", [(0, 0, 0), (1, 0, 0), (1, 0.6, 0), (0, 0.6, 0)], cells, **more)


def wall(cells=(8, 3), **more):
    return panel("wall", [(0, 0, 0), (0, 0, 0.3), (1, 0, 0.3), (1, 0, 0)], (cells[1], cells[0]), zero=(1, 0, 0), **more)


def stack_texts(layup, element):
    parts = layup.mixture_stacks[layup.mixture[element]]
    return [layup.stack_entries[s] for s in parts]


def test_region_stack_counts_from_the_tool_face_and_letters_repeats():
    stacks = base_stacks(case({"floor": ["mat", "2 x ud @ 30", "foam 15 mm", "biax"]}))
    texts = [layer.text for layer in stacks["floor"]]
    assert texts[:4] == ["floor 1 mat +0", "floor 2a ud +30", "floor 2b ud +30", "floor 3 foam 15 mm"]
    assert texts[4:] == ["floor 4 biax +45", "floor 4 biax -45"]


def test_base_thickness_is_the_sum():
    assert_allclose(base_thickness(case({"floor": ["mat", "2 x ud", "foam 15 mm"]}))["floor"], 0.017, rtol=1e-12)


def test_shift_puts_the_tool_face_below_the_mesh():
    mesh = tub_mesh([floor(shift=0.004)])
    layup = lay_plies(case({"floor": ["mat", "ud"]}), mesh)
    (stack,) = layup.stacks
    assert_allclose(stack.z, [-0.004, -0.003, -0.0025], atol=1e-15)


def test_mirrored_panel_turns_its_angles_the_other_way():
    left = panel(
        "floor.left", [(0, 0, 0), (0, -0.6, 0), (1, -0.6, 0), (1, 0, 0)], (6, 8), mirrored=True, zero=(1, 0, 0)
    )
    right = panel("floor.right", [(0, 0, 0), (1, 0, 0), (1, 0.6, 0), (0, 0.6, 0)], (8, 6), zero=(1, 0, 0))
    mesh = tub_mesh([left, right])
    layup = lay_plies(case({"floor": ["ud @ 30"]}), mesh)
    angles = {
        name: np.degrees(layup.stacks[layup.mixture_stacks[m][0]].angle[0])
        for name, m in zip(("left", "right"), layup.mixture[[0, 48]], strict=True)
    }
    assert_allclose([angles["left"], angles["right"]], [-30, 30], atol=1e-9)


@pytest.mark.parametrize("cells", [(8, 6), (13, 9), (31, 17)])
def test_lap_mass_is_length_times_width(cells):
    layups = {"floor": ["mat", {"ply": "2 x ud @ 20", "laps": {"wall": 60}}, "foam 10 mm", "mat"], "wall": ["mat"]}
    mesh = tub_mesh([floor(cells), wall((cells[0], cells[1] // 2 + 1))])
    masses = region_mass(mesh, lay_plies(case(layups), mesh))
    # hand sums: areas times areal masses; the lap is 1 m long, 60 mm wide, two plies of 0.9 kg/m²
    assert_allclose(masses["floor"], 0.6 * (2 * 1.5 + 2 * 0.9 + 0.8), rtol=1e-12)
    # The strip counts for a fifth of the wall's mass and is right to half a sub-cell: well inside 0.1 % of the wall.
    assert_allclose(masses["wall"], 0.3 * 1.5 + 1.0 * 0.06 * 1.8, rtol=1e-3)


def test_mutual_laps_and_over():
    layups = {
        "floor": ["mat", {"ply": "ud", "laps": {"wall": {"width": 60, "over": 1}}}],
        "wall": ["mat", {"ply": "mat", "laps": {"floor": 75}}, "ud"],
    }
    mesh = tub_mesh([floor((20, 20)), wall((20, 20))])
    layup = lay_plies(case(layups), mesh)
    assert ("wall 1 mat +0", "lap of floor 2 ud +0", "wall 2 mat +0", "wall 3 ud +0") in layup.stack_entries
    assert ("floor 1 mat +0", "floor 2 ud +0", "lap of wall 2 mat +0") in layup.stack_entries
    assert_allclose([sum(weights) for weights in layup.mixture_weights], 1.0, rtol=1e-15)


def test_a_lapped_ply_keeps_its_angle_to_the_joint_line():
    layups = {"floor": [{"ply": "ud @ 30", "laps": {"wall": 60}}], "wall": ["mat"]}
    mesh = tub_mesh([floor(), wall()])
    layup = lay_plies(case(layups), mesh)
    (k,) = [k for k, texts in enumerate(layup.stack_entries) if len(texts) == 2]
    # The floor's fibre at +30 leaves the line y = 0 (x runs with zero) at +30 going inwards, so at -30 past it, up the
    # wall: 30 degrees below x while z rises. The wall's normal is +y (its second edge is x): e2 = y × x = -z.
    assert_allclose(np.degrees(layup.stacks[k].angle[1]), 30, atol=0.1)


def test_lap_onto_a_panel_that_goes_through_lies_on_the_far_side_only():
    bulkhead = panel("bulkhead", [(0.5, 0, 0), (0.5, 0.6, 0), (0.5, 0.6, 0.3), (0.5, 0, 0.3)], (6, 3))  # normal +x
    layups = {"floor": ["mat"], "bulkhead": [{"ply": "ud", "laps": {"floor": 60}}]}
    mesh = tub_mesh([floor((16, 6)), bulkhead])
    layup = lay_plies(case(layups), mesh)
    lapped = np.array(
        [len(layup.mixture_stacks[m]) > 1 or len(stack_texts(layup, e)[0]) > 1 for e, m in enumerate(layup.mixture)]
    )[:96]
    x = mesh.points[mesh.blocks[0].conn[:96]].mean(1)[:, 0]
    assert lapped.any()
    assert (x[lapped] > 0.5).all()
    assert_allclose(region_mass(mesh, layup)["floor"], 0.6 * 1.5 + 0.6 * 0.06 * 0.9, rtol=1e-3)


def test_stagger_shortens_each_next_ply():
    layups = {"floor": [{"ply": "3 x ud", "laps": {"wall": 60}, "stagger": 15}], "wall": ["mat"]}
    mesh = tub_mesh([floor((20, 20)), wall((20, 20))])
    masses = region_mass(mesh, lay_plies(case(layups), mesh))
    assert_allclose(masses["wall"], 0.3 * 1.5 + (0.06 + 0.045 + 0.03) * 0.9, rtol=2e-3)


def test_lap_onto_a_stranger_is_refused():
    layups = {"floor": [{"ply": "ud", "laps": {"dash": 60}}], "wall": ["mat"]}
    mesh = tub_mesh([floor(), wall()])
    with pytest.raises(CaseError, match='laps onto "dash", which floor does not meet; it meets: wall'):
        lay_plies(case(layups), mesh)


def test_region_without_a_layup_is_named():
    with pytest.raises(CaseError, match='region "wall" has no layup'):
        lay_plies(case({"floor": ["mat"]}), tub_mesh([floor(), wall()]))


@pytest.mark.parametrize("cells", [(9, 6), (20, 12), (41, 25)])
def test_stepped_patch_mass(cells):
    mounts = {"m": {"at": [500, 300], "bolt": "M10", "radius": 40, "patch": "3 x ud", "patch_radius": [120, 100, 80]}}
    mesh = tub_mesh([floor(cells)], mounts=[("m", "floor", (0.5, 0.3, 0), 0.03, 0.04)])
    layup = lay_plies(case({"floor": ["mat"]}, mounts=mounts), mesh)
    circles = np.pi * (0.12**2 + 0.1**2 + 0.08**2)
    # hand sum; the circles are a tenth of the mass and chords of an eighth of the coarsest element miss 0.2 % of them
    assert_allclose(panel_mass(mesh, layup)["floor"], 0.6 * 1.5 + circles * 0.9, rtol=5e-4)
    assert len(layup.stacks) == 4


def test_insert_takes_the_core_s_place():
    mounts = {"m": {"at": [500, 300], "bolt": "M8", "radius": 60, "insert": {"diameter": 100, "material": "aluminium"}}}
    mesh = tub_mesh([floor((30, 18))], mounts=[("m", "floor", (0.5, 0.3, 0), 0.05, 0.06)])
    layup = lay_plies(case({"floor": ["mat", "foam 10 mm", "mat"]}, mounts=mounts), mesh)
    (k,) = [k for k, texts in enumerate(layup.stack_entries) if texts[1] == "insert of aluminium"]
    assert_allclose(np.diff(layup.stacks[k].z), [0.001, 0.01, 0.001])
    added = np.pi * 0.05**2 * 0.01 * (layup.stacks[k].plies[1].rho - 80)
    assert_allclose(panel_mass(mesh, layup)["floor"], 0.6 * (3.0 + 0.8) + added, rtol=1e-3)


def test_mixed_weights_by_covered_area():
    mesh = tub_mesh([floor((4, 4)), wall((4, 4))])
    layups = {"floor": [{"ply": "ud", "laps": {"wall": 30}}], "wall": ["mat"]}
    layup = lay_plies(case(layups), mesh)
    thickness = mixed(layup, np.array([stack.thickness for stack in layup.stacks]))[layup.mixture[16:]]
    edge = np.sort(thickness)[-4:]  # 30 of 75 mm are 6.4 sixteenths: six or seven of each element, right on average
    assert set(np.round((edge - 0.001) / 0.0005 * 16).astype(int)) == {6, 7}
    assert_allclose(edge.mean(), 0.0012, rtol=0.5 / 64 / 2.4)


def test_added_plies_keep_the_tool_face_and_the_numbers():
    layups = {
        "floor": ["mat", "foam 10 mm", "ud"],
        "wall": [{"ply": "mat", "laps": {"floor": {"width": 60, "over": 1}}}],
    }
    mesh = tub_mesh([floor(shift=0.005), wall()])
    outline = [[0, 0, 0], [1000, 0, 0], [1000, 600, 0]]
    own = case(layups, panels={name: {"outline": outline, "tool": "down"} for name in layups})
    for change in ("floor=ud:tool", "floor=mat:core", "floor=ud@90"):
        own = add_plies(own, change)
    layup = lay_plies(own, mesh, base_thickness(case(layups)))
    lapped = ("floor 1 mat +0", "lap of wall 1 mat +0", "floor 2 foam 10 mm")
    texts = ("floor + ud +0", *lapped, "floor + mat +0", "floor 3 ud +0", "floor + ud +90")
    assert texts in layup.stack_entries
    plain = texts[:2] + texts[3:]
    assert_allclose(layup.stacks[layup.stack_entries.index(plain)].z[:3], [-0.0055, -0.005, -0.004], atol=1e-12)
