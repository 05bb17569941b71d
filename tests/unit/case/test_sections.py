"""Cases expanded to plain panels: coordinates worked out by hand, edges of neighbours that must coincide."""

from functools import cache

import numpy as np
import pytest
from tub_texts import STARTER, TWO_SEATER, case_of

from tubfem.case.frames import area_vector
from tubfem.case.plain import Edge
from tubfem.case.sections import expand, plain_tub, plain_tub_with_notes, regions_of
from tubfem.case.standing import under
from tubfem.case.surfaces import foot, loop_points

THICK = {  # total thickness of each region's base stack [m], single skins and sandwiches mixed
    **dict.fromkeys(("floor", "dash", "seat_back", "front_bulkhead", "rear_bulkhead"), 0.0215),
    **dict.fromkeys(("scuttle", "tail", "toe_board"), 0.0115),
    **dict.fromkeys(("tunnel", "sill", "sill_inner", "sill_outer", "pillar", "closing_panel", "seat_riser"), 0.0024),
}


@cache
def tub_of(text):
    return plain_tub(case_of(text), {})


def panel_of(tub, name):
    return next(panel for panel in tub.panels if panel.name == name)


def corners_of(face):
    """First points of a face's edges [mm]."""
    return np.array([edge.points[0] for edge in face.edges]) * 1e3


def mm(*points):
    return pytest.approx(np.array(points, dtype=float), abs=1e-6)


def test_walls_of_the_starter_by_hand():
    tub = tub_of(STARTER)
    (side,) = panel_of(tub, "tunnel.side").faces
    assert corners_of(side) == mm([0, 120, 0], [1480, 170, 0], [1480, 140, 260], [0, 95, 210])
    top = panel_of(tub, "tunnel.top")
    assert top.side == "across"
    assert corners_of(top.faces[0]) == mm([0, 95, 210], [1480, 140, 260], [1480, 0, 260], [0, 0, 210])
    floor = panel_of(tub, "floor")
    assert floor.side == "across"
    assert corners_of(floor.faces[0]) == mm([0, 470, 0], [1480, 490, 0], [1480, 0, 0], [0, 0, 0])
    assert {panel.name for panel in tub.panels if panel.section} == {
        f"sill.{wall}" for wall in ("inner", "top", "outer", "bottom")
    } | {"tunnel.side", "tunnel.top"}
    assert tub.mirror
    assert tub.size == 0.025


def test_a_half_outline_goes_straight_across_at_both_ends_and_follows_the_corners_it_passes():
    bulkhead = panel_of(tub_of(STARTER), "front_bulkhead")
    assert bulkhead.side == "across"
    assert corners_of(bulkhead.faces[0]) == mm(
        [0, 640, 0], [0, 640, 220], [0, 600, 430], [0, 0, 430], [0, 0, 0], [0, 120, 0], [0, 470, 0]
    )


def test_tool_faces_and_zeros_of_the_starter():
    tub = tub_of(STARTER)
    out = {"sill.inner": [0, -1, 0], "sill.top": [0, 0, 1], "sill.outer": [0, 1, 0], "sill.bottom": [0, 0, -1]}
    out |= {"tunnel.side": [0, 1, 0], "tunnel.top": [0, 0, 1], "floor": [0, 0, -1], "front_bulkhead": [-1, 0, 0]}
    for name, direction in out.items():
        assert np.dot(panel_of(tub, name).tool, direction) > 0.98, name
    assert panel_of(tub, "front_bulkhead").zero == (0.0, 1.0, 0.0)
    assert panel_of(tub, "floor").zero == (1.0, 0.0, 0.0)
    along = np.array([1480.0, 50.0, 0.0])
    assert panel_of(tub, "tunnel.side").zero == pytest.approx(along / np.linalg.norm(along))


def test_sections_are_cut_at_every_station_where_a_panel_stands_on_them():
    tub = tub_of(TWO_SEATER)
    count = {panel.name: len(panel.faces) for panel in tub.panels}
    # front, toe, dash, riser, seat_back, rear: five bays; scuttle front, toe, dash; pillar base, knee, head
    assert [count[name] for name in ("tunnel.side", "sill.top", "floor", "scuttle.side", "tail.top")] == [5, 5, 5, 2, 1]
    assert count["pillar.outer"] == 2
    assert count["pillar.cap"] == 1


