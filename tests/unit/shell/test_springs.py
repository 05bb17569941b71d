"""Springs: energy of given gaps in closed form, and no energy in rigid motion."""

import numpy as np
from meshes import block, freedoms, grid, held, isotropic, shell, welded
from numpy.testing import assert_allclose

from tubfem.shell.assemble import spring_matrix
from tubfem.shell.recover import spring_energies, spring_forces
from tubfem.shell.solve import solve
from tubfem.shell.springs import line_shares, line_springs, point_springs
from tubfem.shell.ties import rigid_motion, tie

FRAME = np.linalg.qr(np.random.default_rng(3).standard_normal((3, 3)))[0]


def seam(n=3, length=0.6):
    """Two rows of coinciding nodes along FRAME[0], and the segments between them."""
    row = np.outer(np.linspace(0, length, n + 1), FRAME[0])
    start = np.arange(n)
    a = np.stack([start, start + 1], 1)
    return np.concatenate([row, row]), a, a + n + 1


def test_linear_gap_stores_its_exact_energy():
    points, a, b = seam()
    k = np.array([3.0, 5.0, 7.0, 0.2])
    springs = line_springs(points, a, b, np.tile(FRAME, (3, 1, 1)), k)
    s = points[4:] @ FRAME[0]
    u = np.zeros((1, 8, 6))
    u[0, 4:, :3] = (0.1 + 0.5 * s)[:, None] * FRAME[0] + (0.2 - s)[:, None] * FRAME[1] + 0.3 * FRAME[2]
    u[0, 4:, 3:] = (s - 0.3)[:, None] * FRAME[0] + FRAME[1]
    exact = []
    for stiffness, (p, q) in zip(k, [(0.1, 0.5), (0.2, -1.0), (0.3, 0.0), (-0.3, 1.0)], strict=True):
        exact.append(0.5 * stiffness * (p * p * 0.6 + p * q * 0.36 + q * q * 0.072))  # ½ k ∫ (p + q s)² ds over 0.6
    energy = spring_energies(springs, u).reshape(3, 2, 4).sum((0, 1))
    assert_allclose(energy, exact, rtol=1e-12)
    per_length = spring_forces(springs, u).reshape(3, 2, 4) / line_shares(points, a)[..., None]
    assert_allclose(per_length[:, :, 2], 7.0 * 0.3)


def test_springs_do_not_feel_rigid_motion():
    points, a, b = seam()
    apart = np.random.default_rng(1).uniform(-1, 1, (8, 3))
    sets = [
        (points, line_springs(points, a, b, np.tile(FRAME, (3, 1, 1)), np.ones(4))),
        (apart, point_springs(apart, np.array([0, 1]), np.array([4, 7]), FRAME, np.ones(6))),
    ]
    for place, springs in sets:
        model = shell(place, [], np.zeros((0, 8, 8)), np.zeros(48), springs=[springs])
        K = spring_matrix(model).toarray()
        assert_allclose(K, K.T, atol=1e-15)
        assert np.abs(K @ rigid_motion(place).reshape(-1, 6)).max() < 1e-13


def test_point_spring_pulls_along_its_axis():
    points = np.array([[0, 0, 0], [1.0, 0, 0]])
    springs = point_springs(points, np.array([0]), np.array([1]), np.eye(3), np.array([2.0, 3, 4, 5, 6, 7]))
    u = np.zeros((1, 2, 6))
    u[0, 1] = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6]
    # Seen from the middle, 0.5 behind point 1: u - θ × 0.5 x, so v loses 0.5·0.6 and w gains 0.5·0.5.
    assert_allclose(spring_forces(springs, u)[0], [0.2, 3 * (0.2 - 0.3), 4 * (0.3 + 0.25), 2.0, 3.0, 4.2])


def test_seam_between_sheets_passes_its_share():
    """Two sheets in line, pulled: the seam opens by N/k, uniformly."""
    s, conn = grid(4, 4)
    left, right = (np.column_stack([s[:, 0] + x, s[:, 1], 0 * s[:, 0]]) for x in (0, 1))
    points, (one,) = welded([(left, conn)])
    points, two = np.concatenate([points, right]), conn + len(points)
    edge = np.flatnonzero(np.isclose(points[:, 0], 1.0) & (np.arange(len(points)) < 25))
    mate = np.array([25 + np.flatnonzero(np.isclose(right, points[k]).all(1))[0] for k in edge])
    order = np.argsort(points[edge, 1])
    a, b = (np.stack([ids[order][:-1], ids[order][1:]], 1) for ids in (edge, mate))
    frame = np.tile([[0.0, 1, 0], [1, 0, 0], [0, 0, -1]], (4, 1, 1))
    springs = line_springs(points, a, b, frame, np.array([5.0, 8.0, 5.0, 1.0]))
    loads = np.zeros((50, 6))
    pulled = np.isclose(points[:, 0], 2.0)
    loads[pulled, 0] = np.where(np.isclose(points[pulled, 1] % 1, 0), 0.125, 0.25) * 2.0
    support = held(freedoms(np.isclose(points[:, 0], 0), [0, 2, 3, 4, 5]), freedoms([0], [1]))
    model = shell(
        points, [block(one), block(two)], isotropic(100, 0.0, 0.1), loads, supports=[support], springs=[springs]
    )
    u = solve(model).u
    assert_allclose(u[0, mate, 0] - u[0, edge, 0], 2.0 / 8.0, rtol=1e-9)
    assert_allclose(spring_forces(springs, u).reshape(4, 2, 4)[:, :, 1], 2.0 * 0.125, rtol=1e-9)


def test_springs_alone_make_a_model():
    points = np.array([[0, 0, 0], [1.0, 0, 0]])
    springs = point_springs(points, np.array([0]), np.array([1]), np.eye(3), np.full(6, 10.0))
    loads = np.zeros((2, 6))
    loads[1, 0] = 1.0
    model = shell(points, [], np.zeros((0, 8, 8)), loads, supports=[held(np.arange(6))], springs=[springs])
    assert_allclose(solve(model).u[0, 1], [0.1, 0, 0, 0, 0, 0], atol=1e-15)
    assert tie(points, 1).T.shape == (12, 12)
