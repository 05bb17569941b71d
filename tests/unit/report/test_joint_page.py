"""The page's part on joints: paths, hard points with every check, pull tests, shares of the twist."""

import re
from dataclasses import replace

import numpy as np
import pytest
import report_builders

from tubfem.findings.connections import ConnectionFindings, PathFindings
from tubfem.findings.joint_results import HardPoint, HardPointCheck
from tubfem.report import html, joint_page, json_file


def point(name, margin):
    checks = (
        HardPointCheck("insert pull-out", 1000.0, 1000.0 * (1 + margin), "N", "ECSS-E-HB-32-22A"),
        HardPointCheck("bearing", 1e6, 9e6, "Pa", "from memory"),
        HardPointCheck("edge distance", 0.03, 0.3, "m", "common practice"),
    )
    loads = {"force": np.zeros(6), "shear": 400.0, "axial": -300.0, "tipping": 5.0, "diameter": 0.03, "edge": 0.3}
    return HardPoint(name, "floor", construction="M10 in an insert", checks=checks, pull_test="margin below 1", **loads)


def path(joint, share, without):
    force = np.array([0.0, 0.0, 100.0 * share])
    return PathFindings(joint, "tabbed", 0.25, force, force, None, share, without)


@pytest.fixture(scope="module")
def text():
    model, findings = report_builders.small_report(2)
    load_case = findings.load_cases["torsion"]
    joints = report_builders.judged_joints(load_case)
    paths = path("dash/sill", 0.25, (1.0, 2.0, 63900.0)), path("over/sill", 0.75, None)
    whole = ConnectionFindings("foot", np.zeros(3), np.zeros(3), np.array([0, 0, 100.0]), (1.0, 2.0, 471000.0), paths)
    energy = replace(load_case.energy, regions={"floor": 0.7}, joints={"a.left/b": 0.1, "a.right/b": 0.2}, drilling=0.0)
    points = {name: point(name, margin) for name, margin in (("low.left", 0.5), ("low.right", -0.25))}
    case = replace(load_case, joints=joints, hard_points=points, connections={"foot": whole}, energy=energy)
    findings = replace(findings, load_cases={"torsion": case})
    return html.page(model, json_file.results(model, findings, {}, "0.0"), findings)


def rows(text, caption, headings=False):
    """Cells of the table with this caption, as plain text."""
    table = next(t for t in re.findall(r"<table.*?</table>", text, re.S) if f"<caption>{caption}" in t)
    head, _, body = table.partition("<tbody>")
    found = re.findall(r"<tr>(.*?)</tr>", head if headings else body, re.S)
    return [
        [re.sub("<[^>]*>", "", cell).strip() for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.S)] for row in found
    ]


def test_paths_have_shares_and_the_stiffness_left_without_each(text):
    first, second = rows(text, "Connection foot, load case torsion")
    assert first == ["dash/sill", "tabbed", "0.250", "–", "25 %", "63900"]
    heading = rows(text, "Connection foot, load case torsion", headings=True)[0]
    assert (heading[2], heading[5]) == ("length, m", "turning stiffness without it, N·m/rad")
    assert second[4:] == ["75 %", "moulded"]
    assert "471000 N·m/rad</data> about z" in text


def test_hard_points_show_every_check_and_who_has_to_be_pulled(text):
    left, right = rows(text, "Hard points, load case torsion")
    assert left[3:] == ["400", "-300", "5.00", "+0.50", "insert pull-out"]
    heading = rows(text, "Hard points, load case torsion", headings=True)[0]
    assert heading[3:6] == ["shear, N", "axial, N", "tipping, N·m"]
    assert right[6] == "-0.25"
    checks = rows(text, "Checks of the hard points")
    assert len(checks) == 6
    assert checks[3] == ["low.right", "insert pull-out", "1000 N", "750 N", "-0.25", "ECSS-E-HB-32-22A"]
    assert checks[5][2:4] == ["30.0 mm", "300 mm"]
    assert "Pull test needed: low: margin below 1." in text


def test_shares_of_the_twist_are_whole(text):
    found = rows(text, "What the twist is made of")
    assert ["a/b", "joint", "30 %", ""] in found  # left and right together
    assert found[-1][:3] == ["together", "", "100 %"]


def test_joints_have_peel_leg_and_fixity_beside_their_margin(text):
    first = rows(text, "Strength of the joints")[0]
    assert first[1:] == ["+0.41", "tab plies", "-0.35", "60.0", "12.0", "10 %"]
    assert rows(text, "Strength of the joints", headings=True)[0][4:6] == ["leg, mm", "leg needed, mm"]


def test_worse_side_of_a_joint_is_shown():
    def joint(margin):
        return {"margin": margin, "strength": {"margins": {"tab plies": margin, "bond shear": None}}}

    found = joint_page.judged({"a.left/b": joint(0.4), "a.right/b": joint(-0.1), "c/d": joint(0.2)})
    assert [(name, kind) for name, _, kind in found] == [("a.right/b", "tab plies"), ("c/d", "tab plies")]
