"""Strength at the rims of openings: first damage and fibre failure by point and average stress, and doublers.

J. M. Whitney and R. J. Nuismer, J. Compos. Mater. 8 (1974) 253-265: a notched laminate fails when the stress at a
distance of about 1 mm from the notch, or its mean over about 4 mm, reaches what the laminate bears without one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import degrees, pi

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.stuff import StackEntry
from tubfem.findings.allowables import Allowables
from tubfem.findings.criteria import Interactive, Use, governs, greatest, use_of_plies
from tubfem.findings.margins import PLY_KINDS, UNUSED, Rules
from tubfem.findings.plies import surface_strain
from tubfem.findings.results import LoadCaseFindings, Raised, Verdict, Worst
from tubfem.findings.rim_model import AVERAGE, POINT, RimModel, at_rim, rim_model, rim_strains
from tubfem.findings.rim_results import Doubler, OpeningFindings, RimCheck
from tubfem.findings.verdicts import best_raise
from tubfem.laminate.recovery import FACES
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack, abd, with_plies
from tubfem.tub.model import State, TubModel
from tubfem.tub.plies import Layer, entry_layers
from tubfem.tub.rims import Rim

DISTANCE = {"point stress": POINT, "average stress": AVERAGE}
EDGE = "opening edge"
WIDTH = 0.05  # m, of a doubler
MOST = 6  # plies of a doubler that are tried
TURNED = pi / 4


@dataclass(frozen=True, eq=False, slots=True)
class SolvedRim:
    """A rim's fine model and its strains (c, r, m, 8), as from `rim_strains`, under the load cases of a state."""

    rim: Rim
    model: RimModel
    strains: Floats


@dataclass(frozen=True, eq=False, slots=True)
class RimLoad:
    """One load case as rims are judged in it; `both_hands` as in `margins.Loaded`, `motion` (P, 6) of the tub."""

    state: State
    column: int
    scale: float
    both_hands: bool
    motion: Floats
    rims: tuple[SolvedRim, ...]


def solve_rims(model: TubModel, state: State, u: Floats) -> tuple[SolvedRim, ...]:
    """Fine models of all convex rims under the motion u (c, P, 6) of a state."""
    found = []
    for rim in model.rims:
        if rim.convex:
            fine = rim_model(model.mesh, state.shell, rim)
            stack = model.layup.mixture[fine.nearest]
            found.append(SolvedRim(rim, fine, rim_strains(fine, state.shell, state.shell.stiffness, stack, u)))
    return tuple(found)


def judge_rims(model: TubModel, load: RimLoad, rules: Rules) -> dict[str, OpeningFindings]:
    """Every opening of the tub in one load case, without doublers."""
    solved = {each.rim.name: each for each in load.rims}
    found = {}
    for rim in model.rims:
        part = model.mesh.panels[rim.panel]
        if rim.name not in solved:
            note = "not judged: its rim bends into the opening; look at the hot spots beside it"
            found[rim.name] = OpeningFindings(rim.name, part.region, part.name, 0.0, 0.0, 0.0, (), None, note)
            continue
        own = solved[rim.name]
        strains = load.scale * own.strains[load.column]
        z = [model.layup.stacks[model.layup.mixture_stacks[m][0]].z[[0, -1]] for m in _mixtures(model, own.model)[-1]]
        found[rim.name] = OpeningFindings(
            rim.name,
            part.region,
            part.name,
            float(surface_strain(strains[0], np.array(z)).max()),
            float(surface_strain(strains[-1], np.array(z)).max()),
            float(own.model.ring[-1]),
            _checks(model, own, strains, load.both_hands, rules),
        )
    return found


