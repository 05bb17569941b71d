"""Laminated plates and cylinders: J. N. Reddy, Mechanics of Laminated Composite Plates and Shells (2004).

Plates: the Navier solution of first-order theory with shear factor 5/6, evaluated independently from its series;
clamped ones converged by the p-version shell below.
Cylinder: clamped, under inner pressure (problem of K. P. Rao, 1970s, from memory: 0.3754e-3 and 0.1870e-3 in);
converged by a p-version Reissner-Mindlin shell of order 6 to 10, computed independently.
"""

import numpy as np
import pytest
from laminates import abd6, stack, ud
from meshes import block, freedoms, grid, held, shell, sines, welded
from scipy.integrate import solve_bvp

from tubfem.laminate.shear import stiffness8
from tubfem.shell.loads import pressure
from tubfem.shell.solve import solve


def stiffness(angles, ply, shear):
    """Stiffness (8, 8) with the shear stiffness given as numbers (x, y)."""
    C = np.zeros((8, 8))
    C[:6, :6] = abd6(stack(angles, ply))
    C[6, 6], C[7, 7] = shear
    return C


def plate(C, side, *, held_on_x, n=16, longer=1):
    """Middle deflection of a x b under sin(πx/a) sin(πy/b), given the components held on the edges x = const.

    b is `longer` times a, the side along x.
    """
    s, conn = grid(n, n)
    points = side * np.column_stack([s, np.zeros(len(s))]) * [1, longer, 0]
    x_edge, y_edge = ((s[:, k] == 0) | (s[:, k] == 1) for k in (0, 1))
    other = {0: 1, 1: 0, 2: 2, 3: 4, 4: 3}
    support = held(freedoms(x_edge, held_on_x), freedoms(y_edge, [other[k] for k in held_on_x]))
    elements = block(conn, kind="quad4")
    loads = pressure(points, elements, sines(points, elements, side, longer * side))
    u = solve(shell(points, [elements], C, loads, supports=[support])).u[0]
    return u[np.argmin(((s - 0.5) ** 2).sum(1)), 2]


RATIOS = (4, 10, 20, 50, 100)  # a/h
CROSS_PLY = {  # angles, b/a: 100 w E2 h³ / q a⁴ at each ratio
    ((0, 90, 90, 0), 1): (1.7095, 0.6627, 0.4912, 0.4409, 0.4337),
    ((0, 90, 0), 1): (1.7758, 0.6693, 0.4921, 0.4411, 0.4337),
    ((0, 90, 0), 3): (2.3626, 0.8030, 0.5784, 0.5154, 0.5064),
    ((0, 90), 1): (2.1492, 1.2373, 1.1070, 1.0705, 1.0653),
    ((0, 90, 0, 90), 1): (1.5921, 0.6802, 0.5500, 0.5135, 0.5083),
}


@pytest.mark.parametrize(
    ("angles", "longer", "ratio", "reference"),
    [
        (angles, longer, *row)
        for (angles, longer), values in CROSS_PLY.items()
        for row in zip(RATIOS, values, strict=True)
    ],
)
def test_cross_ply_plate(record, angles, longer, ratio, reference):
    """Cross-ply plates from thick to thin, balanced and not, square and long."""
    ply = ud(25.0, 1.0, 0.5, 0.25, G13=0.5, G23=0.2, thickness=1 / len(angles))
    along = np.mean([a == 0 for a in angles])
    shear = 5 / 6 * np.array([0.5 * along + 0.2 * (1 - along), 0.2 * along + 0.5 * (1 - along)])
    w = plate(stiffness(angles, ply, shear), float(ratio), held_on_x=[1, 2, 3], longer=longer)
    record(f"cross-ply {angles} b/a {longer} a/h {ratio} 16x16", 100 * w / ratio**4, reference, 0.5)


EVEN_LOAD = {
    ((0, 90, 90, 0), 1): (2.5673, 1.0250, 0.7694, 0.6942, 0.6833),
    ((0, 90, 0), 3): (3.0210, 1.0209, 0.7391, 0.6604, 0.6492),
    ((0, 90), 1): (3.2709, 1.9469, 1.7582, 1.7055, 1.6980),
    ((0, 90, 0, 90), 1): (2.3837, 1.0596, 0.8712, 0.8186, 0.8111),
}


