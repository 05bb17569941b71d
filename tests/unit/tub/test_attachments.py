"""Mounts, subframes and pickups: nothing is stiffened by spreading, and what cannot hold is named."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh, box_panels, solved, twist_stiffness
from tub_builders import tub_mesh

from tubfem.case.joining import Mount
from tubfem.errors import CaseError, SolveError
from tubfem.shell.ties import rigid_motion
from tubfem.tub.attachments import bolt_frame, bolt_stiffness


def with_extra_mount():
    case, mesh = box_case(), box_mesh()
    mounts = [(m.name, mesh.panels[m.panel].name, m.centre, 0.03, 0.045) for m in mesh.mounts]
    mesh = tub_mesh(box_panels(), mounts=[*mounts, ("spare", "top", (0.45, 0.05, 0.2), 0.12, 0.15)])
    extra = {**case.mounts, "spare": Mount.model_validate({"at": [450, 50], "bolt": "M10", "radius": 150})}
    return case.model_copy(update={"mounts": extra}), mesh


def test_spreading_adds_no_stiffness_and_a_rigid_insert_does():
    plain = twist_stiffness(*solved(box_case(), box_mesh()))
    case, mesh = with_extra_mount()
    assert_allclose(twist_stiffness(*solved(case, mesh)), plain, rtol=1e-9)
    rigid = twist_stiffness(*solved(box_case(), box_mesh(), pads="rigid"))
    assert rigid > 1.001 * plain  # the same pads held rigid: a bound from above
    assert twist_stiffness(*solved(case, mesh, pads="rigid")) > rigid * (1 + 1e-6)


def test_rigid_pads_that_touch_are_named():
    mesh = box_mesh()
    mounts = [(m.name, mesh.panels[m.panel].name, m.centre, 0.03, 0.07) for m in mesh.mounts]
    with pytest.raises(SolveError, match="mounts front_low_l and front_high_l: their pads touch"):
        solved(box_case(), tub_mesh(box_panels(), mounts=mounts), pads="rigid")


def test_pickup_without_a_mount_on_its_side_is_told():
    case = box_case()
    pickups = {**case.pickups, "front_l": case.pickups["front_l"].model_copy(update={"carried_by": ("front_*_x",)})}
    with pytest.raises(CaseError, match=r"pickups\.front_l\.carried_by: front_\*_x: no such mount"):
        solved(case.model_copy(update={"pickups": pickups}), box_mesh())


def test_a_mount_follows_the_mean_motion_of_its_pad():
    model, solution = solved(box_case(), box_mesh())
    mount = next(m for m in model.mesh.mounts if m.name == "front_low_r")
    u = solution.u[0]
    pad = np.unique(model.mesh.blocks[0].conn[mount.pad])
    node = model.mounts["front_low_r"]
    assert u[pad, 2].min() < u[node, 2] < u[pad, 2].max()
    assert model.mesh_node[node] == -1


def test_bolts_do_not_feel_rigid_motion():
    model, _ = solved(box_case(), box_mesh())
    shell = model.states[0].shell
    motion = rigid_motion(shell.points).reshape(-1, 6)
    (bolts,) = shell.springs
    stretch = np.einsum("rk,rkm->rm", bolts.coefficients, motion[bolts.freedoms])
    assert_allclose(stretch, 0.0, atol=1e-14)


def test_bolts_in_series_soften_the_twist():
    soft = {"axial": "1 kN/mm", "shear": "1 kN/mm", "tipping": "1 N*m"}
    table = Mount.model_validate({"at": [0, 0], "bolt": "M10", "radius": 60, "stiffness": soft})
    case = box_case()
    mounts = dict.fromkeys(case.mounts, table)
    softer = twist_stiffness(*solved(case.model_copy(update={"mounts": mounts}), box_mesh()))
    assert softer < 0.9 * twist_stiffness(*solved(case, box_mesh()))


def test_bolt_stiffness_grows_with_its_diameter_and_the_case_wins():
    m6 = bolt_stiffness(Mount(at=(0.0, 0.0), bolt="M6", radius=20))
    m12 = bolt_stiffness(Mount(at=(0.0, 0.0), bolt="M12", radius=20))
    assert_allclose(m12, 2 * m6, rtol=1e-12)
    assert 8e6 <= m6[0] <= 15e6  # N/m, the remembered order of magnitude
    given = bolt_stiffness(
        Mount.model_validate({"at": [0, 0], "bolt": "M6", "radius": 20, "stiffness": {"axial": "3 kN/mm"}})
    )
    assert_allclose(given[[0, 2]], [m6[0], 3e6], rtol=1e-12)


def test_bolt_frame_is_a_right_handed_frame_with_the_bolt_last():
    normal = np.array([0.6, 0.0, 0.8])
    frame = bolt_frame(normal)
    assert_allclose(frame @ frame.T, np.eye(3), atol=1e-15)
    assert_allclose([np.linalg.det(frame), frame[2] @ normal], 1.0, rtol=1e-12)


def on_subframes(bolts):
    case = box_case(subframes={end: {"bolts": [f"{end}_{b}" for b in bolts]} for end in ("front", "rear")})
    pickups = {}
    for name, table in case.pickups.items():
        pickups[name] = table.model_copy(update={"carried_by": None, "on": f"subframes.{name.split('_')[0]}"})
    return case.model_copy(update={"pickups": pickups})


def test_subframe_joins_left_and_right_and_moves_its_pickups():
    model, solution = solved(on_subframes(["low_*", "high_*"]), box_mesh())
    u, points = solution.u[0], model.states[0].shell.points
    body = model.subframes["front"]
    for name in ("front_l", "front_r"):
        node = model.pickups[name]
        arm = points[node] - points[body]
        assert_allclose(u[node, :3], u[body, :3] + np.cross(u[body, 3:], arm), rtol=1e-9, atol=1e-12)
        assert_allclose(u[node, 3:], u[body, 3:], rtol=1e-9, atol=1e-15)
    assert twist_stiffness(model, solution) > twist_stiffness(*solved(box_case(), box_mesh()))


@pytest.mark.parametrize(
    ("bolts", "words"),
    [
        (["low_l", "low_r"], r"subframes\.front hangs on 2 bolts \(front_low_l, front_low_r\)"),
        (["low_l"], "hangs on 1 bolts"),
    ],
)
def test_subframe_with_too_few_bolts_is_named(bolts, words):
    with pytest.raises(SolveError, match=words):
        solved(on_subframes(bolts), box_mesh())


def test_subframe_with_its_bolts_in_line_is_named():
    mesh = box_mesh()
    row = [(f"row_{k}", "top", (0.3 + 0.15 * k, 0.0, 0.2), 0.04, 0.07) for k in range(3)]
    kept = [(m.name, mesh.panels[m.panel].name, m.centre, 0.03, 0.045) for m in mesh.mounts]
    case = on_subframes(["low_*", "high_*"])
    table = Mount.model_validate({"at": [0, 0], "bolt": "M8", "radius": 70})
    front = case.subframes["front"].model_copy(update={"bolts": ("row_*",)})
    mounts = {**case.mounts, **{name: table for name, *_ in row}}
    case = case.model_copy(update={"mounts": mounts, "subframes": {**case.subframes, "front": front}})
    with pytest.raises(SolveError, match=r"subframes\.front: its 3 bolts .* lie in one line"):
        solved(case, tub_mesh(box_panels(), mounts=[*kept, *row]))