def test_a_leaning_station_cuts_the_corner_lines_where_its_plane_meets_them():
    tub = tub_of(TWO_SEATER)
    # tunnel.edge runs (0, 75, 200) to (640, 90, 230); the toe's plane is x = 300 - 120/330 z, which meets it where
    # 640 t = 300 - 120/330 (200 + 30 t)
    t = (300 - 120 / 330 * 200) / (640 + 120 / 330 * 30)
    toe = panel_of(tub, "toe_board")
    edge = [640 * t, 75 + 15 * t, 200 + 30 * t]
    # scuttle.side at z = 330 between its corner lines on that plane
    foot_t = (300 - 120 / 330 * 200) / (640 + 120 / 330 * 90)
    edge_t = (300 - 120 / 330 * 400) / (640 + 120 / 330 * 160)
    low = np.array([640 * foot_t, 560 + 90 * foot_t, 200 + 90 * foot_t])
    high = np.array([640 * edge_t, 520 + 70 * edge_t, 400 + 160 * edge_t])
    point = low + (high - low) * (330 - low[2]) / (high[2] - low[2])
    found = corners_of(toe.faces[0])
    np.testing.assert_allclose(found[0], edge, atol=1e-6)
    np.testing.assert_allclose(found[5], point, atol=1e-6)
    np.testing.assert_allclose(found[4], low, atol=1e-6)
    np.testing.assert_allclose(found[6], point * [1, 0, 1], atol=1e-6)


ROUNDED = TWO_SEATER.replace("[sections.tunnel]", "[sections.tunnel]\ncorner_radius = 30").replace(
    "[sections.sill]", "[sections.sill]\ncorner_radius = { out_low = 20, in_low = 15 }"
)


@pytest.mark.parametrize("text", [STARTER, TWO_SEATER, ROUNDED], ids=["starter", "two-seater", "rounded"])
@pytest.mark.parametrize("thickness", [{}, THICK], ids=["measured", "moved"])
def test_what_touched_as_measured_still_touches(text, thickness):
    whole = expand(case_of(text), thickness)
    measured = {name: surfaces[0] for name, surfaces in whole.surfaces.items()}
    checked = 0
    for name, sheet in whole.sheets.items():
        for vertex in dict.fromkeys(sheet.vertices):
            for other in under(measured, whole.measured.locate(vertex), {name}):
                gap = foot(whole.surfaces[other][1], whole.meshed.locate(vertex)).distance
                assert gap < 1e-9, f"{name} leaves {other} by {gap * 1e3:.3g} mm at {vertex}"
                checked += 1
    assert checked > 40


def test_seams_and_panels_share_their_points_exactly():
    tub = plain_tub(case_of(TWO_SEATER), THICK)
    walls = [face for panel in tub.panels if panel.section for face in panel.faces]
    seams = np.concatenate([corners_of(face) for face in walls])
    # every corner of these that is named after a section's corner is the end of that section's seam
    for name, corners in (("toe_board", 5), ("dash", 7), ("seat_back", 6), ("seat_riser", 2)):
        for corner in corners_of(panel_of(tub, name).faces[0])[:corners]:
            assert np.linalg.norm(seams - corner, axis=1).min() < 1e-6


def test_regions_and_the_panels_in_them():
    case = case_of(TWO_SEATER)
    tub = plain_tub(case, {})
    assert panel_of(tub, "sill.inner").region == "sill_inner"
    assert panel_of(tub, "sill.top").region == "sill_outer"
    found = regions_of(case)
    assert found["sill_outer"] == ("sill.top", "sill.outer", "sill.bottom")
    assert found["seat_pan"] == ("floor.seat", "floor.seat.walls")


