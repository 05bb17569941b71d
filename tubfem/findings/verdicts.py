"""The one line a region comes to: what governs it over all load cases, and what would raise that margin most.

What would raise it is found where the region is worst, by laying each candidate there and holding the line loads about
the middle of the laminate: its own strains change, not what the rest of the tub sends through it. A stiffer region
draws more load, so the true gain is smaller; `run` with the change tells it.
"""

from collections.abc import Iterator
from dataclasses import replace
from math import pi

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.case.schema import Case
from tubfem.case.stuff import StackEntry
from tubfem.findings.allowables import BUCKLING, FIBRE, FIRST_DAMAGE, INTERLAMINAR, Allowables
from tubfem.findings.criteria import greatest, use_of_plies
from tubfem.findings.interlaminar import interlaminar, interlaminar_use
from tubfem.findings.results import LoadCaseFindings, Raised, Verdict, Worst
from tubfem.findings.sandwich import core_use, sandwich_use
from tubfem.laminate.shear import ShearMap, shear_map, stiffness8
from tubfem.laminate.stack import Stack, abd, with_plies
from tubfem.tub.model import TubModel
from tubfem.tub.plies import entry_layers

PLY_KINDS = (FIRST_DAMAGE, FIBRE)
THICKER = 5e-3  # m more of a core, one step of what sheets come in
TURNED = pi / 4  # a cloth is tried as it lies in the region and turned by this


def verdicts(
    model: TubModel, regions: tuple[str, ...], load_cases: dict[str, LoadCaseFindings], allowables: Allowables
) -> tuple[Verdict, ...]:
    """The worst of every region over all load cases, lowest margin first; regions that nothing loads are left out."""
    found = []
    for region in regions:
        own = [(worst, name) for name, case in load_cases.items() if (worst := case.regions[region].worst) is not None]
        if own:
            worst, name = min(own, key=lambda pair: pair[0].margin)
            raised = best_raise(model, worst, allowables, both_hands=load_cases[name].torsion is not None)
            found.append(Verdict(region, name, worst.margin, worst.kind, worst.mode, raised))
    return tuple(sorted(found, key=_margin))


def with_buckling(
    model: TubModel, before: tuple[Verdict, ...], load_cases: dict[str, LoadCaseFindings]
) -> tuple[Verdict, ...]:
    """Verdicts where a region's first ripple comes before anything else, in any load case that asked for it."""
    found = {verdict.region: verdict for verdict in before}
    for name, case in load_cases.items():
        for mode in () if case.buckling is None else case.buckling.modes:
            old = found.get(mode.region)
            if old is None or mode.margin < old.margin:
                raised = _raise_buckling(model, mode.region, mode.panel, mode.margin)
                found[mode.region] = Verdict(mode.region, name, mode.margin, BUCKLING, BUCKLING, raised)
    return tuple(sorted(found.values(), key=_margin))


def _margin(verdict: Verdict) -> float:
    return verdict.margin


def _raise_buckling(model: TubModel, region: str, panel: str, margin: float) -> Raised | None:
    """The candidate that stiffens the commonest stack of a panel most: buckling loads go with its bending stiffness."""
    number = next(k for k, part in enumerate(model.mesh.panels) if part.name == panel)
    mixture = int(np.bincount(model.layup.mixture[model.mesh.element_panel == number]).argmax())
    stack = model.layup.stacks[max(model.layup.mixture_stacks[mixture], key=lambda s: len(model.layup.stacks[s].plies))]
    hand = -1.0 if model.mesh.panels[number].mirrored else 1.0
    before = _bending(stack)
    found = [
        Raised(text, (1 + margin) * _bending(changed) / before - 1, areal_mass)
        for text, areal_mass, changed in _candidates(model.case, region, stack, hand)
    ]
    return max(found, key=lambda raised: raised.margin, default=None)


def _bending(stack: Stack) -> float:
    """Mean bending stiffness sqrt(D11 D22) [N m] about the neutral surface."""
    A, B, D = abd(stack)
    reduced = D - B @ np.linalg.solve(A, B)
    return float(np.sqrt(reduced[0, 0] * reduced[1, 1]))


