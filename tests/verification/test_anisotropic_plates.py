"""Thin plates whose bending and twisting are coupled (D16, D26), by Ritz's method.

W. Ritz, J. reine angew. Math. 135 (1909) 1: classical plate theory, Legendre polynomials times (1 - s²) for simply
supported edges and its square for clamped ones, 14 x 14 terms; more change the last digit shown. Not so of tape on
supported edges, in whose corners moments are singular as at the tip of a crack: 26 x 26 terms there, which deflect
0.3 % more than 14 x 14. Elements of one size see little of such a corner and err by the first power of their size; so
those plates are solved on meshes that narrow towards the edges as well. Plates 300 mm wide and 1 mm thick, plies of
0.125 mm, 135/10/5 GPa, 0.3, 1600 kg/m³.
"""

import numpy as np
import pytest
from laminates import stack, ud
from numpy.polynomial import legendre, polynomial
from plates import CLAMPED, SIMPLE, Plate, critical, frequencies
from scipy.linalg import eigh

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import mass_moments
from tubfem.shell.loads import pressure
from tubfem.shell.solve import solve

PLY = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.125e-3, rho=1600.0)


class Ritz:
    """Deflection of a x b as a sum of products of polynomials."""

    def __init__(self, a, b, power, terms=14):
        place, weight = legendre.leggauss(terms + 8)
        edge = polynomial.polypow([1, 0, -1], power)
        shapes = [polynomial.polymul(edge, legendre.leg2poly([0] * k + [1])) for k in range(terms)]
        self.a, self.b = a, b
        self.values = np.array(
            [[polynomial.polyval(place, polynomial.polyder(f, d)) for d in range(3)] for f in shapes]
        )
        self.middle = np.array([polynomial.polyval(0, f) for f in shapes])
        self.weight = weight
        self.products = np.einsum("idg,jeg,g->deij", self.values, self.values, weight)

    def matrix(self, first, second):
        """∫ of a product of derivatives, each given as (along x, along y)."""
        parts = []
        for side, d, e in ((self.a, first[0], second[0]), (self.b, first[1], second[1])):
            parts.append(self.products[d, e] * (2 / side) ** (d + e) * side / 2)
        return np.kron(*parts)

    def stiffness(self, D):
        curved = ((2, 0), (0, 2), (1, 1))
        twice = np.array([1, 1, 2])
        return sum(
            D[i, j] * twice[i] * twice[j] * self.matrix(curved[i], curved[j]) for i in range(3) for j in range(3)
        )

    def geometric(self, N):
        mixed = self.matrix((1, 0), (0, 1))
        return N[0] * self.matrix((1, 0), (1, 0)) + N[1] * self.matrix((0, 1), (0, 1)) + N[2] * (mixed + mixed.T)

    def deflection(self, D):
        even = self.values[:, 0] @ self.weight
        q = np.linalg.solve(self.stiffness(D), np.kron(even, even) * self.a * self.b / 4)
        return np.kron(self.middle, self.middle) @ q


TAPE, MIXED, CROSSED = (30,) * 8, (60, 0, 0, 60) * 2, (30, -30, -30, 30) * 2


@pytest.mark.parametrize(
    ("angles", "edges", "a"),
    [
        (TAPE, "SSSS", 0.45),
        (TAPE, "CCCC", 0.3),
        (MIXED, "SSSS", 0.3),
        (MIXED, "CCCC", 0.45),
        (CROSSED, "SSSS", 0.45),
        (CROSSED, "CCCC", 0.3),
    ],
    ids=["tape SSSS", "tape CCCC", "mixed SSSS", "mixed CCCC", "crossed SSSS", "crossed CCCC"],
)
def test_anisotropic_plate(record, angles, edges, a):
    """Deflection, frequencies and buckling of plates of unbalanced and angle-ply laminates, square and 3 : 2."""
    layers = stack(angles, PLY)
    C, b = stiffness8(layers), 0.3
    held_sets = SIMPLE if edges == "SSSS" else CLAMPED
    cornered = (angles, edges) == (TAPE, "SSSS")
    ritz = Ritz(a, b, 1 if edges == "SSSS" else 2, 26 if cornered else 14)
    K = ritz.stiffness(C[3:6, 3:6])
    name = f"[{'/'.join(map(str, angles[:4]))}/...] {edges} a/b {a / b:g}"

    expected = [ritz.deflection(C[3:6, 3:6])]
    mass = mass_moments(layers)
    expected += np.sqrt(eigh(K, mass[0] * ritz.matrix((0, 0), (0, 0)), eigvals_only=True)[:2]).tolist()
    expected += [1 / eigh(-ritz.geometric(N), K, eigvals_only=True)[-1] for N in RIPPLES.values()]
    for graded in (False, True) if cornered else (False,):
        more = ", narrowing to the edges" if graded else ""
        limits = (2.2, 2.5) if cornered and not graded else (0.5, 1.0)
        for (quantity, n, value), reference in zip(
            answers(a, b, held_sets, C, mass, graded=graded), expected, strict=True
        ):
            limit, asked = (limits[0], 0.5) if quantity.startswith("w") else (limits[1], 1.0)
            record(f"{name}, {quantity}", value, reference, limit, asked=asked, mesh=f"{n} across{more}", why=CORNERS)


CORNERS = "hard supported edges of a laminate whose bending and twist are coupled: moments are singular in the corners"
# A ripple under shear is short where it has to cross the stiff direction: 32 elements there.
RIPPLES = {"Nx": (-1.0, 0, 0), "Nxy > 0": (0, 0, 1.0), "Nxy < 0": (0, 0, -1.0)}


def answers(a, b, held_sets, C, mass, *, graded):
    """Quantity, elements across and value: deflection [m], two frequencies [rad/s], three forces that buckle [N/m]."""

    def mesh(n):
        plate = Plate(n, a, b)
        if graded:
            plate.points[:, :2] = (a, b) * (1 - np.cos(np.pi * plate.points[:, :2] / (a, b))) / 2
        return plate

    plate = mesh(24)
    u = solve(plate.model(C, plate.hold(**held_sets), loads=pressure(plate.points, plate.block, 1.0))).u[0, :, 2]
    yield "w under 1 Pa [m]", 24, u[np.argmin(np.abs(plate.points[:, :2] - [a / 2, b / 2]).sum(1))]
    for number, value in enumerate(frequencies(plate, C, held_sets, mass, 2), start=1):
        yield f"ω{number} [rad/s]", 24, value
    for load, N in RIPPLES.items():
        n = 24 if load == "Nx" else 32
        yield f"buckling {load} [N/m]", n, critical(mesh(n), C, held_sets, N)