def with_doublers(
    model: TubModel,
    cases: Mapping[str, LoadCaseFindings],
    loads: Mapping[str, RimLoad],
    allowables: Allowables,
) -> dict[str, LoadCaseFindings]:
    """Openings lowest margin first; a doubler for those of a negative margin or one lower than all in their region."""
    changed = dict(cases)
    for name, case in cases.items():
        openings = dict(case.openings)
        for hole, found in case.openings.items():
            if found.margin is None:
                continue
            lowest = _lowest_elsewhere(cases, found)
            if found.margin < 0 or found.margin < lowest:
                raised = best_raise(model, _as_worst(found), allowables, both_hands=loads[name].both_hands)
                openings[hole] = replace(
                    found,
                    doubler=_doubler(model, loads[name], found, allowables),
                    instead=None if raised is None else (raised.change, raised.margin, raised.areal_mass),
                )
        lowest_first = sorted(openings.items(), key=lambda item: np.inf if item[1].margin is None else item[1].margin)
        changed[name] = replace(case, openings=dict(lowest_first))
    return changed


def with_openings(before: tuple[Verdict, ...], cases: Mapping[str, LoadCaseFindings]) -> tuple[Verdict, ...]:
    """Verdicts where the rim of an opening is what governs its region; a doubler counts where it does more."""
    found = {verdict.region: verdict for verdict in before}
    for name, case in cases.items():
        for opening in case.openings.values():
            old = found.get(opening.region)
            if opening.margin is None or (old is not None and opening.margin >= old.margin):
                continue
            worst, plies = opening.checks[0], opening.doubler
            mode = f"{worst.kind} at {opening.name}, {worst.criterion}"
            raised = None if opening.instead is None else Raised(*opening.instead)
            if plies is not None and plies.margin > max(opening.margin, -1.0 if raised is None else raised.margin):
                raised = Raised(plies.words, plies.margin, plies.areal_mass)
            found[opening.region] = Verdict(opening.region, name, opening.margin, EDGE, mode, raised)
    return tuple(sorted(found.values(), key=lambda verdict: verdict.margin))


def opening_sentences(case: LoadCaseFindings) -> tuple[str, ...]:
    """Openings whose margin is negative, and what would mend them."""
    found = []
    for opening in case.openings.values():
        if opening.margin is None or opening.margin >= 0:
            continue
        worst, plies = opening.checks[0], opening.doubler
        text = f"Opening {opening.name} has a margin of {opening.margin:+.2f}: {worst.kind} by {worst.criterion}."
        if plies is not None and plies.margin >= 0:
            text += f" A doubler brings it to {plies.margin:+.2f} or more: {plies.text}. Confirm with tubfem run."
        else:
            text += " No doubler on the far face alone mends it: round the corners more, or move it."
            if opening.instead is not None:
                text += f" --add '{opening.instead[0]}' brings it to {opening.instead[1]:+.2f} at most."
        found.append(text)
    return tuple(found)


def _as_worst(opening: OpeningFindings) -> Worst:
    """The lowest check of an opening as a region's lowest margin is written."""
    check = opening.checks[0]
    return Worst(
        margin=check.margin,
        margin_peak=check.margin,
        kind=check.kind,
        mode=check.mode,
        ply=check.ply,
        ply_index=0,
        face=check.face,
        panel=opening.panel,
        region=opening.region,
        position=check.position,
        demand=check.demand,
        allowable=check.allowable,
        unit=check.unit,
        sign=check.sign,
        length=check.distance,
        stack=check.stack,
        state=check.state,
    )


def _mixtures(model: TubModel, fine: RimModel) -> np.ndarray:
    return model.layup.mixture[fine.nearest]


