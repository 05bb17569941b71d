"""One entry of plies more on a region, straight to the stiffness of its groups, without laying the whole tub again.

The stacks are those that `lay_plies` would give: on the face last laid the plies lie on the region's own and under the
laps and patches, on the tool face beyond everything.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import parse_change, usual_angle
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack, mass_moments
from tubfem.materials.ply import Ply
from tubfem.shell.assemble import padded_stiffness
from tubfem.study.family import MIRRORED, Family
from tubfem.tub.model import TubModel
from tubfem.tub.plies import cured_layers


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """A region with plies more: dC by group, the changed stacks by (number, mirrored), mass added [kg], area [m²]."""

    change: dict[int, Floats]
    stacks: dict[tuple[int, bool], Stack]
    mass: float
    area: float


def lay_more(model: TubModel, family: Family, areas: Floats, text: str) -> Laid:
    """What `--add` of `text` does, for a text that names one region, face far or tool, or one of [patches].

    Parameters
    ----------
    areas : (e,) [m²] of the elements
    """
    wanted = parse_change(text)
    (target,) = wanted.targets
    patch = target.removeprefix("patch:") if target.startswith("patch:") else None
    layup = None if patch else model.case.layups[target]
    under = model.case.patches[patch].ply if patch else layup.stack
    angle = usual_angle(under, wanted.ply) if wanted.angle is None else wanted.angle
    layers = [(angle + turn, ply) for turn, ply in cured_layers(model.case, wanted.ply, layup)] * wanted.count
    words = (f"patch {patch} ",) if patch else (f"{target} ", "insert of ")
    field, mirrored = model.layup, np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel]
    stacks: dict[tuple[int, bool], Stack] = {}
    differences: dict[tuple[int, bool], Floats] = {}
    change: dict[int, Floats] = {}
    corners = np.bincount(model.folds.element, weights=model.folds.gain, minlength=len(areas))
    area = off = 0.0
    for k in range(len(family.groups)) if patch else family.named("region", target):
        if family.groups[k].kind != "region":
            continue
        members = family.groups[k].members
        pairs, back = np.unique(np.stack([field.mixture[members], mirrored[members]], 1), axis=0, return_inverse=True)
        weight, covered, gain = (np.bincount(back.ravel(), each[members]) for each in (family.weight, areas, corners))
        total = np.zeros((9, 9))
        for (mixture, side), w, a, g in zip(
            pairs.tolist(), weight.tolist(), covered.tolist(), gain.tolist(), strict=True
        ):
            for s, part in zip(field.mixture_stacks[mixture], field.mixture_weights[mixture], strict=True):
                own = [at for at, entry in enumerate(field.stack_entries[s]) if entry.startswith(words)]
                if not own:
                    continue
                key = (s, bool(side))
                if key not in stacks:
                    at = 0 if wanted.face == "tool" else own[-1] + 1
                    stacks[key] = _with_layers(field.stacks[s], at, layers, mirrored=bool(side))
                    sign = MIRRORED if side else np.ones(len(MIRRORED))
                    difference = stiffness8(stacks[key]) - stiffness8(field.stacks[s])
                    padded = padded_stiffness(difference[None], model.states[0].shell.drilling)[0]
                    differences[key] = padded * sign[:, None] * sign
                total += w * part * differences[key]
                area += a * part
                off += g * part * (mass_moments(stacks[key])[1] - mass_moments(field.stacks[s])[1])
        if total.any():
            change[k] = total / family.weight[members].sum()
    return Laid(change, stacks, area * sum(ply.areal_mass for _, ply in layers) + off, area * wanted.count)


def _with_layers(stack: Stack, at: int, layers: list[tuple[float, Ply]], *, mirrored: bool) -> Stack:
    """A stack with layers more before ply number `at`; the tool face moves back if that is the first."""
    plies = [ply for _, ply in layers]
    angles = [-angle if mirrored else angle for angle, _ in layers]
    start = stack.z[0] - (0.0 if at else sum(ply.thickness for ply in plies))
    together = (*stack.plies[:at], *plies, *stack.plies[at:])
    z = start + np.concatenate([[0.0], np.cumsum([ply.thickness for ply in together])])
    return Stack(together, np.concatenate([stack.angle[:at], angles, stack.angle[at:]]), z)
