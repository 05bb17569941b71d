"""Panels, openings, recesses, mounts and mirror as meshed; areas against closed forms of the flat figures."""

import builtins
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from meshed import DOWN, FORE, UP, joints_of, normal_of, plate
from numpy.testing import assert_allclose, assert_array_equal
from plain_builders import (
    box,
    hat_and_sills,
    panel,
    tub,
)

from tubfem.case.plain import Edge
from tubfem.errors import MeshError
from tubfem.geometry.mesh import areas, normals
from tubfem.geometry.mesher import mesh_tub
from tubfem.geometry.quality import quality


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


@pytest.mark.parametrize("mirror", [False, True])
def test_a_size_that_makes_more_elements_than_can_be_solved_is_told_at_once(mirror):
    """A metre square, or twice that with its mirror image."""
    square = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
    with pytest.raises(MeshError) as caught:
        mesh_tub(tub(panel("plate", square, tool=DOWN, side="half" if mirror else "whole"), size=1e-3, mirror=mirror))
    (message,) = caught.value.messages
    count, area, usual = ("2,000,000", 2, 14) if mirror else ("1,000,000", 1, 10)
    assert message.startswith(f"mesh.size: elements of 1 mm are some {count} on {area} m², more than can be solved")
    assert message.endswith(f"{usual} mm would make 10,000")


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


BROKEN_PIPE = """
import os, threading
from tubfem.geometry.mesher import gmsh_model
def start():
    with gmsh_model():
        pass
if {thread}:
    thread = threading.Thread(target=start); thread.start(); thread.join()
else:
    start()
end, pipe = os.pipe()
os.close(end)
try:
    os.write(pipe, b"x")
except BrokenPipeError:
    print("told")
"""


@pytest.mark.parametrize("thread", [False, True])
def test_a_broken_pipe_is_told_after_gmsh_has_run(thread):
    """Left to itself gmsh lets it kill the process: a study whose worker died ended without a message."""
    done = subprocess.run([sys.executable, "-c", BROKEN_PIPE.format(thread=thread)], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "told\n")