def _checks(model: TubModel, own: SolvedRim, strains: Floats, both_hands: bool, rules: Rules) -> tuple[RimCheck, ...]:
    mixture = _mixtures(model, own.model)[0]
    laid = {s for m in np.unique(mixture) for s in model.layup.mixture_stacks[m]}
    uses = {s: {kind: rules.plies[kind][s] for kind in PLY_KINDS} for s in laid}
    middles = 0.5 * (own.model.points[0] + np.roll(own.model.points[0], -1, axis=0))
    found = []
    for criterion, strain in _by_criterion(own.model, strains).items():
        for kind in PLY_KINDS:
            use, s, at = _worst(model, mixture, {s: each[kind] for s, each in uses.items()}, strain, both_hands)
            if use <= UNUSED:
                continue
            column = uses[s][kind]
            worst = governs(column, strain[at], both_hands=both_hands)
            mode = model.layup.stacks[s].plies[worst.ply].mode_names[worst.mode]
            found.append(
                RimCheck(
                    kind=kind,
                    criterion=criterion,
                    distance=DISTANCE[criterion],
                    margin=1 / use - 1,
                    mode=f"{column.criterion}, {mode}" if isinstance(column, Interactive) else mode,
                    ply=model.layup.stack_entries[s][worst.ply],
                    face=FACES[worst.face],
                    demand=worst.allowable * use,
                    allowable=worst.allowable,
                    unit=worst.unit,
                    sign=worst.sign,
                    position=tuple(middles[at].tolist()),
                    stack=s,
                    state=tuple(strain[at].tolist()),
                )
            )
    return tuple(sorted(found, key=lambda check: check.margin))


def _by_criterion(fine: RimModel, strains: Floats) -> dict[str, Floats]:
    """Strains (m, 8) by criterion, from those (r, m, 8) of one load case."""
    return {name: found[0] for name, found in at_rim(fine, strains[None]).items()}


def _worst(
    model: TubModel, mixture: np.ndarray, uses: Mapping[int, Use], strain: Floats, both_hands: bool
) -> tuple[float, int, int]:
    """Greatest use along a rim, with its stack and place."""
    best = (0.0, -1, -1)
    for m in np.unique(mixture):
        at = np.flatnonzero(mixture == m)
        for s in model.layup.mixture_stacks[m]:
            use = greatest(uses[s], strain[at], both_hands=both_hands)
            k = int(use.argmax())
            if use[k] > best[0]:
                best = (float(use[k]), s, int(at[k]))
    return best


def _lowest_elsewhere(cases: Mapping[str, LoadCaseFindings], opening: OpeningFindings) -> float:
    """The lowest margin of an opening's region but for this opening."""
    found = [case.regions[opening.region].worst for case in cases.values()]
    rims = [
        other.margin
        for case in cases.values()
        for other in case.openings.values()
        if other.region == opening.region and other is not opening and other.margin is not None
    ]
    return min([w.margin for w in found if w is not None] + rims, default=np.inf)


def _doubler(model: TubModel, load: RimLoad, opening: OpeningFindings, allowables: Allowables) -> Doubler | None:
    """The region's own cloths, the likeliest first, as many plies as a margin of 0 takes, tried in the fine model.

    The motion at the edge of the fine model is held. Where loads rather than motions drive the panel, a stiffer panel
    moves less: the margin is what it comes to at least. None if nothing is won.
    """
    layup = model.case.layups.get(opening.region)
    if layup is None:
        return None
    own = next(each for each in load.rims if each.rim.name == opening.name)
    hand = -1.0 if model.mesh.panels[own.rim.panel].mirrored else 1.0
    entries: dict[tuple[str, float], StackEntry] = {}
    for entry in (entry for entry in layup.stack if not entry.is_core):
        for turn in (0.0, TURNED):
            angle = (entry.angle + turn + pi / 2) % pi - pi / 2
            entries.setdefault((entry.name, round(angle, 9)), StackEntry(name=entry.name, angle=angle))
    tried = []
    for entry in entries.values():
        layers = entry_layers(model.case, [entry], label="doubler")
        tried.append((_held_margin(model, opening, layers, hand, allowables, load.both_hands), entry))
    if not tried:
        return None
    best: tuple[float, StackEntry, tuple[Layer, ...]] | None = None
    tried.sort(key=lambda pair: -pair[0])
    for _, entry in tried if opening.margin < 0 else tried[:1]:
        before = -np.inf
        for count in range(1, MOST + 1):
            plies = entry.model_copy(update={"count": count})
            layers = entry_layers(model.case, [plies], label="doubler")
            margin = _margin_with(model, load, own, layers, hand, allowables)
            if best is None or margin > best[0]:
                best = margin, plies, layers
            if margin >= 0 or margin <= before:
                break  # more plies on one face stand further off the middle and bend it
            before = margin
        if best[0] >= 0:
            break
    margin, plies, layers = best
    if margin <= opening.margin:
        return None
    areal = sum(layer.ply.areal_mass for layer in layers)
    rim = own.rim.points
    length = float(np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1).sum())
    words = f"doubler {plies.text}, {1e3 * WIDTH:g} mm round {own.rim.hole}"
    return Doubler(words, _text(model, own.rim, plies), margin, areal * WIDTH * (length + pi * WIDTH), areal)


