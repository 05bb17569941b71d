"""Clamped square plate under uniform load, S. P. Timoshenko & S. Woinowsky-Krieger, Theory of Plates and Shells,
table 35: 0.00126 q a⁴/D at the middle. Converged, computed independently by a p-version Reissner-Mindlin plate:
1.26786e-3 at h/a 0.01 and 1.26532e-3 from 1e-4 on (series of thin plate theory: 1.2653e-3).
"""

import numpy as np
import pytest
from meshes import block, freedoms, grid, held, isotropic, shell

from tubfem.shell.loads import pressure
from tubfem.shell.solve import solve

NU = 0.3
SHAPE = {False: "", True: ", distorted"}


def deflection(n, thickness, *, kind="quad4", distorted=False, longer=1.0, seed=1):
    """Middle of a plate 1 x `longer` with D = 1 under unit pressure."""
    s, conn = grid(n, n)
    edge = (s == 0).any(1) | (s == 1).any(1)
    middle = np.argmin(((s - 0.5) ** 2).sum(1))
    if distorted:  # every node inside is moved by up to a quarter of the spacing; the one that is read is put back
        s = s + np.where(edge[:, None], 0, np.random.default_rng(seed).uniform(-0.25, 0.25, s.shape) / n)
        s[middle] = 0.5
    points = np.column_stack([s[:, 0], longer * s[:, 1], np.zeros(len(s))])
    elements = block(conn, kind=kind)
    C = isotropic(12 * (1 - NU**2) / thickness**3, NU, thickness)
    loads = pressure(points, elements, 1.0)
    model = shell(points, [elements], C, loads, supports=[held(freedoms(edge, range(6)))])
    return solve(model).u[0, middle, 2]


@pytest.mark.parametrize("thickness", [1e-2, 1e-4, 1e-6])
@pytest.mark.parametrize(("distorted", "percent"), [(False, 0.4), (True, 1.0)], ids=["regular", "distorted"])
def test_clamped_plate_does_not_lock(record, thickness, distorted, percent):
    """A clamped plate down to a millionth of its span, regular and distorted: no shear locking."""
    reference = 1.26786e-3 if thickness == 1e-2 else 1.26532e-3
    ours = deflection(16, thickness, distorted=distorted)
    record(f"clamped plate, t/a {thickness:g}{SHAPE[distorted]}, w", ours, reference, percent, mesh="16 x 16")


LONG = "long sides of distorted quads bulge more than the plate does, by the square of their length"


@pytest.mark.parametrize(("n", "limit"), [(16, 4.0), (32, 1.5)])
def test_long_distorted_elements(record, n, limit):
    """A clamped plate five times as long as wide, elements five times as long as wide and distorted: mean of five.

    0.002604 q a⁴/D: as in test_macneal_harder.
    """
    ours = np.mean([deflection(n, 1e-4, distorted=True, longer=5.0, seed=seed) for seed in range(5)])
    name = "clamped plate, b/a 5, t/a 0.0001, distorted, w"
    record(name, ours, 2.604e-3, limit, asked=1.0, mesh=f"{n} x {n}", why=LONG)


# Triangles at twice the density. At 1e-6 the rounding of the bubble's shear (1e13 times the bending stiffness)
# is told by the equilibrium check, so 1e-5 is the thinnest that is solved.
@pytest.mark.parametrize("thickness", [1e-2, 1e-4, 1e-5])
@pytest.mark.parametrize(("distorted", "percent"), [(False, 0.4), (True, 1.0)], ids=["regular", "distorted"])
def test_clamped_plate_of_triangles_does_not_lock(record, thickness, distorted, percent):
    """The clamped plate of triangles."""
    reference = 1.26786e-3 if thickness == 1e-2 else 1.26532e-3
    ours = deflection(32, thickness, kind="tria3", distorted=distorted)
    name = f"clamped plate, t/a {thickness:g}{SHAPE[distorted]}, w"
    record(name, ours, reference, percent, mesh="32 x 32 triangles")


def test_order_of_convergence():
    """The error falls with the square of the spacing."""
    errors = [abs(deflection(n, 1e-4) / 1.26532e-3 - 1) for n in (8, 16, 32)]
    order = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (order > 1.8).all(), (errors, order)
