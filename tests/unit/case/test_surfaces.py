"""Feet, insides and crossings on plain faces, against closed forms."""

import numpy as np
import pytest

from tubfem.case.frames import arc_points, area_vector, spline_points, station_plane
from tubfem.case.plain import Edge, Face
from tubfem.case.surfaces import crossing_edges, foot, inside_polygon, loop_points, segment_distance, surface


def face_of(*points):
    return Face(tuple(Edge("line", (p, q)) for p, q in zip(points, (*points[1:], points[0]), strict=True)))


SADDLE = face_of((0, 0, 0), (1, 0, 0), (1, 1, 1), (0, 1, 0))  # z = x y


def test_a_leaning_plane_goes_through_its_two_points_and_looks_aft():
    plane = station_plane((0.3, 0.0), (0.18, 0.33))
    np.testing.assert_allclose(plane.height([[0.3, 0, 0], [0.18, 7, 0.33], [0.5, 0, 0]])[:2], 0, atol=1e-15)
    assert plane.height(np.array([0.5, 0, 0])) > 0
    np.testing.assert_allclose(plane.at(0.4, 0.165), [0.24, 0.4, 0.165])
    np.testing.assert_allclose(station_plane((0.18, 0.33), (0.3, 0.0)).normal, plane.normal)
    np.testing.assert_allclose(plane.moved(0.1).height(plane.point), -0.1)


@pytest.mark.parametrize("through", [(0.0, 2.0, 0.0), (0.0, -2.0, 0.0), (-np.sqrt(2), np.sqrt(2), 0.0)])
def test_an_arc_keeps_its_radius_and_goes_through_its_middle_point(through):
    points = arc_points((2.0, 0.0, 0.0), through, (-2.0, 0.0, 0.0), 8)
    np.testing.assert_allclose(np.linalg.norm(points, axis=1), 2)
    assert np.linalg.norm(points - through, axis=1).min() < 1e-12


def test_a_spline_goes_through_its_points_and_is_straight_on_a_line():
    points = np.array([[0.0, 0, 0], [1, 1, 0], [2, 0, 0], [3, 1, 1]])
    curve = spline_points(points, 5)
    np.testing.assert_allclose(curve[::5], points)
    line = spline_points(np.linspace([0, 0, 0], [3, 6, 9], 4), 4)
    np.testing.assert_allclose(line, np.linspace([0, 0, 0], [3, 6, 9], 13), atol=1e-12)


def test_area_of_a_square_by_the_right_hand():
    np.testing.assert_allclose(
        area_vector(loop_points(face_of((0, 0, 5), (2, 0, 5), (2, 2, 5), (0, 2, 5)).edges)), [0, 0, 4]
    )


def test_foot_on_a_saddle_square_and_along_a_direction():
    u, v = 0.3, 0.7
    on = np.array([u, v, u * v])
    normal = np.array([-v, -u, 1.0]) / np.sqrt(u * u + v * v + 1)
    found = foot(surface((SADDLE,)), on + 0.05 * normal)
    np.testing.assert_allclose(found.at, on, atol=1e-12)
    assert abs(found.normal @ normal) == pytest.approx(1)
    assert found.distance == pytest.approx(0.05)
    assert found.inside
    below = foot(surface((SADDLE,)), np.array([u, v, -3.0]), np.array([0.0, 0.0, 1.0]))
    np.testing.assert_allclose(below.at, on, atol=1e-12)


def test_foot_beside_a_face():
    found = foot(surface((face_of((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)),)), np.array([1.3, 0.5, 0.4]))
    assert not found.inside
    assert found.distance == pytest.approx(0.5)
    np.testing.assert_allclose(found.at, [1.3, 0.5, 0.0])  # on the plane, run on beyond the border


def test_the_nearest_of_several_faces():
    near, far = face_of((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)), face_of((0, 0, 9), (1, 0, 9), (1, 1, 9), (0, 1, 9))
    assert foot(surface((far, near)), np.array([0.5, 0.5, 1.0])).at[2] == pytest.approx(0.0)


def test_foot_on_a_quarter_of_a_cylinder():
    arc = ((1.0, 0.0, 0.0), (np.sqrt(0.5), 0.0, np.sqrt(0.5)), (0.0, 0.0, 1.0))
    other = tuple((x, 2.0, z) for x, _, z in arc)
    face = Face(
        (Edge("arc", arc), Edge("line", (arc[2], other[2])), Edge("arc", other[::-1]), Edge("line", (other[0], arc[0])))
    )
    found = foot(surface((face,)), np.array([1.2 * np.cos(1.0), 0.7, 1.2 * np.sin(1.0)]))
    assert found.distance == pytest.approx(0.2, abs=2.2e-3)  # 12 chords of a quarter sag 1 - cos(pi/48) = 2.1e-3
    assert found.inside


def test_inside_an_l_shape():
    shape = np.array([[0.0, 0, 0], [2, 0, 0], [2, 1, 0], [1, 1, 0], [1, 2, 0], [0, 2, 0]])
    up = np.array([0.0, 0.0, 1.0])
    assert inside_polygon(shape, np.array([0.5, 1.5, 0]), up) == (True, pytest.approx(0.5))
    inside, gap = inside_polygon(shape, np.array([1.5, 1.5, 0]), up)
    assert not inside
    assert gap == pytest.approx(0.5)


def test_distance_from_pieces_of_a_line():
    starts, ends = np.array([[0.0, 0], [1, 0]]), np.array([[1.0, 0], [1, 1]])
    np.testing.assert_allclose(segment_distance(starts, ends, np.array([2.0, 0.5])), [np.hypot(1, 0.5), 1.0])


def test_crossing_edges():
    bow = np.array([[0.0, 0, 0], [1, 1, 0], [1, 0, 0], [0, 1, 0]])
    first, second, at = crossing_edges(bow, np.array([0.0, 0.0, 1.0]))
    assert (first, second) == (0, 2)
    np.testing.assert_allclose(at, [0.5, 0.5, 0])
    assert crossing_edges(bow[[0, 2, 1, 3]], np.array([0.0, 0.0, 1.0])) is None
