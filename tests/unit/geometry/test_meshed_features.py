"""Openings, recesses, mounts, named points and lines as meshed; areas against closed forms of the flat figures."""

import numpy as np
import pytest
from meshed import DOWN, FORE, area_of, joints_of, normal_of, plate
from numpy.testing import assert_allclose, assert_array_equal
from plain_builders import (
    Opening,
    PlainMount,
    PlainPoint,
    Recess,
    circle,
    panel,
    polygon,
    rounded,
    tub,
)

from tubfem.case.plain import Edge, PlainLine
from tubfem.errors import MeshError
from tubfem.geometry.mesh import areas, normals
from tubfem.geometry.mesher import mesh_tub
from tubfem.geometry.quality import quality


@pytest.mark.parametrize(
    ("loop", "hole"),
    [
        (circle((0.4, 0.25, 0), 0.06), np.pi * 0.06**2),
        (rounded((0.4, 0.25, 0), (0.2, 0.06), 0.03), 0.14 * 0.06 + np.pi * 0.03**2),
        (rounded((0.4, 0.25, 0), (0.3, 0.2), 0.02), 0.3 * 0.2 - (4 - np.pi) * 0.02**2),
        (polygon((0.2, 0.1, 0), (0.5, 0.15, 0), (0.3, 0.4, 0)), 0.0425),
    ],
    ids=["circle", "slot", "rounded", "polygon"],
)
def test_openings_take_their_area_out(loop, hole):
    """A circle as a polygon of 16 sides lacks 2.6 % of its area; the other figures have less arc to lose on."""
    mesh = mesh_tub(tub(plate(openings=(Opening("o", loop, (0, 0, 1)),))))
    assert_allclose(0.4 - areas(mesh).sum(), hole, rtol=0.027)
    assert quality(mesh).scaled_jacobian > 0.3
    assert quality(mesh).triangles == 0


def test_a_hole_through_a_seam_cuts_both_faces_of_the_panel():
    faces = [
        [(0, 0, 0), (0.4, 0, 0), (0.4, 0.5, 0.02), (0, 0.5, 0)],
        [(0.4, 0, 0), (0.8, 0, 0), (0.8, 0.5, 0), (0.4, 0.5, 0.02)],
    ]
    square = polygon((0.3, 0.2, 0.01), (0.5, 0.2, 0.01), (0.5, 0.3, 0.01), (0.3, 0.3, 0.01))
    whole = mesh_tub(tub(panel("plate", *faces, tool=DOWN)))
    cut = mesh_tub(tub(panel("plate", *faces, tool=DOWN, openings=(Opening("o", square, (0, 0, 1)),))))
    # seen from above the hole is exactly 0.2 x 0.1; the surface leans by 0.04 at most, so its area is under 0.1 % more
    assert_allclose(areas(whole).sum() - areas(cut).sum(), 0.02, rtol=2e-3)
    flat = normals(cut)[:, 2] * areas(cut)
    assert_allclose(flat.sum(), 0.4 - 0.02, rtol=1e-6)


@pytest.mark.parametrize(("corner", "draft"), [(0.0, 30.0), (0.04, 30.0), (0.01, 30.0), (0.04, 0.0)])
def test_recess_with_draft(corner, draft):
    """Bottom and walls by hand: the bottom is the outline moved in by d·tan(draft), the walls straight-lined.

    Rounded corners are quarter cones: mean arc length times slant. A radius below the inset closes to a point, where
    the walls are oblique cones; there only bottom and plate are compared. Circles as polygons of 16 sides lack 2.6 % of
    their area, which is 0.22 % of the bottom here, and 0.6 % of their arcs.
    """
    a, b, d = 0.3, 0.2, 0.025
    lean = np.tan(np.radians(draft))
    loop = (
        rounded((0.4, 0.25, 0), (a, b), corner)
        if corner
        else polygon((0.25, 0.15, 0), (0.55, 0.15, 0), (0.55, 0.35, 0), (0.25, 0.35, 0))
    )
    recess = Recess("seat", loop, d, DOWN, np.radians(draft), "pan", "pan_walls")
    mesh = mesh_tub(tub(plate(recesses=(recess,)), size=0.03))
    assert [p.name for p in mesh.panels] == ["plate", "plate.seat", "plate.seat.walls"]
    assert [p.region for p in mesh.panels] == ["plate", "pan", "pan_walls"]
    inset, slant = d * lean, d / np.cos(np.radians(draft))
    inner = max(corner - inset, 0)
    bottom = (a - 2 * inset) * (b - 2 * inset) - (4 - np.pi) * inner**2
    assert_allclose(area_of(mesh, "plate.seat"), bottom, rtol=2.5e-3)
    assert_allclose(area_of(mesh, "plate"), 0.4 - a * b + (4 - np.pi) * corner**2, rtol=1e-3)
    if corner == 0 or inner:
        arc = np.pi / 2 * (corner + inner) / 2
        straight = (a + b) * 2 - 8 * corner if corner else (a + b) * 2 - 4 * inset
        assert_allclose(area_of(mesh, "plate.seat.walls"), (straight + 4 * arc) * slant, rtol=4e-3)
    assert_allclose(
        normal_of(mesh, "plate.seat"), np.tile((0, 0, 1.0), (len(normal_of(mesh, "plate.seat")), 1)), atol=1e-9
    )
    walls = normal_of(mesh, "plate.seat.walls")  # carried round the fold: they look into the pocket
    index = [p.name for p in mesh.panels].index("plate.seat.walls")
    middle = mesh.points[mesh.blocks[0].conn[mesh.element_panel == index]].mean(axis=1)
    assert np.all(np.sum(walls[:, :2] * (middle[:, :2] - (0.4, 0.25)), axis=1) < 0)
    assert joints_of(mesh) == ["plate.seat/plate.seat.walls", "plate/plate.seat.walls"]


