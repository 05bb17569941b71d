"""Torsion of thin-walled sections by hand rules: closed cells by Bredt and Batho, walls as strips by Saint-Venant.

In a section whose cells all turn at the rate t, the shear flows q round the cells follow from closure and statics:

    sum_j F_ij q_j = 2 A_i t,    T = 2 sum_i A_i q_i,    so    G J = 4 A' F^-1 A

F_ii is the integral of ds/S round cell i, F_ij minus that along the wall shared with cell j, S the membrane shear
stiffness of a wall [R. Bredt, Z. VDI 40 (1896); C. Batho, Engineering 100 (1915); in textbooks, e.g. T. H. G. Megson,
Aircraft Structures for Engineering Students, torsion of multicell sections]. Every wall also twists as a strip,
which adds 4 D66 per metre of its length: all there is in a wall of no cell, next to nothing in the others.
"""

import numpy as np

from tubfem.arrays import Floats
from tubfem.laminate.ply import turned


def cell_stiffness(areas: Floats, incidence: Floats, flexibility: Floats) -> tuple[float, Floats]:
    """Torsional stiffness GJ [N m2] of closed cells, and the shear flows (c,) [N/m] at a twist rate of 1 rad/m.

    Parameters
    ----------
    areas : (c,)
        Area inside each cell [m2].
    incidence : (c, w)
        +1 or -1 where a cell, run anticlockwise, follows a wall or runs against it, else 0.
    flexibility : (w,)
        Length of each wall over its membrane shear stiffness [m2/N].
    """
    F = (incidence * flexibility) @ incidence.T
    flow = np.linalg.solve(F, 2 * areas)
    return float(2 * areas @ flow), flow


def strip_stiffness(length: Floats, twisting: Floats) -> float:
    """Torsional stiffness [N m2] of walls as strips: lengths (w,) [m] in the section, twisting stiffness (w,) [N m]."""
    return float(4 * length @ twisting)


def membrane_shear(A: Floats, angle: Floats) -> Floats:
    """Membrane shear stiffness (...) [N/m] of walls along axes turned by an angle, free of direct forces: 1/a66.

    Of a wall balanced about the new axes that is A66; of any other it is less, because shear alone makes it stretch.
    Walls that hold each other from stretching are stiffer, at most A66.

    Parameters
    ----------
    A : (..., 3, 3)
        [N/m] in the material frame.
    angle : (...)
        Of the new first axis from e1, towards e2 [rad].
    """
    return 1 / np.linalg.inv(turned(A, -angle))[..., 2, 2]


def twisting(D: Floats, angle: Floats) -> Floats:
    """D66 (...) [N m] of D (..., 3, 3) along axes turned by an angle (...) [rad]."""
    return turned(D, -angle)[..., 2, 2]