def test_another_layup_over_part_of_a_wall_is_a_panel_and_region_of_its_own():
    text = STARTER.replace("rear = 1480", "mid = 700\nrear = 1480").replace(
        "[sections.sill]", '[sections.sill]\nlayup_from = [{ wall = "top", from = "mid", to = "rear", layup = "x" }]', 1
    )
    case = case_of(text)
    tub = plain_tub(case, {})
    assert len(panel_of(tub, "sill.top").faces) == 1
    rear = panel_of(tub, "sill.top.mid-rear")
    assert rear.region == "sill.top.mid-rear"
    assert corners_of(rear.faces[0])[0][0] == pytest.approx(700)
    assert regions_of(case)["sill.top.mid-rear"] == ("sill.top.mid-rear",)


def test_rounded_corners_split_between_their_walls():
    text = STARTER.replace("[sections.tunnel]", "[sections.tunnel]\ncorner_radius = 40", 1)
    tub = plain_tub(case_of(text), {})
    side = panel_of(tub, "tunnel.side")
    assert len(side.faces) == 2  # flat part and half of the rounding; the root has one wall and stays sharp
    arcs = [edge for edge in side.faces[1].edges if edge.kind == "arc"]
    assert len(arcs) == 2
    into = np.array([25.0, -210.0]) / np.hypot(25.0, 210.0)  # from edge to root at the front
    half = 0.5 * np.arccos(-into[0])  # against the top, which runs to -y
    for arc in arcs:
        start, _, end = (np.array(point) for point in arc.points)
        if abs(start[0]) < 1e-9:
            tangent = np.array([95.0, 210.0]) + into * 40 / np.tan(half)
            ends = [point for point in (start, end) if np.allclose(point[1:] * 1e3, tangent)]
            assert len(ends) == 1
    top = panel_of(tub, "tunnel.top")
    shared = {edge.points[0] for edge in side.faces[1].edges} & {p for edge in top.faces[1].edges for p in edge.points}
    assert len(shared) == 2  # both halves meet along one line


def test_without_a_mirror_everything_is_whole():
    text = """
    [points]
    A = [0, 0, 0]
    B = [1000, 0, 0]
    C = [1000, -500, 0]
    D = [0, -500, 0]
    [panels.plate]
    outline = ["A", "B", { arc = [1100, -250, 0] }, "C", "D"]
    tool = "down"
    measured = "middle"
    [load_cases.bend]
    kind = "static"
    supports = [{ on = "A-D", fix = "all" }]
    forces = [{ on = "C", force = ["0 N", "0 N", "-1 N"] }]
    probes = { mid = "A" }
    """
    tub = plain_tub(case_of(text), {"plate": 0.004})
    (plate,) = tub.panels
    assert plate.side == "whole"
    assert plate.shift == pytest.approx(0.002)
    assert [edge.kind for edge in plate.faces[0].edges] == ["line", "arc", "line", "line"]
    assert {point.name for point in tub.points} == {"A", "C"}
    assert [line.name for line in tub.lines] == ["A-D"]
    assert tub.lines[0].edges == (Edge("line", ((0.0, -0.5, 0.0), (0.0, 0.0, 0.0))),)


def test_a_line_of_a_load_case_along_a_corner_goes_through_all_bays():
    text = (
        TWO_SEATER
        + """
    [load_cases.push]
    kind = "static"
    supports = [{ on = "sill.out_low@front-sill.out_low@dash", fix = "all" }]
    forces = [{ on = "sill.out_top@rear", force = ["0 N", "0 N", "-1 N"] }]
    """
    )
    tub = plain_tub(case_of(text), {})
    assert [len(line.edges) for line in tub.lines] == [2]  # front to toe, toe to dash
    assert np.array(tub.points[0].at) * 1e3 == pytest.approx([1820, 650, 260])


def test_words_for_look():
    _, notes = plain_tub_with_notes(case_of(TWO_SEATER), {})
    assert "dash.legs: 330 mm across, 300 mm up; left and right" in notes
    assert "dash.column: 90 mm wide; left only" in notes
    lean = 440 * 620 / np.hypot(620, 120)
    assert f"seat_back.belt: 120 mm across, 40 mm up; left and right; 440 mm up the slope is z = {lean:.0f} mm" in notes


def test_a_wall_that_is_taken_off_leaves_its_corners_where_they_were():
    case = case_of(STARTER)
    whole = plain_tub(case, THICK)
    less = plain_tub(case.model_copy(update={"without": ("sill.top",)}), THICK)
    names = [panel.name for panel in whole.panels if panel.name != "sill.top"]
    assert [panel.name for panel in less.panels] == names
    for name in names:
        assert panel_of(less, name).faces == panel_of(whole, name).faces


