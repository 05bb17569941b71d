"""Faults of the panels are named with the panels and the sizes."""

import pytest
from plain_builders import PlainMount, PlainPoint, box, panel, tub

from tubfem.errors import MeshError
from tubfem.geometry.mesher import mesh_tub

DOWN = (0, 0, -1)
FLOOR = panel("floor", [(0, 0, 0), (0.8, 0, 0), (0.8, 0.5, 0), (0, 0.5, 0)], tool=DOWN)


def upright(name, x, *, low=0.0, high=0.3, y=(0.0, 0.5)):
    loop = [(x, y[0], low), (x, y[1], low), (x, y[1], high), (x, y[0], high)]
    return panel(name, loop, tool=(-1, 0, 0), zero=(0, 1, 0))


def messages(*panels, **more):
    with pytest.raises(MeshError) as caught:
        mesh_tub(tub(*panels, **more))
    return caught.value.messages


def test_overlapping_panels_are_named_with_their_area():
    shelf = panel("shelf", [(0.6, 0.3, 0), (1.0, 0.3, 0), (1.0, 0.8, 0), (0.6, 0.8, 0)], tool=DOWN)
    assert messages(FLOOR, shelf) == (
        "panels floor and shelf overlap over 400.0 cm^2; end one where the other begins, or cut an opening in it",
    )


def test_a_panel_that_touches_nothing_is_named_with_the_nearest():
    found = messages(FLOOR, upright("wall", 0.0), upright("riser", 0.4, low=0.012, high=0.1))
    assert "panels.riser touches no other panel (nearest: floor, 12.0 mm)" in found


def test_a_panel_that_touches_at_a_point_only():
    other = panel("corner", [(0.8, 0.5, 0), (1.1, 0.5, 0), (1.1, 0.8, 0), (0.8, 0.8, 0)], tool=DOWN)
    found = messages(FLOOR, upright("wall", 0.0), other)
    assert found == ("panels.corner touches no other panel (it meets floor only at a point)",)


def test_an_edge_that_ends_short_is_named_with_its_gap():
    wall = panel("wall", [(0, 0, 0), (0.8, 0, 0), (0.8, 0, 0.3), (0, 0, 0.3)], tool=(0, -1, 0))
    short = upright("bulkhead", 0.4, low=0.0041, y=(0.0, 0.5))
    (found,) = messages(FLOOR, wall, short)
    assert found.startswith("panels.bulkhead: an edge runs 4.1 mm beside floor for ")
    assert "end it on floor" in found


def test_a_half_that_stops_short_of_the_middle():
    half = panel("lid", [(0, 0.002, 0.3), (0.8, 0.002, 0.3), (0.8, 0.5, 0.3), (0, 0.5, 0.3)], tool=DOWN, side="half")
    wall = panel("wall", [(0, 0.5, 0), (0.8, 0.5, 0), (0.8, 0.5, 0.3), (0, 0.5, 0.3)], tool=(0, 1, 0), side="half")
    (found,) = messages(half, wall, mirror=True)
    assert found.startswith("panels.lid: an edge runs 4.0 mm beside its own mirror image for ")


def test_a_panel_that_runs_a_little_past_another_leaves_a_sliver():
    found = messages(FLOOR, upright("bulkhead", 0.4, low=-0.0012))
    assert len(found) == 1
    assert found[0].startswith("panels.bulkhead: a strip 1.2 mm wide and 501 mm long is left beside floor")


def test_an_insert_nearly_as_wide_as_its_washer_is_told_once():
    mount = PlainMount("m", "floor", (0.4, 0.25, 0.0), (0, 0, 1), 0.046, 0.05)
    (found,) = messages(FLOOR, mounts=(mount,))
    assert found.startswith(
        "mounts.m: the rims of insert and washer are 4 mm apart, too near for elements of 50 mm; make"
    )


def test_edges_that_leave_another_panel_at_an_angle_are_no_gap():
    gusset = panel("gusset", [(0.1, 0.25, 0), (0.6, 0.25, 0), (0.1, 0.25, 0.2)], tool=(0, 1, 0))
    mesh_tub(tub(FLOOR, gusset))


def test_a_step_within_a_twentieth_of_a_millimetre_is_no_gap():
    mesh = mesh_tub(tub(FLOOR, upright("bulkhead", 0.4, low=3e-5)))
    assert len(mesh.joints) == 1


def test_tool_direction_along_the_panel_is_named():
    sheet = panel("sheet", [(0, 0, 0), (0.8, 0, 0), (0.8, 0.5, 0), (0, 0.5, 0)], tool=(1, 0, 0.05))
    (found,) = messages(sheet)
    assert found.startswith("panels.sheet: its tool direction lies along the panel")


def test_several_faults_are_told_together():
    found = messages(
        FLOOR,
        upright("riser", 0.2, low=0.012),
        upright("bulkhead", 0.4, low=-0.0012),
        mounts=(PlainMount("m", "floor", (0.8, 0.25, 0.0), (0, 0, 1), 0.008, 0.03),),
        points=(PlainPoint("p", (0.1, 0.1, 0.05)),),
    )
    for start in ("panels.bulkhead: a strip", "panels.riser touches no", "points.p: lies 50.0 mm", "mounts.m: only"):
        assert any(message.startswith(start) for message in found), (start, found)


def test_a_sound_box_has_no_faults():
    assert mesh_tub(tub(*box())).element_count > 0
