"""Brick with incompatible modes: patch test on a skew hexahedron, rigid motion, pure bending."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.shell.brick8 import CORNERS, brick_springs, brick_stiffness, shapes, slopes

SKEW = CORNERS * [0.02, 0.03, 0.025] + np.random.default_rng(3).uniform(-0.004, 0.004, (8, 3))
E, G = 60e6, 25e6
C = np.diag([E, E, E, G, G, G])


def energy(X, u, frame=None):
    rows, stiffness = brick_springs(X[None], C, np.eye(3) if frame is None else frame)
    return 0.5 * float((stiffness[0] * (rows[0] @ u.ravel()) ** 2).sum())


def volume(X):
    J = np.einsum("gna,nx->gax", slopes(CORNERS / np.sqrt(3)), X)
    return np.linalg.det(J).sum()


def test_shapes_and_slopes_are_those_of_the_corners():
    assert_allclose(shapes(CORNERS), np.eye(8), atol=1e-15)
    at, step = np.array([0.3, -0.2, 0.6]), 1e-6
    for k in range(3):
        d = np.zeros(3)
        d[k] = step
        assert_allclose(slopes(at)[:, k], (shapes(at + d) - shapes(at - d)) / (2 * step), atol=1e-9)


@pytest.mark.parametrize("k", range(6))
def test_uniform_strain_on_a_skew_brick_stores_its_energy(k):
    # patch test: ½ C ε² V, closed form; forces at the corners are those of a uniform stress
    strain = np.zeros(6)
    strain[k] = 1e-3
    i, j = ((0, 0), (1, 1), (2, 2), (1, 2), (2, 0), (0, 1))[k]
    gradient = np.zeros((3, 3))
    gradient[i, j] = 1e-3
    u = SKEW @ gradient.T + [0.1, 0.2, -0.3]
    assert_allclose(energy(SKEW, u), 0.5 * C[k, k] * 1e-6 * volume(SKEW), rtol=1e-9)


def test_rigid_motion_stores_nothing():
    assert energy(SKEW, 1.0 + np.cross([0.3, -0.2, 0.5], SKEW)) < 1e-12 * E * 0.05**3


def test_pure_bending_is_that_of_a_beam():
    # a brick bent by two couples: 2 E I / l per end moment (closed form); plain bricks lock
    a, b, c = 0.03, 0.02, 0.01
    X = CORNERS * [a, b, c]
    turn = 1e-3
    u = np.zeros((8, 3))
    u[:, 0] = -np.sign(X[:, 0]) * turn * X[:, 2]
    K = brick_stiffness(X[None], C)[0]
    free = [n * 3 + 2 for n in range(8)] + [n * 3 + 1 for n in range(8)]
    held = [n * 3 for n in range(8)]
    reduced = (
        K[np.ix_(held, held)] - K[np.ix_(held, free)] @ np.linalg.pinv(K[np.ix_(free, free)]) @ K[np.ix_(free, held)]
    )
    stored = 0.5 * u[:, 0] @ reduced @ u[:, 0]
    curvature = turn / a
    assert_allclose(stored, 0.5 * E * (2 * b) * (2 * c) ** 3 / 12 * curvature**2 * 2 * a, rtol=1e-9)


def test_axes_of_the_material_turn_with_it():
    # the same brick, motion and material, all turned together
    angle = 0.7
    R = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    u = np.random.default_rng(4).normal(size=(8, 3))
    assert_allclose(energy(SKEW @ R.T, u @ R.T, R.T), energy(SKEW, u), rtol=1e-9)