def best_raise(model: TubModel, worst: Worst, allowables: Allowables, *, both_hands: bool) -> Raised | None:
    """The change of its region's stack that leaves the highest lowest margin; None if no candidate raises it."""
    if worst.stack is None:
        return None
    stack, strain = model.layup.stacks[worst.stack], np.array(worst.state)
    mirrored = next(part.mirrored for part in model.mesh.panels if part.name == worst.panel)
    shear = shear_map(stack)
    load = _about(stiffness8(stack, shear) @ strain, _middle(stack))
    # the margin is of a mean over elements: the state's own use is brought to it
    before = uses(stack, shear, allowables, strain, both_hands=both_hands)
    scale = {worst.kind: 1 / (1 + worst.margin) / before[worst.kind]}
    best: Raised | None = None
    for text, layers, changed in _candidates(model.case, worst.region, stack, -1.0 if mirrored else 1.0):
        shear = shear_map(changed)
        moved = np.linalg.solve(stiffness8(changed, shear), _about(load, -_middle(changed)))
        after = uses(changed, shear, allowables, moved, both_hands=both_hands)
        margin = 1 / max(use * scale.get(kind, 1.0) for kind, use in after.items()) - 1
        if 1 + margin > (1 + 1e-9) * (1 + (worst.margin if best is None else best.margin)):
            best = Raised(text, margin, layers)
    return best


def _middle(stack: Stack) -> float:
    return 0.5 * float(stack.z[0] + stack.z[-1])


def _about(load: Floats, z: float) -> Floats:
    """Line loads (8,) Nx Ny Nxy Mx My Mxy Vx Vy about a surface at z [m] from the one they were about."""
    return np.concatenate([load[:3], load[3:6] - z * load[:3], load[6:]])


def uses(
    stack: Stack, shear: ShearMap, allowables: Allowables, strain: Floats, *, both_hands: bool
) -> dict[str, float]:
    """Use of every kind in one stack under one generalised strain (8,)."""
    found = {
        kind: float(greatest(use_of_plies(stack, allowables, kind), strain, both_hands=both_hands))
        for kind in PLY_KINDS
    }
    found[INTERLAMINAR] = float(interlaminar_use(interlaminar(stack, allowables, shear), strain))
    core = core_use(stack, allowables, shear)
    if core is not None:
        found |= {kind: float(use) for kind, use in sandwich_use(core, strain, both_hands=both_hands).items()}
    return found


def _candidates(case: Case, region: str, stack: Stack, hand: float) -> Iterator[tuple[str, float, Stack]]:
    """(the change as `--add` takes it or in words, kg/m2 more, the stack with it)."""
    layup = case.layups.get(region)
    if layup is None:
        return
    cores = [k for k, ply in enumerate(stack.plies) if ply.core]
    sides = ("far", "tool") if cores else ("far",)
    angles: dict[tuple[str, float], StackEntry] = {}
    for entry in layup.stack:
        if not entry.is_core:
            for turn in (0.0, TURNED):
                angle = (entry.angle + turn + pi / 2) % pi - pi / 2
                angles.setdefault((entry.name, round(angle, 9)), StackEntry(name=entry.name, angle=angle))
    for entry in angles.values():
        layers = [(hand * layer.angle, layer.ply) for layer in entry_layers(case, [entry], label="", layup=layup)]
        degrees = round(entry.angle * 180 / pi, 3) + 0.0
        for side in sides:
            text = f"{region}={entry.name}@{degrees:g}" + (f":{side}" if side == "tool" else "")
            yield text, sum(ply.areal_mass for _, ply in layers), with_plies(stack, layers, side)
    for k in cores:
        thicker = replace(stack.plies[k], thickness=stack.plies[k].thickness + THICKER)
        plies = (*stack.plies[:k], thicker, *stack.plies[k + 1 :])
        z = stack.z + THICKER * (np.arange(len(stack.z)) > k)
        text = f"{1e3 * THICKER:g} mm more of {thicker.name} (to {1e3 * thicker.thickness:g} mm)"
        yield text, THICKER * thicker.rho, Stack(plies, stack.angle, frozen(z))
