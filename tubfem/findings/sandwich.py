"""Use of a sandwich's core and skins (shear, wrinkling, crimping, dimpling), from linear maps made once a stack."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.findings.allowables import CORE, Allowables
from tubfem.laminate.ply import strain_rotation, vector_rotation
from tubfem.laminate.shear import LEVELS, ShearMap, shear_map
from tubfem.laminate.stability import (
    WRINKLING,
    WRINKLING_CODE,
    Face,
    dimpling_of,
    faces,
    principal_compression,
    wrinkling_stress,
)
from tubfem.laminate.stack import Stack, abd, stiffness_by_ply
from tubfem.materials.ply import CorePly

SHEAR, WRINKLE, WRINKLE_RULE, CRIMP, DIMPLE = KINDS = (
    "core shear",
    "wrinkling",
    "wrinkling, class rule",
    "crimping",
    "dimpling",
)
RULE_SHARE = WRINKLING / WRINKLING_CODE  # the same stress against another


@dataclass(frozen=True, eq=False, slots=True)
class Skin:
    """One skin: `stress` (8, 3) its mean stress [Pa] per unit strain, `compliance` (3, 3) [1/Pa], and its core."""

    face: Face
    stress: Floats
    compliance: Floats
    thickness: float
    core: CorePly
    core_angle: float


@dataclass(frozen=True, eq=False, slots=True)
class CoreUse:
    """Maps from a stack's generalised strain to what loads its cores and skins.

    Attributes
    ----------
    cores : (c,) ply index
    shear : (8, c, 3, 2) transverse shear stress in ply axes [Pa] at three levels of every core, per unit strain
    shear_strength : (c, 2) [Pa] along and across the ply axes, knocked down
    skins : tool side first
    load : (8, 3) Nx Ny Nxy [N/m] per unit strain
    stiffness : (2, 2) transverse shear [N/m]
    required : the reserve factor asked of each of `KINDS`
    """

    cores: Ints
    shear: Floats
    shear_strength: Floats
    skins: tuple[Skin, ...]
    load: Floats
    stiffness: Floats
    required: dict[str, float]


@dataclass(frozen=True, slots=True)
class CoreDetail:
    """What governs one kind at one strain: ply (the core), which skin, demand and allowable in `unit`, the hand."""

    ply: int
    skin: str | None
    demand: float
    allowable: float
    unit: str
    sign: int


def core_use(stack: Stack, allowables: Allowables, shear: ShearMap | None = None) -> CoreUse | None:
    """Maps of one stack; None without a core. `shear` is the stack's `shear_map` where it is known already."""
    cores = np.array([k for k, ply in enumerate(stack.plies) if ply.core], dtype=np.int64)
    if not len(cores):
        return None
    shear = shear_map(stack) if shear is None else shear
    stress = np.zeros((8, len(cores), len(LEVELS), 2))
    stress[6:] = np.moveaxis(vector_rotation(stack.angle[cores])[:, None] @ shear.stress[cores], -1, 0)
    A, B, _ = abd(stack)
    load = np.zeros((8, 3))
    load[:3], load[3:6] = A, B
    strength = np.array([stack.plies[k].shear_strengths for k in cores])
    return CoreUse(
        frozen(cores),
        frozen(stress),
        frozen(allowables.knock_down[SHEAR] * strength),
        tuple(_skin(stack, face) for face in faces(stack)),
        frozen(load),
        shear.stiffness,
        {kind: allowables.required.get(kind, allowables.required[CORE]) for kind in KINDS},
    )


def core_shear_use(core: CoreUse, strain: Floats) -> Floats:
    """Use (...) of the cores in transverse shear under generalised strain (..., 8), the same for either hand."""
    return core.required[SHEAR] * _core_ratio(core, strain).max(axis=(-2, -1))


def sandwich_use(core: CoreUse, strain: Floats, *, both_hands: bool) -> dict[str, Floats]:
    """Use (...) of each of `KINDS` under generalised strain (..., 8); core shear only if there are no skins."""
    return {SHEAR: core_shear_use(core, strain)} | stability_use(core, strain, both_hands=both_hands)


def stability_use(core: CoreUse, strain: Floats, *, both_hands: bool) -> dict[str, Floats]:
    """Use (...) of each of `KINDS` but core shear under generalised strain (..., 8); none if there are no skins.

    Wrinkling by 0.5 (Ef Ec Gc)^(1/3) stands against the required factor; the class rule's 0.3 is a design stress.
    """
    found: dict[str, Floats] = {}
    for kind in _stability_kinds(core):
        if kind != WRINKLE_RULE:
            found[kind] = _stability_use(core, strain, kind, both_hands=both_hands)
        else:  # the same stress against another
            found[kind] = found[WRINKLE] / core.required[WRINKLE] * RULE_SHARE
    return found


def sandwich_use_of(core: CoreUse, strain: Floats, kind: str, *, both_hands: bool) -> Floats | None:
    """Use (...) of one of `KINDS`; None if the core cannot fail that way."""
    if kind == SHEAR:
        return core_shear_use(core, strain)
    return _stability_use(core, strain, kind, both_hands=both_hands) if kind in _stability_kinds(core) else None


