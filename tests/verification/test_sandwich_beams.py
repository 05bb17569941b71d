"""Sandwich beams: H. G. Allen, Analysis and Design of Structural Sandwich Panels (1969), closed forms.

Δ = P L³ / 48 D + P L / 4 S at mid-span between supports, 5 q L⁴ / 384 D + q L² / 8 S under an even load, with
D = E b t d² / 2 + E b t³ / 6 and S = G b d² / c; evaluated here in N and mm. No Poisson's ratio: a beam, not a plate.
"""

import numpy as np
import pytest
from laminates import core, ud
from meshes import block, freedoms, grid, held, shell

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.shell.solve import solve

# E, t, c, b, G, L, load, kind and the sum to its printed digits.
BEAMS = [
    (60e3, 1.0, 20.0, 50.0, 40.0, 500.0, 1000.0, "middle", 6.7683),
    (60e3, 1.0, 20.0, 50.0, 40.0, 500.0, 2.0, "even", 3.8758),
    (70e3, 0.5, 10.0, 50.0, 220.0, 300.0, 500.0, "middle", 3.2225),
]


def deflection(E, t, c, b, G, L, load, kind, n):
    s, conn = grid(n, 2)
    points = np.column_stack([L * s[:, 0], b * s[:, 1], np.zeros(len(s))])
    face, middle = ud(E, E, E / 2, 0.0, thickness=t), core(G, G, E=1e-3, thickness=c)
    C = stiffness8(make_stack([(0.0, face), (0.0, middle), (0.0, face)]))
    share = np.array([0.25, 0.5, 0.25])[np.round(2 * s[:, 1]).astype(int)]
    ends = (s[:, 0] == 0) | (s[:, 0] == 1)
    along = np.isclose(s[:, 0], 0.5) if kind == "middle" else L / n * np.where(ends, 0.5, 1.0)
    loads = np.zeros((len(points), 6))
    loads[:, 2] = load * share * along
    support = held(freedoms(ends, [2]), freedoms([0], [0, 1]), freedoms([n], [1]))
    u = solve(shell(points, [block(conn)], C, loads, supports=[support])).u[0, :, 2]
    return u[np.isclose(s[:, 0], 0.5)].mean()


@pytest.mark.parametrize(("E", "t", "c", "b", "G", "L", "load", "kind", "printed"), BEAMS)
def test_beam(record, E, t, c, b, G, L, load, kind, printed):
    """Bending and shear of a sandwich strip add up, shear by G d² / c."""
    ours = deflection(E, t, c, b, G, L, load, kind, 16)
    record(f"sandwich beam {L:g} mm, load {kind}, w [mm]", ours, printed, 0.5, mesh="16 x 2")
