"""Covered parts of elements: sixteenths that keep the covered area on any mesh."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.tub.cover import circle, covered_cells, element_cells, negative_part, one_side, straightened, strip

SKEWED = [(0, 0, 0), (1.0, 0.1, 0.05), (0.9, 0.7, 0), (-0.1, 0.6, 0.02)]


def covered_area(mesh, field):
    cells = element_cells(mesh)
    elements = np.arange(mesh.element_count)
    covered, area, taken = covered_cells(mesh, cells, elements, field)
    assert_allclose(covered.sum(1) @ cells.area / 16, taken, rtol=1e-12, atol=1e-15)
    return area, taken, covered


@pytest.mark.parametrize("cells", [(10, 6), (7, 5), (23, 13)])
def test_straight_strip_has_length_times_width(cells):
    mesh = tub_mesh([panel("p", [(0, 0, 0), (1, 0, 0), (1, 0.6, 0), (0, 0.6, 0)], cells)])
    area, taken, _ = covered_area(mesh, strip([np.array([(0.0, 0, 0), (0.3, 0, 0), (1, 0, 0)])], 0.06))
    assert_allclose(area, 0.06, rtol=1e-9)  # closed form
    # half a cell of the coarsest mesh is 0.3 % of the strip; two cells of a mirrored pair are taken together
    assert_allclose(taken, 0.06, rtol=5e-3)


@pytest.mark.parametrize("cells", [(12, 8), (17, 11), (40, 30)])
def test_circle_on_a_skewed_mesh_has_its_area(cells):
    mesh = tub_mesh([panel("p", [(0, 0, 0), (1.0, 0.1, 0), (0.9, 0.7, 0), (-0.1, 0.6, 0)], cells)])
    area, taken, _ = covered_area(mesh, circle(np.array([0.45, 0.35, 0]), 0.09))
    # chords of cells an eighth of an element long: (0.08/8/0.09)²/6 = 0.2 % at the coarsest mesh
    assert_allclose(area, np.pi * 0.09**2, rtol=2e-3)
    assert_allclose(taken, area, rtol=1e-2 if cells[0] < 20 else 1e-3)


def test_strip_ends_square_and_stays_on_one_side():
    mesh = tub_mesh([panel("p", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (20, 20))])
    line = [np.array([(0.25, 0.5, 0.0), (0.75, 0.5, 0)])]
    assert_allclose(covered_area(mesh, strip(line, 0.1))[0], 2 * 0.1 * 0.5, rtol=1e-9)
    half = one_side(strip(line, 0.1), np.array([0.5, 0.5, 0]), np.array([0.0, 1, 0]))
    assert_allclose(covered_area(mesh, half)[0], 0.1 * 0.5, rtol=1e-9)


def test_strip_is_clipped_by_the_panel():
    mesh = tub_mesh([panel("p", [(0, 0, 0), (1, 0, 0), (1, 0.05, 0), (0, 0.05, 0)], (9, 2))])
    area, taken, covered = covered_area(mesh, strip([np.array([(0.0, 0, 0), (1, 0, 0)])], 0.06))
    assert covered.all()
    assert_allclose([area, taken], 0.05, rtol=1e-12)


def test_cover_is_symmetric_about_the_middle():
    mesh = tub_mesh([panel("p", [(0, -0.5, 0), (1, -0.5, 0), (1, 0.5, 0), (0, 0.5, 0)], (9, 14))])
    _, _, covered = covered_area(mesh, strip([np.array([(0.0, -0.5, 0), (0, 0.5, 0)])], 0.077))
    fraction = covered.sum(1).reshape(14, 9)
    np.testing.assert_array_equal(fraction, fraction[::-1])
    assert (fraction % 16 > 0).any()


def test_stepped_circles_nest():
    mesh = tub_mesh([panel("p", SKEWED, (14, 9))])
    inner = covered_area(mesh, circle(np.array([0.4, 0.3, 0.02]), 0.1))[2]
    outer = covered_area(mesh, circle(np.array([0.4, 0.3, 0.02]), 0.12))[2]
    assert (outer | ~inner).all()
    assert outer.sum() > inner.sum()


def test_negative_part_of_triangles():
    # closed form: similar triangles cut off
    value = np.array([[-1, -1, -1], [1, 1, 2], [-1, 1, 1], [-1, -1, 1], [-1, -1, 0], [-1, 0, 0], [0, 0, 1], [-1, 0, 1]])
    assert_allclose(negative_part(value.astype(float)), [1, 0, 0.25, 0.75, 1, 1, 0, 0.5])


def test_straightened_keeps_only_kinks():
    chain = np.array([(0.0, 0, 0), (1, 0, 0), (2, 0, 0), (2, 1, 0), (2, 3, 0)])
    np.testing.assert_array_equal(straightened(chain), chain[[0, 2, 4]])
