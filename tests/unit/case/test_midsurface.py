"""The mid-surface rule: where corners, stations, feet and free panels end up, by hand; and `shift`."""

import tomllib

import numpy as np
import pytest

from tubfem.case.midsurface import follow, wanted_motion
from tubfem.case.schema import Case
from tubfem.case.sections import expand, plain_tub, plain_tub_with_notes

BOX = """
[stations]
front = 0
rear = 1000
[sections.box]
MEASURED
walls = { bottom = ["a", "b"], right = ["b", "c"], top = ["c", "d"], left = ["d", "a"] }
at.front = { a = [-150, 0], b = [150, 0], c = [150, 300], d = [-150, 300] }
at.rear = { a = [-150, 0], b = [150, 0], c = [150, 300], d = [-150, 300] }
"""
HAT = """
mirror = "y"
[stations]
front = 0
rear = 1000
[sections.hat]
walls = { side = ["root", "edge"], top = ["edge", "edge"] }
at.front = { root = [100, 0], edge = [100, 200] }
at.rear = { root = [100, 0], edge = [100, 200] }
"""
SILL = """
[sections.sill]
walls.inner = ["in_low", "in_top"]
walls.top = ["in_top", "out_top"]
walls.outer = ["out_top", "out_low"]
walls.bottom = ["out_low", "in_low"]
at.front = { in_low = [400, 0], in_top = [400, 200], out_top = [600, 200], out_low = [600, 0] }
at.rear = { in_low = [400, 0], in_top = [400, 200], out_top = [600, 200], out_low = [600, 0] }
"""


def expansion(text, **thickness):
    return expand(Case.model_validate(tomllib.loads(text)), thickness)


def corner(whole, section, station, name):
    return whole.meshed.rows[section][station][name] * 1e3


@pytest.mark.parametrize(
    ("measured", "half", "shift"),
    [("", 150 - 8.5, 8.5), ('measured = "far"', 150 + 8.5, 8.5), ('measured = "middle"', 150, 8.5)],
    ids=["tool", "far", "middle"],
)
def test_a_box_of_17_mm_walls_moves_to_its_mid_line(measured, half, shift):
    whole = expansion(BOX.replace("MEASURED", measured), box=0.017)
    for station, x in (("front", 0), ("rear", 1000)):
        for name, (y, z) in {"a": (-1, -1), "b": (1, -1), "c": (1, 1), "d": (-1, 1)}.items():
            expected = [x, y * half, 150 + z * half]
            np.testing.assert_allclose(corner(whole, "box", station, name), expected, atol=1e-9)
    assert set(whole.shift) == {"box.bottom", "box.right", "box.top", "box.left"}
    assert list(whole.shift.values()) == pytest.approx([shift * 1e-3] * 4, abs=1e-12)


def test_walls_of_different_thickness_meet_where_their_middles_do():
    text = BOX.replace("MEASURED", 'regions = { top = "lid", "*" = "box" }')
    whole = expansion(text, box=0.010, lid=0.030)
    np.testing.assert_allclose(corner(whole, "box", "front", "c"), [0, 145, 285], atol=1e-9)
    np.testing.assert_allclose(corner(whole, "box", "front", "a"), [0, -145, 5], atol=1e-9)


def test_parallel_neighbours_are_averaged():
    # two walls in line, 10 and 20 mm thick: 5 and 10 mm wanted, 7.5 taken, nothing shot away to infinity
    text = """
    [stations]
    front = 0
    rear = 1000
    [sections.flat]
    walls = { one = ["a", "b"], two = ["b", "c"] }
    regions = { one = "thin", two = "thick" }
    tool = "up"
    at.front = { a = [0, 0], b = [100, 0], c = [200, 0] }
    at.rear = { a = [0, 0], b = [100, 0], c = [200, 0] }
    """
    whole = expansion(text, thin=0.010, thick=0.020)
    np.testing.assert_allclose(corner(whole, "flat", "front", "b"), [0, 100, -7.5], atol=1e-9)
    np.testing.assert_allclose(corner(whole, "flat", "front", "a"), [0, 0, -5], atol=1e-9)
    assert any(note.startswith("flat.") for note in whole.notes)


def test_a_hat_moves_square_to_its_walls_and_its_foot_stays_level():
    whole = expansion(HAT, hat=0.004)
    np.testing.assert_allclose(corner(whole, "hat", "front", "root"), [0, 98, 0], atol=1e-9)
    np.testing.assert_allclose(corner(whole, "hat", "front", "edge"), [0, 98, 198], atol=1e-9)


