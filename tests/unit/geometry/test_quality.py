"""Figures of single elements against closed forms; strings of edges."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from tubfem.geometry.mesh import joint_name, vector_areas
from tubfem.geometry.quality import aspect_ratios, corner_sines, warps
from tubfem.geometry.topology import chains, edge_table

QUAD = np.array([[0, 1, 2, 3]])


def test_rhombus_of_sixty_degrees():
    P = np.array([(0, 0, 0), (1, 0, 0), (1.5, np.sqrt(0.75), 0), (0.5, np.sqrt(0.75), 0)])
    assert_allclose(corner_sines(P, QUAD), np.sqrt(0.75))
    assert_allclose(aspect_ratios(P, QUAD), 1)
    assert_allclose(warps(P, QUAD), 0, atol=1e-12)


def test_arrow_head_turns_back():
    P = np.array([(0, 0, 0), (1, -1, 0), (0.5, 0, 0), (1, 1, 0)], float)
    assert corner_sines(P, QUAD).min() < 0


def test_warp_and_area_of_a_lifted_square():
    """Corners of the unit square lifted by +h, -h, +h, -h: each is h off the mean plane, sides sqrt(1 + 4h^2)."""
    h = 0.05
    P = np.array([(0, 0, h), (1, 0, -h), (1, 1, h), (0, 1, -h)])
    assert_allclose(warps(P, QUAD), h / np.sqrt(1 + 4 * h**2))
    assert_allclose(vector_areas(P, QUAD), [(0, 0, 1)], atol=1e-12)


def test_triangle():
    P = np.array([(0, 0, 0), (1, 0, 0), (0.5, np.sqrt(0.75), 0)])
    assert_allclose(corner_sines(P, np.array([[0, 1, 2]])), np.sqrt(0.75))
    assert_allclose(vector_areas(P, np.array([[0, 1, 2]])), [(0, 0, np.sqrt(3) / 4)])


def test_edges_strung_into_lines():
    P = np.array([(x, 0, 0) for x in range(5)] + [(2, 1, 0)], float)
    edges = np.array([(3, 4), (1, 2), (0, 1), (2, 3)])
    (line,) = chains(edges, P)
    assert_array_equal(line, [(0, 1), (1, 2), (2, 3), (3, 4)])
    branched = chains(np.concatenate([edges, [(2, 5)]]), P)
    assert sorted(len(line) for line in branched) == [1, 2, 2]
    (ring,) = chains(np.array([(0, 1), (1, 5), (5, 0)]), P)
    assert len(ring) == 3
    assert ring[0, 0] == ring[-1, 1] == 0


def test_edge_table():
    table, of = edge_table(np.array([[0, 1, 2, 3], [1, 4, 5, 2]]))
    assert len(table) == 7
    assert of[0, 1] == of[1, 3]
    assert joint_name("tunnel.side", "dash") == "dash/tunnel.side"