def test_one_sided_hole_recess_and_mount():
    floor = panel(
        "floor",
        [(0, 0, 0), (0.8, 0, 0), (0.8, 0.4, 0), (0, 0.4, 0)],
        tool=DOWN,
        side="across",
        openings=(Opening("o", circle((0.2, 0.2, 0), 0.04), (0, 0, 1), "left"),),
        recesses=(
            Recess(
                "r",
                polygon((0.5, 0.1, 0), (0.7, 0.1, 0), (0.7, 0.3, 0), (0.5, 0.3, 0)),
                0.02,
                DOWN,
                0.3,
                "r",
                "r",
                "right",
            ),
        ),
    )
    mount = PlainMount("m", "floor", (0.35, 0.2, 0), (0, 0, 1), 0.008, 0.025, "left")
    mesh = mesh_tub(tub(floor, mirror=True, mounts=(mount,)))
    middle = mesh.points[mesh.blocks[0].conn].mean(axis=1)
    size = areas(mesh)
    at = np.array([p.name for p in mesh.panels])[mesh.element_panel]
    assert_allclose(size[(at == "floor") & (middle[:, 1] > 0)].sum(), 0.32 - 0.04, rtol=1e-6)
    assert_allclose(size[(at == "floor") & (middle[:, 1] < 0)].sum(), 0.32 - np.pi * 0.04**2, rtol=1e-3)
    assert set(at) == {"floor", "floor.r", "floor.r.walls"}
    assert np.all(middle[np.char.startswith(at, "floor.r"), 1] > 0)
    assert [m.name for m in mesh.mounts] == ["m"]
    assert mesh.mounts[0].centre[1] == -0.2
    assert normals(mesh)[:, 2].min() > -1e-6


def test_hole_recess_and_mount_over_the_middle():
    back = panel(
        "back",
        [(0, 0, 0), (0, 0.4, 0), (0, 0.4, 0.6), (0, 0, 0.6)],
        tool=FORE,
        zero=(0, 1, 0),
        side="across",
        openings=(Opening("o", circle((0, 0, 0.45), 0.05, (0, 1, 0), (0, 0, 1)), (1, 0, 0)),),
        recesses=(
            Recess("r", rounded((0, 0, 0.25), (0.2, 0.1), 0.02, (0, 1, 0), (0, 0, 1)), 0.03, (1, 0, 0), 0.2, "r", "r"),
        ),
    )
    mount = PlainMount("m", "back", (0, 0, 0.1), (1, 0, 0), 0.006, 0.025)
    mesh = mesh_tub(tub(back, mirror=True, mounts=(mount,)))
    assert [p.name for p in mesh.panels] == ["back", "back.r", "back.r.walls"]
    assert [m.name for m in mesh.mounts] == ["m"]
    assert_allclose(areas(mesh)[mesh.mounts[0].pad].sum(), np.pi * 0.025**2, rtol=0.027)
    inset = 0.03 * np.tan(0.2)
    bottom = (0.2 - 2 * inset) * (0.1 - 2 * inset) - (4 - np.pi) * (0.02 - inset) ** 2
    assert_allclose(area_of(mesh, "back.r"), bottom, rtol=3e-3)
    assert_allclose(mesh.points[:, 0].max(), 0.03, atol=1e-9)


