"""Joints, hard points and shares of the twist as printed, drawn and written."""

from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
import report_builders
from numpy.testing import assert_allclose
from rich.console import Console

from tubfem.findings.joint_results import HardPoint, HardPointCheck
from tubfem.report.joint_figures import joint_edges, shear_flow_map
from tubfem.report.joints_json import hard_point_entry, joint_entry, twist_entries
from tubfem.report.joints_table import print_hard_points, print_joints, print_twist_shares

POINT = HardPoint(
    name="low.right",
    panel="floor",
    force=np.zeros(6),
    shear=400.0,
    axial=-300.0,
    tipping=5.0,
    diameter=0.01,
    edge=np.inf,
    construction="M10 through 20 mm foam80",
    checks=(HardPointCheck("core shear around it", 2e5, 3e5, "Pa", "from memory"),),
    pull_test="foam without insert",
)


@pytest.fixture(scope="module")
def report():
    model, findings = report_builders.small_report(3)
    load_case = findings.load_cases["torsion"]
    joints = report_builders.judged_joints(load_case)
    energy = replace(
        load_case.energy, regions={"floor": 0.7}, joints={"a.left/b": 0.1, "a.right/b": 0.15}, drilling=0.05
    )
    return model, replace(load_case, joints=joints, hard_points={"low.right": POINT}, energy=energy)


def printed(of, *arguments):
    console = Console(file=StringIO(), width=100)
    of(console, *arguments)
    return console.file.getvalue()


def test_strength_of_joints_is_printed_with_its_peel_and_width(report):
    text = printed(print_joints, report[1], True)
    assert "+0.41" in text
    assert "tab plies" in text
    assert "-0.35" in text
    assert "60, needs 12" in text
    assert "10 %" in text


def test_hard_points_say_what_has_to_be_pulled(report):
    text = printed(print_hard_points, report[1], True)
    assert "core shear around it +0.50" in text
    assert "Pull test needed: low: foam without insert." in text


def test_shares_of_the_twist_are_whole(report):
    text = printed(print_twist_shares, report[1], True)
    assert "a/b" in text
    assert "25 %" in text  # left and right together
    assert "100 %" in text
    assert_allclose(sum(entry["share"] for entry in twist_entries(report[1].energy)), 1.0, rtol=1e-12)


def test_json_has_strength_beside_loads(report):
    joint = next(j for j in report[1].joints.values() if j.strength is not None)
    entry = joint_entry(joint)
    assert entry["strength"]["margin_peel"] == -0.35
    assert entry["strength"]["margins"]["tab plies"] == entry["margin"] == 0.41
    assert entry["fixity"] == 0.1
    point = hard_point_entry(POINT)
    assert point["checks"][0]["margin"] == point["margin"] == pytest.approx(0.5)


def test_every_joint_edge_has_the_flow_read_nearest_to_it(report):
    model, load_case = report
    edges, flow = joint_edges(model, load_case)
    assert len(edges) == len(flow) == sum(len(line.edges) for line in model.mesh.joints)
    assert {joint.peak_shear_flow for joint in load_case.joints.values()} >= set(flow[flow > 0].tolist())


def test_picture_lists_the_highest_flow(report):
    figure = shear_flow_map(*report)
    words = [text.get_text() for axes in figure.axes if axes.get_legend() for text in axes.get_legend().get_texts()]
    top = max(report[1].joints.values(), key=lambda joint: joint.peak_shear_flow)
    assert top.name.split("/")[0] in words[0]
