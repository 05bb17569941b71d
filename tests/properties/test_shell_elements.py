"""One element, and a few: symmetry, rigid motion, constant strain, and independence from numbering and axes."""

import numpy as np
import pytest
from meshes import block, freedoms, isotropic, shell, triangles
from numpy.testing import assert_allclose

from tubfem.shell.assemble import KINDS, element_stiffness, padded_stiffness, stiffness_matrix
from tubfem.shell.normals import corner_normals, smooth_normals
from tubfem.shell.quad4 import strain_matrix as quad4
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import solve
from tubfem.shell.ties import Support, rigid_motion

RNG = np.random.default_rng(7)
WARPED = np.array([[0.0, 0.0, 0.1], [1.1, 0.1, -0.1], [1.3, 1.0, 0.15], [-0.2, 0.8, 0.0]])
# MacNeal & Harder, Finite Elem. Anal. Des. 1 (1985) 3: patch of five quads.
PATCH = np.array([[0, 0], [0.24, 0], [0.24, 0.12], [0, 0.12], [0.04, 0.02], [0.18, 0.03], [0.16, 0.08], [0.08, 0.08]])
PATCH_CONN = np.array([[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7], [4, 5, 6, 7]])
OUTER = np.arange(4)


def unbalanced():
    """A full, coupled, positive definite stiffness: no entry is spared."""
    L = np.tril(np.random.default_rng(3).uniform(-0.4, 0.4, (8, 8)), -1) + np.eye(8)
    return L @ np.diag([9.0, 6.0, 4.0, 0.3, 0.2, 0.1, 2.0, 1.5]) @ L.T


def rotation(axis_angle):
    angle = np.linalg.norm(axis_angle)
    x, y, z = axis_angle / angle
    K = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * K + (1 - np.cos(angle)) * K @ K


def warped_sheet(kind, n=3):
    """A skewed, warped, irregular sheet."""
    rng = np.random.default_rng(11)
    s, t = np.meshgrid(np.arange(n + 1.0), np.arange(n + 1.0))
    points = np.stack([s + 0.4 * t, t, 0.15 * s * t], -1).reshape(-1, 3) + rng.uniform(-0.12, 0.12, ((n + 1) ** 2, 3))
    node = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    conn = np.stack([node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]], -1).reshape(-1, 4)
    return points, triangles(conn) if kind == "tria3" else conn


def stiffness_of(points, conn, kind, C, direction=(1.0, 0.3, 0.2)):
    model = shell(points, [block(conn, direction, kind=kind)], C, np.zeros(6 * len(points)))
    return stiffness_matrix(model).toarray()


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_stiffness_is_symmetric_with_exactly_six_free_motions(kind):
    points, conn = warped_sheet(kind)
    K = stiffness_of(points, conn, kind, unbalanced())
    assert_allclose(K, K.T, atol=1e-14 * np.abs(K).max())
    values = np.linalg.eigvalsh(K)
    assert np.abs(values[:6]).max() < 1e-13 * values[-1]
    assert values[6] > 1e-7 * values[-1]
    assert np.abs(K @ rigid_motion(points).reshape(-1, 6)).max() < 1e-13 * values[-1]


@pytest.mark.parametrize("X", [WARPED, WARPED * [1, 1, 0], WARPED * [1, 1, 3]])
def test_single_quad_has_exactly_six_free_motions(X):
    B, M, dA = quad4(X[None], corner_normals(X[None]), np.array([[1.0, 0.2, 0.0]]))
    K = element_stiffness(B, M, dA, padded_stiffness(unbalanced()[None], 1e-3))[0]
    values = np.linalg.eigvalsh(K)
    assert np.abs(values[:6]).max() < 1e-13 * values[-1]
    assert values[6] > 1e-6 * values[-1]
    assert np.abs(B @ rigid_motion(X).reshape(-1, 6)).max() < 1e-14


