"""Use of a sandwich's core and skins: core shear, wrinkling, crimping."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.allowables import CORE, Allowables
from tubfem.laminate.recovery import core_shear_stress
from tubfem.laminate.stability import (
    WRINKLING,
    WRINKLING_CODE,
    core_shear_margins,
    crimping_margin,
    faces,
    principal_compression,
    wrinkling_margins,
)
from tubfem.laminate.stack import Stack, abd, stiffness_by_ply

SHEAR, WRINKLE, WRINKLE_RULE, CRIMP = KINDS = ("core shear", "wrinkling", "wrinkling, class rule", "crimping")


@dataclass(frozen=True, slots=True)
class CoreDetail:
    """What governs one kind at one strain: ply (the core), which skin, demand and allowable in `unit`, the hand."""

    ply: int
    skin: str | None
    demand: float
    allowable: float
    unit: str
    sign: int


def sandwich_use(stack: Stack, strain: Floats, allowables: Allowables, *, both_hands: bool) -> dict[str, Floats]:
    """Use (...) of each of `KINDS` under generalised strain (..., 8); empty without a core.

    Wrinkling by 0.5 (Ef Ec Gc)^(1/3) stands against the required factor; the class rule's 0.3 is a design stress.
    """
    if not any(ply.core for ply in stack.plies):
        return {}
    required = allowables.required[CORE]
    found = {SHEAR: required * _use(core_shear_margins(stack, strain, allowables.knock_down[SHEAR])).max(axis=-1)}
    if not faces(stack):
        return found
    hands = (strain, -strain) if both_hands else (strain,)
    wrinkle = np.max([_use(wrinkling_margins(stack, hand)).max(axis=-1) for hand in hands], axis=0)
    found[WRINKLE] = required * wrinkle
    found[WRINKLE_RULE] = wrinkle * WRINKLING / WRINKLING_CODE
    found[CRIMP] = required * np.max([_use(crimping_margin(stack, hand)) for hand in hands], axis=0)
    return found


def core_detail(stack: Stack, strain: Floats, allowables: Allowables, kind: str, *, both_hands: bool) -> CoreDetail:
    """What governs `kind` at one generalised strain (8,)."""
    if kind == SHEAR:
        use = _use(core_shear_margins(stack, strain, allowables.knock_down[SHEAR]))
        ply = int(use.argmax())
        demand = float(core_shear_stress(stack, strain)[ply])
        return CoreDetail(ply, None, demand, demand / float(use[ply]) / allowables.required[CORE], "Pa", 1)
    hands = (1, -1) if both_hands else (1,)
    if kind == CRIMP:
        uses = [float(_use(crimping_margin(stack, sign * strain))) for sign in hands]
        at = int(np.argmax(uses))
        A, B, _ = abd(stack)
        demand = -float(principal_compression(hands[at] * (strain[:3] @ A + strain[3:6] @ B))[1])
        core = max((k for k, ply in enumerate(stack.plies) if ply.core), key=lambda k: stack.plies[k].thickness)
        return CoreDetail(core, None, demand, demand / uses[at] / allowables.required[CORE], "N/m", hands[at])
    by_face = np.array([_use(wrinkling_margins(stack, sign * strain)) for sign in hands])  # (hand, face)
    hand, which = np.unravel_index(by_face.argmax(), by_face.shape)
    face = faces(stack)[which]
    demand = -float(principal_compression(hands[hand] * _skin_stress(stack, face.first, face.last, strain))[1])
    use = by_face[hand, which] * (WRINKLING / WRINKLING_CODE if kind == WRINKLE_RULE else allowables.required[CORE])
    return CoreDetail(face.core, f"{face.side} skin", demand, demand / float(use), "Pa", hands[hand])


def _use(margin: Floats) -> Floats:
    """Demand over what is borne, from a margin; zero where nothing is loaded."""
    return 1 / (1 + margin)


def _skin_stress(stack: Stack, first: int, last: int, strain: Floats) -> Floats:
    """Mean stress (3,) [Pa] of plies first to last (exclusive)."""
    Q, z0, z1 = stiffness_by_ply(stack)[first:last], stack.z[first:last], stack.z[first + 1 : last + 1]
    middle = strain[:3] + (0.5 * (z0 + z1))[:, None] * strain[3:6]
    return np.einsum("k,kij,kj->i", z1 - z0, Q, middle, optimize=True) / (z1[-1] - z0[0])
