"""Tape coordinates, openings, recesses and mounts: places by hand, and the message for every way to miss the panel."""

import tomllib
from functools import cache

import numpy as np
import pytest

from tubfem.case.schema import Case
from tubfem.case.sections import plain_tub, plain_tub_with_notes
from tubfem.case.surfaces import loop_points
from tubfem.errors import CaseError

TUB = """
mirror = "y"
[stations]
front = 100
lean = [[600, 0], [720, 620]]
rear = 1300
[sections.sill]
walls.inner = ["in_low", "in_top"]
walls.top = ["in_top", "out_top"]
walls.outer = ["out_top", "out_low"]
walls.bottom = ["out_low", "in_low"]
at.front = { in_low = [500, 0], in_top = [500, 200], out_top = [700, 200], out_low = [700, 0] }
at.rear = { in_low = [500, 0], in_top = [500, 200], out_top = [700, 200], out_low = [700, 0] }
[panels.floor]
between = ["sill.in_low", "sill.in_low"]
tool = "down"
FLOOR
[panels.back]
on = "lean"
outline = ["sill.in_low", "sill.in_top", [500, 620]]
across = true
tool = "fore"
BACK
[panels.slope]
outline = [[100, 300, 300], [500, 300, 300], [500, 500, 640], [100, 500, 640]]
tool = "out"
SLOPE
"""
UP = np.array([120.0, 0.0, 620.0]) / np.hypot(120, 620)  # up the slope of "lean"
POINT = 'bolt = "M10", radius = 30'


def text_of(floor="", back="", slope="", more=""):
    return TUB.replace("FLOOR", floor).replace("BACK", back).replace("SLOPE", slope) + more


@cache
def tub_of(text):
    return plain_tub(Case.model_validate(tomllib.loads(text)), {})


def panel_of(tub, name):
    return next(panel for panel in tub.panels if panel.name == name)


def faults(text):
    with pytest.raises(CaseError) as caught:
        tub_of(text)
    return caught.value.messages


def mount(text, on="back"):
    return text_of(more=f'[mounts]\nm1 = {{ on = "{on}", {text}, {POINT} }}')


def test_tape_on_a_leaning_panel_runs_up_the_slope():
    tub = tub_of(text_of(back="openings.belt = { circle = 60, at = [330, 512] }"))
    (belt,) = panel_of(tub, "back").openings
    points = loop_points(belt.edges) * 1e3
    centre = np.array([600.0, 330.0, 0.0]) + 512 * UP
    np.testing.assert_allclose(np.linalg.norm(points - centre, axis=1), 30, atol=1e-9)
    np.testing.assert_allclose((points - centre) @ np.cross(UP, [0, 1, 0]), 0, atol=1e-9)
    assert abs(np.dot(belt.normal, np.cross([0, 1, 0], UP))) == pytest.approx(1)


def test_tape_on_a_lying_panel_starts_at_the_first_station():
    tub = tub_of(text_of(floor="openings.drain = { rectangle = [100, 60], at = [360, 300] }"))
    (drain,) = panel_of(tub, "floor").openings
    points = np.array([edge.points[0] for edge in drain.edges]) * 1e3
    assert sorted(map(tuple, points.round(6))) == [(410, 270, 0), (410, 330, 0), (510, 270, 0), (510, 330, 0)]


def test_tape_with_an_origin_of_its_own():
    slope = (
        'origin = [100, 300, 300]\nalong = ["O", "X"]\nopenings.hole = { circle = 50, at = [200, 100] }\n'
        "[points]\nO = [100, 300, 300]\nX = [500, 300, 300]"
    )
    (hole,) = panel_of(tub_of(text_of(slope=slope)), "slope").openings
    centre = np.array([300.0, 300.0, 300.0]) + 100 * np.array([0.0, 200.0, 340.0]) / np.hypot(200, 340)
    np.testing.assert_allclose(np.linalg.norm(loop_points(hole.edges) * 1e3 - centre, axis=1), 25, atol=1e-9)


def test_a_steep_panel_without_an_origin_needs_one():
    (message,) = faults(text_of(slope="openings.hole = { circle = 50, at = [200, 100] }"))
    assert (
        'panels.slope.openings.hole: two numbers need to know how the tape lies here: give the panel origin = "A"'
        in (message)
    )