def test_named_points_and_lines():
    line = PlainLine("edge", (Edge("line", ((0.8, 0, 0), (0.8, 0.5, 0))),))
    inner = PlainLine("inner", (Edge("line", ((0.1, 0.4, 0), (0.7, 0.4, 0))),))
    points = (PlainPoint("corner", (0.8, 0.5, 0.0)), PlainPoint("inside", (0.313, 0.217, 0.0)))
    mesh = mesh_tub(tub(plate(), points=points, lines=(line, inner)))
    assert_allclose(mesh.points[mesh.nodes_at["inside"]], (0.313, 0.217, 0), atol=1e-9)
    assert_allclose(mesh.points[mesh.nodes_at["corner"]], (0.8, 0.5, 0), atol=1e-9)
    for name, length in (("edge", 0.5), ("inner", 0.6)):
        X = mesh.points[mesh.edges_at[name]]
        assert_allclose(np.linalg.norm(X[:, 1] - X[:, 0], axis=1).sum(), length, rtol=1e-9)
    half = panel("half", [(0, 0.1, 0), (0.4, 0.1, 0), (0.4, 0.4, 0), (0, 0.4, 0)], tool=DOWN, side="half")
    one = PlainLine("edge", (Edge("line", ((0.4, 0.1, 0), (0.4, 0.4, 0))),))
    mesh = mesh_tub(tub(half, mirror=True, points=(PlainPoint("p", (0.4, 0.4, 0.0)),), lines=(one,)))
    assert set(mesh.nodes_at) == {"p.right", "p.left"}
    assert_allclose(mesh.points[mesh.nodes_at["p.left"]], (0.4, -0.4, 0), atol=1e-9)
    assert set(mesh.edges_at) == {"edge.right", "edge.left"}


def test_a_line_off_the_panels_is_named():
    line = PlainLine("edge", (Edge("line", ((0.7, 0.2, 0), (0.9, 0.2, 0))),))
    with pytest.raises(MeshError, match=r"lines\.edge: leaves the panels near"):
        mesh_tub(tub(plate(), lines=(line,)))


def test_order_of_features_does_not_change_the_mesh():
    holes = (
        Opening("a", circle((0.2, 0.2, 0), 0.03), (0, 0, 1)),
        Opening("b", rounded((0.6, 0.3, 0), (0.1, 0.06), 0.01), (0, 0, 1), "left"),
    )
    pocket = polygon((0.35, 0.1, 0), (0.45, 0.1, 0), (0.45, 0.25, 0), (0.35, 0.25, 0))
    recesses = (
        Recess("r", pocket, 0.01, DOWN, 0.3, "r", "r"),
        Recess("s", polygon((0.1, 0.3, 0), (0.2, 0.3, 0), (0.15, 0.4, 0)), 0.01, DOWN, 0.3, "r", "r", "right"),
    )
    mounts = tuple(PlainMount(n, "plate", (x, 0.42, 0), (0, 0, 1), 0.005, 0.02) for n, x in (("m", 0.4), ("n", 0.3)))
    points = (PlainPoint("p", (0.7, 0.1, 0.0)), PlainPoint("q", (0.6, 0.1, 0.0)))
    one = mesh_tub(
        tub(plate(side="half", openings=holes, recesses=recesses), mirror=True, mounts=mounts, points=points)
    )
    two = mesh_tub(
        tub(
            plate(side="half", openings=holes[::-1], recesses=recesses[::-1]),
            mirror=True,
            mounts=mounts[::-1],
            points=points[::-1],
        )
    )
    assert_array_equal(one.points, two.points)
    assert_array_equal(one.blocks[0].conn, two.blocks[0].conn)
    names = [[m.panels[i].name for i in m.element_panel] for m in (one, two)]
    assert names[0] == names[1]
    assert {m.name: m.pad.tolist() for m in one.mounts} == {m.name: m.pad.tolist() for m in two.mounts}
    assert one.nodes_at == two.nodes_at


def test_recess_that_closes_before_its_depth_is_named():
    loop = polygon((0.3, 0.2, 0), (0.36, 0.2, 0), (0.36, 0.26, 0), (0.3, 0.26, 0))
    recess = Recess("r", loop, 0.06, DOWN, np.radians(45), "r", "r")
    with pytest.raises(MeshError, match=r"panels\.plate\.recesses\.r: walls leaning by 45 degrees meet before"):
        mesh_tub(tub(plate(recesses=(recess,))))
