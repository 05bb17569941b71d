"""Loops of edges: the same loop however it is written, lengths and moved-in loops against closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from plain_builders import Edge, circle, panel, polygon, rounded

from tubfem.geometry.curves import (
    canonical_loop,
    inset,
    loop_length,
    loop_normal,
    merge_points,
    plane_of,
    reversed_edge,
    sample_loop,
)

UP = np.array([0.0, 0.0, 1.0])


@given(start=st.integers(0, 7), back=st.booleans())
@settings(max_examples=20, deadline=None)
def test_a_loop_is_the_same_wherever_it_starts_and_whichever_way_it_runs(start, back):
    loop = rounded((0.1, 0.2, 0.3), (0.3, 0.2), 0.05)
    other = loop[start:] + loop[:start]
    if back:
        other = tuple(reversed_edge(edge) for edge in other[::-1])
    assert canonical_loop(other) == canonical_loop(loop)


def test_lengths_and_planes():
    assert_allclose(loop_length(circle((1, 2, 3), 0.4)), 2 * np.pi * 0.4, rtol=1e-3)  # 48 chords
    tilted = rounded((0, 0, 0), (0.3, 0.2), 0.05, e2=(0, 0.6, 0.8))
    centre, normal, off = plane_of(sample_loop(tilted))
    assert off < 1e-12
    assert_allclose(np.abs(normal), (0, 0.8, 0.6), atol=1e-12)
    assert_allclose(centre, 0, atol=1e-12)


@pytest.mark.parametrize("way", [1, -1])
def test_moved_in_rectangle_with_rounded_corners(way):
    loop = rounded((0, 0, 0), (0.3, 0.2), 0.05)[::way]
    loop = loop if way == 1 else tuple(reversed_edge(edge) for edge in loop)
    P = sample_loop(inset(loop, UP, 0.02))
    assert_allclose(np.ptp(P, axis=0), (0.26, 0.16, 0), atol=1e-12)
    P = sample_loop(inset(loop, UP, -0.02))
    assert_allclose(np.ptp(P, axis=0), (0.34, 0.24, 0), atol=1e-12)


def test_corners_that_shrink_to_points_and_outlines_that_vanish():
    loop = rounded((0, 0, 0), (0.3, 0.2), 0.01)
    moved = inset(loop, UP, 0.02)
    assert [edge is None for edge in moved] == [edge.kind == "arc" for edge in loop]
    P = sample_loop(tuple(edge for edge in moved if edge))
    assert len(P) == 4
    assert_allclose(np.ptp(P, axis=0), (0.26, 0.16, 0), atol=1e-12)
    assert inset(loop, UP, 0.11) is None
    assert inset((Edge("spline", ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 0, 0))),), UP, 0.1) is None


def test_moved_in_l_shape_keeps_its_re_entrant_corner():
    loop = polygon((0, 0, 0), (2, 0, 0), (2, 1, 0), (1, 1, 0), (1, 2, 0), (0, 2, 0))
    P = sample_loop(inset(loop, UP, 0.1))
    assert_allclose(P[3], (0.9, 0.9, 0), atol=1e-12)
    assert loop_normal(P) @ UP == pytest.approx(1)


def test_points_a_hair_apart_become_one():
    a = panel("a", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], tool=(0, 0, 1))
    b = panel("b", [(1, 2e-5, 0), (2, 0, 0), (2, 1, 0), (1, 1, 1e-5)], tool=(0, 0, 1))
    ends = [{edge.points[0] for face in p.faces for edge in face.edges} for p in merge_points((a, b), mirror=False)]
    assert len(ends[0] & ends[1]) == 2
    low = panel("a", [(0, 1e-5, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], tool=(0, 0, 1))
    (moved,) = merge_points((low,), mirror=True)
    assert min(edge.points[0][1] for edge in moved.faces[0].edges) == 0.0
