"""Long bars of laminated walls in torsion, against their section solved in three dimensions by `scikit-fem`.

Saint-Venant's problem of an anisotropic section (quadratic quadrilaterals, a layer a ply, mitred corners) has no ends,
so ours is what a bar turns more if it is longer: GJ = ΔL / Δ(1 / K), both ends free to warp. Ends that keep their shape
are felt far into bars with coupled walls: a box of [45/-45] walls is 2 % softer over its first metre than GJ / L.
"""

import pytest
from laminates import stack, ud
from tubes import torsional_stiffness, tube, twist_model

from tubfem.laminate.shear import stiffness8

pytest.importorskip("skfem", reason="install the extra `test`")
from solid_sections import strip_mesh, torsional_rigidity

TAPE = {"E": (135e9, 10e9, 10e9), "G": (3.5e9, 5e9, 5e9), "nu": (0.3, 0.3, 0.4), "thickness": 0.25e-3}
PLY = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)
BOX = [(-0.1, -0.05), (0.1, -0.05), (0.1, 0.05), (-0.1, 0.05), (-0.1, -0.05)]
TRAPEZOID = [(-0.12, 0.0), (0.12, 0.0), (0.07, 0.11), (-0.09, 0.1), (-0.12, 0.0)]
TRIANGLE = [(-0.1, 0.0), (0.1, 0.0), (0.02, 0.12), (-0.1, 0.0)]
HAT = [(-0.09, 0.0), (-0.05, 0.0), (-0.035, 0.06), (0.035, 0.06), (0.05, 0.0), (0.09, 0.0)]
ZED = [(-0.05, 0.06), (0.0, 0.06), (0.0, -0.06), (0.05, -0.06)]
CHANNEL = [(0.05, -0.05), (0.0, -0.05), (0.0, 0.05), (0.05, 0.05)]
CLOSED = [
    ("box", BOX, (45, -45)),
    ("box", BOX, (30, -30)),
    ("box", BOX, (60,) * 4),
    ("box", BOX, (20, 70, -10)),
    ("trapezoid", TRAPEZOID, (30, -30)),
    ("trapezoid", TRAPEZOID, (30, 0)),
    ("triangle", TRIANGLE, (45, -45)),
]
OPEN = [
    ("hat", HAT, (0, 90, 90, 0)),
    ("hat", HAT, (45, -45)),
    ("zed", ZED, (45, -45, -45, 45)),
    ("channel", CHANNEL, (30,) * 4),
]


def rigidity(corners, angles, size, lengths):
    """Torque per rate of twist [N·m²], the ends' part taken out."""
    C = stiffness8(stack(angles, PLY))
    near, far = (1 / torsional_stiffness(*twist_model(*tube([corners], L, size), [C])) for L in lengths)
    return (lengths[1] - lengths[0]) / (far - near)


# Corners: walls of 0.5 to 1 mm are up to 1 % of 100 mm, of which a third shows; 0.3 % was found, 0.6 on the mesh of 50.
@pytest.mark.parametrize(("name", "corners", "angles"), CLOSED)
def test_closed_sections(record, name, corners, angles):
    """Closed sections of any shape and laminate, B and stretch with twist included."""
    reference = torsional_rigidity(*strip_mesh(corners, angles, TAPE, 16))
    record(f"{name} {angles}, GJ [N·m²]", rigidity(corners, angles, 0.025, (1, 2)), reference, 0.5, mesh="25 mm")


# An open section's ends reach farther: lengths of 2 and 3 m.
@pytest.mark.parametrize(("name", "corners", "angles"), OPEN)
def test_open_sections(record, name, corners, angles):
    """Open sections: bending stiffness of the walls alone, with the coupling of bending and twist in it."""
    reference = torsional_rigidity(*strip_mesh(corners, angles, TAPE, 16))
    record(f"{name} {angles}, GJ [N·m²]", rigidity(corners, angles, 0.0125, (2, 3)), reference, 1.0, mesh="12.5 mm")
