"""Strains of quads as they are read: what only the energy wants is taken out of them (theory, Z.8)."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.shell.frames import side_by_side
from tubfem.shell.quad4 import Centre
from tubfem.shell.quadrature import QUAD, element_mean

SLOPES = 0.75 * QUAD.T  # of a field's values at the integration points, along ξ and η


def as_read(X: Floats, direction: Floats, bulge: Floats, dA: Floats, C: Floats, strain: Floats) -> Floats:
    """Strains with slopes of curvature unweighted, and the transverse shear that the twisting moment drives.

    Parameters
    ----------
    X : (e, 4, 3)
        Corners [m].
    direction : (e, 3)
        0° reference.
    bulge : (e, 4)
        As in `Block`.
    dA : (e, 4)
        [m²].
    C : (e, 8, 8)
        Stiffness of each element's stack.
    strain : (e, 4, 8, c)
        At the integration points, of c motions.
    """
    X, direction = side_by_side(X), side_by_side(direction)
    centre = Centre(X, direction, dA)
    curvature = strain[:, :, 3:6]
    mean = element_mean(curvature, dA)
    slopes = np.einsum("aq,eqkc->eakc", SLOPES, curvature - mean)
    slopes = centre.plain_slopes(slopes, bulge)
    plain = strain.copy()
    plain[:, :, 3:6] = mean + np.einsum("qa,eakc->eqkc", QUAD, slopes)
    force = centre.shear_of_twist(np.einsum("eik,eakc->eaic", without_stretch(C), slopes), bulge)
    plain[:, :, 6:] += np.linalg.solve(C[:, 6:8, 6:8], force)[:, None]
    return plain


def without_stretch(C: Floats) -> Floats:
    """Bending stiffness (e, 3, 3) of stacks (e, 8, 8) that are free to stretch, D - B A⁻¹ B.

    What membrane forces add to moments about another surface than the neutral one has no part in the shear force.
    """
    A, B = C[:, :3, :3], C[:, :3, 3:6]
    return C[:, 3:6, 3:6] - B.transpose(0, 2, 1) @ np.linalg.solve(A, B)