def test_shapes():
    tub = tub_of(
        text_of(
            back="openings.legs = { rectangle = [120, 100], corner_radius = 30, at = [150, 300] }\n"
            'openings.slot = { slot = [120, 40], at = [350, 300], turn = 90, only = "left" }\n'
            "openings.poly = { polygon = [[100, 500], [200, 500], [150, 560]] }"
        )
    )
    legs, slot, poly = panel_of(tub, "back").openings

    def tape(opening):  # across, up the slope [mm]
        points = loop_points(opening.edges) * 1e3
        return points[:, 1], (points - [600, 0, 0]) @ UP

    assert [edge.kind for edge in legs.edges] == ["arc", "line"] * 4
    across, up = tape(legs)
    assert (across.min(), across.max(), up.min(), up.max()) == pytest.approx((90, 210, 250, 350))
    corner = np.hypot(across - (210 - 30), up - (350 - 30))
    assert corner[(across > 180 + 1e-6) & (up > 320 + 1e-6)] == pytest.approx(30)
    across, up = tape(slot)
    assert (across.min(), across.max(), up.min(), up.max()) == pytest.approx((330, 370, 240, 360))
    assert slot.only == "left"
    across, up = tape(poly)
    np.testing.assert_allclose(np.stack([across, up], 1), [[100, 500], [200, 500], [150, 560]], atol=1e-9)
    assert legs.edges[-1].points[-1] == pytest.approx(legs.edges[0].points[0], abs=1e-15)


def test_a_recess_goes_square_to_its_panel_towards_the_side_it_names():
    recess = 'recesses.bay = { rectangle = [180, 120], at = [250, 300], depth = 30, towards = "aft", draft = "20 deg" }'
    (bay,) = panel_of(tub_of(text_of(back=recess)), "back").recesses
    assert np.dot(bay.towards, UP) == pytest.approx(0, abs=1e-12)
    assert bay.towards[0] > 0.9
    assert (bay.depth, bay.region, bay.walls_region) == (0.030, "back.bay", "back.bay")
    assert bay.draft == pytest.approx(np.radians(20))
    (message,) = faults(text_of(back=recess.replace('"aft"', '"up"')))
    assert message.endswith('towards = "up", but back looks fore and aft; choose "fore" or "aft"')
    (message,) = faults(text_of(back=recess.replace("depth = 30", "depth = 180")))
    assert "180 deep with walls leaning 20 degrees leaves no bottom" in message


def test_a_hole_near_the_edge_and_over_it():
    (message,) = faults(text_of(back="openings.legs = { rectangle = [330, 300], at = [325, 190] }"))
    low, high = 40 * UP[2], 340 * UP[2]
    assert message == (
        "case: panels.back.openings.legs: at [325, 190], [330, 300] wide reaches y = 160..490, "
        f"z = {low:.0f}..{high:.0f}; it comes within 10 mm of edge sill.in_low. Least 15"
    )
    (message,) = faults(text_of(back="openings.legs = { circle = 100, at = [480, 190] }"))
    assert "at [480, 190], 100 wide reaches y = 430..530, z = " in message
    assert "it runs over edge sill.in_low. Least 15" in message


def test_the_least_distance_from_the_edge_is_the_joint_margin():
    hole = "openings.legs = { circle = 100, at = [440, 190] }"  # ends 10 mm short of y = 500
    (message,) = faults(text_of(back=hole))
    assert "it comes within 10 mm of edge sill.in_low. Least 15" in message
    assert tub_of(text_of(back=hole, more="[defaults]\njoint_margin = 8"))


def test_holes_too_near_each_other():
    (message,) = faults(
        text_of(back="openings.a = { circle = 60, at = [200, 300] }\nopenings.b = { circle = 60, at = [270, 300] }")
    )
    assert "panels.back.openings.b: comes within 10 mm of a. Least 15" in message
    (message,) = faults(
        text_of(back="openings.a = { circle = 90, at = [200, 300] }\nopenings.b = { circle = 20, at = [210, 300] }")
    )
    assert "panels.back.openings.b: overlaps a" in message
    sides = 'openings.a = { circle = 60, at = [200, 300], only = "left" }\n'
    assert tub_of(text_of(back=sides + 'openings.b = { circle = 60, at = [210, 300], only = "right" }'))


def test_a_hole_under_a_panel_that_stands_there_is_worth_a_look():
    text = text_of(floor="openings.a = { circle = 60, at = [495, 300] }\nopenings.b = { circle = 60, at = [800, 300] }")
    _, notes = plain_tub_with_notes(Case.model_validate(tomllib.loads(text)), {})
    cautions = [note for note in notes if note.startswith("caution")]
    assert cautions == ["caution: panels.floor.openings.a lies across the line where back stands on floor"]