def test_a_panel_between_the_feet_of_a_hat_takes_them_to_its_own_middle():
    text = HAT + '[panels.lid]\nbetween = ["hat.root", "hat.root"]\ntool = "down"\n'
    whole = expansion(text, hat=0.004, lid=0.020)
    np.testing.assert_allclose(corner(whole, "hat", "rear", "root"), [1000, 98, 10], atol=1e-9)
    assert whole.shift["lid"] == pytest.approx(0.010)
    assert whole.notes == ()


def test_a_panel_between_corners_of_two_walls_follows_them_and_says_so():
    text = HAT + SILL + '[panels.floor]\nbetween = ["sill.in_low", "sill.in_low"]\ntool = "down"\n'
    whole = expansion(text, hat=0.004, sill=0.002, floor=0.020)
    np.testing.assert_allclose(corner(whole, "sill", "front", "in_low"), [0, 401, 1], atol=1e-9)
    assert whole.shift["floor"] == pytest.approx(0.001)
    assert any("floor follows its neighbours: meshed 1.0 mm inside" in note for note in whole.notes)
    # the hat stands on the floor, off its corners: its foot goes up with it, along its own wall
    np.testing.assert_allclose(corner(whole, "hat", "front", "root"), [0, 98, 1], atol=1e-9)


def test_a_station_moves_with_its_panel_and_takes_the_ends_of_sections_along():
    text = HAT + (
        '[panels.front_wall]\non = "front"\noutline = ["hat.root", "hat.edge", [100, 400], [300, 400], [300, 0]]\n'
        'tool = "fore"\n'
        '[panels.rear_wall]\non = "rear"\noutline = ["hat.root", "hat.edge"]\nacross = true\ntool = "aft"\n'
    )
    whole = expansion(text, hat=0.004, front_wall=0.020, rear_wall=0.010)
    np.testing.assert_allclose(corner(whole, "hat", "front", "edge"), [10, 98, 198], atol=1e-9)
    np.testing.assert_allclose(corner(whole, "hat", "rear", "edge"), [995, 98, 198], atol=1e-9)
    assert whole.shift["front_wall"] == pytest.approx(0.010)
    np.testing.assert_allclose(whole.meshed.points["front_wall#3"] * 1e3, [10, 300, 400], atol=1e-9)


def test_panels_in_one_station_move_together():
    text = HAT + (
        '[panels.low]\non = "front"\noutline = [[0, 0], [300, 0], [300, 200], [0, 200]]\ntool = "fore"\n'
        '[panels.high]\non = "front"\noutline = [[0, 200], [300, 200], [300, 400], [0, 400]]\ntool = "fore"\n'
    )
    whole = expansion(text, low=0.010, high=0.030)
    assert whole.meshed.planes["front"].point[0] * 1e3 == pytest.approx(10)  # mean of 5 and 15, equal areas
    assert whole.shift["low"] == pytest.approx(0.010)
    assert whole.shift["high"] == pytest.approx(0.010)


def test_a_pillar_is_run_on_along_its_corner_lines_to_the_moved_sill():
    text = (
        HAT
        + SILL
        + (
            "[sections.post]\n"
            'walls = { a = ["p", "q"], b = ["q", "r"], c = ["r", "s"], d = ["s", "p"] }\n'
            "at.base = { p = [400, 450, 200], q = [500, 450, 200], r = [500, 550, 200], s = [400, 550, 200] }\n"
            "at.head = { p = [450, 450, 700], q = [550, 450, 700], r = [550, 550, 700], s = [450, 550, 700] }\n"
        )
    )
    whole = expansion(text, sill=0.020, post=0.0)
    # the sill's top goes down 10 mm; the post leans aft 50 in 500
    np.testing.assert_allclose(corner(whole, "post", "base", "p"), [399, 450, 190], atol=1e-9)
    np.testing.assert_allclose(corner(whole, "post", "head", "p"), [450, 450, 700], atol=1e-9)


