"""Why a run ends with exit code 1: hard points of every load case count."""

from tub_box import box_case, box_mesh, solved

from tubfem.cli.app import doubts_of_run
from tubfem.findings.collect import find


def pulled(load):
    return {
        "kind": "static",
        "supports": [{"on": ["rear_low_l", "rear_low_r", "rear_high_l"], "fix": ["x", "y", "z"]}],
        "forces": [{"on": "front_low_l", "force": ["0 N", "0 N", load]}],
    }


def test_a_hard_point_that_fails_in_any_load_case_is_named():
    mesh = box_mesh()
    model, solution = solved(box_case(load_cases={"parked": pulled("10 N"), "kerb": pulled("2 kN")}, pickups={}), mesh)
    findings = find(model, (solution,))
    doubts = [text for text in doubts_of_run(findings, mesh) if "hard point" in text]
    # statics: 2 kN on the side of a 10 mm hole in 2 mm is 100 MPa, 120 at break over 3 are allowed: 0.4 - 1
    assert doubts == ["negative margin: hard point front_low_l, -0.60 bearing, load case kerb"]
