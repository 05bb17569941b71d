"""Strain and stress of every ply from the generalised strain of the shell, in ply axes."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.laminate.ply import plane_stiffness, strain_rotation, vector_rotation
from tubfem.laminate.shear import shear_distribution, shear_stiffness
from tubfem.laminate.stack import Stack

FACES = ("bottom", "top")  # of a ply: bottom is nearer to the tool


def ply_strain(stack: Stack, strain: Floats) -> Floats:
    """Strain (..., k, 2, 3) [-], e1 e2 g12 in ply axes at bottom and top of every ply.

    ``strain`` (..., 8) is ex ey gxy kx ky kxy gxz gyz of the reference surface [-, 1/m, -].
    """
    z = np.stack([stack.z[:-1], stack.z[1:]], axis=-1)  # (k, 2)
    membrane, curvature = strain[..., None, None, :3], strain[..., None, None, 3:6]
    total = membrane + z[..., None] * curvature
    return total @ np.swapaxes(strain_rotation(stack.angle), -1, -2)


def ply_stress(stack: Stack, strain: Floats) -> Floats:
    """Stress (..., k, 2, 3) [Pa], s1 s2 t12 in ply axes, from `ply_strain`'s result."""
    return strain @ plane_stiffness(stack.plies)


def shear_stress(stack: Stack, strain: Floats, at: Floats) -> Floats:
    """Transverse shear stress (..., k, m, 2) [Pa], t13 t23 in ply axes, at the fractions ``at`` (m,) of every ply.

    ``strain`` (..., 8) as in `ply_strain`; the shear forces are the shear stiffness times gxz, gyz.
    """
    force = strain[..., 6:] @ shear_stiffness(stack)
    P = vector_rotation(stack.angle)[:, None] @ shear_distribution(stack, at)
    return np.einsum("kmij,...j->...kmi", P, force)
