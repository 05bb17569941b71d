"""Cells of a cut, joint metres and free edges against areas and lengths of the figures drawn."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from plain_builders import Opening, box, hat_and_sills, polygon, tub

from tubfem.geometry.mesher import mesh_tub
from tubfem.geometry.rings import cut, free_lengths, joint_lengths


@pytest.fixture(scope="module")
def starter():
    return mesh_tub(hat_and_sills())


def test_box_is_one_cell():
    mesh = mesh_tub(tub(*box()))
    section = cut(mesh, (0.52, 0, 0))
    assert len(section.cells) == 1
    cell = section.cells[0]
    assert_allclose(cell.area, 0.06, rtol=1e-9)
    assert_allclose(section.length[cell.segments].sum(), 1.0, rtol=1e-9)
    assert set(cell.panels) == {"bottom", "top", "port", "starboard"}
    assert len(section.open_walls) == 0
    a, b = section.nodes[section.segments[cell.segments]].transpose(1, 0, 2)
    swept = cell.signs * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2
    assert_allclose(swept.sum(), 0.06, rtol=1e-9)  # signs run once round, anticlockwise


def test_a_cut_through_an_opening_is_open():
    walls = list(box())
    loop = polygon((0.4, -0.05, 0.2), (0.6, -0.05, 0.2), (0.6, 0.05, 0.2), (0.4, 0.05, 0.2))
    walls[1] = type(walls[1])(
        **{f: getattr(walls[1], f) for f in walls[1].__slots__} | {"openings": (Opening("o", loop, (0, 0, 1)),)}
    )
    mesh = mesh_tub(tub(*walls))
    assert cut(mesh, (0.5, 0, 0)).cells == ()
    assert_allclose(cut(mesh, (0.5, 0, 0)).length.sum(), 0.9, rtol=1e-9)
    assert len(cut(mesh, (0.3, 0, 0)).cells) == 1


def test_tunnel_and_sills_are_cells_and_the_floor_is_not(starter):
    """At x = 0.7 all corners are known: trapezia by hand, the cut a thousandth of the mesh size further aft."""
    section = cut(starter, (0.7, 0, 0))
    tunnel, left, right = section.cells
    assert set(tunnel.panels) == {"closing", "tunnel.side.left", "tunnel.side.right", "tunnel.top"}
    assert_allclose(tunnel.area, (0.135 + 0.11) * 0.22, rtol=1e-3)
    y, z = np.array([0.49, 0.52, 0.66, 0.67]), np.array([0, 0.25, 0.25, 0.02])
    sill = abs(np.sum(y * np.roll(z, -1) - z * np.roll(y, -1)) / 2)
    assert_allclose([left.area, right.area], sill, rtol=1e-3)
    assert {starter.panels[i].plain for i in section.panel[section.open_walls]} == {"floor"}


def test_a_bulkhead_at_the_cut_is_passed_by(starter):
    """At both ends the cut runs just inside the bulkhead instead of through it."""
    for x in (0.0, 1.45):
        assert [len(cell.panels) for cell in cut(starter, (x, 0, 0)).cells] == [4, 4, 4]


def test_two_cells_share_a_wall():
    walls = list(box())
    shelf = type(walls[0])(
        **{f: getattr(walls[0], f) for f in walls[0].__slots__} | {"name": "shelf", "faces": (_lifted(walls[0]),)}
    )
    section = cut(mesh_tub(tub(*walls, shelf)), (0.5, 0, 0))
    assert_allclose([cell.area for cell in section.cells], [0.04, 0.02], rtol=1e-9)
    assert all("shelf" in cell.panels for cell in section.cells)


def _lifted(wall):
    from tubfem.case.plain import Edge, Face

    def up(p):
        return (p[0], p[1], 0.2 / 3)

    return Face(tuple(Edge(e.kind, tuple(up(p) for p in e.points)) for e in wall.faces[0].edges))


def test_joint_metres_and_free_edges():
    mesh = mesh_tub(tub(*box()))
    assert [(j.panels, round(j.length, 9), j.lines) for j in joint_lengths(mesh)] == [
        (pair, 1.0, 1) for pair in (("bottom", "port"), ("bottom", "starboard"), ("port", "top"), ("starboard", "top"))
    ]
    free = free_lengths(mesh)
    assert_allclose([free["bottom"], free["port"]], [0.6, 0.4], rtol=1e-9)