def _stability_kinds(core: CoreUse) -> tuple[str, ...]:
    if not core.skins:
        return ()
    over_cells = any(skin.core.cell is not None for skin in core.skins)
    return (WRINKLE, WRINKLE_RULE, CRIMP, *((DIMPLE,) if over_cells else ()))


def _stability_use(core: CoreUse, strain: Floats, kind: str, *, both_hands: bool) -> Floats:
    hands = (1, -1) if both_hands else (1,)
    if kind == CRIMP:
        return core.required[CRIMP] * np.max([used(*crimping(core, sign * strain)) for sign in hands], axis=0)
    if kind == DIMPLE:
        over_cells = [skin for skin in core.skins if skin.core.cell is not None]
        dimple = np.max([used(*_dimpling(skin, sign * strain)) for skin in over_cells for sign in hands], axis=0)
        return core.required[DIMPLE] * dimple
    wrinkle = np.max([used(*wrinkling(skin, sign * strain)) for skin in core.skins for sign in hands], axis=0)
    return wrinkle * (core.required[WRINKLE] if kind == WRINKLE else RULE_SHARE)


def core_detail(core: CoreUse, strain: Floats, kind: str, *, both_hands: bool) -> CoreDetail:
    """What governs `kind` at one generalised strain (8,)."""
    hands = (1, -1) if both_hands else (1,)
    if kind == SHEAR:
        ratio = _core_ratio(core, strain)
        at = np.unravel_index(ratio.argmax(), ratio.shape)
        stress = float(np.linalg.norm(np.tensordot(strain, core.shear, 1)[at]))
        allowable = stress / float(ratio[at]) / core.required[SHEAR]  # of a honeycomb it hangs on the direction
        return CoreDetail(int(core.cores[at[0]]), None, stress, allowable, "Pa", 1)
    if kind == CRIMP:
        found = [(*crimping(core, sign * strain), sign) for sign in hands]
        demand, critical, sign = max(found, key=lambda each: float(used(*each[:2])))
        return CoreDetail(int(core.cores[0]), None, float(demand), float(critical) / core.required[CRIMP], "N/m", sign)
    if kind == DIMPLE:
        loaded, skins = _dimpling, [skin for skin in core.skins if skin.core.cell is not None]
    else:
        loaded, skins = wrinkling, core.skins
    every = [(*loaded(skin, sign * strain), sign, skin) for skin in skins for sign in hands]
    demand, critical, sign, skin = max(every, key=lambda each: float(used(*each[:2])))
    share = WRINKLING_CODE / WRINKLING if kind == WRINKLE_RULE else 1 / core.required[kind]
    return CoreDetail(skin.face.core, f"{skin.face.side} skin", float(demand), float(critical) * share, "Pa", sign)


def _skin(stack: Stack, face: Face) -> Skin:
    pick, upper = slice(face.first, face.last), slice(face.first + 1, face.last + 1)
    Q, z0, z1 = stiffness_by_ply(stack)[pick], stack.z[pick], stack.z[upper]
    thickness = z1[-1] - z0[0]
    membrane = np.einsum("k,kij->ij", z1 - z0, Q) / thickness
    stress = np.zeros((8, 3))
    stress[:3] = membrane
    stress[3:6] = np.einsum("k,kij->ij", (z1**2 - z0**2) / 2, Q) / thickness
    core = stack.plies[face.core]
    return Skin(
        face, frozen(stress), frozen(np.linalg.inv(membrane)), float(thickness), core, float(stack.angle[face.core])
    )


def _core_ratio(core: CoreUse, strain: Floats) -> Floats:
    """Transverse shear over strength (..., c, 3) of every core and level; both directions together as an ellipse."""
    return np.linalg.norm(np.tensordot(strain, core.shear, 1) / core.shear_strength[:, None], axis=-1)


def wrinkling(skin: Skin, strain: Floats) -> tuple[Floats, Floats]:
    """Greatest compression (...) of a skin and the stress at which it wrinkles along that [Pa], under (..., 8)."""
    angle, least = principal_compression(strain @ skin.stress)
    along = strain_rotation(angle)[..., 0, :]  # (c2, s2, cs): the stress of unit compression along the angle
    E = 1 / ((along @ skin.compliance) * along).sum(axis=-1)
    turn = angle - skin.core_angle
    G = 1 / (np.cos(turn) ** 2 / skin.core.G13 + np.sin(turn) ** 2 / skin.core.G23)
    return -least, wrinkling_stress(E, skin.core.Ec, G)


def _dimpling(skin: Skin, strain: Floats) -> tuple[Floats, Floats]:
    """Greatest compression (...) of the skin and the stress at which it dimples over the cells along that [Pa]."""
    angle, least = principal_compression(strain @ skin.stress)
    return -least, dimpling_of(skin.stress[:3], angle, skin.thickness, skin.core.cell)


def crimping(core: CoreUse, strain: Floats) -> tuple[Floats, Floats]:
    """Greatest compressive line load (...) and the shear stiffness along it, which is the crimping load [N/m]."""
    angle, least = principal_compression(strain @ core.load)
    n = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    return -least, ((n @ core.stiffness) * n).sum(axis=-1)


def used(demand: Floats, critical: Floats) -> Floats:
    """Share (...) of what is critical; none of it where nothing presses."""
    return np.maximum(demand, 0.0) / critical
