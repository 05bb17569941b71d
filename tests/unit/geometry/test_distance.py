"""Distance from a mesh: a square in the plane z = 0 and a second one 1 m beside it."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from tubfem.geometry.distance import nearest

NODES = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0, 0), (3, 0, 0), (3, 1, 0), (2, 1, 0)], float)
CONN = np.array([[0, 1, 2, 3], [4, 5, 6, 7]])


def test_over_beside_and_at_a_corner():
    points = np.array([(0.3, 0.6, 0.2), (1.4, 0.5, 0.0), (-3.0, -4.0, 0.0), (1.7, 0.5, 0.4)])
    distance, foot, element = nearest(points, NODES, CONN, np.inf)
    assert_allclose(distance, [0.2, 0.4, 5.0, 0.5])
    assert_allclose(foot, [(0.3, 0.6, 0), (1, 0.5, 0), (0, 0, 0), (2, 0.5, 0)], atol=1e-12)
    assert_array_equal(element, [0, 0, 0, 1])


def test_beyond_reach_is_said():
    distance, _, element = nearest(np.array([(0.5, 0.5, 0.3), (0.5, 0.5, 0.1)]), NODES, CONN, 0.2)
    assert_array_equal(element, [-1, 0])
    assert_allclose(distance, [np.inf, 0.1])
