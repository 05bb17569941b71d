"""Joints between their limits: as stiff as moulded, as soft as apart, never silently continuous."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import PLIES, box_case, box_mesh, solved, twist_stiffness
from tub_builders import panel, tub_mesh

from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.tub.joints import join

MEANS = {
    "hinged": {},
    "tabbed": {"tab": ["sheet"], "width": 50, "fillet": 8},
    "fastened": {"bolt": "M6", "pitch": 50},
    "bonded": {"width": 20, "bond_thickness": 0.5},
}


def kind(along, rotation, what="hinged"):
    stiffness = {name: f"{along} N/mm/mm" for name in ("along", "across", "square")}
    given = {"stiffness": {**stiffness, "rotation": f"{rotation} N*mm/mm"}}
    return {"floor_joint": {"kind": what, **MEANS[what], **given}}


JOINTS = {"floor/*": "floor_joint"}


@pytest.fixture(scope="module")
def closed():
    return twist_stiffness(*solved(box_case(), box_mesh()))


@pytest.mark.parametrize("what", MEANS)
def test_stiff_joint_is_as_good_as_moulded(closed, what):
    # 1e8 N/mm per mm is thousands of times the sheet's own 154 000 N/mm over a metre: 0.1 % is asked
    model, solution = solved(box_case(joints=JOINTS, kinds=kind(1e8, 1e10, what)), box_mesh())
    assert len(model.mesh_node) > len(model.mesh.points)
    assert_allclose(twist_stiffness(model, solution), closed, rtol=1e-3)


@pytest.fixture(scope="module")
def opened():
    without = box_case(layups={n: ["sheet"] for n in ("top", "left", "right", "front", "rear")})
    return twist_stiffness(*solved(without, box_mesh(leave_out=("floor",))))


@pytest.mark.parametrize("what", MEANS)
def test_soft_joint_is_as_good_as_none(closed, opened, what):
    # 1e-6 N/mm per mm over 3 m at 0.3 m adds some 0.3 N·m/rad at most: the box is open at the bottom
    soft = twist_stiffness(*solved(box_case(joints=JOINTS, kinds=kind(1e-6, 0, what)), box_mesh()))
    # A wall bonded along an edge holds it straight between nodes, however softly: 0.35 % of an open box.
    assert_allclose(soft, opened, rtol=5e-3)
    assert opened < 1e-3 * closed


def test_hinge_lies_between(closed):
    hinged = twist_stiffness(*solved(box_case(joints=JOINTS, kinds={"floor_joint": {"kind": "hinged"}}), box_mesh()))
    assert 0.9 * closed < hinged < closed * (1 + 1e-6)


def test_ties_name_kind_frames_and_lengths():
    case = box_case(joints=JOINTS, kinds={"floor_joint": {"kind": "hinged"}})
    joined = join(case, box_mesh())
    names = {tie.name: tie for tie in joined.ties}
    assert set(names) == {"floor/front", "floor/left", "floor/rear", "floor/right"}
    assert joined.kinds["floor/left"] == "hinged"
    assert joined.kinds["left/top"] == "continuous"
    tie = names["floor/left"]
    assert tie.kind == "hinged"
    assert_allclose(tie.lengths.sum(), 1.0, rtol=1e-12)
    assert_allclose(
        tie.frames @ np.swapaxes(tie.frames, 1, 2), np.broadcast_to(np.eye(3), tie.frames.shape), atol=1e-12
    )
    assert_allclose(np.abs(tie.frames[:, 0]), np.tile([1.0, 0, 0], (len(tie.frames), 1)), atol=1e-12)
    assert_allclose(np.abs(tie.frames[:, 1]), np.tile([0.0, 1, 0], (len(tie.frames), 1)), atol=1e-12)  # plane of A
    assert_allclose(joined.springs.stiffness[tie.rows].sum(0), [1e12, 1e12, 1e12, 0.0], rtol=1e-12)


def test_springs_store_no_energy_in_rigid_motion():
    case = box_case(joints=JOINTS, kinds=kind(1e3, 1e3))
    mesh = box_mesh()
    joined = join(case, mesh)
    points = mesh.points[joined.split.mesh_node]
    turn, move = np.array([0.3, -0.2, 0.5]), np.array([1.0, 2.0, -1.0])
    u = np.concatenate(
        [move + np.cross(np.broadcast_to(turn, points.shape), points), np.tile(turn, (len(points), 1))], 1
    )
    stretch = (joined.springs.coefficients * u.ravel()[joined.springs.freedoms]).sum(1)
    assert_allclose(stretch, 0.0, atol=1e-14)


def test_line_that_nothing_covers_is_refused():
    case = Case.model_validate(
        {
            "plies": {"sheet": {"E": "70 GPa", "nu": 0.3, "thickness": 2.0}},
            "layups": {"floor": ["sheet"], "wall": ["sheet"]},
        }
    )
    mesh = tub_mesh(
        [
            panel("floor", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (2, 2)),
            panel("wall", [(0, 0, 0), (0, 0, 1), (1, 0, 1), (1, 0, 0)], (2, 2)),
        ]
    )
    with pytest.raises(CaseError, match=r"floor/wall 1\.00 m"):
        join(case, mesh)


def test_a_ply_that_laps_over_a_hinge_ties_it():
    def along(entry):
        case = Case.model_validate(
            {
                "plies": PLIES,
                "layups": {"floor": [entry], "wall": ["sheet"]},
                "joint_kinds": {
                    "bond": {"kind": "bonded", "width": 10, "bond_thickness": 1, "bond_shear_modulus": "1 MPa"}
                },
                "joints": {"floor/wall": "bond"},
            }
        )
        joined = join(case, mesh)
        return joined.springs.stiffness[joined.ties[0].rows].sum(0)

    mesh = tub_mesh(
        [
            panel("floor", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (4, 4)),
            panel("wall", [(0, 0, 0), (0, 0, 1), (1, 0, 1), (1, 0, 0)], (4, 4)),
        ]
    )
    bond = along("sheet")
    lap = along({"ply": "sheet", "laps": {"wall": 60}}) - bond
    assert_allclose(bond[0], 1e6 * 0.01 / 0.001, rtol=1e-12)  # G w / t over one metre
    G_t, k = 70e9 / 2.6 * 0.002, 1.1e9 / 0.2e-3  # no fillet: one leg's shear lag is all
    assert_allclose(lap[0], np.sqrt(G_t * k), rtol=1e-9)


def pulled(force, moment, stiffness):
    """Two sheets in a row tied by springs that are given."""
    return joined_sheets(force, moment, {"kind": "hinged", "stiffness": stiffness})


def joined_sheets(force, moment, joint):
    """Motion at the far end of two sheets in a row, 0.5 x 0.4 m each, tied by line springs; the near end is held."""
    points = {"a": [0, 0, 0], "b": [1000, 0, 0], "c": [1000, 400, 0], "d": [0, 400, 0]}
    load = {"on": "b-c", "force": [f"{f} N" for f in force], "moment": [f"{m} N*m" for m in moment]}
    case = Case.model_validate(
        {
            "plies": {"sheet": {"E": "70 GPa", "nu": 0.0, "thickness": 2.0}},
            "points": points,
            "layups": {"near": ["sheet"], "far": ["sheet"]},
            "joint_kinds": {"joint": joint},
            "joints": {"near/far": "joint"},
            "load_cases": {
                "pull": {
                    "kind": "static",
                    "supports": [{"on": "a-d", "fix": "all"}],
                    "forces": [load],
                    "probes": {"end": "b"},
                }
            },
        }
    )
    ends = {name: tuple(1e-3 * x for x in at) for name, at in points.items()}
    mesh = tub_mesh(
        [
            panel("near", [(0, 0, 0), (0.5, 0, 0), (0.5, 0.4, 0), (0, 0.4, 0)], (5, 4), shift=0.001),
            panel("far", [(0.5, 0, 0), (1, 0, 0), (1, 0.4, 0), (0.5, 0.4, 0)], (5, 4), shift=0.001),
        ],
        points=list(ends.items()),
        lines=[("a-d", ends["a"], ends["d"]), ("b-c", ends["b"], ends["c"])],
    )
    model, solution = solved(case, mesh)
    return solution.u[0][model.probes["pull"]["end"]]


def test_springs_in_series_with_the_sheets():
    # closed forms, uniform tension and pure bending: the sheet's own share, and F/(k b) or M/(k b) of the line
    tension = pulled((1000, 0, 0), (0, 0, 0), {"across": "1 N/mm/mm", "rotation": "1 N*m/mm"})
    assert_allclose(tension[0], 1000 / (70e9 * 0.4 * 0.002) + 1000 / (1e6 * 0.4), rtol=1e-6)
    bending = pulled((0, 0, 0), (0, 1, 0), {"rotation": "20 N*mm/mm"})
    assert_allclose(bending[4], 1 / (70e9 * 0.4 * 0.002**3 / 12) + 1 / (20 * 0.4), rtol=1e-6)


def test_tabbed_line_is_in_series_with_the_sheets():
    # closed forms (J.1 to J.3) of a tab of the sheet's own 2 mm, two legs of 30 mm, no gap: pulled, F L / E t b of the
    # sheets and 2 F / (b √(k E t) tanh(w √(k / E t))) of the legs; bent, M L / D b and M / b · 2 √(E t / k) / D
    tab = {"kind": "tabbed", "tab": ["sheet"], "width": 30}
    a, k, D, b = 70e9 * 0.002, 1.1e9 / 0.2e-3, 70e9 * 0.002**3 / 12, 0.4
    leg = np.sqrt(k * a) * np.tanh(0.03 * np.sqrt(k / a))
    pull = joined_sheets((1000, 0, 0), (0, 0, 0), {**tab, "stiffness": {"rotation": "1 N*m/mm"}})
    assert_allclose(pull[0], 1000 / (a * b) + 1000 * 2 / (leg * b), rtol=1e-6)
    bent = joined_sheets((0, 0, 0), (0, 1, 0), tab)
    assert_allclose(bent[4], 1 / (D * b) + 2 * np.sqrt(a / k) / (D * b), rtol=1e-6)
    assert 2 / leg > 0.003 / a  # the tab is seen: as much as 3 mm of sheet


def test_springs_along_the_line_add_their_slip():
    stiff, soft = (
        pulled((0, 1000, 0), (0, 0, 0), {"along": f"{k} N/mm/mm", "rotation": "1 N*m/mm"})[1] for k in (1e6, 0.5)
    )
    # F/(k b); the lumped rows at the ends of the line and the uneven flow along it leave less than 1 % of the slip
    assert_allclose(soft - stiff, 1000 / (0.5e6 * 0.4), rtol=1e-2)


def test_panel_bolted_to_two_that_are_moulded_together_is_bolted_once():
    case = Case.model_validate(
        {
            "plies": PLIES,
            "layups": {"floor": [{"ply": "sheet", "laps": {"lid": 40}}], "wall": ["sheet"], "lid": ["sheet"]},
            "joint_kinds": {
                "moulded": {"kind": "continuous"},
                "bolted": {"kind": "fastened", "bolt": "M6", "pitch": 100},
            },
            "joints": {"floor/wall": "moulded", "lid/*": "bolted"},
        }
    )
    mesh = tub_mesh(
        [
            panel("floor", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (4, 4)),
            panel("wall", [(0, 0, 0), (0, 0, 1), (1, 0, 1), (1, 0, 0)], (4, 4)),
            panel("lid", [(0, -1, 0), (1, -1, 0), (1, 0, 0), (0, 0, 0)], (4, 4)),
        ]
    )
    joined = join(case, mesh)
    (tie,) = joined.ties
    assert (tie.name, tie.also) == ("floor/lid", ("lid/wall",))
    assert joined.kinds == {"floor/lid": "fastened", "floor/wall": "continuous", "lid/wall": "fastened"}
    G_t, k = 70e9 / 2.6 * 0.002, 1.1e9 / 0.2e-3
    E_t = 70e9 * 0.002
    bolt = (0.004 / 0.012) ** (2 / 3) * 4.2 * (2 / E_t + 2 / (2 * 0.002 * 210e9))  # Huth, see docs/theory.md
    assert_allclose(joined.springs.stiffness[tie.rows][:, 0].sum(), 10 / bolt + np.sqrt(G_t * k), rtol=1e-9)
