"""Plies more on a region, straight to the stiffness of its groups, without laying the whole tub again.

The stacks are those that `lay_plies` would give: on the face last laid the plies lie on the region's own and under the
laps and patches, on the tool face beyond everything.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import Change, parse_change, usual_angle
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.materials.ply import Ply
from tubfem.shell.assemble import padded_stiffness
from tubfem.study.family import MIRRORED, Family
from tubfem.tub.model import TubModel
from tubfem.tub.plies import cured_layers

Key = tuple[int, bool]  # number of a stack, whether on a mirrored panel


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """A region with plies more: dC by group, the changed stacks by (number, mirrored), mass added [kg], area [m²].

    `cloth` is the area of each ply; `area` is their sum.
    """

    change: dict[int, Floats]
    stacks: dict[Key, Stack]
    mass: float
    area: float
    cloth: dict[str, float]


@dataclass(frozen=True, eq=False, slots=True)
class Seats:
    """Where the plies of a region, or of one of [patches], lie.

    `own` are the places of its plies in every stack, `before` (9, 9) that stack's stiffness in the group's axes,
    `shares` by group how much of the group's mean each stack is; `area` [m²] of one ply.
    """

    target: str
    own: dict[Key, tuple[int, ...]]
    before: dict[Key, Floats]
    shares: dict[int, dict[Key, float]]
    area: float


def find_seats(model: TubModel, family: Family, areas: Floats, target: str) -> Seats:
    """Where a region or `patch:NAME` lies; `areas` (e,) [m²] of the elements."""
    patch = target.removeprefix("patch:") if target.startswith("patch:") else None
    words = (f"patch {patch} ",) if patch else (f"{target} ", "insert of ")
    field, mirrored = model.layup, np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel]
    found: dict[Key, tuple[int, ...]] = {}
    before: dict[Key, Floats] = {}
    shares: dict[int, dict[Key, float]] = {}
    area = 0.0
    for k in range(len(family.groups)) if patch else family.named("region", target):
        if family.groups[k].kind != "region":
            continue
        members = family.groups[k].members
        pairs, back = np.unique(np.stack([field.mixture[members], mirrored[members]], 1), axis=0, return_inverse=True)
        weight, covered = (np.bincount(back.ravel(), each[members]) for each in (family.weight, areas))
        total = float(family.weight[members].sum())
        for (mixture, side), w, a in zip(pairs.tolist(), weight.tolist(), covered.tolist(), strict=True):
            for s, part in zip(field.mixture_stacks[mixture], field.mixture_weights[mixture], strict=True):
                key = (s, bool(side))
                if key not in found:
                    own = (at for at, entry in enumerate(field.stack_entries[s]) if entry.startswith(words))
                    found[key] = tuple(own)
                if not found[key]:
                    continue
                if key not in before:
                    before[key] = _stiffness(model, field.stacks[s], mirrored=bool(side))
                mine = shares.setdefault(k, {})
                mine[key] = mine.get(key, 0.0) + w * part / total
                area += a * part
    return Seats(target, {key: own for key, own in found.items() if own}, before, shares, area)


def lay_more(model: TubModel, family: Family, areas: Floats, text: str) -> Laid:
    """What `--add` of `text` does, for a text that names one region or one of [patches], any face but the core.

    Parameters
    ----------
    areas : (e,) [m²] of the elements
    """
    (target,) = parse_change(text).targets
    return lay_on(model, find_seats(model, family, areas, target), [text])


def lay_on(model: TubModel, seats: Seats, texts: Sequence[str]) -> Laid:
    """What `--add` of all the texts does, one after another, each for the target that the seats are of."""
    patch = seats.target.removeprefix("patch:") if seats.target.startswith("patch:") else None
    layup = None if patch else model.case.layups[seats.target]
    under = model.case.patches[patch].ply if patch else layup.stack
    wanted: list[tuple[Change, list[tuple[float, Ply]]]] = []
    mass, cloth = 0.0, {}
    for text in texts:
        change = parse_change(text)
        angle = usual_angle(under, change.ply) if change.angle is None else change.angle
        layers = [(angle + turn, ply) for turn, ply in cured_layers(model.case, change.ply, layup)] * change.count
        wanted.append((change, layers))
        mass += seats.area * sum(ply.areal_mass for _, ply in layers)
        cloth[change.ply] = cloth.get(change.ply, 0.0) + seats.area * change.count
    stacks: dict[Key, Stack] = {}
    differences: dict[Key, Floats] = {}
    for key, own in seats.own.items():
        stack, places = model.layup.stacks[key[0]], own
        for change, layers in wanted:
            at = _place(stack, places, change.face)
            stack = _with_layers(stack, at, layers, mirrored=key[1])
            moved = [place if place < at else place + len(layers) for place in places]
            places = tuple(sorted([*moved, *range(at, at + len(layers))]))
        stacks[key] = stack
        differences[key] = _stiffness(model, stack, mirrored=key[1]) - seats.before[key]
    change = {k: sum(part * differences[key] for key, part in own.items()) for k, own in seats.shares.items()}
    return Laid(change, stacks, mass, sum(cloth.values()), cloth)


def _place(stack: Stack, own: tuple[int, ...], face: str) -> int:
    """Number of the ply before which more are laid."""
    if face == "tool":
        return 0
    order = own[::-1] if face in ("far", "under") else own
    alike = 0
    if face != "far":
        names = [stack.plies[place].name for place in order]
        alike = next(k for k, name in enumerate(names) if name != names[0])
    return order[alike - 1] + 1 if face == "over" else order[alike] + 1


def _stiffness(model: TubModel, stack: Stack, *, mirrored: bool) -> Floats:
    """Stiffness (9, 9) of a stack in the axes of its group."""
    sign = MIRRORED if mirrored else np.ones(len(MIRRORED))
    return padded_stiffness(stiffness8(stack)[None], model.states[0].shell.drilling)[0] * sign[:, None] * sign


def _with_layers(stack: Stack, at: int, layers: list[tuple[float, Ply]], *, mirrored: bool) -> Stack:
    """A stack with layers more before ply number `at`; the tool face moves back if that is the first."""
    plies = [ply for _, ply in layers]
    angles = [-angle if mirrored else angle for angle, _ in layers]
    start = stack.z[0] - (0.0 if at else sum(ply.thickness for ply in plies))
    together = (*stack.plies[:at], *plies, *stack.plies[at:])
    z = start + np.concatenate([[0.0], np.cumsum([ply.thickness for ply in together])])
    return Stack(together, np.concatenate([stack.angle[:at], angles, stack.angle[at:]]), z)
