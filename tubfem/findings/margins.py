"""Margins of every element under one load case, and the worst of each region with what governs it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import FIBRE, FIRST_DAMAGE, Allowables
from tubfem.findings.plies import PlyUse, governing, greatest_use, ply_use
from tubfem.findings.results import Worst
from tubfem.findings.sandwich import KINDS, CoreUse, core_detail, core_use, sandwich_use
from tubfem.findings.strains import Elements
from tubfem.laminate.recovery import FACES
from tubfem.tub.model import LayupField, TubModel

PLY_KINDS = (FIRST_DAMAGE, FIBRE)
UNUSED = 1e-9  # a smaller use is rounding: no margin is printed for it


@dataclass(frozen=True, slots=True)
class Rules:
    """How margins are taken.

    `plies` by kind and `cores` hold the maps of every stack; `mixtures` (s, m) says which mixtures a stack is in.
    """

    plies: dict[str, tuple[PlyUse, ...]]
    cores: tuple[CoreUse | None, ...]
    mixtures: NDArray[np.bool_]


def margin_rules(layup: LayupField, allowables: Allowables) -> Rules:
    """Maps of all stacks, once for all load cases."""
    mixtures = np.zeros((len(layup.stacks), len(layup.mixture_stacks)), dtype=bool)
    for m, stacks in enumerate(layup.mixture_stacks):
        mixtures[list(stacks), m] = True
    return Rules(
        {kind: tuple(ply_use(stack, allowables, kind) for stack in layup.stacks) for kind in PLY_KINDS},
        tuple(core_use(stack, allowables) for stack in layup.stacks),
        mixtures,
    )


def element_use(
    layup: LayupField, rules: Rules, strain: Floats, elements: Ints | None = None, *, both_hands: bool
) -> dict[str, Floats]:
    """Greatest use (e, ...) of each kind in any stack of each element's mixture; zero where there is nothing of it.

    Parameters
    ----------
    strain
        (e, ..., 8) generalised.
    elements
        (e,) which elements these are; all of them by default.
    both_hands
        Take the worse of the load and its reverse.
    """
    mixture = layup.mixture if elements is None else layup.mixture[elements]
    use = {kind: np.zeros(strain.shape[:-1]) for kind in (*PLY_KINDS, *KINDS)}
    for s in np.flatnonzero(rules.mixtures[:, np.unique(mixture)].any(axis=1)):
        at = np.flatnonzero(rules.mixtures[s, mixture])
        for kind, value in _uses(rules, s, strain[at], both_hands=both_hands).items():
            use[kind][at] = np.maximum(use[kind][at], value)
    return use


def margins_of(use: Floats) -> Floats:
    """Margins from uses; infinite where nothing is loaded."""
    margin = np.full(np.shape(use), np.inf)
    return np.divide(1.0, use, out=margin, where=np.asarray(use) > UNUSED) - 1


def worst_of_region(
    model: TubModel,
    elements: Elements,
    rules: Rules,
    kind: str,
    use: Floats,
    averaged: Floats,
    at_points: tuple[Floats, ...],
    region: int,
    *,
    both_hands: bool,
) -> Worst | None:
    """The lowest margin of `kind` in a region; None if no ply of it can fail that way or nothing is loaded.

    Parameters
    ----------
    use
        (e,) as from `element_use` at the averaged strain.
    averaged
        (e, 8).
    at_points
        Per block (e, q, 8), at the integration points.
    """
    members = np.flatnonzero(elements.region == region)
    e = int(members[use[members].argmax()])
    if use[e] <= UNUSED:
        return None
    layup, mesh = model.layup, model.mesh
    stacks = layup.mixture_stacks[layup.mixture[e]]
    alone = [float(_uses(rules, s, averaged[e], both_hands=both_hands).get(kind, 0.0)) for s in stacks]
    s = stacks[int(np.argmax(alone))]
    stack, entries = layup.stacks[s], layup.stack_entries[s]
    part = mesh.panels[elements.panel[e]]
    place = {
        "margin": float(1 / use[e] - 1),
        "margin_peak": _peak_margin(layup, elements, rules, kind, at_points, e, both_hands),
        "kind": kind,
        "panel": part.name,
        "region": part.region,
        "position": tuple(elements.centre[e].tolist()),
        "length": float(elements.length[e]),
    }
    if kind in PLY_KINDS:
        columns = rules.plies[kind][s]
        at, sign = governing(columns, averaged[e], both_hands=both_hands)
        ply, allowable = int(columns.ply[at]), float(columns.allowable[at])
        return Worst(
            **place,
            mode=stack.plies[ply].mode_names[columns.mode[at]],
            ply=entries[ply],
            ply_index=ply,
            face=FACES[columns.face[at]],
            demand=allowable * float(use[e]),
            allowable=allowable,
            unit="-",
            sign=sign,
        )
    detail = core_detail(rules.cores[s], averaged[e], kind, both_hands=both_hands)
    return Worst(
        **place,
        mode=kind,
        ply=entries[detail.ply] if detail.skin is None else f"{detail.skin} on {entries[detail.ply]}",
        ply_index=detail.ply,
        face=None,
        demand=detail.demand,
        allowable=detail.allowable,
        unit=detail.unit,
        sign=detail.sign,
    )


def _uses(rules: Rules, s: int, strain: Floats, *, both_hands: bool) -> dict[str, Floats]:
    """Use (...) of every kind that stack number s can fail by, under strain (..., 8)."""
    found = {kind: greatest_use(rules.plies[kind][s], strain, both_hands=both_hands) for kind in PLY_KINDS}
    return found | sandwich_use(rules.cores[s], strain, both_hands=both_hands)


def _peak_margin(
    layup: LayupField,
    elements: Elements,
    rules: Rules,
    kind: str,
    at_points: tuple[Floats, ...],
    e: int,
    both_hands: bool,
) -> float:
    """Margin at the worst integration point of the elements that were averaged."""
    patch = elements.patch(e)
    worst, first = 0.0, 0
    for block in at_points:
        mine = patch[(patch >= first) & (patch < first + len(block))]
        if len(mine):
            use = element_use(layup, rules, block[mine - first], mine, both_hands=both_hands)
            worst = max(worst, float(use[kind].max()))
        first += len(block)
    return 1 / worst - 1