def test_the_order_of_tables_has_no_say():
    case = case_of(TWO_SEATER)
    turned = case.model_copy(
        update={name: dict(reversed(getattr(case, name).items())) for name in ("stations", "sections", "panels")}
    )
    one, other = plain_tub(case, THICK), plain_tub(turned, THICK)
    for panel in one.panels:
        twin = panel_of(other, panel.name)
        for face, same in zip(panel.faces, twin.faces, strict=True):
            np.testing.assert_allclose(corners_of(face), corners_of(same), atol=1e-9)
        assert twin.tool == pytest.approx(panel.tool, abs=1e-12)
        assert twin.shift == pytest.approx(panel.shift, abs=1e-12)


def test_a_foot_beside_a_bulkhead_stays_on_its_seam():
    whole = expand(case_of(TWO_SEATER), THICK)
    dash = whole.meshed.planes["dash"]
    assert dash.point[0] == pytest.approx(0.640 - 0.01075)  # tool aft: the laminate grows forward
    for corner in ("in_front", "out_front"):
        assert dash.height(whole.meshed.rows["pillar"]["base"][corner]) == pytest.approx(0, abs=1e-12)
    np.testing.assert_allclose(whole.meshed.rows["pillar"]["base"]["in_rear"][0], 0.725 - 0.0012, atol=2e-4)


@pytest.mark.parametrize(
    ("zero", "direction"),
    [
        ('zero = "up"', (0, 0, 1)),
        ("zero = [0, 3, 4]", (0, 0.6, 0.8)),
        ('zero = { along = "sill.out_low-sill.out_top" }', (0, 0, 1)),
    ],
)
def test_zero_as_written(zero, direction):
    text = STARTER.replace('tool = "fore"', f'tool = "fore"\n{zero}')
    assert panel_of(tub_of(text), "front_bulkhead").zero == pytest.approx(direction, abs=1e-12)


def test_zero_of_a_wall_along_two_points():
    text = STARTER.replace(
        "[sections.tunnel]", '[sections.tunnel]\nzero = { along = "tunnel.root@front-tunnel.edge@rear" }'
    )
    along = np.array([1480.0, 20.0, 260.0])
    assert panel_of(tub_of(text), "tunnel.side").zero == pytest.approx(along / np.linalg.norm(along))


def test_two_caps_have_names_of_their_own():
    text = STARTER.replace("[sections.sill]", '[sections.sill]\ncap = ["front", "rear"]')
    tub = tub_of(text)
    assert panel_of(tub, "sill.cap.front").tool == pytest.approx((-1, 0, 0), abs=1e-12)
    assert panel_of(tub, "sill.cap.rear").tool == pytest.approx((1, 0, 0), abs=1e-12)
    assert regions_of(case_of(text))["sill"][-2:] == ("sill.cap.front", "sill.cap.rear")


@pytest.mark.parametrize("radius", [0, 30])
def test_a_cap_closes_a_ring_over_the_middle(radius):
    text = f"""
    mirror = "y"
    [stations]
    front = 0
    rear = 1000
    [sections.box]
    walls = {{ bottom = ["low", "low"], side = ["low", "high"], top = ["high", "high"] }}
    cap = ["front"]
    corner_radius = {radius}
    at.front = {{ low = [150, 0], high = [150, 300] }}
    at.rear = {{ low = [150, 0], high = [150, 300] }}
    """
    tub = tub_of(text)
    (cap,) = panel_of(tub, "box.cap").faces
    for edge, following in zip(cap.edges, (*cap.edges[1:], cap.edges[0]), strict=True):
        assert edge.points[-1] == following.points[0]
    area = abs(area_vector(loop_points(cap.edges, 400))[0]) * 1e6
    assert area == pytest.approx(150 * 300 - 2 * (1 - np.pi / 4) * radius**2, rel=1e-6)
    assert panel_of(tub, "box.bottom").tool == pytest.approx((0, 0, -1), abs=1e-12)