def test_two_triangles_have_exactly_six_free_motions():
    K = stiffness_of(WARPED, np.array([[0, 1, 2], [0, 2, 3]]), "tria3", unbalanced())
    values = np.linalg.eigvalsh(K)
    assert np.abs(values[:6]).max() < 1e-13 * values[-1]
    assert values[6] > 1e-6 * values[-1]


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_stiffness_turns_with_the_model(kind):
    points, conn = warped_sheet(kind)
    R, shift = rotation(np.array([0.7, -1.1, 0.4])), np.array([3.0, -2.0, 5.0])
    direction = np.array([1.0, 0.3, 0.2])
    K = stiffness_of(points, conn, kind, unbalanced(), direction)
    turned = stiffness_of(points @ R.T + shift, conn, kind, unbalanced(), R @ direction)
    T = np.kron(np.eye(2 * len(points)), R)
    assert_allclose(turned, T @ K @ T.T, atol=1e-12 * np.abs(K).max())


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_numbering_does_not_matter(kind):
    points, conn = warped_sheet(kind)
    K = stiffness_of(points, conn, kind, unbalanced())
    cyclic = np.stack([np.roll(row, k) for k, row in enumerate(conn)])
    assert_allclose(stiffness_of(points, cyclic, kind, unbalanced()), K, atol=1e-13 * np.abs(K).max())
    new = RNG.permutation(len(points))  # new number of each node
    renumbered = np.empty_like(points)
    renumbered[new] = points
    shuffled = RNG.permutation(len(conn))
    other = stiffness_of(renumbered, new[conn[shuffled]], kind, unbalanced())
    where = (6 * new[:, None] + np.arange(6)).ravel()
    assert_allclose(other[np.ix_(where, where)], K, atol=1e-13 * np.abs(K).max())


def test_turning_elements_over_mirrors_the_stack():
    """The far face seen as tool face: B and the curvatures change sign in an axis frame that turns over too."""
    points, conn = warped_sheet("quad4")
    C = unbalanced()
    # e1 stays, e2 and e3 turn: εx εy -γxy, -κx -κy κxy, -γxz γyz.
    sign = np.array([1.0, 1.0, -1.0, -1.0, -1.0, 1.0, -1.0, 1.0])
    K = stiffness_of(points, conn, "quad4", C)
    over = stiffness_of(points, conn[:, ::-1], "quad4", C * np.outer(sign, sign))
    assert_allclose(over, K, atol=1e-13 * np.abs(K).max())


def prescribed_patch(kind, C, motion, R=None):
    """Solve the patch with the motion (p, 6) given at the four outer nodes."""
    R = np.eye(3) if R is None else R
    points = np.column_stack([PATCH, np.zeros(8)]) @ R.T
    motion = np.concatenate([motion[:, :3] @ R.T, motion[:, 3:] @ R.T], 1)
    supports = [Support(freedoms(OUTER, range(6)), motion[OUTER].ravel())]
    conn = block(PATCH_CONN, R @ [1.0, 0.0, 0.0], kind=kind)
    model = shell(points, [conn], C, np.zeros(48), supports=supports)
    solution = solve(model)
    return generalised_strains(model, solution.u)[0].strain[0], solution.u[0], motion


def fields():
    x, y = PATCH.T
    zero = np.zeros(8)
    bend = {"κx": (x**2, 2 * x, zero), "κy": (y**2, zero, 2 * y), "κxy": (x * y, y, x)}
    for name, (w, wx, wy) in bend.items():
        strain = np.zeros(8)
        strain[3:6] = {"κx": [-2, 0, 0], "κy": [0, -2, 0], "κxy": [0, 0, -2]}[name]
        yield name, np.stack([zero, zero, w, wy, -wx, zero], 1), strain
    spin = np.full(8, 0.25)  # (v,x - u,y)/2, so that drilling strain vanishes
    membrane = np.stack([x + 0.5 * y, y + x, zero, zero, zero, spin], 1)
    yield "membrane", membrane, np.array([1, 1, 1.5, 0, 0, 0, 0, 0.0])
    yield "γxz", np.stack([zero, zero, x, zero, zero, zero], 1), np.array([0, 0, 0, 0, 0, 0, 1, 0.0])
    yield "γyz", np.stack([zero, zero, zero, np.full(8, -1.0), zero, zero], 1), np.array([0, 0, 0, 0, 0, 0, 0, 1.0])


