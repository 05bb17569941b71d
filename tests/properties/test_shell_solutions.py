"""Whole solutions: work and energy, balance, and what a laminate's coupling must do."""

import numpy as np
import pytest
from meshes import block, freedoms, grid, held, isotropic, shell
from numpy.testing import assert_allclose

from tubfem.shell.assemble import stiffness_matrix
from tubfem.shell.model import Springs
from tubfem.shell.recover import generalised_strains, spring_energies
from tubfem.shell.solve import solve
from tubfem.shell.ties import Rigid, Spread, Support


def coupled(angle):
    """One anisotropic sheet at an angle, off the surface: A16, D16, B16 and B66 all differ from zero."""
    c, s = np.cos(angle), np.sin(angle)
    T = np.array([[c * c, s * s, s * c], [s * s, c * c, -s * c], [-2 * s * c, 2 * s * c, c * c - s * s]])
    Q = T.T @ np.array([[40.0, 2, 0], [2, 8, 0], [0, 0, 4]]) @ T
    C = np.zeros((8, 8))
    C[:3, :3], C[3:6, 3:6] = 0.1 * Q, Q * (0.1**3 / 12 + 0.1 * 0.04**2)
    C[:3, 3:6] = C[3:6, :3] = 0.1 * 0.04 * Q
    C[6, 6] = C[7, 7] = 0.3
    return C


def sheet(kind, n=5):
    s, conn = grid(n, n)
    points = np.column_stack([2 * s[:, 0] + 0.3 * s[:, 1], s[:, 1], 0.2 * s[:, 0] * s[:, 1]])
    return s, points, block(conn, kind=kind)


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_work_energy_and_reactions_balance(kind):
    s, points, elements = sheet(kind)
    loads = np.random.default_rng(5).standard_normal((len(points), 6, 2))
    sprung = freedoms(s[:, 0] == 1, [2])[:, None]
    springs = Springs(sprung, np.ones(sprung.shape), np.full(len(sprung), 0.02))
    model = shell(
        points, [elements], coupled(0.5), loads, supports=[held(freedoms(s[:, 0] == 0, range(6)))], springs=[springs]
    )
    solution = solve(model)
    u = np.moveaxis(solution.u, 0, -1).reshape(-1, 2)
    work = (u * model.loads).sum(0)
    assert_allclose((u * (stiffness_matrix(model) @ u)).sum(0), work, rtol=1e-11)
    state = generalised_strains(model, solution.u)[0]
    parts = (state.energy + state.drilling_energy).sum(1) + spring_energies(springs, solution.u).sum(1)
    assert_allclose(2 * parts, work, rtol=1e-11)
    ground = np.zeros((2, 3))
    ground[:, 2] = -springs.stiffness[0] * solution.u[:, s[:, 0] == 1, 2].sum(1)
    total = loads[:, :3].sum(0).T + solution.reactions[:, :, :3].sum(1) + ground
    assert_allclose(total, 0, atol=1e-9 * np.abs(loads).sum())
    assert all(check.ok for check in solution.checks)


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_mirrored_sheet_at_the_opposite_angle_moves_as_the_mirror_image(kind):
    """+θ and −θ couple oppositely: a wrong sign of A16, B16 or D16 anywhere breaks the mirror."""
    s, points, elements = sheet(kind)
    flip = np.array([1.0, -1.0, 1.0])
    loads = np.random.default_rng(4).standard_normal((len(points), 6)) * [1, 1, 1, 0, 0, 0]
    sign = np.array([1, -1, 1, -1, 1, -1])  # reflection in y of a vector and of a rotation
    support = held(freedoms(s[:, 0] == 0, range(6)))
    u = solve(shell(points, [elements], coupled(0.5), loads, supports=[support])).u[0]
    image = block(elements.conn[:, ::-1], kind=kind)
    answers = [
        solve(shell(points * flip, [image], coupled(angle), loads * sign, supports=[support])).u[0]
        for angle in (-0.5, 0.5)
    ]
    assert_allclose(answers[0], u * sign, atol=1e-10 * np.abs(u).max())
    assert np.abs(answers[1] - u * sign).max() > 0.1 * np.abs(u).max()


def test_the_answer_does_not_depend_on_which_determinate_supports():
    """A self-balanced load: relative motion is the same whichever three corners hold the sheet, reactions vanish."""
    _, points, elements = sheet("quad4")
    loads = np.zeros((len(points), 6))
    corners = [0, 5, 30, 35]
    loads[:, :3] = np.random.default_rng(2).standard_normal((len(points), 3))
    G = np.zeros((len(points), 6, 6))
    G[:] = np.eye(6)
    x, y, z = (points - points.mean(0)).T
    G[:, 0, 4], G[:, 0, 5], G[:, 1, 3], G[:, 1, 5], G[:, 2, 3], G[:, 2, 4] = z, -y, -z, x, y, -x
    R = G.reshape(-1, 6)
    F = loads.ravel() - R @ np.linalg.solve(R.T @ R, R.T @ loads.ravel())
    strains = []
    for a, b, c in ((0, 1, 2), (3, 2, 1)):
        ids = np.concatenate(
            [freedoms([corners[a]], [0, 1, 2]), freedoms([corners[b]], [1, 2]), freedoms([corners[c]], [2])]
        )
        model = shell(points, [elements], coupled(0.5), F, supports=[held(ids)])
        solution = solve(model)
        assert np.abs(solution.reactions).max() < 1e-9 * np.abs(F).max()
        strains.append(generalised_strains(model, solution.u)[0].strain)
    assert_allclose(*strains, atol=1e-9 * np.abs(strains[0]).max())


