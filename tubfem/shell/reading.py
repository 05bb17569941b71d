"""Strains of quads as they are read: what only the energy wants is taken out of them (theory, Z.8)."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.shell.frames import side_by_side
from tubfem.shell.quad4 import Centre
from tubfem.shell.quadrature import QUAD

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
    share = (dA / dA.sum(1, keepdims=True))[..., None, None]
    mean = (strain * share).sum(1, keepdims=True)
    slopes = np.einsum("aq,eqkc->eakc", SLOPES, strain - mean)
    slopes[:, :, 3:6] = centre.plain_slopes(slopes[:, :, 3:6], bulge)
    plain = strain.copy()
    plain[:, :, 3:6] = mean[:, :, 3:6] + np.einsum("qa,eakc->eqkc", QUAD, slopes[:, :, 3:6])
    force = centre.shear_of_twist(np.einsum("eik,eakc->eaic", C[:, 3:6, :6], slopes[:, :, :6]), bulge)
    plain[:, :, 6:] += np.linalg.solve(C[:, 6:, 6:], force)[:, None]
    return plain
