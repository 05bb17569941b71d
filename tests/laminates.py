"""Plies and stacks that several tests share."""

from dataclasses import replace
from math import radians

import numpy as np

from tubfem.laminate.stack import abd, make_stack
from tubfem.materials.ply import LIMITS, CorePly, Ply


def ud(E1, E2, G12, nu12, *, G13=None, G23=None, thickness=1.0, rho=1.0, strengths=None):
    """A unidirectional ply from its numbers, in whatever units the source uses."""
    G13 = G12 if G13 is None else G13
    G23 = G12 if G23 is None else G23
    ply = Ply("ply", "unidirectional", E1, E2, G12, nu12, G13, G23, thickness, rho)
    if strengths is None:
        return ply
    moduli = (E1, E1, E2, E2, G12)
    return replace(ply, **{f: X / E for f, X, E in zip(LIMITS, strengths, moduli, strict=True)})


def core(G13, G23, *, E=1e-6, thickness, Ec=1.0, shear=np.inf, compression=np.inf, rho=1.0):
    return CorePly("core", E, E, E / 2.6, 0.3, G13, G23, thickness, rho, Ec, shear, compression)


def stack(angles, ply, **keywords):
    """The same ply at each of ``angles`` [deg], from the bottom."""
    return make_stack([(radians(a), ply) for a in angles], **keywords)


def abd6(some):
    A, B, D = abd(some)
    return np.block([[A, B], [B, D]])


T300 = ud(181e9, 10.3e9, 7.17e9, 0.28, thickness=0.125e-3, strengths=(1500e6, 1500e6, 40e6, 246e6, 68e6))
AS4_STRENGTHS = np.array([1950.0, 1480.0, 48.0, 200.0, 79.0])
