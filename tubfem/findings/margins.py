"""Margins of every element under one load case, and the worst of each region with what governs it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tubfem.arrays import Floats
from tubfem.findings.allowables import FIBRE, FIRST_DAMAGE, INTERLAMINAR, Allowables
from tubfem.findings.criteria import Interactive, Use, governs, greatest, use_of_plies
from tubfem.findings.interlaminar import Interlaminar, interlaminar, interlaminar_use, sheared
from tubfem.findings.results import Worst
from tubfem.findings.sandwich import (
    KINDS,
    SHEAR,
    CoreUse,
    core_detail,
    core_shear_use,
    core_use,
    sandwich_use_of,
    stability_use,
)
from tubfem.findings.strains import Elements, Strains
from tubfem.laminate.recovery import FACES
from tubfem.laminate.shear import shear_map
from tubfem.tub.model import LayupField, TubModel

PLY_KINDS = (FIRST_DAMAGE, FIBRE)
BY_SIZE = (SHEAR, INTERLAMINAR)  # averaged by their size, whichever way they point
UNUSED = 1e-9  # a smaller use is rounding: no margin is printed for it


@dataclass(frozen=True, slots=True)
class Rules:
    """How margins are taken.

    `plies` by kind, `between` (interlaminar shear) and `cores` hold the maps of every stack; `mixtures` (s, m) says
    which mixtures a stack is in.
    """

    plies: dict[str, tuple[Use, ...]]
    between: tuple[Interlaminar, ...]
    cores: tuple[CoreUse | None, ...]
    mixtures: NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class Loaded:
    """A tub under the load that margins are taken at; `both_hands`: the worse of it and its reverse counts."""

    model: TubModel
    elements: Elements
    rules: Rules
    strains: Strains
    both_hands: bool


def margin_rules(layup: LayupField, allowables: Allowables) -> Rules:
    """Maps of all stacks, once for all load cases."""
    mixtures = np.zeros((len(layup.stacks), len(layup.mixture_stacks)), dtype=bool)
    for m, stacks in enumerate(layup.mixture_stacks):
        mixtures[list(stacks), m] = True
    shear = [shear_map(stack) for stack in layup.stacks]
    return Rules(
        {kind: tuple(use_of_plies(stack, allowables, kind) for stack in layup.stacks) for kind in PLY_KINDS},
        tuple(interlaminar(stack, allowables, own) for stack, own in zip(layup.stacks, shear, strict=True)),
        tuple(core_use(stack, allowables, own) for stack, own in zip(layup.stacks, shear, strict=True)),
        mixtures,
    )


def element_use(loaded: Loaded) -> dict[str, Floats]:
    """Greatest use (e,) of each kind in any stack of each element's mixture; zero where there is nothing of it.

    Strains are averaged component by component; transverse shear by its size, see `average_sizes`.
    """
    layup, rules, strains = loaded.model.layup, loaded.rules, loaded.strains
    use = {kind: np.zeros(len(layup.mixture)) for kind in (*PLY_KINDS, INTERLAMINAR, *KINDS)}
    for s in range(len(layup.stacks)):
        at = np.flatnonzero(rules.mixtures[s, layup.mixture])
        if not len(at):
            continue
        for kind in PLY_KINDS:
            found = greatest(rules.plies[kind][s], strains.averaged[at], both_hands=loaded.both_hands)
            use[kind][at] = np.maximum(use[kind][at], found)
        use[INTERLAMINAR][at] = np.maximum(use[INTERLAMINAR][at], interlaminar_use(rules.between[s], strains.own[at]))
        core = rules.cores[s]
        if core is not None:
            for kind, found in stability_use(core, strains.averaged[at], both_hands=loaded.both_hands).items():
                use[kind][at] = np.maximum(use[kind][at], found)
            use[SHEAR][at] = np.maximum(use[SHEAR][at], core_shear_use(core, strains.own[at]))
    return use | average_sizes(loaded, {kind: use[kind] for kind in BY_SIZE})


def average_sizes(loaded: Loaded, own: dict[str, Floats]) -> dict[str, Floats]:
    """Means of the uses (e,) of `BY_SIZE` that elements have by their own strain.

    Round a bolt, and on either side of a bulkhead, transverse shear points the other way: the mean of its components
    would vanish where it is greatest. That of a core is averaged over the elements that have one: those of an insert
    beside it bear none of it.
    """
    layup, rules, mean = loaded.model.layup, loaded.rules, loaded.elements.mean
    found = {kind: mean @ use for kind, use in own.items()}
    cored = rules.mixtures[[core is not None for core in rules.cores]].any(axis=0)[layup.mixture]
    share = mean @ cored.astype(float)
    np.divide(cored * found[SHEAR], share, out=found[SHEAR], where=share > 0)
    return found


def margins_of(use: Floats) -> Floats:
    """Margins from uses; infinite where nothing is loaded."""
    margin = np.full(np.shape(use), np.inf)
    return np.divide(1.0, use, out=margin, where=np.asarray(use) > UNUSED) - 1


def worst_of_region(loaded: Loaded, kind: str, use: Floats, region: int) -> Worst | None:
    """The lowest margin of `kind` in a region; None if nothing of it can fail that way or nothing is loaded.

    ``use`` (e,) is that of the kind, from `element_use`.
    """
    elements, layup, rules, hands = loaded.elements, loaded.model.layup, loaded.rules, loaded.both_hands
    members = np.flatnonzero(elements.region == region)
    e = int(members[use[members].argmax()])
    if use[e] <= UNUSED:
        return None
    strain = loaded.strains.own[e] if kind in BY_SIZE else loaded.strains.averaged[e]
    s = max(layup.mixture_stacks[layup.mixture[e]], key=lambda s: float(_stack_use(rules, s, kind, strain, hands)))
    stack, entries, part = layup.stacks[s], layup.stack_entries[s], loaded.model.mesh.panels[elements.panel[e]]
    if kind in PLY_KINDS:
        columns = rules.plies[kind][s]
        found = governs(columns, strain, both_hands=hands)
        ply, face, allowable, unit, sign = found.ply, FACES[found.face], found.allowable, found.unit, found.sign
        mode, text = stack.plies[ply].mode_names[found.mode], entries[ply]
        if isinstance(columns, Interactive):
            mode = f"{columns.criterion}, {mode}"
    elif kind == INTERLAMINAR:
        between = sheared(rules.between[s], strain)
        ply, face, allowable, unit, sign = between.ply, between.face, between.allowable, "Pa", 1
        mode, text = kind, entries[ply]
    else:
        detail = core_detail(rules.cores[s], strain, kind, both_hands=hands)
        ply, sign, allowable, unit = detail.ply, detail.sign, detail.allowable, detail.unit
        mode, face = kind, None
        text = entries[ply] if detail.skin is None else f"{detail.skin} on {entries[ply]}"
    return Worst(
        margin=float(1 / use[e] - 1),
        margin_peak=1 / _peak_use(loaded, kind, e) - 1,
        kind=kind,
        mode=mode,
        ply=text,
        ply_index=ply,
        face=face,
        panel=part.name,
        region=part.region,
        position=tuple(elements.centre[e].tolist()),
        demand=allowable * float(use[e]),
        allowable=allowable,
        unit=unit,
        sign=sign,
        length=float(elements.length[e]),
        stack=s,
        state=tuple(strain.tolist()),
    )


def _stack_use(rules: Rules, s: int, kind: str, strain: Floats, both_hands: bool) -> Floats:
    """Use (...) of one kind in stack number s under strain (..., 8); zero if it cannot fail that way."""
    if kind in PLY_KINDS:
        return greatest(rules.plies[kind][s], strain, both_hands=both_hands)
    if kind == INTERLAMINAR:
        return interlaminar_use(rules.between[s], strain)
    core = rules.cores[s]
    use = None if core is None else sandwich_use_of(core, strain, kind, both_hands=both_hands)
    return np.zeros(strain.shape[:-1]) if use is None else use


def _peak_use(loaded: Loaded, kind: str, e: int) -> float:
    """Use at the worst integration point of the elements that were averaged."""
    layup, patch = loaded.model.layup, loaded.elements.patch(e)
    worst, first = 0.0, 0
    for block in loaded.strains.at_points:
        mine = patch[(patch >= first) & (patch < first + len(block))]
        for mixture in np.unique(layup.mixture[mine]):
            strain = block[mine[layup.mixture[mine] == mixture] - first]
            for s in layup.mixture_stacks[mixture]:
                use = _stack_use(loaded.rules, s, kind, strain, loaded.both_hands)
                worst = max(worst, float(use.max()))
        first += len(block)
    return worst
