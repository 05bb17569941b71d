"""Points dropped on flat and twisted faces."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal
from plain_builders import polygon

from tubfem.case.plain import Face
from tubfem.geometry.surface import drop_on, inside

UP = np.array([0.0, 0.0, 1.0])


def test_on_a_leaning_plane():
    face = Face(polygon((0, 0, 0), (1, 0, 0), (1, 1, 1), (0, 1, 1)))
    points = np.array([[0.5, 0.5, 0.0], [0.2, 0.9, 3.0]])
    assert_allclose(drop_on(face, points, UP), [[0.5, 0.5, 0.5], [0.2, 0.9, 0.9]], atol=1e-12)
    assert drop_on(face, np.array([[0.5, 1.2, 0.0]]), UP) is None
    assert drop_on(face, np.array([[0.5, 1e-5, 0.0]]), UP) is None  # on the outline is not on the face
    assert drop_on(face, points, np.array([0, 1, 1]) / np.sqrt(2)) is None


def test_on_a_twisted_face():
    """z = xy is spanned by straight lines between (0,0,0), (1,0,0), (1,1,1), (0,1,0)."""
    face = Face(polygon((0, 0, 0), (1, 0, 0), (1, 1, 1), (0, 1, 0)))
    points = np.array([[0.3, 0.7, 9.0], [0.9, 0.2, -1.0]])
    assert_allclose(drop_on(face, points, UP)[:, 2], [0.21, 0.18], atol=1e-12)
    assert drop_on(face, np.array([[1.1, 0.5, 0.0]]), UP) is None


def test_inside_a_notched_polygon():
    outline = np.array([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)], float)
    points = np.array([(0.5, 1.5), (1.5, 1.5), (1.5, 0.5), (0.99, 1.5), (-1, 0.5)])
    assert_array_equal(inside(outline, points, 0.0), [True, False, True, True, False])
    assert_array_equal(inside(outline, points, 0.05), [True, False, True, False, False])
