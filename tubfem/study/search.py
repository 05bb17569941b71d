"""The search itself: programs of cuts solved one after another, each answer tried in the reduced model."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tubfem.arrays import Floats
from tubfem.errors import CaseError
from tubfem.findings.margins import UNUSED
from tubfem.study.bracket import evaluated
from tubfem.study.cuts import BLUNT, LARGE, Cut, Program, least, make_cut
from tubfem.study.enrich import MOST, enriched
from tubfem.study.family import Change
from tubfem.study.hot import region_uses
from tubfem.study.options import Option
from tubfem.study.reduced import Reduced, galerkin, solved, stiffness_above, summed, unpacked
from tubfem.study.store import Ready
from tubfem.study.together import Together
from tubfem.study.weakest import JOINT, margins_of_joints

RELAXED = 60  # programs with mixed options before whole ones are asked for
ROUNDS = 80  # programs with whole options
FEW = 12  # programs with whole options where there are many choices, which take seconds each
CLOSE = 1e-4  # of the work: what a cut need not tell apart
HAIR = 1e-5  # of a target: what it may be missed by
NARROW = 1e-3  # of the stiffness: a bracket as narrow as this decides

Rows = Sequence[tuple[Floats, float, float]]  # (o,) with their least and greatest value


@dataclass(slots=True)
class Search:
    """What a search has gathered: the reduced model with its snapshots, the cuts, where the model is kept.

    `allowed` is the greatest use by place where it may be more than one. `short` is by place how much lower a run in
    full has found the margin than it is said here, `soft` how many times stiffer the tub is said here than a run in
    full has found it, `kept` the regions of which no ply may go any more because a run in full has found something
    weak that is not followed here. No bound knows of them. `pace` is how many plies come at once: two where the lay-up
    is to stay symmetric.
    """

    tub: Ready
    program: Program
    together: Together
    folder: Path | None
    cuts: list[Cut] = field(default_factory=list)
    allowed: dict[str, float] = field(default_factory=dict)
    short: dict[str, float] = field(default_factory=dict)
    soft: float = 1.0
    kept: frozenset[str] = frozenset()
    pace: int = 1
    programs: int = 0


@dataclass(frozen=True, eq=False, slots=True)
class Trial:
    """One choice of every region in the reduced model: stiffness bracket [N·m/deg], margins by region and joint.

    What nothing loads has no margin; `margin` is the lowest, without limit where there is none, and `place` its place.
    """

    picks: tuple[Option, ...]
    change: dict[int, Floats]
    b: Floats
    low: float
    high: float
    margins: dict[str, float]

    @property
    def stiffness(self) -> float:
        """Middle of the bracket."""
        return 0.5 * (self.low + self.high)

    @property
    def margin(self) -> float:
        """The lowest margin."""
        return min(self.margins.values(), default=np.inf)

    @property
    def place(self) -> str:
        """Where the margin is lowest."""
        return min(self.margins, key=lambda name: self.margins[name], default="")

    @property
    def texts(self) -> tuple[str, ...]:
        """All that is laid, as --add takes it."""
        return tuple(text for option in self.picks for text in option.texts)

    @property
    def drops(self) -> tuple[str, ...]:
        """All that is taken off, as --drop takes it."""
        return tuple(text for option in self.picks for text in option.drops)


def relax(search: Search, cost: Floats | None, work: float | None, also: Rows = ()) -> bool:
    """Cuts from mixed options, until they tell the work of their answer; False if no mixture meets `work`."""
    for _ in range(RELAXED):
        chosen = least(search.program, cost, search.cuts, work, whole=False, also=also)
        if chosen is None:
            return False
        search.programs += 1
        try:
            b = galerkin(search.tub.reduced, mixed_change(search.program, chosen.x))
        except np.linalg.LinAlgError:  # plies off two regions that lap, more than there are
            return True
        found = add_cut(search, b).work
        told = chosen.value if work is None else work
        if found <= told * (1 + CLOSE):
            return True
    return True


def cheapest(search: Search, cost: Floats, target: float, also: Rows = ()) -> tuple[Trial | None, float]:
    """The choice of least cost that is as stiff as `target` [N·m/deg], and the cost that none such is below.

    None, and an infinite bound, if there is none. If the rounds did not suffice, the choice is not stiff enough, but
    the bound holds. `also` are further rows that a choice has to keep.
    """
    work, large = work_of(search.tub, target), len(search.program.options) > LARGE
    bound, trial = -np.inf, None
    if not relax(search, cost, work, also):
        return None, np.inf
    for _ in range(FEW if large else ROUNDS):
        chosen = least(search.program, cost, search.cuts, work, whole=True, also=also)
        if chosen is None:
            return None, np.inf
        search.programs += 1
        bound = max(bound, chosen.bound)
        found = decided(search, picked(search.program, chosen.x), target, sure=not large)
        if found is None:
            break
        trial = found
        if trial.high >= target * (1 - HAIR):  # a cut by less than this would be lost in the program's tolerance
            break
        add_cut(search, trial.b)
    return trial, bound


def stiffest(search: Search, also: Rows = ()) -> tuple[Trial, float]:
    """The stiffest choice that the stock allows, and the stiffness [N·m/deg] that none is above.

    `also` are further rows that a choice has to keep.

    Raises
    ------
    CaseError
        The stock is not enough for what has to be laid at least.
    """
    relax(search, None, None, also)
    best: Trial | None = None
    large, floor = len(search.program.options) > LARGE, 0.0
    for _ in range(FEW if large else ROUNDS):
        chosen = least(search.program, None, search.cuts, None, whole=True, also=also)
        if chosen is None:
            raise CaseError("the cloth on hand is not enough for the plies that the limits ask for at least")
        search.programs += 1
        floor = max(floor, chosen.bound)
        trial = try_out(search, picked(search.program, chosen.x), added=True)
        add_cut(search, trial.b)
        if best is None or trial.high > best.high:
            best = trial
        if work_of(search.tub, best.high) <= floor * (1 + (BLUNT if large else CLOSE)):
            break
    return decided(search, best.picks, best.high) or best, search.tub.stiffness / floor


def decided(search: Search, picks: Sequence[Option], target: float, *, sure: bool = True) -> Trial | None:
    """The choice with a bracket that tells on which side of `target` it is, or is narrow; by a snapshot if need be.

    Its changes are added up; `sure` says whether there may be one. None where that leaves nothing: plies off two
    regions that lap, more than there are.
    """
    try:
        trial = try_out(search, picks, added=True)
    except np.linalg.LinAlgError:
        return None
    if sure and 0 < trial.low < target <= trial.high and trial.high - trial.low > NARROW * target:
        most = min(MOST, len(search.tub.snapshots) + 1)
        search.tub = enriched(search.tub, [trial.change], narrow=NARROW, most=most, folder=search.folder)
        trial = try_out(search, picks, added=True)
    return trial


def try_out(
    search: Search,
    picks: Sequence[Option],
    *,
    bracketed: bool = True,
    added: bool = False,
    beside: tuple[Change, Floats] | None = None,
) -> Trial:
    """One choice of every region in the reduced model.

    Parameters
    ----------
    bracketed
        Whether the lower side of the bracket is wanted too; without, it is the upper one.
    added
        Whether what several options do to one group is added up, as the cuts do, instead of laid together.
    beside
        Another change and its sum over the groups, for a choice of which most is the same.

    Raises
    ------
    numpy.linalg.LinAlgError
        The tub would not be stiff any more.
    """
    tub = search.tub
    change = added_change(picks) if added else search.together.change(picks)
    if bracketed:
        low, high, b = evaluated(tub.reduced, change)
    else:
        b = galerkin(tub.reduced, change) if beside is None else _galerkin_beside(tub.reduced, change, *beside)
        low = high = stiffness_above(tub.reduced, b)
    uses = region_uses(tub.hot, b, search.together.stacks(picks), search.together.rules)
    margins = {region: 1 / use - 1 for region, use in uses.items() if use > UNUSED}
    laid = search.together.case(picks) if tub.lines.lines else tub.model.case
    margins |= {JOINT + name: own for name, (own, _) in margins_of_joints(tub, b, change, laid).items()}
    margins = {name: own - search.short.get(name, 0.0) for name, own in margins.items()}
    return Trial(tuple(picks), change, b, low, high, margins)


def _galerkin_beside(reduced: Reduced, change: Change, other: Change, total: Floats) -> Floats:
    """As `galerkin`, reading only the groups that are not as in another change, of which the sum is known."""
    apart = {}
    for k in change.keys() | other.keys():
        dC, before = change.get(k), other.get(k)
        if dC is before:
            continue
        difference = -before if dC is None else dC if before is None else dC - before
        if np.any(difference):
            apart[k] = (difference,)
    K = unpacked(total + summed(reduced, apart, 1)[0], reduced.size)
    K.flat[:: reduced.size + 1] += 1
    return solved(K, reduced.load)


def add_cut(search: Search, b: Floats) -> Cut:
    """Keep the cut of a motion."""
    search.cuts.append(make_cut(search.tub.reduced, search.program.options, b))
    return search.cuts[-1]


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


def added_change(picks: Sequence[Option]) -> dict[int, Floats]:
    """DC by group of options, added up."""
    change: dict[int, Floats] = {}
    for option in picks:
        for k, dC in option.change.items():
            change[k] = change[k] + dC if k in change else dC
    return change


def picked(program: Program, x: Floats) -> tuple[Option, ...]:
    """The option of every region with the largest share."""
    return tuple(program.options[int(np.argmax(np.where(row > 0, x, -1.0)))] for row in program.groups)
