"""Margins in the reduced model: the elements that governed, their strains in the basis, uses with changed stacks.

Uses are those of `findings.margins`, but only the elements that were most used in the unchanged tub are looked at, and
over the lengths of its laminates: a margin found here is an indication. What decides anything is solved in full.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import Allowables, allowables
from tubfem.findings.margins import Loaded, Rules, element_use, margin_rules
from tubfem.findings.strains import Elements, Strains, describe_elements, gather_strains
from tubfem.laminate.stack import Stack
from tubfem.shell.model import ShellModel
from tubfem.shell.recover import generalised_strains
from tubfem.study.basis import Vectors, strains
from tubfem.study.reduce import Twisted
from tubfem.study.reduced import Reduced
from tubfem.tub.model import LayupField, TubModel

EACH = 3  # elements of every region and kind that are kept
CLOSE = 0.7  # of the greatest use anywhere: every such element is kept


@dataclass(frozen=True, eq=False, slots=True)
class Hot:
    """The most used elements of a tub.

    `near` (m,) are they and all that their averages need, `elements` describes those with averages of the most used
    alone; `own` (m, 8, n) the mean strain of each in its material frame at the torque that margins are taken at.
    """

    model: TubModel
    near: Ints
    elements: Elements
    own: Floats
    mirrored: NDArray[np.bool_]
    rules: Rules
    allowables: Allowables


def find_hot(twisted: Twisted, reduced: Reduced, kept: Vectors) -> Hot:
    """The elements of a tub whose margins are followed; `kept` are the vectors of `reduced`."""
    model, setup = twisted.model, twisted.setup
    elements, rules, scale, use = used_now(model, twisted.state.shell, kept.U[:, 0], setup.torsion.torque)
    hot = _most_used(use, elements)
    rows = elements.mean[hot]
    near = np.unique(rows.indices)
    own = np.zeros((len(near), 8, reduced.size))
    for cell in twisted.stiff.cells:
        here = np.flatnonzero(np.isin(cell.elements, near))
        if not len(here):
            continue
        E = strains(kept, cell.part(here)) @ reduced.alpha
        weight = cell.dA[here] / cell.dA[here].sum(axis=1, keepdims=True)
        mean = np.einsum("eqin,eq->ein", E[:, :, :8], weight)
        sign = twisted.stiff.family.sign[cell.elements[here], :8]
        own[np.searchsorted(near, cell.elements[here])] = scale * mean * sign[..., None]
    few, mirrored = near_elements(model, elements, hot, near)
    return Hot(model, near, few, own, mirrored, rules, allowables(model.case.margins))


def used_now(
    model: TubModel, shell: ShellModel, motion: Floats, torque: float
) -> tuple[Elements, Rules, float, dict[str, Floats]]:
    """Elements, rules, and every use (e,) by kind under the motion (d,) of a torque [N·m].

    Uses are at the torque that margins are taken at, which is the number behind the rules times this one.
    """
    elements, rules = describe_elements(model), margin_rules(model.layup, allowables(model.case.margins))
    asked = model.case.margins.asked_torque
    scale = 1.0 if asked is None else asked / torque
    found = generalised_strains(shell, motion.reshape(1, -1, 6))
    base = gather_strains(elements, tuple(f.strain[0] for f in found), tuple(f.area for f in found)).times(scale)
    return elements, rules, scale, element_use(Loaded(model, elements, rules, base, both_hands=True))


def near_elements(model: TubModel, elements: Elements, hot: Ints, near: Ints) -> tuple[Elements, NDArray[np.bool_]]:
    """The elements `near` (m,) alone, with averages of those that are `hot` (h,), and which are on mirrored panels."""
    averages = sparse.lil_array((len(near), len(near)))
    averages[np.searchsorted(near, hot)] = elements.mean[hot][:, near]
    mirrored = np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel[near]]
    names = ("area", "centre", "normal", "axis", "panel", "region", "faces", "length")
    own = {name: getattr(elements, name)[near] for name in names}
    return replace(elements, **own, mean=sparse.csr_array(averages)), mirrored


def lowest_margin(hot: Hot, b: Floats, stacks: Mapping[tuple[int, bool], Stack]) -> tuple[float, str, str]:
    """Lowest margin, its region and kind.

    Parameters
    ----------
    b : (n,) amounts of the basis
    stacks : stacks that are others now, by (number, whether on a mirrored panel)
    """
    return _lowest(hot, b, *_with_stacks(hot, stacks))


def lowest_margin_laid(hot: Hot, b: Floats, layup: LayupField) -> tuple[float, str, str]:
    """Lowest margin, its region and kind, where the whole tub is laid anew on the same mesh."""
    near = replace(layup, mixture=layup.mixture[hot.near])
    return _lowest(hot, b, replace(hot.model, layup=near), margin_rules(layup, hot.allowables))


def _lowest(hot: Hot, b: Floats, model: TubModel, rules: Rules) -> tuple[float, str, str]:
    own = hot.own @ b
    strain = Strains((), (), own, hot.elements.mean @ own)
    use = element_use(Loaded(model, hot.elements, rules, strain, both_hands=True))
    followed = np.diff(hot.elements.mean.indptr) > 0  # the rest is there for the averages alone
    kind = max(use, key=lambda name: float(use[name][followed].max()))
    at = int(np.flatnonzero(followed)[use[kind][followed].argmax()])
    return float(1 / use[kind][at] - 1), hot.elements.regions[hot.elements.region[at]], kind


def _most_used(use: Mapping[str, Floats], elements: Elements) -> Ints:
    greatest = max(float(own.max()) for own in use.values())
    chosen: set[int] = set()
    for own in use.values():
        chosen.update(np.flatnonzero(own > CLOSE * greatest).tolist())
        for region in range(len(elements.regions)):
            members = np.flatnonzero(elements.region == region)
            chosen.update(members[np.argsort(-own[members], kind="stable")[:EACH]].tolist())
    return np.array(sorted(chosen), dtype=np.int64)


def _with_stacks(hot: Hot, stacks: Mapping[tuple[int, bool], Stack]) -> tuple[TubModel, Rules]:
    """The model with the mixtures of the near elements alone, changed stacks behind the others; rules of all."""
    layup = hot.model.layup
    present = {
        (s, side)
        for m, side in zip(layup.mixture[hot.near].tolist(), hot.mirrored.tolist(), strict=True)
        for s in layup.mixture_stacks[m]
    }
    number = {key: len(layup.stacks) + k for k, key in enumerate(sorted(present & stacks.keys()))}
    parts: dict[tuple[int, ...], int] = {}
    mixture = []
    for m, side in zip(layup.mixture[hot.near].tolist(), hot.mirrored.tolist(), strict=True):
        own = tuple(number.get((s, side), s) for s in layup.mixture_stacks[m])
        mixture.append(parts.setdefault(own, len(parts)))
    new = tuple(stacks[key] for key in number)
    both = replace(
        layup,
        stacks=(*layup.stacks, *new),
        mixture_stacks=tuple(parts),
        mixture_weights=tuple(tuple(1 / len(own) for _ in own) for own in parts),
        mixture=np.array(mixture),
    )
    added = margin_rules(replace(both, stacks=new, mixture_stacks=()), hot.allowables)
    where = np.zeros((len(both.stacks), len(parts)), dtype=bool)
    for m, own in enumerate(parts):
        where[list(own), m] = True
    plies = {kind: (*before, *added.plies[kind]) for kind, before in hot.rules.plies.items()}
    between, cores = (*hot.rules.between, *added.between), (*hot.rules.cores, *added.cores)
    rules = replace(hot.rules, plies=plies, between=between, cores=cores, mixtures=where)
    return replace(hot.model, layup=both), rules
