"""Stiffness, strain and stress of one ply, in its own axes and turned. Leading axes batch, trailing are components.

Order e1 e2 g12 (ex ey gxy) with engineering shear; a ply at +angle has its axis 1 turned from x towards y.
"""

from collections.abc import Sequence

import numpy as np

from tubfem.arrays import Floats
from tubfem.materials.ply import CorePly, Ply


def strain_rotation(angle: Floats) -> Floats:
    """T (..., 3, 3) that takes strains in x, y to strains in axes turned by angle (...) [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    return _matrix([[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]])


def stress_rotation(angle: Floats) -> Floats:
    """T (..., 3, 3) that takes stresses in x, y to stresses in axes turned by angle (...) [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    return _matrix([[c * c, s * s, 2 * c * s], [s * s, c * c, -2 * c * s], [-c * s, c * s, c * c - s * s]])


def vector_rotation(angle: Floats) -> Floats:
    """R (..., 2, 2) that takes (xz, yz) components to axes turned by angle (...) [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    return _matrix([[c, s], [-s, c]])


def _matrix(rows: list[list[Floats]]) -> Floats:
    """Matrix (..., n, n) of entries (...)."""
    filled = np.array(rows)
    return filled.transpose(*range(2, filled.ndim), 0, 1)


def plane_stiffness(plies: Sequence[Ply | CorePly]) -> Floats:
    """Reduced stiffness Q (k, 3, 3) [Pa] of each ply in its own axes, plane stress."""
    E1, E2, G12, nu12 = np.array([(p.E1, p.E2, p.G12, p.nu12) for p in plies]).T
    k = 1 - nu12**2 * E2 / E1
    Q = np.zeros((len(plies), 3, 3))
    Q[:, 0, 0], Q[:, 1, 1], Q[:, 2, 2] = E1 / k, E2 / k, G12
    Q[:, 0, 1] = Q[:, 1, 0] = nu12 * E2 / k
    return Q


def turned(Q: Floats, angle: Floats) -> Floats:
    """Q (..., 3, 3) given in ply axes, of a ply at angle (...) [rad], in x, y."""
    T = strain_rotation(angle)
    result = np.swapaxes(T, -1, -2) @ Q @ T
    return 0.5 * (result + np.swapaxes(result, -1, -2))  # symmetric to the last bit, so the shell's matrices are too


def shear_compliance(plies: Sequence[Ply | CorePly], angle: Floats) -> Floats:
    """Transverse shear compliance (k, 2, 2) [1/Pa] of each ply in x, y: (gxz, gyz) from (txz, tyz)."""
    R = vector_rotation(angle)
    own = np.zeros((len(plies), 2, 2))
    own[:, 0, 0] = [1 / p.G13 for p in plies]
    own[:, 1, 1] = [1 / p.G23 for p in plies]
    return np.swapaxes(R, -1, -2) @ own @ R