def test_a_written_point_on_a_wall_slides_along_its_edge_to_the_moved_wall():
    text = (
        HAT
        + SILL
        + ('[panels.rib]\non = "front"\noutline = [[500, 200], [550, 200], [550, 400], [520, 400]]\ntool = "fore"\n')
    )
    whole = expansion(text, sill=0.020)
    # the first edge to leave the wall runs from (500, 200) to (520, 400): 10 mm lower it is 1 mm further in
    np.testing.assert_allclose(whole.meshed.points["rib#0"] * 1e3, [0, 499, 190], atol=1e-9)
    np.testing.assert_allclose(whole.meshed.points["rib#1"] * 1e3, [0, 550, 190], atol=1e-9)
    np.testing.assert_allclose(whole.meshed.points["rib#3"] * 1e3, [0, 520, 400], atol=1e-9)


def test_free_panels_that_share_points_meet_at_their_middles():
    text = """
    [points]
    A = [0, 0, 0]
    B = [1000, 0, 0]
    C = [1000, 500, 0]
    D = [0, 500, 0]
    E = [0, 0, 300]
    F = [1000, 0, 300]
    [panels.floor]
    outline = ["A", "B", "C", "D"]
    tool = "down"
    [panels.wall]
    outline = ["A", "B", "F", [0, 0, 300]]
    tool = "in"
    """
    whole = expansion(text, floor=0.020, wall=0.010)
    point = {name: whole.meshed.points[f"points.{name}"] * 1e3 for name in "ABCDF"}
    np.testing.assert_allclose(point["A"], [0, 5, 10], atol=1e-9)
    np.testing.assert_allclose(point["C"], [1000, 500, 10], atol=1e-9)
    np.testing.assert_allclose(point["F"], [1000, 5, 300], atol=1e-9)
    np.testing.assert_allclose(whole.meshed.points["wall#3"] * 1e3, [0, 5, 300], atol=1e-9)
    assert whole.shift == pytest.approx({"floor": 0.010, "wall": 0.005})


def test_a_curved_free_panel_stays_and_says_so():
    text = """
    [panels.roof]
    outline = [[0, 0, 0], [900, 0, 0], { arc = [900, 200, 90] }, [900, 400, 0], [0, 400, 0], { arc = [0, 200, 90] }]
    tool = "down"
    """
    whole = expansion(text, roof=0.020)
    assert whole.shift["roof"] == 0.0
    assert any(note.startswith("roof is not flat, so it stays as measured") for note in whole.notes)


def test_a_cap_moves_along_the_section():
    text = BOX.replace("MEASURED", 'cap = ["rear"]')
    whole = expansion(text, box=0.010)
    np.testing.assert_allclose(corner(whole, "box", "rear", "b"), [995, 145, 5], atol=1e-9)
    assert whole.shift["box.cap"] == pytest.approx(0.005)
    tub = plain_tub(Case.model_validate(tomllib.loads(text)), {})
    assert next(panel for panel in tub.panels if panel.name == "box.cap").tool == (1.0, 0.0, 0.0)


def test_rounded_corners_keep_their_middle():
    # tool outside, radius 40 there: 40 - 5 in the middle of a 10 mm wall; corner (150, 0) at the front
    whole = expansion(BOX.replace("MEASURED", "corner_radius = 40"), box=0.010)
    assert whole.meshed.radius["box"]["b"] == pytest.approx(0.035)
    tub, _ = plain_tub_with_notes(whole.case, {"box": 0.010})
    bottom = next(panel for panel in tub.panels if panel.name == "box.bottom")
    arcs = [edge for face in bottom.faces for edge in face.edges if edge.kind == "arc"]
    centre = np.array([0.110, 0.040])  # the arc's middle does not move
    ends = [point for edge in arcs for point in edge.points if point[1] > 0]
    assert len(ends) == 6
    np.testing.assert_allclose([np.hypot(*(np.array(point[1:]) - centre)) for point in ends], 0.035, atol=1e-12)


def test_wishes_of_a_later_tier_do_not_disturb_an_earlier_one():
    x, y, z = np.eye(3)
    slanted = np.array([0.6, 0.8, 0.0])
    np.testing.assert_allclose(follow([[(x, 1.0)], [(slanted, 2.0)], [(z, 3.0)]], [0.1] * 3), [1.0, 1.75, 3.0])
    np.testing.assert_allclose(follow([[(x, 1.0), (y, 2.0), (z, 3.0)], [(slanted, 99.0)]], [0.1] * 2), [1.0, 2.0, 3.0])


@pytest.mark.parametrize(("measured", "distance", "base"), [("tool", 5, 0), ("far", -5, 10), ("middle", 0, 5)])
def test_where_the_measured_face_lies(measured, distance, base):
    motion = wanted_motion(measured, 10.0)
    assert (motion.distance, motion.base) == (distance, base)
