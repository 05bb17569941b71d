"""The search itself: programs of cuts solved one after another, each answer tried in the reduced model."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from pathlib import Path

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import add_plies
from tubfem.findings.results import Findings
from tubfem.laminate.stack import Stack
from tubfem.study.bracket import evaluated
from tubfem.study.cuts import Cut, Program, least, make_cut
from tubfem.study.enrich import MOST, enriched
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import Key
from tubfem.study.options import Option
from tubfem.study.reduced import galerkin
from tubfem.study.store import Ready
from tubfem.study.tabs import NAMED
from tubfem.study.together import laid_together, on_patch
from tubfem.study.weakest import JOINT, margins_of_joints

RELAXED = 60  # programs with mixed options before whole ones are asked for
ROUNDS = 80  # programs with whole options
CLOSE = 1e-4  # of the work: what a cut need not tell apart
HAIR = 1e-5  # of a target: what it may be missed by
MENDED = 24  # searches for a choice without negative margins
NARROW = 1e-3  # of the stiffness: a bracket as narrow as this decides


@dataclass(slots=True)
class Search:
    """What a search has gathered: the reduced model with its snapshots, the cuts, where the model is kept.

    `failed` rows exclude choices that a run in full has found too soft, `banned` rows those that leave a region or a
    joint weak; a bound holds with the first, not with the second. `short` is by place how much lower a run in full has
    found the margin than it is said here.
    """

    tub: Ready
    program: Program
    findings: Findings
    folder: Path | None
    cuts: list[Cut] = field(default_factory=list)
    failed: list[tuple[Floats, float, float]] = field(default_factory=list)
    banned: list[tuple[Floats, float, float]] = field(default_factory=list)
    short: dict[str, float] = field(default_factory=dict)
    programs: int = 0


@dataclass(frozen=True, eq=False, slots=True)
class Trial:
    """One choice of every region in the reduced model: stiffness bracket [N·m/deg] and lowest margin with its place.

    `margins` by place: that of the worst region, and of every joint.
    """

    picks: tuple[Option, ...]
    change: dict[int, Floats]
    b: Floats
    low: float
    high: float
    margin: float
    place: str
    margins: dict[str, float]

    @property
    def stiffness(self) -> float:
        """Middle of the bracket."""
        return 0.5 * (self.low + self.high)

    @property
    def texts(self) -> tuple[str, ...]:
        """All that is laid, as --add takes it."""
        return tuple(text for option in self.picks for text in option.texts)


def relax(search: Search, cost: Floats | None, work: float | None) -> bool:
    """Cuts from mixed options, until they tell the work of their answer; False if no mixture meets `work`."""
    for _ in range(RELAXED):
        chosen = least(search.program, cost, search.cuts, work, whole=False)
        if chosen is None:
            return False
        search.programs += 1
        b = galerkin(search.tub.reduced, mixed_change(search.program, chosen.x))
        found = add_cut(search, b)
        told = chosen.value if work is None else work
        if found <= told * (1 + CLOSE):
            return True
    return True


def cheapest(search: Search, cost: Floats, target: float) -> tuple[Trial | None, float]:
    """The choice of least cost that is as stiff as `target` [N·m/deg], and the cost that none such is below.

    None, and an infinite bound, if there is none; None and a finite one if the rounds did not suffice.
    """
    work = work_of(search.tub, target)
    bound = -np.inf
    if not relax(search, cost, work):
        return None, np.inf
    for _ in range(ROUNDS):
        chosen = least(search.program, cost, search.cuts, work, whole=True, also=[*search.failed, *search.banned])
        if chosen is None:
            return None, np.inf
        search.programs += 1
        bound = max(bound, chosen.bound)
        trial = decided(search, picked(search.program, chosen.x), target)
        if trial.high >= target * (1 - HAIR):  # a cut by less than this would be lost in the program's tolerance
            return trial, bound
        add_cut(search, trial.b)
    return None, bound


def stiffest(search: Search) -> tuple[Trial | None, float]:
    """The stiffest choice that the stock allows, and the stiffness [N·m/deg] that none is above.

    None, and an infinite bound, if what is banned leaves no choice.
    """
    relax(search, None, None)
    best: Trial | None = None
    floor = 0.0
    for _ in range(ROUNDS):
        chosen = least(search.program, None, search.cuts, None, whole=True, also=[*search.failed, *search.banned])
        if chosen is None:
            return None, np.inf
        search.programs += 1
        floor = max(floor, chosen.bound)
        trial = try_out(search, picked(search.program, chosen.x))
        add_cut(search, trial.b)
        if best is None or trial.high > best.high:
            best = trial
        if work_of(search.tub, best.high) <= floor * (1 + CLOSE):
            break
    return decided(search, best.picks, best.high), search.tub.stiffness / floor


def with_margins(search: Search, trial: Trial, again: Callable[[], Trial | None]) -> Trial | None:
    """A choice without negative margins: options that leave the worst place too weak are banned, one after another.

    `again` searches with what is banned. No bound comes from here: another choice elsewhere might have mended the
    place too. None if nothing mends it.
    """
    for _ in range(MENDED):
        if trial.margin >= 0:
            return trial
        weak = _weakening(search, trial)
        if weak is None:
            return None
        search.banned.append((weak, 0.0, 0.0))
        found = again()
        if found is None:
            return None
        trial = found
    return None


def _weakening(search: Search, trial: Trial) -> Floats | None:
    """Options (o,) that leave the worst place of a choice weak, 1 or 0; None if there is no way round them.

    A region is mended by its own plies, a joint by those of its tab. A joint takes the load that stiff neighbours send
    through it too: where its tab does not mend it, what the choice lays on the region that relieves it most by having
    less is banned.
    """
    options = search.program.options
    place = trial.place
    if place.startswith(JOINT):
        own = NAMED + place.removeprefix(JOINT)
        tried = {k: _with(search, trial, o).margins[place] for k, o in enumerate(options) if o.region == own}
        if any(margin >= 0 for margin in tried.values()):
            return _barred(options, [k for k, margin in tried.items() if margin < 0])
        bare = {o.region: o for o in options if not o.texts}
        eased = {
            pick.region: _with(search, trial, bare[pick.region]).margin
            for pick in trial.picks
            if pick.texts and pick.region in bare
        }
        region = max(eased, key=lambda name: eased[name], default=None)
        if region is None or eased[region] <= trial.margin:
            return None
        tried = {k: _with(search, trial, o).margin for k, o in enumerate(options) if o.region == region}
        weak = [k for k, margin in tried.items() if margin < min(0.0, eased[region])]
    else:
        tried = {k: _with(search, trial, o).margin for k, o in enumerate(options) if o.region == place}
        weak = [k for k, margin in tried.items() if margin < 0]
    if not weak or len(weak) == len(tried):
        return None
    return _barred(options, weak)


def _barred(options: Sequence[Option], weak: Sequence[int]) -> Floats:
    row = np.zeros(len(options))
    row[list(weak)] = 1.0
    return row


def _with(search: Search, trial: Trial, option: Option) -> Trial:
    """The same choice with another option of one region."""
    return try_out(search, (*(pick for pick in trial.picks if pick.region != option.region), option))


def decided(search: Search, picks: Sequence[Option], target: float) -> Trial:
    """The choice with a bracket that tells on which side of `target` it is, or is narrow; by a snapshot if need be."""
    trial = try_out(search, picks)
    if trial.low < target <= trial.high and trial.high - trial.low > NARROW * target:
        most = min(MOST, len(search.tub.snapshots) + 1)
        search.tub = enriched(search.tub, [trial.change], narrow=NARROW, most=most, folder=search.folder)
        trial = try_out(search, picks)
    return trial


def try_out(search: Search, picks: Sequence[Option]) -> Trial:
    """One choice of every region in the reduced model."""
    tub = search.tub
    change: dict[int, Floats] = {}
    stacks: dict[Key, Stack] = {}
    for option in sorted(picks, key=on_patch):
        for k, dC in option.change.items():
            change[k] = change[k] + dC if k in change else dC
        if option.texts:
            stacks = laid_together(tub.model.layup.stacks, stacks, option)
    low, high, b = evaluated(tub.reduced, change)
    margin, place, _ = lowest_margin(tub.hot, b, stacks)
    texts = [text for pick in picks if not on_patch(pick) for text in pick.texts]
    laid = reduce(add_plies, texts, tub.model.case) if tub.lines.lines else tub.model.case
    joints = margins_of_joints(tub, b, change, laid)
    margins = {place: margin} | {JOINT + name: own for name, (own, _) in joints.items()}
    margins = {name: own - search.short.get(name, 0.0) for name, own in margins.items()}
    place = min(margins, key=lambda name: margins[name])
    return Trial(tuple(picks), change, b, low, high, margins[place], place, margins)


def exclude(search: Search, trial: Trial) -> None:
    """Keep a choice, and no other, from being found again."""
    row = np.array([float(any(option is pick for pick in trial.picks)) for option in search.program.options])
    search.failed.append((row, 0.0, len(trial.picks) - 1.0))


def add_cut(search: Search, b: Floats) -> float:
    """Keep the cut of a motion; returns its work as a share of the unchanged tub's."""
    search.cuts.append(make_cut(search.tub.reduced, search.program.options, b))
    return search.cuts[-1].work


def work_of(tub: Ready, stiffness: float) -> float:
    """Work of the load, as a share of the unchanged tub's, in a tub of that stiffness [N·m/deg]."""
    return tub.stiffness / stiffness


def mixed_change(program: Program, x: Floats) -> dict[int, Floats]:
    """DC by group of options in the shares x (o,)."""
    change: dict[int, Floats] = {}
    for share, option in zip(x.tolist(), program.options, strict=True):
        if share > 1e-9:
            for k, dC in option.change.items():
                change[k] = change.get(k, 0.0) + share * dC
    return change


def picked(program: Program, x: Floats) -> tuple[Option, ...]:
    """The option of every region with the largest share."""
    return tuple(program.options[int(np.argmax(np.where(row > 0, x, -1.0)))] for row in program.groups)
