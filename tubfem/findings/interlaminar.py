"""Use of plies in interlaminar shear: the transverse shear that equilibrium leaves between and within them."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.findings.allowables import FIRST_DAMAGE, INTERLAMINAR, Allowables
from tubfem.laminate.shear import LEVELS, ShearMap, shear_map
from tubfem.laminate.stack import Stack

FACE = ("bottom", None, "top")  # of `LEVELS`; between plies one's own end and the neighbour's are one place


@dataclass(frozen=True, eq=False, slots=True)
class Interlaminar:
    """Shear of a stack's plies; r rows, a ply's level each.

    Attributes
    ----------
    shear : (2, r, 2) txz tyz [Pa] per unit gxz gyz
    allowable : (r,) [Pa], knocked down and over the factor required
    ply, level : (r,) index of the ply, of `LEVELS`
    """

    shear: Floats
    allowable: Floats
    ply: Ints
    level: Ints


@dataclass(frozen=True, slots=True)
class Sheared:
    """What governs at one strain: ply, its face (None in its middle), shear stress and what it may be [Pa]."""

    ply: int
    face: str | None
    demand: float
    allowable: float


def interlaminar(stack: Stack, allowables: Allowables, shear: ShearMap | None = None) -> Interlaminar:
    """Maps of one stack; plies without a known strength, metal and cores among them, have no rows.

    `shear` is the stack's `shear_map` where it is known already.
    """
    known = np.array([not p.core and np.isfinite(p.S13) for p in stack.plies])
    plies = np.flatnonzero(known)
    required = allowables.required.get(INTERLAMINAR, allowables.required[FIRST_DAMAGE])
    strength = np.array([stack.plies[k].S13 for k in plies]) * allowables.knock_down[INTERLAMINAR] / required
    stress = (shear_map(stack) if shear is None else shear).stress[plies]  # (r, m, 2, 2)
    return Interlaminar(
        frozen(np.moveaxis(stress.reshape(-1, 2, 2), -1, 0).copy()),
        frozen(np.repeat(strength, len(LEVELS))),
        frozen(np.repeat(plies, len(LEVELS))),
        frozen(np.tile(np.arange(len(LEVELS)), len(plies))),
    )


def interlaminar_use(use: Interlaminar, strain: Floats) -> Floats:
    """Greatest use (...) under generalised strain (..., 8), the same for either hand of the load."""
    return (_stress(use, strain) / use.allowable).max(axis=-1, initial=0.0)


def sheared(use: Interlaminar, strain: Floats) -> Sheared:
    """What governs under one generalised strain (8,)."""
    stress = _stress(use, strain)
    at = int((stress / use.allowable).argmax())
    return Sheared(int(use.ply[at]), FACE[use.level[at]], float(stress[at]), float(use.allowable[at]))


def _stress(use: Interlaminar, strain: Floats) -> Floats:
    return np.linalg.norm(np.tensordot(strain[..., 6:], use.shear, 1), axis=-1)