def test_inputs_stay_as_they_were():
    s, points, elements = sheet("quad4")
    loads = np.ones(6 * len(points))
    model = shell(points, [elements], coupled(0.2), loads, supports=[held(freedoms(s[:, 0] == 0, range(6)))])
    solve(model)
    assert not model.points.flags.writeable
    assert (loads == 1).all()


def test_links_carry_force_and_moment():
    """A pickup on a mount that is spread over a patch: the clamped edge feels the force at the pickup's own place."""
    s, points, elements = sheet("quad4", n=8)
    mount, pickup = len(points), len(points) + 1
    patch = np.flatnonzero((np.abs(s - 0.5) < 0.2).all(1))
    arm = points[patch].mean(0) + np.array([[0, 0, 0.05], [0.3, 0.1, 0.4]])
    points = np.concatenate([points, arm])
    loads = np.zeros((len(points), 6))
    loads[pickup] = [1.0, -2.0, 3.0, 0.4, 0.5, -0.6]
    model = shell(
        points,
        [elements],
        isotropic(10, 0.3, 0.1),
        loads,
        supports=[held(freedoms(np.flatnonzero(s[:, 0] == 0), range(6)))],
        rigid=[Rigid(mount, np.array([pickup]))],
        spread=[Spread(mount, patch, np.ones(len(patch)))],
    )
    solution = solve(model)
    r, u = solution.reactions[0], solution.u[0]
    assert_allclose(r[:, :3].sum(0), -loads[pickup, :3], atol=1e-10)
    moment = r[:, 3:].sum(0) + np.cross(points, r[:, :3]).sum(0)
    assert_allclose(moment, -loads[pickup, 3:] - np.cross(points[pickup], loads[pickup, :3]), atol=1e-10)
    assert_allclose(u[pickup, :3], u[mount, :3] + np.cross(u[mount, 3:], points[pickup] - points[mount]), atol=1e-12)


def test_spreading_adds_no_stiffness():
    """A patch tied to a free master moves exactly as without."""
    s, points, elements = sheet("quad4")
    loads = np.random.default_rng(1).standard_normal((len(points) + 1, 6))
    loads[-1] = 0
    support = held(freedoms(np.flatnonzero(s[:, 0] == 0), range(6)))
    plain = solve(shell(points, [elements], coupled(0.3), loads[:-1], supports=[support])).u[0]
    more = np.concatenate([points, [[1.0, 0.5, 0.3]]])
    spread = [Spread(len(points), np.array([14, 15, 20, 21, 22]), np.array([1.0, 2.0, 1.0, 3.0, 1.0]))]
    tied = solve(shell(more, [elements], coupled(0.3), loads, supports=[support], spread=spread)).u[0]
    assert_allclose(tied[:-1], plain, atol=1e-9 * np.abs(plain).max())


def test_prescribed_motion_does_the_work_of_the_reactions():
    s, points, elements = sheet("quad4")
    supports = [
        Support(freedoms(s[:, 0] == 0, range(6))),
        Support(freedoms(s[:, 0] == 1, [2]), np.array([[0.1, -0.2]]).repeat(6, 0)),
    ]
    model = shell(points, [elements], coupled(0.3), np.zeros((len(points), 6, 2)), supports=supports)
    solution = solve(model)
    assert_allclose(solution.u[:, s[:, 0] == 1, 2], [[0.1] * 6, [-0.2] * 6])
    assert_allclose(solution.u[1], -2 * solution.u[0], atol=1e-12)
    work = (solution.u * solution.reactions).sum((1, 2))
    energy = generalised_strains(model, solution.u)[0]
    assert_allclose(2 * (energy.energy + energy.drilling_energy).sum(1), work, rtol=1e-10)


def test_quads_and_triangles_share_a_mesh():
    """The same bent, pulled and twisted sheet from quads, and with a third of them cut: within 2 %."""
    s, conn = grid(12, 12)
    points = np.column_stack([2 * s[:, 0] + 0.3 * s[:, 1], s[:, 1], 0.2 * s[:, 0] * s[:, 1]])
    loads = np.zeros((len(points), 6, 3))
    loads[s[:, 0] == 1, 0, 0] = loads[s[:, 0] == 1, 2, 1] = 1e-3
    loads[-1, 2, 2], loads[12, 2, 2] = 1e-3, -1e-3
    support = [held(freedoms(s[:, 0] == 0, range(6)))]
    cut = np.arange(len(conn)) % 3 == 0
    mixed = [block(conn[~cut]), block(conn[cut], kind="tria3")]
    whole, part = (
        solve(shell(points, blocks, coupled(0.5), loads, supports=support)) for blocks in ([block(conn)], mixed)
    )
    work = [(np.moveaxis(answer.u, 0, -1) * loads).sum((0, 1)) for answer in (whole, part)]
    assert_allclose(work[1], work[0], rtol=0.02)