FIELDS = list(fields())


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
@pytest.mark.parametrize(("name", "motion", "strain"), FIELDS, ids=[name for name, _, _ in FIELDS])
def test_strain_matrix_reads_constant_strain(kind, name, motion, strain):
    conn = triangles(PATCH_CONN) if kind == "tria3" else PATCH_CONN
    X = np.column_stack([PATCH, np.zeros(8)])[conn]
    B, M, dA = KINDS[kind].strain_matrix(X, corner_normals(X), np.tile([1.0, 0, 0], (len(conn), 1)))
    found = np.einsum("eqkd,ed->eqk", B, motion[conn].reshape(len(conn), -1))
    assert_allclose(found, np.broadcast_to([*strain, 0.0], found.shape), atol=1e-12)
    assert_allclose(dA.sum(), 0.24 * 0.12)
    assert_allclose(np.einsum("eqkm,eq->ekm", M[:, :, :6], dA), 0, atol=1e-14)  # entries of order 10


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
@pytest.mark.parametrize(("name", "motion", "strain"), FIELDS[:4], ids=[name for name, _, _ in FIELDS[:4]])
def test_patch_settles_in_constant_strain(kind, name, motion, strain):
    """Given at the outer nodes, exact to 1e-8 inside, in any position in space and for a fully coupled laminate."""
    C = unbalanced()
    C[6:, :6] = C[:6, 6:] = 0.0  # else constant curvature needs a load
    found, u, wanted = prescribed_patch(kind, C, motion, rotation(np.array([0.4, 0.9, -0.5])))
    assert_allclose(found, np.broadcast_to(strain, found.shape), atol=1e-8)
    assert_allclose(u, wanted, atol=1e-8)


@pytest.mark.parametrize("thickness", [1e-3, 0.02, 0.3])
@pytest.mark.parametrize("turned", [False, True])
def test_constant_shear_force_on_uneven_rectangles(thickness, turned):
    """A strip of five unlike elements bent by a force on its end: Timoshenko's beam at every node, and its shear.

    In equilibrium a shear force goes with moments that grow along the strip: a cubic, not shear alone.
    """
    E, b, P, L = 7e10, 0.3, 100.0, 2.0
    x = np.array([0.0, 0.2, 0.9, 1.1, 1.6, L])
    points = np.stack([np.tile(x, 2), np.repeat([0.0, b], 6), np.zeros(12)], -1)
    conn = np.array([[k, k + 1, k + 7, k + 6] for k in range(5)])
    C = isotropic(E, 0.0, thickness)
    loads = np.zeros((12, 6))
    loads[[5, 11], 2] = P / 2
    R = rotation(np.array([0.3, -0.8, 0.5])) if turned else np.eye(3)
    full = np.concatenate([loads[:, :3] @ R.T, loads[:, 3:]], 1)
    model = shell(points @ R.T, [block(conn, R @ [1.0, 0, 0])], C, full, supports=[Support(freedoms([0, 6], range(6)))])
    solution = solve(model)
    bending, shear = b * C[3, 3], b * C[6, 6]
    w = P * (L * x**2 / 2 - x**3 / 6) / bending + P * x / shear
    # What rounding leaves where shear is a million times as stiff as bending, turned in space; exact in theory.
    assert_allclose((solution.u[0, :, :3] @ R)[:, 2], np.tile(w, 2), rtol=1e-7)
    found = generalised_strains(model, solution.u)[0]
    assert_allclose(found.mean[0, :, 6] * shear, np.full(5, P), rtol=1e-5)
    assert_allclose(found.mean[0, :, 3] * bending, -P * (L - (x[1:] + x[:-1]) / 2), rtol=1e-6)


def test_normals_join_smooth_faces_and_part_at_folds():
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0], [0, 2, 0.2], [1, 2, 0.2], [0, 1, 1], [1, 1, 1.0]])
    conn = np.array([[0, 1, 3, 2], [4, 5, 3, 2], [2, 3, 7, 6]])  # the second is turned over, the third stands upright
    (n,) = smooth_normals(points, [conn])
    slope = np.array([0.0, -0.2, 1.0]) / np.hypot(0.2, 1.0)
    up = np.array([0.0, 0.0, 1.0])
    mean = (slope + up) / np.linalg.norm(slope + up)
    assert_allclose(n[0], [[0, 0, 1], [0, 0, 1], mean, mean], atol=1e-12)
    assert_allclose(n[1], [-slope, -slope, -mean, -mean], atol=1e-12)
    assert_allclose(n[2], np.broadcast_to([0, -1, 0], (4, 3)), atol=1e-12)
