"""Panels, openings, recesses, mounts and mirror as meshed; areas against closed forms of the flat figures."""

import builtins
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from plain_builders import (
    Opening,
    PlainMount,
    PlainPoint,
    Recess,
    box,
    circle,
    hat_and_sills,
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

DOWN, UP, FORE = (0, 0, -1), (0, 0, 1), (-1, 0, 0)
PLATE = [(0, 0, 0), (0.8, 0, 0), (0.8, 0.5, 0), (0, 0.5, 0)]


def area_of(mesh, name):
    index = [p.name for p in mesh.panels].index(name)
    return areas(mesh)[mesh.element_panel == index].sum()


def normal_of(mesh, name):
    index = [p.name for p in mesh.panels].index(name)
    return normals(mesh)[mesh.element_panel == index]


def joints_of(mesh):
    return sorted("/".join(sorted(mesh.panels[i].name for i in line.panels)) for line in mesh.joints)


def plate(**more):
    return panel("plate", PLATE, tool=DOWN, **more)


@pytest.fixture(scope="module")
def starter():
    return mesh_tub(hat_and_sills())


def test_closed_box_meets_along_its_four_edges_and_is_free_at_its_ends():
    mesh = mesh_tub(tub(*box()))
    assert joints_of(mesh) == ["bottom/port", "bottom/starboard", "port/top", "starboard/top"]
    assert_allclose(areas(mesh).sum(), 1.0, rtol=1e-12)
    ends = mesh.points[mesh.free_edges]
    assert_allclose(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum(), 2.0, rtol=1e-12)
    outwards = {"bottom": DOWN, "top": UP, "port": (0, -1, 0), "starboard": (0, 1, 0)}
    for name, out in outwards.items():  # normals point away from the tool face, here inwards
        assert_allclose(
            normal_of(mesh, name), np.tile(-np.asarray(out, float), (len(normal_of(mesh, name)), 1)), atol=1e-9
        )


def test_rows_and_columns_on_four_sided_bays():
    """0.8 by 0.5 at 0.05: sixteen by ten squares and nothing else."""
    mesh = mesh_tub(tub(plate()))
    assert mesh.element_count == 160
    assert_allclose(areas(mesh), 0.0025, rtol=1e-9)


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


def test_tunnel_on_floor_closed_by_a_panel(starter):
    assert "closing/floor.right/tunnel.side.right" in joints_of(starter)
    assert "closing/floor.left/tunnel.side.left" in joints_of(starter)
    lines = [
        line for line in starter.joints if len(line.panels) == 3 and starter.points[line.edges][..., 1].min() > 0.1
    ]
    x = starter.points[lines[0].edges][..., 0]
    assert_allclose([x.min(), x.max()], [0, 1.45], atol=1e-9)


def test_quality_and_refinement(starter):
    found = quality(starter)
    assert found.triangles == 0
    assert found.scaled_jacobian > 0.4  # an angle of 156 degrees is the worst
    assert found.aspect_ratio < 5
    assert found.warp < 0.01
    for mount in starter.mounts:  # finer at the mounts: pads of 60 mm are no wider than two elements of the bays
        assert areas(starter)[mount.pad].max() < 0.25 * 0.04**2


def test_mounts_are_discs(starter):
    assert len(starter.mounts) == 8
    for mount in starter.mounts:
        assert len(mount.pad) >= 12
        # a circle as a polygon of 16 sides lacks 2.6 % of its area
        assert_allclose(areas(starter)[mount.pad].sum(), np.pi * 0.03**2, rtol=0.027)
        assert_allclose(areas(starter)[mount.insert].sum(), np.pi * 0.008**2, rtol=0.027)
        assert set(mount.insert) <= set(mount.pad)
        assert_allclose(np.abs(mount.normal), (1, 0, 0), atol=1e-9)
    by_name = {mount.name: mount for mount in starter.mounts}
    assert_allclose(by_name["front_upper.left"].centre, (0, -0.41, 0.33))
    assert len(by_name["front_upper.left"].pad) == len(by_name["front_upper.right"].pad)


def test_mirror_is_node_for_node(starter):
    image = starter.points * (1, -1, 1)
    place = {tuple(p): i for i, p in enumerate(starter.points.tolist())}
    mate = np.array([place[tuple(p)] for p in image.tolist()])  # exact: every node has its image
    conn = starter.blocks[0].conn
    turned = {tuple(sorted(q)) for q in conn.tolist()}
    assert {tuple(sorted(q)) for q in mate[conn].tolist()} == turned
    assert not np.any((np.abs(starter.points[:, 1]) < 1e-6) & (starter.points[:, 1] != 0))


def test_halves_look_outwards_alike_and_are_named(starter):
    names = {p.name: p for p in starter.panels}
    assert names["sill.inner.left"].mirrored
    assert not names["sill.inner.right"].mirrored
    assert not names["front"].mirrored
    assert names["front"].region == "front"
    right, left = normal_of(starter, "sill.inner.right"), normal_of(starter, "sill.inner.left")
    assert right[:, 1].min() > 0.9  # the tool face looks inwards, the laminate lies outside it
    assert left[:, 1].max() < -0.9


def test_zero_is_reflected_on_left_halves_only():
    zero = (0.8, 0.6, 0)
    loops = [(0, 0, 0), (0.4, 0, 0), (0.4, 0.3, 0), (0, 0.3, 0)]
    for side, sign in (("half", -1), ("across", 1)):
        mesh = mesh_tub(tub(panel("floor", loops, tool=DOWN, zero=zero, side=side), mirror=True))
        middle = mesh.points[mesh.blocks[0].conn].mean(axis=1)
        assert_allclose(mesh.blocks[0].direction[middle[:, 1] > 0], np.tile(zero, (48, 1)))
        assert_allclose(mesh.blocks[0].direction[middle[:, 1] < 0], np.tile((0.8, sign * 0.6, 0), (48, 1)))
    assert_allclose(mesh.points[:, 1].min(), -0.3)
    assert len(mesh.free_edges) == 2 * 8 + 2 * 12  # nothing is open along the middle


def test_order_and_names_do_not_change_the_mesh(starter):
    plain = hat_and_sills()
    renamed = tuple(
        replace(
            p,
            name=f"x{len(plain.panels) - i}",
            faces=tuple(
                replace(f, edges=tuple(Edge(e.kind, e.points[::-1]) for e in (f.edges[2:] + f.edges[:2])[::-1]))
                for f in p.faces[::-1]
            ),
        )
        for i, p in enumerate(plain.panels)
    )[::-1]
    old = {p.name: q.name for p, q in zip(plain.panels, renamed[::-1], strict=True)}
    mounts = tuple(replace(m, name=m.name[::-1], panel=old[m.panel]) for m in plain.mounts)[::-1]
    again = mesh_tub(replace(plain, panels=renamed, mounts=mounts))
    assert_array_equal(starter.points, again.points)
    assert_array_equal(starter.blocks[0].conn, again.blocks[0].conn)
    names = [p.plain for p in again.panels]
    assert [names[i] for i in again.element_panel] == [old[starter.panels[i].plain] for i in starter.element_panel]


def test_leaning_panel_between_twisted_walls():
    """Walls that lean more at one end than at the other, a leaning bulkhead standing on a seam between them."""
    low = [(0.0, 0.2, 0.0), (0.5, 0.25, 0.0), (1.0, 0.25, 0.0)]
    high = [(0.0, 0.2, 0.3), (0.42, 0.3, 0.3), (1.0, 0.35, 0.3)]
    middle = [(0.0, 0.0, 0.0), (0.5, 0.0, 0.0), (1.0, 0.0, 0.0)]
    wall = [[low[k], low[k + 1], high[k + 1], high[k]] for k in (0, 1)]
    floor = [[middle[k], middle[k + 1], low[k + 1], low[k]] for k in (0, 1)]
    leaning = [(0.5, 0, 0), low[1], high[1], (0.42, 0, 0.3)]
    mesh = mesh_tub(
        tub(
            panel("wall", *wall, tool=(0, 1, 0), side="half"),
            panel("floor", *floor, tool=DOWN, side="across"),
            panel("bulkhead", leaning, tool=FORE, side="across"),
            mirror=True,
        )
    )
    assert joints_of(mesh) == [
        "bulkhead/floor",
        "bulkhead/wall.left",
        "bulkhead/wall.right",
        "floor/wall.left",
        "floor/wall.right",
    ]
    X = mesh.points[mesh.blocks[0].conn[np.array([p.plain == "wall" for p in mesh.panels])[mesh.element_panel]]]
    X = X[X[..., 1].min(axis=1) > 0].reshape(-1, 3)
    # on the first bay's straight lines: (s, t) -> bilinear between its four corners
    X = X[X[:, 0] < 0.5 - 0.08 * X[:, 2] / 0.3 + 1e-9]
    t = X[:, 2] / 0.3
    s = X[:, 0] / (0.5 - 0.08 * t)
    assert_allclose(X[:, 1], 0.2 + s * (0.05 + 0.05 * t), atol=1e-7)


def test_crossing_panels_meet_in_one_line():
    level = panel("level", [(0, -0.2, 0), (0.5, -0.2, 0), (0.5, 0.2, 0), (0, 0.2, 0)], tool=DOWN)
    upright = panel("upright", [(0.1, 0, -0.2), (0.4, 0, -0.2), (0.4, 0, 0.2), (0.1, 0, 0.2)], tool=(0, 1, 0))
    mesh = mesh_tub(tub(level, upright))
    assert joints_of(mesh) == ["level/upright"]
    X = mesh.points[mesh.joints[0].edges]
    assert_allclose([X[0, 0, 0], X[-1, 1, 0]], [0.1, 0.4], atol=1e-9)
    assert_array_equal(mesh.joints[0].edges[1:, 0], mesh.joints[0].edges[:-1, 1])


def test_panel_ending_in_mid_face_and_one_starting_at_part_of_an_edge():
    fin = panel("fin", [(0.2, 0.25, 0), (0.6, 0.25, 0), (0.6, 0.25, 0.2), (0.2, 0.25, 0.2)], tool=(0, 1, 0))
    lip = panel("lip", [(0.8, 0.1, 0), (0.8, 0.3, 0), (0.8, 0.3, 0.1), (0.8, 0.1, 0.1)], tool=(1, 0, 0))
    mesh = mesh_tub(tub(plate(), fin, lip))
    assert joints_of(mesh) == ["fin/plate", "lip/plate"]
    assert_allclose(areas(mesh).sum(), 0.4 + 0.08 + 0.02, rtol=1e-9)


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


def test_missing_system_libraries_are_named_with_the_line_that_installs_them(monkeypatch):
    real = builtins.__import__

    def broken(name, *args, **kwargs):
        if name == "gmsh":
            raise OSError("libGL.so.1: cannot open shared object file")
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", broken)
    line = "apt-get install -y libgl1 libglu1-mesa libopengl0 libgomp1 libxcursor1 libxft2 libxinerama1"
    with pytest.raises(MeshError) as caught:
        mesh_tub(tub(plate()))
    assert caught.value.messages == (line,)


def test_curved_panel_keeps_its_normals_together():
    """A quarter cylinder seen from above: 90 degrees of turn, every normal away from the tool side."""
    r = 0.3
    arc = [(x, r * np.cos(t), r * np.sin(t)) for x in (0.0, 0.5) for t in (0, np.pi / 4, np.pi / 2)]
    loop = (
        Edge("arc", tuple(arc[:3])),
        Edge("line", (arc[2], arc[5])),
        Edge("arc", tuple(arc[5:2:-1])),
        Edge("line", (arc[3], arc[0])),
    )
    mesh = mesh_tub(tub(panel("skin", loop, tool=(0, 1, 1)), size=0.03))
    middle = mesh.points[mesh.blocks[0].conn].mean(axis=1) * (0, 1, 1)
    assert np.all(np.sum(normals(mesh) * middle, axis=1) < 0)
    assert_allclose(areas(mesh).sum(), np.pi / 2 * r * 0.5, rtol=2e-3)  # chords instead of arcs


def test_outline_of_five_points_out_of_plane_becomes_a_filled_surface():
    loop = [(0, 0, 0), (0.5, 0, 0.003), (0.6, 0.3, 0), (0.3, 0.5, 0.004), (0, 0.3, 0)]
    mesh = mesh_tub(tub(panel("odd", loop, tool=DOWN)))
    flat = normals(mesh)[:, 2] * areas(mesh)
    x, y = np.array(loop)[:, :2].T
    assert_allclose(flat.sum(), abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2), rtol=1e-6)
    assert mesh.points[:, 2].max() < 0.006


def test_recess_that_closes_before_its_depth_is_named():
    loop = polygon((0.3, 0.2, 0), (0.36, 0.2, 0), (0.36, 0.26, 0), (0.3, 0.26, 0))
    recess = Recess("r", loop, 0.06, DOWN, np.radians(45), "r", "r")
    with pytest.raises(MeshError, match=r"panels\.plate\.recesses\.r: walls leaning by 45 degrees meet before"):
        mesh_tub(tub(plate(recesses=(recess,))))
