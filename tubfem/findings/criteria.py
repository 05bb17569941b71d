"""Use of plies by the criterion that a case chooses: each strain or stress by itself, Tsai and Wu, or Hashin.

Maximum strain and maximum stress are linear in the load and share `plies.PlyUse`. The others are not: a required
factor divides their strength ratio, the factor on the whole load at which the criterion is met.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tubfem.arrays import Floats, Ints, frozen
from tubfem.findings.allowables import FIBRE, Allowables
from tubfem.findings.plies import PlyUse, governing, greatest_use, ply_use
from tubfem.laminate.failure import hashin_ratio, mode_ratios, ply_limits, tsai_wu_ratio
from tubfem.laminate.recovery import ply_strain, ply_stress
from tubfem.laminate.stack import Stack

STRAIN, STRESS, TSAI_WU, HASHIN = CRITERIA = ("maximum strain", "maximum stress", "Tsai-Wu", "Hashin")
BOUNDLESS = 1e30  # Pa: stands for a strength nobody gave, where infinity over infinity would be asked


@dataclass(frozen=True, eq=False, slots=True)
class Interactive:
    """Stresses of a stack's plies for a criterion that joins them; r rows, a ply's face each.

    Attributes
    ----------
    criterion : "Tsai-Wu" or "Hashin"
    stress : (8, r, 3) s1 s2 t12 [Pa] per unit generalised strain
    strengths : (r, 5) [Pa], knocked down, in the order of `MODES`
    counted : (r, 5) modes that are of the kind asked
    alone : (r,) layers that Hashin's criterion is not for (woven, random, metal): maximum stress
    ply, face : (r,) index of the ply, of `recovery.FACES`
    required : the reserve factor asked
    """

    criterion: str
    stress: Floats
    strengths: Floats
    counted: NDArray[np.bool_]
    alone: NDArray[np.bool_]
    ply: Ints
    face: Ints
    required: float


Use = PlyUse | Interactive


@dataclass(frozen=True, slots=True)
class Governing:
    """What governs at one strain: indices of ply, face and mode, the allowable in its unit, the hand of the load.

    The allowable of an interactive criterion is 1, "of the criterion's load".
    """

    ply: int
    face: int
    mode: int
    allowable: float
    unit: str
    sign: int


def use_of_plies(stack: Stack, allowables: Allowables, kind: str) -> Use:
    """How `kind` "first damage" or "fibre failure" is judged in a stack by the case's criterion.

    Tsai and Wu's surface does not know which part broke: its fibre failure is maximum stress of the fibre modes.
    """
    criterion = allowables.criterion
    if criterion in (STRAIN, STRESS) or (criterion, kind) == (TSAI_WU, FIBRE):
        return ply_use(stack, allowables, kind, by_stress=criterion != STRAIN)
    solid = np.array([k for k, ply in enumerate(stack.plies) if not ply.core], dtype=np.int64)
    plies = [stack.plies[k] for k in solid]
    moduli = np.array([(p.E1, p.E1, p.E2, p.E2, p.G12) for p in plies]).reshape(-1, 5)
    strengths = np.minimum(ply_limits(stack, allowables.knock_down)[solid] * moduli, BOUNDLESS)
    fibre = np.array([p.fibre_modes for p in plies], dtype=bool).reshape(-1, 5)
    rows = np.repeat(np.arange(len(solid)), 2)
    return Interactive(
        criterion=criterion,
        stress=frozen(ply_stress(stack, ply_strain(stack, np.eye(8)))[:, solid].reshape(8, -1, 3)),
        strengths=frozen(strengths[rows]),
        counted=frozen(fibre[rows] if kind == FIBRE else np.ones((len(rows), 5), dtype=bool)),
        alone=frozen(np.array([p.kind != "unidirectional" for p in plies], dtype=bool)[rows]),
        ply=frozen(solid[rows]),
        face=frozen(np.tile([0, 1], len(solid))),
        required=allowables.required[kind],
    )


def greatest(use: Use, strain: Floats, *, both_hands: bool) -> Floats:
    """Greatest use (...) of any ply under generalised strain (..., 8), under either hand of the load if asked."""
    if isinstance(use, PlyUse):
        return greatest_use(use, strain, both_hands=both_hands)
    stress = np.tensordot(strain, use.stress, 1)
    found = [
        (use.required / _ratios(use, sign * stress)).max(axis=(-2, -1), initial=0.0) for sign in _hands(both_hands)
    ]
    return np.max(found, axis=0)


def governs(use: Use, strain: Floats, *, both_hands: bool) -> Governing:
    """What governs under one generalised strain (8,)."""
    if isinstance(use, PlyUse):
        at, sign = governing(use, strain, both_hands=both_hands)
        row = int(use.ply[at]), int(use.face[at]), int(use.mode[at])
        return Governing(*row, float(use.allowable[at]), use.unit, sign)
    stress = np.tensordot(strain, use.stress, 1)
    sign = min(_hands(both_hands), key=lambda sign: float(_ratios(use, sign * stress).min()))
    ratios = _ratios(use, sign * stress)
    row = int(np.unravel_index(ratios.argmin(), ratios.shape)[0])
    # Tsai and Wu's one ratio is told by the stress that is nearest to its own strength
    mode = int((mode_ratios(sign * stress, use.strengths) if use.criterion == TSAI_WU else ratios)[row].argmin())
    return Governing(int(use.ply[row]), int(use.face[row]), mode, 1.0, "of the criterion's load", sign)


def _hands(both_hands: bool) -> tuple[int, ...]:
    return (1, -1) if both_hands else (1,)


def _ratios(use: Interactive, stress: Floats) -> Floats:
    """Strength ratio (..., r, m) of every row: one of Tsai and Wu, five modes of Hashin."""
    if use.criterion == TSAI_WU:
        return tsai_wu_ratio(stress, use.strengths)[..., None]
    each = mode_ratios(stress, use.strengths)
    joined = hashin_ratio(stress, use.strengths)
    joined = np.concatenate([joined, np.full((*joined.shape[:-1], 1), np.inf)], axis=-1)  # shear is in the others
    return np.where(use.counted, np.where(use.alone[:, None], each, joined), np.inf)
