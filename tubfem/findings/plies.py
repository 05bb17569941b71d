"""How far every ply of a stack is used, as one linear map of the generalised strain, and the strains at its faces.

The use of a mode is strain x required factor / (limit x knock-downs); it is linear in the load, so the hand of the
torque only turns its sign: a column that is positive governs under +T, a negative one under -T.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.findings.allowables import FIBRE, FIRST_DAMAGE, Allowables
from tubfem.laminate.failure import ply_limits
from tubfem.laminate.recovery import ply_strain, ply_stress
from tubfem.laminate.stability import principal_strain
from tubfem.laminate.stack import Stack

SIGNS = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])  # of MODES, in-plane shear once for either sign
COMPONENT = np.array([0, 0, 1, 1, 2, 2])
MODE = np.array([0, 1, 2, 3, 4, 4])


@dataclass(frozen=True, eq=False, slots=True)
class PlyUse:
    """Use of every mode of a stack's plies.

    Attributes
    ----------
    matrix : (8, n) use per unit generalised strain
    allowable : (n,) strain [-] or stress [Pa], as `unit` says
    ply, face, mode : (n,) index of the ply, of `recovery.FACES`, of `MODES`
    """

    matrix: Floats
    allowable: Floats
    ply: Ints
    face: Ints
    mode: Ints
    unit: str


def ply_use(stack: Stack, allowables: Allowables, kind: str, *, by_stress: bool = False) -> PlyUse:
    """Columns of `kind` "first damage" (all modes of all plies) or "fibre failure" (fibre modes only).

    Modes without a limit (cores, plies whose limit nobody gave) have no column. ``by_stress`` compares stresses with
    strengths, modulus times breaking strain, instead of strains.
    """
    limits = ply_limits(stack, allowables.knock_down)[:, MODE] / allowables.required[kind]  # (k, 6)
    if kind == FIBRE:
        fibre = np.array([(False,) * 5 if ply.core else ply.fibre_modes for ply in stack.plies])
        limits = np.where(fibre[:, MODE], limits, np.inf)
    elif kind != FIRST_DAMAGE:
        raise ValueError(f"{kind!r} is not a failure of plies")
    unit = ply_strain(stack, np.eye(8))  # (8, k, 2, 3)
    if by_stress:
        unit = ply_stress(stack, unit)
        limits = limits * np.array([(p.E1, p.E2, p.G12) for p in stack.plies])[:, COMPONENT]
    signed = unit[..., COMPONENT] * SIGNS  # (8, k, 2, 6)
    allowable = np.broadcast_to(limits[:, None], signed.shape[1:])
    has = np.isfinite(allowable)
    ply, face, column = np.nonzero(has)
    return PlyUse(
        frozen(signed[:, has] / allowable[has]),
        frozen(allowable[has]),
        frozen(ply),
        frozen(face),
        frozen(MODE[column]),
        "Pa" if by_stress else "-",
    )


def greatest_use(use: PlyUse, strain: Floats, *, both_hands: bool) -> Floats:
    """Greatest use (...) of any column under generalised strain (..., 8), under either hand of the load if asked."""
    columns = strain @ use.matrix
    if both_hands:
        columns = np.abs(columns)
    return columns.max(axis=-1, initial=0.0)


def governing(use: PlyUse, strain: Floats, *, both_hands: bool) -> tuple[int, int]:
    """Column that governs under one generalised strain (8,), and the hand of the load: +1 or -1."""
    columns = strain @ use.matrix
    at = int(np.argmax(np.abs(columns) if both_hands else columns))
    return at, -1 if columns[at] < 0 else 1


def surface_strain(strain: Floats, z: Floats) -> Floats:
    """Greatest principal strain (...) of either sign at the laminate's two faces.

    Parameters
    ----------
    strain
        (..., 8) generalised.
    z
        (..., 2) [m], tool face and far face from the reference surface.
    """
    at_faces = strain[..., None, :3] + z[..., None] * strain[..., None, 3:6]
    high, low = principal_strain(at_faces)
    return np.maximum(high, -low).max(axis=-1)
