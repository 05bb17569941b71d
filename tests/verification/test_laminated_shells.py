"""Laminated plates and cylinders: J. N. Reddy, Mechanics of Laminated Composite Plates and Shells (2004).

Plates: the Navier solution of first-order theory with shear factor 5/6, evaluated independently from its series.
Cylinder: clamped, under inner pressure (problem of K. P. Rao, 1970s, from memory: 0.3754e-3 and 0.1870e-3 in);
converged by a p-version Reissner-Mindlin shell of order 6 to 10, computed independently.
"""

import numpy as np
import pytest
from laminates import abd6, stack, ud
from meshes import block, freedoms, grid, held, shell

from tubfem.shell.loads import pressure
from tubfem.shell.solve import solve


def stiffness(angles, ply, shear):
    """Stiffness (8, 8) with the shear stiffness given as numbers (x, y)."""
    C = np.zeros((8, 8))
    C[:6, :6] = abd6(stack(angles, ply))
    C[6, 6], C[7, 7] = shear
    return C


def plate(C, side, *, held_on_x, n=16):
    """Middle deflection under sin(πx/a) sin(πy/a), given the components held on the edges x = const."""
    s, conn = grid(n, n)
    points = side * np.column_stack([s, np.zeros(len(s))])
    x_edge, y_edge = ((s[:, k] == 0) | (s[:, k] == 1) for k in (0, 1))
    other = {0: 1, 1: 0, 2: 2, 3: 4, 4: 3}
    support = held(freedoms(x_edge, held_on_x), freedoms(y_edge, [other[k] for k in held_on_x]))
    share = 2 * (1 - np.cos(np.pi / n)) * n / np.pi**2
    loads = np.zeros((len(points), 6))
    loads[:, 2] = (side * share) ** 2 * np.sin(np.pi * s[:, 0]) * np.sin(np.pi * s[:, 1])
    u = solve(shell(points, [block(conn)], C, loads, supports=[support])).u[0]
    return u[np.argmin(((s - 0.5) ** 2).sum(1)), 2]


CROSS_PLY = [
    ((0, 90, 90, 0), 4, 1.7095),
    ((0, 90, 90, 0), 10, 0.6627),
    ((0, 90, 90, 0), 100, 0.4337),
    ((0, 90, 0), 10, 0.6693),
    ((0, 90), 10, 1.2373),
    ((0, 90), 100, 1.0653),
    ((0, 90, 0, 90), 10, 0.6802),
]


@pytest.mark.parametrize(("angles", "ratio", "reference"), CROSS_PLY)
def test_cross_ply_plate(record, angles, ratio, reference):
    """Cross-ply plates from thick to thin, balanced and not."""
    ply = ud(25.0, 1.0, 0.5, 0.25, G13=0.5, G23=0.2, thickness=1 / len(angles))
    along = np.mean([a == 0 for a in angles])
    shear = 5 / 6 * np.array([0.5 * along + 0.2 * (1 - along), 0.2 * along + 0.5 * (1 - along)])
    ours = 100 * plate(stiffness(angles, ply, shear), float(ratio), held_on_x=[1, 2, 3]) / ratio**4
    record(f"cross-ply {angles} a/h {ratio} 16x16", ours, reference, 0.5)


# Normal motion held on the edges, tangential free, drilling free: B16 and B26 at work.
@pytest.mark.parametrize(
    ("ratio", "reference", "percent"), [(4, 1.7403, 0.6), (10, 0.8284, 0.6), (20, 0.6981, 0.6), (100, 0.6564, 0.6)]
)
def test_angle_ply_plate(record, ratio, reference, percent):
    """A two-ply ±45 plate: strong coupling of stretch and bending."""
    ply = ud(25.0, 1.0, 0.5, 0.25, thickness=0.5)
    shear = np.full(2, 5 / 6 * 0.35)
    ours = 100 * plate(stiffness((45, -45), ply, shear), float(ratio), held_on_x=[0, 2, 3]) / ratio**4
    record(f"angle-ply [45/-45] a/h {ratio} 16x16", ours, reference, percent)


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
