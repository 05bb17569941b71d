"""Plies more on a region, straight to the stiffness of its groups, without laying the whole tub again.

The stacks are those that `lay_plies` would give: on the face last laid the plies lie on the region's own and under the
laps and patches, on the tool face beyond everything. A ply more of a stepped patch ends one step inside the last.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import parse_change, usual_angle
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.materials.ply import Ply
from tubfem.shell.assemble import padded_stiffness
from tubfem.study.family import MIRRORED, Family
from tubfem.tub.further import FURTHER, laid_patches
from tubfem.tub.model import Mark, TubModel
from tubfem.tub.plies import cured_layers

Key = tuple[int, bool]  # number of a stack, whether on a mirrored panel
More = tuple[str, str, list[tuple[float, Ply]]]  # a ply more: face, name, layers with their angles [rad]


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """A region or patch with plies more: dC by group, changed stacks by (number, mirrored), mass added [kg], area [m²].

    `cloth` is the area of each ply; `area` is their sum.
    """

    change: dict[int, Floats]
    stacks: dict[Key, Stack]
    mass: float
    area: float
    cloth: dict[str, float]


@dataclass(frozen=True, eq=False, slots=True)
class Seats:
    """Where plies more of a region or of a patch would lie.

    `own` are the places of a region's plies in every stack, `marks` those of a patch's further ones, step by step if it
    is `stepped`. `before` (9, 9) is each stack's stiffness in the group's axes, `shares` by group how much of the
    group's mean each stack is; `areas` [m²] of one ply, of every step if there are several.
    """

    target: str
    own: dict[Key, tuple[int, ...]]
    marks: dict[Key, tuple[Mark, ...]]
    stepped: bool
    before: dict[Key, Floats]
    shares: dict[int, dict[Key, float]]
    areas: tuple[float, ...]


def find_seats(model: TubModel, family: Family, areas: Floats, target: str) -> Seats:
    """Where a region or `patch:NAME` goes on; `areas` (e,) [m²] of the elements.

    For a patch the stacks of the model have to be told apart (`tub.further`).
    """
    patch = laid_patches(model.case)[target.removeprefix("patch:")] if target.startswith("patch:") else None
    words = (f"{target} ", "insert of ")
    field, mirrored = model.layup, np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel]
    own: dict[Key, tuple[int, ...]] = {}
    marks: dict[Key, tuple[Mark, ...]] = {}
    shares: dict[int, dict[Key, float]] = {}
    total = np.zeros(FURTHER if patch is not None and patch.stagger else 1)
    for k in range(len(family.groups)) if patch else family.named("region", target):
        if family.groups[k].kind != "region":
            continue
        members = family.groups[k].members
        pairs, back = np.unique(np.stack([field.mixture[members], mirrored[members]], 1), axis=0, return_inverse=True)
        weight, covered = (np.bincount(back.ravel(), each[members]) for each in (family.weight, areas))
        whole = float(family.weight[members].sum())
        for (mixture, side), w, a in zip(pairs.tolist(), weight.tolist(), covered.tolist(), strict=True):
            for s, part in zip(field.mixture_stacks[mixture], field.mixture_weights[mixture], strict=True):
                key = (s, bool(side))
                if patch is not None:
                    found = tuple(mark for mark in field.marks[s] if mark.step and mark.patch == patch.label)
                    steps = [mark.step - 1 for mark in found]
                else:
                    found = tuple(at for at, entry in enumerate(field.stack_entries[s]) if entry.startswith(words))
                    steps = [0]
                if not found:
                    continue
                (own if patch is None else marks)[key] = found
                mine = shares.setdefault(k, {})
                mine[key] = mine.get(key, 0.0) + w * part / whole
                np.add.at(total, steps, a * part)
    before = {(s, side): group_matrix(model, field.stacks[s], mirrored=side) for s, side in (own or marks)}
    return Seats(target, own, marks, len(total) > 1, before, shares, tuple(total.tolist()))


def lay_more(model: TubModel, family: Family, areas: Floats, text: str) -> Laid:
    """What `--add` of `text` does, for a text that names one region or one patch, any face but the core.

    Parameters
    ----------
    areas : (e,) [m²] of the elements
    """
    (target,) = parse_change(text).targets
    return lay_on(model, find_seats(model, family, areas, target), [text])


def lay_on(model: TubModel, seats: Seats, texts: Sequence[str]) -> Laid:
    """What `--add` of all the texts does, one after another, each for the target that the seats are of.

    Raises
    ------
    ValueError
        More plies than the steps of a patch that are told apart.
    """
    case = model.case
    patch = laid_patches(case)[seats.target.removeprefix("patch:")] if seats.target.startswith("patch:") else None
    layup = None if patch else case.layups[seats.target]
    under = patch.entries if patch else layup.stack
    more: list[More] = []
    for text in texts:
        change = parse_change(text)
        angle = usual_angle(under, change.ply) if change.angle is None else change.angle
        layers = [(angle + turn, ply) for turn, ply in cured_layers(case, change.ply, layup)]
        more += [(change.face, change.ply, layers)] * change.count
    if seats.stepped and len(more) > FURTHER:
        raise ValueError(f"{seats.target}: {len(more)} plies more, of which {FURTHER} steps are told apart")
    mass, cloth = 0.0, {}
    for number, (_, name, layers) in enumerate(more):
        area = seats.areas[number if seats.stepped else 0]
        mass += area * sum(ply.areal_mass for _, ply in layers)
        cloth[name] = cloth.get(name, 0.0) + area
    stacks: dict[Key, Stack] = {}
    for key, own in seats.own.items():
        stacks[key] = _on_region(model.layup.stacks[key[0]], own, more, mirrored=key[1])
    for key, marks in seats.marks.items():
        stacks[key] = _on_patch(model.layup.stacks[key[0]], marks, more, stepped=seats.stepped)
    differences = {
        key: group_matrix(model, stack, mirrored=key[1]) - seats.before[key] for key, stack in stacks.items()
    }
    change = {k: sum(part * differences[key] for key, part in own.items()) for k, own in seats.shares.items()}
    return Laid(change, stacks, mass, sum(cloth.values()), cloth)


def _on_region(stack: Stack, places: tuple[int, ...], more: Sequence[More], *, mirrored: bool) -> Stack:
    """A stack with plies more on those of its region, which are at `places`."""
    for face, _, layers in more:
        at = _place(stack, places, face)
        stack = _with_layers(stack, at, layers, -1.0 if mirrored else 1.0)
        moved = [place if place < at else place + len(layers) for place in places]
        places = tuple(sorted([*moved, *range(at, at + len(layers))]))
    return stack


def _on_patch(stack: Stack, marks: tuple[Mark, ...], more: Sequence[More], *, stepped: bool) -> Stack:
    """A stack with those plies more of a patch that it has marks for, the last first so that places stay."""
    for mark in reversed(marks):
        plies = more[mark.step - 1 : mark.step] if stepped else more
        layers = [layer for _, _, own in plies for layer in own]
        if layers:
            stack = _with_layers(stack, mark.at, layers, mark.sign)
    return stack


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


def group_matrix(model: TubModel, stack: Stack, *, mirrored: bool) -> Floats:
    """Stiffness (9, 9) of a stack in the axes of its group."""
    sign = MIRRORED if mirrored else np.ones(len(MIRRORED))
    return padded_stiffness(stiffness8(stack)[None], model.states[0].shell.drilling)[0] * sign[:, None] * sign


def _with_layers(stack: Stack, at: int, layers: list[tuple[float, Ply]], sign: float) -> Stack:
    """A stack with layers more, at `sign` times their angles, before ply `at`; at 0 the tool face moves back."""
    plies = [ply for _, ply in layers]
    angles = [sign * angle for angle, _ in layers]
    start = stack.z[0] - (0.0 if at else sum(ply.thickness for ply in plies))
    together = (*stack.plies[:at], *plies, *stack.plies[at:])
    z = start + np.concatenate([[0.0], np.cumsum([ply.thickness for ply in together])])
    return Stack(together, np.concatenate([stack.angle[:at], angles, stack.angle[at:]]), z)