def under_even_load(angles, longer, ratio, components):
    """Middle deflection, 100 w E2 h³ / q a⁴; `components` held on the edges x = const, None: clamped."""
    ply = ud(25.0, 1.0, 0.5, 0.25, G13=0.5, G23=0.2, thickness=1 / len(angles))
    if set(np.abs(angles)) == {45}:
        shear = np.full(2, 5 / 6 * 0.35)
    else:
        along = np.mean([a == 0 for a in angles])
        shear = 5 / 6 * np.array([0.5 * along + 0.2 * (1 - along), 0.2 * along + 0.5 * (1 - along)])
    s, conn = grid(16, 16)
    points = ratio * np.column_stack([s, np.zeros(len(s))]) * [1, longer, 0]
    x_edge, y_edge = ((s[:, k] == 0) | (s[:, k] == 1) for k in (0, 1))
    if components is None:
        support = held(freedoms(x_edge | y_edge, range(6)))
    else:
        support = held(freedoms(x_edge, components), freedoms(y_edge, [0, 2, 4]))
    elements = block(conn)
    model = shell(
        points, [elements], stiffness(angles, ply, shear), pressure(points, elements, 1.0), supports=[support]
    )
    return 100 * solve(model).u[0, np.argmin(((s - 0.5) ** 2).sum(1)), 2] / ratio**4


@pytest.mark.parametrize(("angles", "longer"), EVEN_LOAD)
def test_cross_ply_plate_under_even_load(record, angles, longer):
    """The same plates under a pressure."""
    for ratio, reference in zip(RATIOS, EVEN_LOAD[angles, longer], strict=True):
        ours = under_even_load(angles, longer, float(ratio), [1, 2, 3])
        name = f"cross-ply {angles} b/a {longer} a/h {ratio} 16x16, pressure"
        record(name, ours, reference, 0.5)


@pytest.mark.parametrize(
    ("angles", "values"), [((0, 90, 90, 0), (0.46505, 0.14753, 0.14369)), ((45, -45), (0.69756, 0.41037, 0.40671))]
)
def test_clamped_plate_under_even_load(record, angles, values):
    """Clamped plates under a pressure, cross-ply and coupled."""
    for ratio, reference in zip((10, 100, 1000), values, strict=True):
        ours = under_even_load(angles, 1, float(ratio), None)
        record(f"clamped {angles} a/h {ratio} 16x16, pressure", ours, reference, 0.5)


# Normal motion held on the edges, tangential free, drilling free: B16 and B26 at work. E1/E2 and pairs of plies.
ANGLE_PLY = {
    (25, 1): (1.7403, 0.8284, 0.6981, 0.6564),
    (25, 4): (1.3317, 0.4198, 0.2896, 0.2479),
    (40, 1): (1.1576, 0.5773, 0.4944, 0.4678),
    (40, 4): (0.8475, 0.2672, 0.1843, 0.1577),
}


@pytest.mark.parametrize(
    ("E1", "pairs", "ratio", "reference"),
    [
        (*key, ratio, value)
        for key, values in ANGLE_PLY.items()
        for ratio, value in zip((4, 10, 20, 100), values, strict=True)
    ],
)
def test_angle_ply_plate(record, E1, pairs, ratio, reference):
    """Plates of ±45 plies, two and eight: strong and weak coupling of stretch and bending."""
    G, G23 = {25: (0.5, 0.2), 40: (0.6, 0.5)}[E1]
    ply = ud(float(E1), 1.0, G, 0.25, thickness=1 / (2 * pairs))
    shear = np.full(2, 5 / 6 * (G + G23) / 2)
    ours = 100 * plate(stiffness((45, -45) * pairs, ply, shear), float(ratio), held_on_x=[0, 2, 3]) / ratio**4
    record(f"angle-ply [45/-45] x {pairs} E1/E2 {E1} a/h {ratio} 16x16", ours, reference, 0.6)


