"""Simply supported sandwich plates under a sinusoidal load: N. J. Pagano, J. Compos. Mater. 4 (1970) 20, and a panel
like a tub's floor.

References: exact three-dimensional elasticity (state space, ply by ply), which reproduces Pagano's printed
deflections, and the closed Navier solution of first-order theory with the same shear stiffness that is given here as
a number; both computed independently. A uniform 5/6 of Σ G t would be 30 to 40 % too stiff in shear.
"""

import numpy as np
import pytest
from meshes import block, freedoms, grid, held, shell

from tubfem.shell.solve import solve


def reduced(E1, E2, nu12, G12):
    d = 1 - nu12**2 * E2 / E1
    return np.array([[E1 / d, nu12 * E2 / d, 0], [nu12 * E2 / d, E2 / d, 0], [0, 0, G12]])


def sandwich(face, core, thickness, core_thickness, shear):
    """Symmetric stiffness (8, 8): two faces about a core."""
    c, h = core_thickness / 2, core_thickness / 2 + thickness
    C = np.zeros((8, 8))
    C[:3, :3] = 2 * thickness * face + core_thickness * core
    C[3:6, 3:6] = 2 / 3 * ((h**3 - c**3) * face + c**3 * core)
    C[6, 6], C[7, 7] = shear
    return C


def deflection(C, side, *, n=16, kind="quad4"):
    """Middle deflection of a square under q = sin(πx/a) sin(πy/a), tangential motion and slope held on the edges."""
    s, conn = grid(n, n)
    points = side * np.column_stack([s, np.zeros(len(s))])
    x_edge, y_edge = ((s[:, k] == 0) | (s[:, k] == 1) for k in (0, 1))
    support = held(freedoms(x_edge, [1, 2, 3]), freedoms(y_edge, [0, 2, 4]))
    # The load on a node of the grid in closed form: a product of ∫ hat(x) sin(πx) dx.
    share = 2 * (1 - np.cos(np.pi / n)) * n / np.pi**2
    loads = np.zeros((len(points), 6))
    loads[:, 2] = (side * share) ** 2 * np.sin(np.pi * s[:, 0]) * np.sin(np.pi * s[:, 1])
    model = shell(points, [block(conn, kind=kind)], C, loads, supports=[support])
    return solve(model).u[0, np.argmin(((s - 0.5) ** 2).sum(1)), 2]


FACE, CORE = reduced(25.0, 1.0, 0.25, 0.5), reduced(0.04, 0.04, 0.25, 0.016)
# a/h, first-order theory with the energy shear stiffness, three-dimensional; w = 100 w E2 h³ / (q a⁴).
PAGANO = [
    (4, 7.8412, 7.5962),
    (10, 2.2109, 2.2004),
    (20, 1.2274, 1.2264),
    (50, 0.9349, 0.9348),
    (100, 0.8924, 0.8924),
]


@pytest.mark.parametrize(("kind", "n"), [("quad4", 16), ("tria3", 32)])
@pytest.mark.parametrize(("ratio", "first_order", "exact"), PAGANO)
def test_pagano_sandwich(record, ratio, first_order, exact, kind, n):
    """A sandwich plate from thick to thin, against first-order theory and three dimensions."""
    C = sandwich(FACE, CORE, 0.1, 0.8, (0.060585, 0.059135))
    ours = 100 * deflection(C, float(ratio), n=n, kind=kind) / ratio**4
    record(f"Pagano a/h {ratio} {n}x{n} {kind}", ours, first_order, 0.5)
    if ratio >= 10:
        record(f"Pagano a/h {ratio} {n}x{n} {kind}, 3-D", ours, exact, 1.0)


# Faces 1 mm, 50 GPa, 0.3; core 20 mm of 40 and 24 MPa; 10 kPa. N and mm.
@pytest.mark.parametrize(
    ("side", "first_order", "exact"), [(200.0, 0.03252, 0.03226), (1000.0, 2.87600, 2.87555)], ids=["0.2 m", "1 m"]
)
def test_tub_like_sandwich(record, side, first_order, exact):
    """A sandwich panel such as a tub has, 0.2 m and 1 m wide."""
    face, core = reduced(50e3, 50e3, 0.3, 50e3 / 2.6), reduced(1.0, 1.0, 0.3, 1 / 2.6)
    ours = 0.01 * deflection(sandwich(face, core, 1.0, 20.0, (883.3, 530.0)), side)
    record(f"sandwich {side} mm", ours, first_order, 0.5)
    # Three-dimensional, mid-plane; a/h is 9 for the small one, where plate theory itself is 0.8 % off.
    record(f"sandwich {side} mm, 3-D", ours, exact, 1.0 if side > 500 else 1.5)