def test_holes_that_meet_over_the_middle():
    case = Case.model_validate(tomllib.loads(text_of(back="openings.hatch = { circle = 100, at = [30, 300] }")))
    _, notes = plain_tub_with_notes(case, {})
    assert (
        "caution: panels.back.openings.hatch: hatch.left and hatch.right overlap; one hole in the middle? at = [0, ...]"
    ) in notes
    (message,) = faults(text_of(back='openings.hatch = { circle = 100, at = [30, 300], only = "left" }'))
    assert "reaches over the middle; a hole on one side only must stay 15 mm clear of it" in message


def test_mounts_by_tape_and_by_three_numbers():
    (one,) = tub_of(mount("at = [330, 300]")).mounts
    np.testing.assert_allclose(np.array(one.centre) * 1e3, np.array([600, 330, 0]) + 300 * UP, atol=1e-9)
    assert one.panel == "back"
    assert (one.insert_radius, one.radius) == (0.005, 0.030)
    case = Case.model_validate(tomllib.loads(mount("at = [660, 330, 310]")))
    tub, notes = plain_tub_with_notes(case, {})  # the plane is at x = 660 there
    np.testing.assert_allclose(np.array(tub.mounts[0].centre) * 1e3, [660, 330, 310], atol=1e-9)
    assert not any("dropped" in note for note in notes)
    case = Case.model_validate(tomllib.loads(mount("at = [665, 330, 310]")))
    tub, notes = plain_tub_with_notes(case, {})
    off = 5 * UP[2]  # square to the panel, not along x
    assert f"m1: dropped {off:.1f} mm on to back" in notes
    normal = np.array([UP[2], 0, -UP[0]])
    np.testing.assert_allclose(np.array(tub.mounts[0].centre) * 1e3, [665, 330, 310] - off * normal, atol=1e-9)


def test_a_mount_goes_with_its_panel_to_the_middle_of_the_laminate():
    case = Case.model_validate(tomllib.loads(mount("at = [330, 300]")))
    tub = plain_tub(case, {"back": 0.020})
    normal = np.array([UP[2], 0, -UP[0]])  # tool fore: the laminate grows aft
    expected = np.array([600, 330, 0]) + 300 * UP + 10 * normal
    np.testing.assert_allclose(np.array(tub.mounts[0].centre) * 1e3, expected, atol=1e-9)
    assert np.dot(tub.mounts[0].normal, normal) == pytest.approx(1)


def test_a_mount_without_a_panel_finds_it():
    (one,) = tub_of(text_of(more=f"[mounts]\nm1 = {{ at = [900, 300, 3], {POINT} }}")).mounts
    assert one.panel == "floor"
    np.testing.assert_allclose(np.array(one.centre) * 1e3, [900, 300, 0], atol=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (mount("at = [631, 330, 0]"), "mounts.m1: lies 30 mm off back (at x = 631); two numbers [y, z] put it on"),
        (mount("at = [490, 190]"), "mounts.m1: its 30 mm radius reaches 20 mm over edge sill.in_low"),
        (mount("at = [520, 190]"), "mounts.m1: lies 20 mm outside back, past its edge sill.in_low"),
        (
            text_of(more=f"[mounts]\nm1 = {{ at = [600, 300, 2], {POINT} }}"),
            'mounts.m1: floor and back are both within 5 mm; write on = "floor"',
        ),
        (
            text_of(more=f"[mounts]\nm1 = {{ at = [900, 300, 40], {POINT} }}"),
            "mounts.m1: lies on no panel (nearest: floor, 40 mm)",
        ),
        (text_of(more=f"[mounts]\nm1 = {{ at = [900, 300], {POINT} }}"), "two numbers are measured on a panel"),
        (
            text_of(
                more=f"[mounts]\nm1 = {{ at = [900, 300, 2], {POINT}, insert = {{ diameter = 20, depth = 20 }} }}\n"
                '[layups]\nfloor = ["foam 15 mm"]'
            ),
            "mounts.m1.insert.depth: 20 mm into the core of floor, which is 15 mm thick; leave depth out",
        ),
        (
            text_of(
                back="openings.pipes = { circle = 60, at = [300, 300] }",
                more=f'[mounts]\nm1 = {{ on = "back", at = [350, 300], {POINT} }}',
            ),
            'mounts.m1: its 30 mm radius reaches into opening "pipes"',
        ),
    ],
)
def test_mounts_that_miss(text, message):
    assert any(message in found for found in faults(text)), faults(text)


def test_several_faults_come_together():
    text = text_of(
        back="openings.a = { circle = 100, at = [480, 190] }",
        more=f'[mounts]\nm1 = {{ on = "back", at = [490, 400], {POINT} }}',
    )
    assert len(faults(text)) == 2
