"""Hand rules for laminated walls: the stiffness that counts, turned to the wall's axis."""

import numpy as np
from laminates import stack, ud
from numpy.testing import assert_allclose

from tubfem.findings.thin_walls import cell_stiffness, membrane_shear, strip_stiffness, twisting
from tubfem.laminate.stack import abd

TAPE = ud(135e9, 10e9, 5e9, 0.3, thickness=0.25e-3)


def test_a_balanced_wall_counts_with_its_A66():
    A = abd(stack([45, -45, -45, 45], TAPE))[0]
    assert_allclose(membrane_shear(A, 0.0), A[2, 2], rtol=1e-12)


def test_an_unbalanced_wall_counts_with_its_free_shear():
    # closed form for [15]4: A66 = 12 496 N/mm, free to stretch 5 619 N/mm
    A = abd(stack([15] * 4, TAPE))[0]
    assert_allclose(membrane_shear(A, 0.0), 5.619e6, rtol=1e-4)
    assert_allclose(A[2, 2], 12.496e6, rtol=1e-4)


def test_axes_are_turned_from_the_material_to_the_wall():
    # seen along its fibres a [45/-45]s wall is a [0/90]s one; a ply turned back by its own angle is a 0 degree ply
    cross, angled = (abd(stack(angles, TAPE)) for angles in ([0, 90, 90, 0], [45, -45, -45, 45]))
    assert_allclose(membrane_shear(angled[0], np.pi / 4), cross[0][2, 2], rtol=1e-12)
    turned, straight = (abd(stack([angle] * 4, TAPE)) for angle in (20, 0))
    assert_allclose(twisting(turned[2], np.radians(20)), straight[2][2, 2], rtol=1e-12)
    assert abs(twisting(turned[2], np.radians(-20)) / straight[2][2, 2] - 1) > 0.5


def test_many_walls_at_once():
    A = np.stack([abd(stack([angle] * 2, TAPE))[0] for angle in (0, 10, 30)])
    angles = np.radians([0.0, 5.0, -20.0])
    assert_allclose(membrane_shear(A, angles), [membrane_shear(a, t) for a, t in zip(A, angles, strict=True)])


def test_a_shared_wall_of_equal_cells_carries_nothing():
    # closed form: two equal cells side by side are as stiff as the outline alone
    areas, S = np.array([0.01, 0.01]), 5e7
    incidence = np.array([[1, 0, 1], [0, 1, -1]])
    GJ, flow = cell_stiffness(areas, incidence, np.array([0.3, 0.3, 0.1]) / S)
    assert_allclose(GJ, 4 * 0.02**2 * S / 0.6, rtol=1e-12)
    assert_allclose(flow[0], flow[1], rtol=1e-12)


def test_cells_apart_add_up():
    S = 5e7
    one, _ = cell_stiffness(np.array([0.02]), np.array([[1]]), np.array([0.6]) / S)
    both, flow = cell_stiffness(np.array([0.02, 0.01]), np.eye(2), np.array([0.6, 0.4]) / S)
    assert_allclose(both, one + 4 * 0.01**2 * S / 0.4, rtol=1e-12)
    assert_allclose(2 * np.array([0.02, 0.01]) @ flow, both, rtol=1e-12)


def test_a_strip_is_four_D66_per_metre():
    G, t = 25e9, 2e-3
    assert_allclose(strip_stiffness(np.array([0.1]), np.array([G * t**3 / 12])), G * 0.1 * t**3 / 3, rtol=1e-12)
