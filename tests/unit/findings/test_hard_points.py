"""Mounts of the plain box: loads from statics, checks by hand."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import LENGTH, MOUNT_AT, PLIES, box_case, box_mesh, solved

from tubfem.case.schema import Case
from tubfem.findings.allowables import allowables
from tubfem.findings.collect import find
from tubfem.findings.hard_points import edge_distance, laminate_strengths
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import isotropic
from tubfem.shell.recover import spring_forces

FOAM = {"foam": {"density": "80 kg/m^3", "E": "60 MPa", "G": "25 MPa", "shear_strength": "1 MPa"}}
FOAM["foam"]["compressive_strength"] = "1.2 MPa"


def found(case):
    model, solution = solved(case, box_mesh())
    return model, solution, find(model, (solution,)).load_cases["torsion"]


def sandwich(insert=None):
    mounts = {
        f"{end}_{name}": {
            "at": [0, 1e3 * y, 1e3 * z],
            "bolt": "M10",
            "radius": 45,
            **({"insert": insert} if insert else {}),
        }
        for end in ("front", "rear")
        for name, (y, z) in MOUNT_AT.items()
    }
    walls = {name: ["sheet"] for name in ("floor", "top", "left", "right")}
    layups = walls | {name: ["sheet", "foam 20 mm", "sheet"] for name in ("front", "rear")}
    return box_case(cores=FOAM, layups=layups, mounts=mounts)


@pytest.fixture(scope="module")
def metal():
    return found(box_case())


def test_bolts_of_a_side_carry_the_pickups_force(metal):
    model, solution, case = metal
    # statics: 1 kN m over 0.8 m between the pickups is 1250 N up at one and down at the other, on two mounts each
    assert set(case.hard_points) == set(model.mounts)
    forces = spring_forces(model.states[0].shell.springs[0], solution.u)[0]
    for side, sign in (("l", -1), ("r", 1)):
        total = np.zeros(3)
        for bolt in model.bolts:
            if bolt.carries == f"pickups.front_{side}":
                total += bolt.frame.T @ forces[bolt.rows[:3]]
        assert_allclose(np.abs(total), [0, 0, 1250.0], atol=1e-6)
        assert np.sign(total[2]) == sign


def test_solid_laminate_by_hand(metal):
    _, _, case = metal
    point = case.hard_points["front_low_l"]
    checks = {check.what: check for check in point.checks}
    assert set(checks) == {"bearing", "pull-through"}  # the panel is moulded on all round: no edge
    assert point.edge == np.inf
    assert_allclose(checks["bearing"].demand, point.shear / (0.010 * 0.002), rtol=1e-12)
    assert_allclose(checks["bearing"].allowable, 120e6 / 3, rtol=1e-12)  # plies given by constants, factor 3
    rim = abs(point.axial) + 2 * point.tipping / 0.045
    assert_allclose(checks["pull-through"].demand, rim / (np.pi * 0.09 * 0.002), rtol=1e-12)
    assert point.pull_test == ""
    assert point.margin == min(check.margin for check in point.checks)
    assert_allclose(point.shear, np.hypot(*point.force[:2]), rtol=1e-12)


def test_bolt_through_foam_asks_for_a_pull_test():
    _, _, case = found(sandwich())
    point = case.hard_points["front_low_l"]
    checks = {check.what: check for check in point.checks}
    assert "without insert" in point.pull_test
    # 1 MPa x 0.8 untested over 2; the washer of 90 mm stands on 20 mm of foam
    assert_allclose(checks["core shear around it"].allowable, 0.4e6, rtol=1e-12)
    tau = abs(point.axial) / (2 * np.pi * 0.045 * 0.02) + point.tipping / (np.pi * 0.045**2 * 0.02)
    assert_allclose(checks["core shear around it"].demand, tau, rtol=1e-12)
    assert_allclose(checks["core crushed by the washer"].allowable, 1.2e6 * 0.8 / 2, rtol=1e-12)


def test_insert_is_judged_by_its_pull_out():
    _, _, case = found(sandwich(insert=30))
    point = case.hard_points["front_low_l"]
    checks = {check.what: check for check in point.checks}
    assert_allclose(checks["insert pull-out"].allowable, 2 * np.pi * 0.015 * 0.02 * 0.4e6, rtol=1e-12)
    assert "core crushed by the washer" not in checks
    assert_allclose(
        checks["bearing"].demand, point.shear / (0.030 * 0.004), rtol=1e-12
    )  # both skins, the insert's hole
    assert bool(point.pull_test) == (checks["insert pull-out"].margin < 1)


def test_edges_are_free_or_tied_and_not_moulded():
    kinds = {"hinge": {"kind": "hinged"}}
    case = box_case(joints={"floor/front": "hinge"}, kinds=kinds)
    model, _ = solved(case, box_mesh())
    mounts = {mount.name: mount for mount in model.mesh.mounts}
    assert edge_distance(model, mounts["front_low_l"]) == 0.04  # to the hinged floor; no hair less, which would fail
    assert edge_distance(model, mounts["rear_low_l"]) == np.inf
    free = replace(
        model,
        mesh=box_mesh(leave_out=("floor",)),
        joint_kinds={n: k for n, k in model.joint_kinds.items() if "floor" not in n},
    )
    assert_allclose(edge_distance(free, {m.name: m for m in free.mesh.mounts}["rear_low_l"]), 0.04, rtol=1e-9)


def test_strengths_of_a_sheet_are_its_own():
    # isotropic, 300 MPa, 2.5 asked of fibre failure: pull 120 MPa; in shear no mode of it counts as fibre failure
    stack = make_stack([(0.0, isotropic(70e9, 0.3, 2700.0, 2e-3, strength=300e6))])
    pull, shear = laminate_strengths(stack, allowables(Case(plies=PLIES).margins))
    strain = 300e6 / 70e9 / 2.5
    assert_allclose(pull, 70e9 * strain, rtol=1e-9)
    assert shear > pull


def test_load_on_a_mount_itself_counts():
    table = {
        "kind": "static",
        "supports": [{"on": ["rear_low_l", "rear_low_r", "rear_high_l"], "fix": ["x", "y", "z"]}],
        "forces": [{"on": "front_low_l", "force": ["300 N", "0 N", "400 N"]}],
    }
    model, solution = solved(box_case(load_cases={"static": table}, pickups={}), box_mesh())
    points = find(model, (solution,)).load_cases["static"].hard_points
    assert_allclose([points["front_low_l"].shear, abs(points["front_low_l"].axial)], [400, 300], rtol=1e-9)
    assert LENGTH == 1.0


def test_a_mount_that_is_only_tipped_is_judged_too():
    table = {
        "kind": "static",
        "supports": [{"on": ["rear_low_l", "rear_low_r", "rear_high_l"], "fix": ["x", "y", "z"]}],
        "forces": [{"on": "front_low_l", "moment": ["0 N*m", "30 N*m", "0 N*m"]}],
    }
    model, solution = solved(box_case(load_cases={"static": table}, pickups={}), box_mesh())
    points = find(model, (solution,)).load_cases["static"].hard_points
    assert set(points) == {"front_low_l"}
    # 2 M / r on the rim of a washer of 90 mm, 2 mm thick (statics)
    checks = {check.what: check for check in points["front_low_l"].checks}
    assert_allclose(checks["pull-through"].demand, 2 * 30 / 0.045 / (np.pi * 0.09 * 0.002), rtol=1e-9)