def _held_margin(
    model: TubModel,
    opening: OpeningFindings,
    layers: tuple[Layer, ...],
    hand: float,
    allowables: Allowables,
    both: bool,
) -> float:
    """Margin where the opening is worst with plies laid there, its membrane loads held: to choose a cloth by."""
    check = opening.checks[0]
    stack = model.layup.stacks[check.stack]
    changed = with_plies(stack, [(hand * layer.angle, layer.ply) for layer in layers])
    strain = np.zeros(8)
    strain[:3] = np.linalg.solve(abd(changed)[0], abd(stack)[0] @ np.array(check.state)[:3])
    return 1 / max(float(greatest(use_of_plies(changed, allowables, k), strain, both_hands=both)) for k in PLY_KINDS)


def _margin_with(
    model: TubModel, load: RimLoad, own: SolvedRim, layers: tuple[Layer, ...], hand: float, allowables: Allowables
) -> float:
    """Lowest margin along the rim with plies laid round it, the motion at the fine model's edge held."""
    layup, shell, fine = model.layup, load.state.shell, own.model
    extra = [(hand * layer.angle, layer.ply) for layer in layers]
    mixture = _mixtures(model, fine)
    used = np.unique(mixture)
    doubled: dict[int, Stack] = {s: with_plies(layup.stacks[s], extra) for m in used for s in layup.mixture_stacks[m]}
    parts = {s: stiffness8(stack) for s, stack in doubled.items()}
    stiffness = np.array(
        [
            sum(f * parts[s] for s, f in zip(layup.mixture_stacks[m], layup.mixture_weights[m], strict=True))
            for m in used
        ]
    )
    first = len(shell.stiffness)
    stack = np.where(fine.off <= WIDTH, first + np.searchsorted(used, mixture), mixture)
    strains = rim_strains(fine, shell, np.concatenate([shell.stiffness, stiffness]), stack, load.motion[None])[0]
    use = {kind: {s: use_of_plies(each, allowables, kind) for s, each in doubled.items()} for kind in PLY_KINDS}
    criteria = _by_criterion(fine, load.scale * strains).values()
    worst = max(
        _worst(model, mixture[0], use[kind], strain, load.both_hands)[0] for strain in criteria for kind in PLY_KINDS
    )
    return 1 / worst - 1


def _text(model: TubModel, rim: Rim, plies: StackEntry) -> str:
    """What to write for a doubler: more on a patch that is there, or a new line under [patches]."""
    patches = model.case.patches
    for name, patch in patches.items():
        if patch.around == f"opening.{rim.hole}" and patch.on in (None, rim.plain):
            count = f"*{plies.count}" if plies.count > 1 else ""
            return f"--add 'patch:{name}={plies.name}@{round(degrees(plies.angle), 3) + 0.0:g}{count}'"
    name = f"{rim.hole}_edge"
    while name in patches:
        name += "_2"
    return (
        f'[patches] {name} = {{ on = "{rim.plain}", around = "opening.{rim.hole}", ply = "{plies.text}", '
        f'width = "{1e3 * WIDTH:g} mm" }}'
    )
