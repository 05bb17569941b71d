"""The choice that a schedule ends with: begun by cuts, bettered step by step, and taken for good by runs in full.

A run in full tells what the reduced model has said too well: stiffness, the margin of a place, and whatever it does not
follow. That is taken off what it says from then on, and the search goes on from where it stands.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from tubfem.case.schema import Case
from tubfem.findings.results import Findings
from tubfem.geometry.mesh import TubMesh
from tubfem.run import Stages, change_case, run_case
from tubfem.study.bracket import bracket
from tubfem.study.descent import ENOUGH, Goal, descend, is_better, lacking, only_more, use_of, worth
from tubfem.study.enrich import MOST, NARROW, ROUND, enriched
from tubfem.study.executors import Kept, Pool, do_all
from tubfem.study.judged import Judged, followed, judged, regions_at, weaker
from tubfem.study.search import HAIR, Search, Trial, cheapest, stiffest, try_out

CONFIRMS = 6  # runs in full before the best of them is given as it is
RICHER = 3  # rounds of snapshots at the choices found
PROVEN = 1e-5  # of a bound: a choice as near to it as this is the best


@dataclass(frozen=True, slots=True)
class Full:
    """A run in full: stiffness [N·m/deg], mass [kg], and everything that it judges."""

    stiffness: float
    mass: float
    judged: Judged


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """A choice with its run in full.

    `weaker` as `judged.weaker`; `bound` is of what was asked for, `possible` or not.
    """

    trial: Trial
    full: Full
    weaker: dict[str, float]
    bound: float
    possible: bool


@dataclass(frozen=True, eq=False, slots=True)
class Asking:
    """Where a choice is run in full: the case, its mesh, what it is unchanged, and where that is done and kept."""

    case: Case
    mesh: TubMesh
    before: Full
    pool: Pool
    kept: Kept | None
    stages: Stages


def find_answer(search: Search, goal: Goal, asking: Asking) -> Answer:
    """The best choice that a run in full confirms; where none is confirmed, the one that lacks least."""
    with asking.stages("search"):
        found, bound, possible = _begun(search, goal)
        starts = _laid_together(search, found)
    goal = goal if possible else Goal()
    trial = _best(search, starts, goal, asking, proven=bound)
    tried: list[Answer] = []
    for _ in range(CONFIRMS):
        tried.append(_confirmed(search, trial, asking, bound, possible=possible))
        if _missing(search, tried[-1], goal) <= ENOUGH:
            break
        _learn(search, tried[-1])
        trial = _best(search, [_without_kept(search, trial)], goal, asking)
        if _known(trial, tried):
            break
    if all(_missing(search, one, goal) > ENOUGH for one in tried) and any(one.trial.drops for one in tried):
        with asking.stages("search"):
            (plain,) = _laid_together(search, [_plain(search, goal)])
        if not _known(plain, tried):
            tried.append(_confirmed(search, plain, asking, bound, possible=possible))
    return min(tried, key=lambda one: _rank(search, one, goal))


def in_full(shared: tuple[Case, TubMesh, str], item: tuple[Sequence[str], Sequence[str]]) -> dict[str, Any]:
    """Stiffness, mass and margins of the case with plies added and dropped, on the mesh of the case as it is."""
    (case, mesh, load_case), (add, drop) = shared, item
    return summary(run_case(change_case(case, add=add, drop=drop), base=case, mesh=mesh)[2], load_case)


def summary(findings: Findings, load_case: str) -> dict[str, Any]:
    """What `Full` holds, plain enough to be kept."""
    stiffness = findings.load_cases[load_case].torsion.pickup_to_pickup
    return {"stiffness": stiffness, "mass": findings.mass.total, "judged": judged(findings)}


def _begun(search: Search, goal: Goal) -> tuple[list[Trial], float, bool]:
    """Choices to go on from, the bound of what was asked for, and whether a target is met by any choice."""
    if goal.target is None:
        first, bound = stiffest(search, only_more(search))
        return [first], bound, True
    first, bound = cheapest(search, goal.cost, goal.target)
    if first is None and bound == np.inf:
        first, bound = stiffest(search, only_more(search))
        return [first], bound, False
    if first is not None and lacking(search, first, goal) <= ENOUGH:
        return [first], bound, True
    return [*([] if first is None else [first]), _plain(search, goal)], bound, True


def _laid_together(search: Search, found: Sequence[Trial]) -> list[Trial]:
    """The same choices with all that they lay on one stack laid together; those that hold nothing are left out."""
    held = []
    for each in found:
        with suppress(np.linalg.LinAlgError):
            held.append(try_out(search, each.picks))
    return held


def _plain(search: Search, goal: Goal) -> Trial:
    """The best that cuts find with nothing taken away."""
    if goal.cost is not None and goal.target is not None:
        target = goal.target * search.soft
        found, _ = cheapest(search, goal.cost, target, only_more(search))
        if found is not None and found.high >= target * (1 - HAIR):
            return found
    return stiffest(search, only_more(search))[0]


def _best(search: Search, starts: Sequence[Trial], goal: Goal, asking: Asking, *, proven: float | None = None) -> Trial:
    """The best that the starts lead to, in a reduced model that is sure of it.

    A start that lacks nothing and is at the `proven` bound is not searched further. Where nothing mends a margin, it is
    to stay as it is in the last of the starts.
    """
    for _ in range(RICHER):
        with asking.stages("search"):
            found = [each if _at_bound(search, each, goal, proven) else descend(search, each, goal) for each in starts]
            if min(lacking(search, each, goal) for each in found) > ENOUGH and not search.allowed:
                search.allowed = {place: max(1.0, use_of(margin)) for place, margin in starts[-1].margins.items()}
                found.append(descend(search, starts[-1], goal))
        sides = [bracket(search.tub.reduced, each.change) for each in found]
        wide = [each.change for each, (low, high) in zip(found, sides, strict=True) if 0 < low < high * (1 - NARROW)]
        most = min(MOST, len(search.tub.snapshots) + ROUND)
        if not wide or len(search.tub.snapshots) >= most:
            break
        with asking.stages("snapshots"):
            search.tub = enriched(search.tub, wide, most=most, folder=search.folder, pool=asking.pool)
        starts = [try_out(search, each.picks) for each in found]
    best = found[0]
    for each in found[1:]:
        best = each if is_better(search, goal, each, best) else best
    return try_out(search, best.picks)


def _at_bound(search: Search, trial: Trial, goal: Goal, proven: float | None) -> bool:
    if proven is None or lacking(search, trial, goal) > ENOUGH:
        return False
    own = worth(search, trial, goal)
    bound = proven if goal.cost is not None else search.tub.stiffness / proven
    return own <= bound + PROVEN * max(abs(own), abs(bound))


def _confirmed(search: Search, trial: Trial, asking: Asking, bound: float, *, possible: bool) -> Answer:
    """A choice with its run in full."""
    name, full = search.tub.setup.name, asking.before
    if trial.texts or trial.drops:
        words = [f"+{text}" for text in trial.texts] + [f"-{text}" for text in trial.drops]
        item = {", ".join(words): (trial.texts, trial.drops)}
        tell, note = asking.stages.tell, asking.stages.note
        with asking.stages("confirm"):
            shared = asking.case, asking.mesh, name
            (found,) = do_all(asking.pool, in_full, shared, item, kept=asking.kept, tell=tell, note=note).values()
        full = Full(**found)
    return Answer(trial, full, weaker(asking.before.judged, full.judged, name), bound, possible)


def _missing(search: Search, answer: Answer, goal: Goal) -> float:
    """As `descent.lacking`, of a run in full; what taking plies off has made weak elsewhere counts too."""
    margins = followed(answer.full.judged, search.tub.setup.name)
    over = [use_of(margin) - search.allowed.get(place, 1.0) for place, margin in margins.items()]
    soft = [] if goal.target is None else [goal.target * (1 - HAIR) / answer.full.stiffness - 1]
    weak = [-margin for margin in answer.weaker.values()] if answer.trial.drops else []
    return max([0.0, *over, *soft, *weak])


def _rank(search: Search, answer: Answer, goal: Goal) -> tuple[float, float]:
    missing = _missing(search, answer, goal)
    return 0.0 if missing <= ENOUGH else missing, worth(search, answer.trial, goal)


def _learn(search: Search, answer: Answer) -> None:
    """Take off what the reduced model says what a run in full has found less, and keep plies where they were missed."""
    trial, full = answer.trial, answer.full
    search.soft = max(search.soft, trial.high / full.stiffness * (1 + 2 * HAIR))
    for place, margin in followed(full.judged, search.tub.setup.name).items():
        said = trial.margins.get(place, np.inf)
        if margin < said < np.inf:
            search.short[place] = search.short.get(place, 0.0) + said - margin
    if answer.weaker and trial.drops:
        fewer = {pick.region for pick in trial.picks if pick.drops}
        search.kept |= (fewer & regions_at(search.tub.model, answer.weaker)) or fewer


def _without_kept(search: Search, trial: Trial) -> Trial:
    """The choice, as it is told now, with nothing taken off where that is forbidden."""
    whole = {option.region: option for option in search.program.options if option.same}
    off = [bool(pick.drops) and pick.region in search.kept for pick in trial.picks]
    return try_out(search, [whole[p.region] if each else p for p, each in zip(trial.picks, off, strict=True)])


def _known(trial: Trial, tried: Sequence[Answer]) -> bool:
    return any((trial.texts, trial.drops) == (one.trial.texts, one.trial.drops) for one in tried)
