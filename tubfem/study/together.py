"""What several places do together: the stacks that plies are laid on, or taken off, and the stiffness of their groups.

Laps and patches bring one place's plies onto another's, and what two changes do to bending is not the sum of both.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.findings.margins import Rules
from tubfem.laminate.stack import Stack, make_stack
from tubfem.materials.ply import CorePly, Ply
from tubfem.run import change_case
from tubfem.study.family import Family, stiff_everywhere
from tubfem.study.laying import Key, group_matrix
from tubfem.study.options import PATCH, Option
from tubfem.tub.model import TubModel

Layer = tuple[float, Ply | CorePly]  # angle [rad] and ply
SAME_ANGLE = 1e-9  # rad
CHANGED = ("layups", "joint_kinds", "joints")  # of a case, by plies of regions and tabs


@dataclass(frozen=True, eq=False, slots=True)
class Together:
    """The stacks that groups are means of, and what has been laid on them already.

    `shares` by group: how much of its mean each stack is; `laid` by key and options: the stack, and what it is stiffer;
    `cases` by option: tables of the case that it changes; `rules` by the `id` of a stack: how its margins are taken.
    """

    model: TubModel
    family: Family
    shares: dict[int, dict[Key, float]]
    laid: dict[tuple[Key, tuple[int, ...]], tuple[Stack, Floats]] = field(default_factory=dict)
    cases: dict[int, dict[str, dict[str, Any]]] = field(default_factory=dict)
    rules: dict[int, Rules] = field(default_factory=dict)

    def case(self, picks: Sequence[Option]) -> Case:
        """The case with all that the options do to regions and tabs; what none of them touches is the model's own."""
        case = self.model.case
        own: dict[str, dict[str, Any]] = {family: dict(getattr(case, family)) for family in CHANGED}
        for option in picks:
            for family, tables in self._changed(option).items():
                own[family] |= tables
        return case.model_copy(update=own)

    def _changed(self, option: Option) -> dict[str, dict[str, Any]]:
        if option.same or on_patch(option):
            return {}
        if id(option) not in self.cases:
            case = self.model.case
            now = change_case(case, add=option.texts, drop=option.drops)
            self.cases[id(option)] = {
                family: {n: t for n, t in getattr(now, family).items() if t is not getattr(case, family).get(n)}
                for family in CHANGED
            }
        return self.cases[id(option)]

    def stacks(self, picks: Sequence[Option]) -> dict[Key, Stack]:
        """Stacks by (number, mirrored) with all that the options do."""
        return {key: self._laid(key, own)[0] for key, own in _by_stack(picks).items()}

    def change(self, picks: Sequence[Option]) -> dict[int, Floats]:
        """DC by group of all that the options do.

        Raises
        ------
        numpy.linalg.LinAlgError
            A group would have no stiffness left.
        """
        by_stack = _by_stack(picks)
        by_group: dict[int, list[Option]] = {}
        for option in picks:
            for k in option.change:
                by_group.setdefault(k, []).append(option)
        change = {}
        for k, own in by_group.items():
            if len(own) == 1 or k not in self.shares:
                change[k] = sum(option.change[k] for option in own)
                continue
            parts = ((key, share) for key, share in self.shares[k].items() if key in by_stack)
            change[k] = sum(share * self._laid(key, by_stack[key])[1] for key, share in parts)
            if any(option.drops for option in own):
                change[k] = stiff_everywhere(self.family.groups[k], change[k])
        return change

    def _laid(self, key: Key, options: Sequence[Option]) -> tuple[Stack, Floats]:
        known = key, tuple(id(option) for option in options)
        if known not in self.laid:
            before = self.model.layup.stacks[key[0]]
            both = [option.stacks[key] for option in options]
            stack = both[0] if len(both) == 1 else with_all(before, both)
            old, new = (group_matrix(self.model, each, mirrored=key[1]) for each in (before, stack))
            self.laid[known] = stack, new - old
        return self.laid[known]


def together(model: TubModel, family: Family) -> Together:
    """The stacks of all groups, with nothing laid on them yet."""
    layup = model.layup
    mirrored = np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel]
    shares: dict[int, dict[Key, float]] = {}
    for k, group in enumerate(family.groups):
        if group.kind != "region":
            continue
        pairs, back = np.unique(
            np.stack([layup.mixture[group.members], mirrored[group.members]], 1), axis=0, return_inverse=True
        )
        weight = np.bincount(back.ravel(), family.weight[group.members])
        mine = shares.setdefault(k, {})
        for (mixture, side), part in zip(pairs.tolist(), (weight / weight.sum()).tolist(), strict=True):
            for s, own in zip(layup.mixture_stacks[mixture], layup.mixture_weights[mixture], strict=True):
                mine[s, bool(side)] = mine.get((s, bool(side)), 0.0) + part * own
    return Together(model, family, shares)


def on_patch(option: Option) -> bool:
    """Whether an option lays on a patch; these come behind all others."""
    return option.region.startswith(PATCH)


def _by_stack(picks: Sequence[Option]) -> dict[Key, list[Option]]:
    """Options by the stacks that they change; a patch's plies lie on those of its region."""
    found: dict[Key, list[Option]] = {}
    for option in sorted(picks, key=on_patch):
        for key in option.stacks:
            found.setdefault(key, []).append(option)
    return found


def with_all(before: Stack, stacks: Sequence[Stack]) -> Stack:
    """A stack with all that was laid on it, or taken off it, to get each of the stacks."""
    laid, gone = [], set()
    for each in stacks:
        if len(each.plies) < len(before.plies):
            gone |= _fewer(before, each, gone)
        else:
            laid.append(_more(before, each))
    layers: list[Layer] = []
    for number, layer in enumerate([*_layers(before), None]):
        for more in laid:
            layers += more.get(number, ())
        if layer is not None and number not in gone:
            layers.append(layer)
    beyond = sum(ply.thickness for more in laid for _, ply in more.get(0, ()))
    return make_stack(layers, tool_z=float(before.z[0]) - beyond)


def _more(before: Stack, after: Stack) -> dict[int, list[Layer]]:
    """Layers laid, by the number of the ply before which they lie; those of `before` are all there in their order."""
    old = _layers(before)
    more: dict[int, list[Layer]] = {}
    slot = 0
    for layer in _layers(after):
        if slot < len(old) and _alike(layer, old[slot]):
            slot += 1  # which of several alike is the new one makes no difference
        else:
            more.setdefault(slot, []).append(layer)
    return more


def _fewer(before: Stack, after: Stack, gone: set[int]) -> set[int]:
    """Numbers of the layers taken off; of several alike, others than those in `gone`, which are off already."""
    old, left, off = _layers(before), _layers(after), []
    for number, layer in enumerate(old):
        if left and _alike(layer, left[0]):
            left.pop(0)
        else:
            off.append(number)
    taken: set[int] = set()
    for number in off:
        alike = [k for k, layer in enumerate(old) if _alike(layer, old[number])]
        taken.add(next((k for k in (number, *reversed(alike)) if k not in gone | taken), number))
    return taken


def _alike(one: Layer, other: Layer) -> bool:
    return one[1] == other[1] and abs(one[0] - other[0]) < SAME_ANGLE


def _layers(stack: Stack) -> list[Layer]:
    return [*zip(stack.angle.tolist(), stack.plies, strict=True)]