# Inch and psi; 0° along the axis, plies from the inside. Octant, 24 x 24.
@pytest.mark.parametrize(
    ("angles", "reference"), [((0,), 0.37445e-3), ((90, 0), 0.18690e-3), ((0, 90), 0.17679e-3), ((90,), 0.11163e-3)]
)
def test_cylinder_under_pressure(record, angles, reference):
    """A laminated cylinder under pressure, four stacks: the order of plies on a curved shell."""
    s, conn = grid(24, 24)
    angle = 0.5 * np.pi * s[:, 1]
    points = np.column_stack([10 * s[:, 0], -20 * np.sin(angle), 20 * np.cos(angle)])
    conn = conn[:, ::-1]
    middle, end = s[:, 0] == 0, s[:, 0] == 1
    top, side = s[:, 1] == 0, s[:, 1] == 1
    support = held(
        freedoms(end, range(6)), freedoms(middle, [0, 4, 5]), freedoms(top, [1, 3, 5]), freedoms(side, [2, 3, 4])
    )
    ply = ud(7.5e6, 2e6, 1.25e6, 0.25, thickness=1 / len(angles))
    C = stiffness(angles, ply, np.full(2, 5 / 6 * 0.625e6))
    elements = block(conn)
    outwards = pressure(points, elements, 1.0).reshape(-1, 6)[30, :3] @ [0, -np.sin(angle[30]), np.cos(angle[30])]
    model = shell(
        points, [elements], C, np.sign(outwards) * pressure(points, elements, 6.41 / np.pi), supports=[support]
    )
    assert outwards > 0
    u = solve(model).u[0]
    # The answer is the same all round; the mean over each ring, largest along the axis.
    radial = np.array([np.hypot(u[s[:, 0] == x, 1], u[s[:, 0] == x, 2]).mean() for x in np.unique(s[:, 0])]).max()
    record(f"cylinder {angles} 24x24", radial, reference, 0.5)


def axisymmetric(C, radius, length, p):
    """Radial motion in the middle of a clamped cylinder under pressure p: equations of Love's shell with shear, solved.

    Orthotropic, stretch and bending not coupled; u, w and the director's turn along x, an ordinary boundary problem.
    """
    A, D, S = C[:3, :3], C[3, 3], C[6, 6]

    def rates(_, state):
        _, N, w, Q, turn, M = state
        stretch = (N - A[0, 1] * w / radius) / A[0, 0]
        hoop = A[0, 1] * stretch + A[1, 1] * w / radius
        return np.array([stretch, 0 * N, Q / S - turn, hoop / radius - p, M / D, Q])

    def ends(clamped, middle):
        return np.array([clamped[0], clamped[2], clamped[4], middle[0], middle[3], middle[4]])

    x = np.linspace(0, length / 2, 200)
    found = solve_bvp(rates, ends, x, np.zeros((6, len(x))), tol=1e-7, max_nodes=20_000)
    assert found.success
    return found.y[2, -1]


# 135/10/5 GPa, 0.3, plies of 0.25 mm, 0° along the axis; all round, for D16 forbids symmetry.
@pytest.mark.parametrize("angles", [(55, -55, -55, 55), (30, -30, -30, 30), (0, 45, -45, 90, 90, -45, 45, 0)])
def test_cylinder_of_other_angles(record, angles):
    """Clamped cylinders wound at other angles under pressure, 200 x 150 mm (ordinary differential equations)."""
    C = stiffness8(stack(angles, ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)))
    radius, length, p = 0.1, 0.15, 1e5
    s, conn = grid(24, 48)
    turn = 2 * np.pi * s[:, 1]
    points = np.column_stack([length * (s[:, 0] - 0.5), radius * np.cos(turn), -radius * np.sin(turn)])
    points, (conn,) = welded([(points, conn)])
    elements, middle = block(conn), np.isclose(points[:, 0], 0)
    outwards = points * [0, 1, 1] / radius
    loads = pressure(points, elements, p)
    assert (loads.reshape(-1, 6)[:, :3] * outwards).sum() > 0
    ends = np.isclose(np.abs(points[:, 0]), length / 2)
    u = solve(shell(points, [elements], C, loads, supports=[held(freedoms(ends, range(6)))])).u[0, :, :3]
    ours = (u * outwards).sum(1)[middle].mean()
    record(f"cylinder {angles} [m]", ours, axisymmetric(C, radius, length, p), 0.5, mesh="24 x 48")
