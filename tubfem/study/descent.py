"""Step by step from one choice to a better one: margins cannot be told by cuts, so they are followed in small steps.

Every round tries the choices a ply away from the one at hand, one place at a time, in the reduced model. What each does
to the stiffness and to every margin is added up in a program; its answer may change so many places at once, fewer where
the last answer was no better. A choice is taken only if it is better, first by what it lacks, then by what it costs, so
that no choice comes twice and the search cannot swing between stiffness and margins.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import parse_change
from tubfem.study.cuts import least
from tubfem.study.options import Option
from tubfem.study.reduced import summed
from tubfem.study.search import HAIR, Rows, Search, Trial, add_cut, picked, try_out, work_of
from tubfem.study.tabs import NAMED
from tubfem.study.weakest import JOINT
from tubfem.tub.model import plain_joint

PLACES = 8  # that one step changes, at most
STEPS = 60  # accepted, at most
PROGRAMS = 6  # for one step, whose answers turn out to lack something
SOFT = "too soft"  # in place of a place
DEARER = 24  # choices that cost more which a round tries: those of most stiffness for their cost
NEAR = 0.85  # a place used as much as this is mended by choices of its own
BETTER = 1e-7  # of the largest cost, or of stiffness: less is the same
ENOUGH = 1e-9  # of use: nothing is lacking
HEAVY = 1e3  # times the largest cost: what a use more than one counts in a program


@dataclass(frozen=True, eq=False, slots=True)
class Goal:
    """Least `cost` (o,) of the options at a stiffness `target` [N·m/deg], or without these the stiffest."""

    cost: Floats | None = None
    target: float | None = None


def descend(search: Search, start: Trial, goal: Goal) -> Trial:
    """The best choice that steps from `start` lead to: none a ply away in one place is better."""
    best, places = start, PLACES
    near = _near(search, best, goal)
    for _ in range(STEPS):
        found = _step(search, best, near, goal, places) if places > 1 else _single(search, near, goal)
        if found is not None and is_better(search, goal, found, best):
            best, places = found, min(2 * places, PLACES)
            near = _near(search, best, goal)
        elif places == 1:
            break
        else:
            places //= 2
    return best


def lacking(search: Search, trial: Trial, goal: Goal) -> float:
    """By how much a choice misses: its greatest use beyond what is allowed, or the share of stiffness it has not."""
    over = max((use_of(margin) - search.allowed.get(place, 1.0) for place, margin in trial.margins.items()), default=0)
    soft = 0.0 if goal.target is None else goal.target * search.soft * (1 - HAIR) / trial.high - 1
    return max(over, soft, 0.0)


def use_of(margin: float) -> float:
    """Use with a margin; of a margin from which more was taken off than there is, a large one."""
    return 1 / max(1 + margin, 0.05)


def worth(search: Search, trial: Trial, goal: Goal) -> float:
    """What is made least: the cost, or the work of the load where the stiffest is asked for."""
    if goal.cost is None:
        return work_of(search.tub, trial.high)
    return float(goal.cost[search.program.columns(trial.picks)].sum())


def only_more(search: Search) -> Rows:
    """Rows of a program that takes nothing away."""
    row = np.array([float(bool(option.drops)) for option in search.program.options])
    return [(row, 0.0, 0.0)] if row.any() else []


def is_better(search: Search, goal: Goal, one: Trial, other: Trial) -> bool:
    """Whether one choice lacks less than another, or costs less where both lack nothing."""
    lack = lacking(search, one, goal), lacking(search, other, goal)
    if max(lack) > ENOUGH and abs(lack[0] - lack[1]) > ENOUGH:
        return lack[0] < lack[1]
    scale = 1.0 if goal.cost is None else float(np.abs(goal.cost).max())
    return worth(search, one, goal) < worth(search, other, goal) - BETTER * scale


def _near(search: Search, trial: Trial, goal: Goal) -> dict[int, Trial]:
    """Choices with another option of one place, by the number of that option."""
    found, beside = {}, summed(search.tub.reduced, {k: (dC,) for k, dC in trial.change.items()}, 1)[0].copy()
    for number in _worth_trying(search, trial, goal):
        option = search.program.options[number]
        picks = tuple(option if pick.region == option.region else pick for pick in trial.picks)
        if not search.program.enough(picks):
            continue
        try:
            found[number] = try_out(search, picks, bracketed=False, beside=(trial.change, beside))
        except np.linalg.LinAlgError:  # plies off two regions that lap, more than there are
            continue
    return found


def _worth_trying(search: Search, trial: Trial, goal: Goal) -> Iterator[int]:
    """Options a ply away, or with nothing changed: all that are cheaper, those of places that are used most, and some.

    Those are the ones that stiffen most for their cost.
    """
    options = search.program.options
    picks = dict(zip((pick.region for pick in trial.picks), search.program.columns(trial.picks), strict=True))
    cut = add_cut(search, trial.b)
    cost = np.zeros(len(options)) if goal.cost is None else goal.cost
    used = {place for place, margin in trial.margins.items() if use_of(margin) > NEAR}
    region = {plain_joint(panel.name): panel.region for panel in search.tub.model.mesh.panels}
    touched = {region.get(part, part) for place in used for part in _parts(place)}
    rest = []
    for number, option in enumerate(options):
        now = picks[option.region]
        beside = option.same or _apart(options[now], option) <= search.pace
        if number == now or not beside or (option.drops and option.region in search.kept):
            continue
        stiffer = cut.energy[number] - cut.energy[now]
        if cost[number] < cost[now] or touched & {region.get(part, part) for part in _parts(option.region)}:
            yield number
        elif stiffer > 0:
            rest.append((stiffer / max(cost[number] - cost[now], 1e-300), number))
    yield from (number for _, number in sorted(rest, reverse=True)[:DEARER])


def _parts(place: str) -> set[str]:
    """The region that a place is, or the panels without their sides that meet in a joint."""
    return set(plain_joint(place.removeprefix(JOINT).removeprefix(NAMED)).split("/"))


def _apart(one: Option, other: Option) -> int:
    """How many plies one has that the other has not, or the other way if that is more."""
    counts = _counts(one), _counts(other)
    return max(sum((a - b).values()) for a, b in (counts, counts[::-1]))


def _counts(option: Option) -> Counter[tuple]:
    """Plies by what they are; one taken off counts for the option that leaves it on."""
    found: Counter[tuple] = Counter()
    for word, texts in (("add", option.texts), ("drop", option.drops)):
        for change in map(parse_change, texts):
            found[word, change.ply, change.angle, change.face] += change.count
    return found


def _step(search: Search, trial: Trial, near: dict[int, Trial], goal: Goal, places: int) -> Trial | None:
    """A better choice that changes so many places at most, by the sums of what each does; None if none is found.

    Where an answer lacks more than the sums have told, the difference is held back and the program solved again.
    """
    count = len(search.program.options)
    now = np.zeros(count)
    now[search.program.columns(trial.picks)] = 1.0
    known = now.copy()
    known[list(near)] = 1.0
    also = [(1.0 - known, 0.0, 0.0), (now, len(trial.picks) - float(places), np.inf)]
    before, others = _used(search, trial, goal), {number: _used(search, each, goal) for number, each in near.items()}
    rows = {name: np.zeros(count) for name in before}
    for number, own in others.items():
        for name, row in rows.items():
            row[number] = own.get(name, 0.0) - before[name]
    left = {name: search.allowed.get(name, 1.0) - use for name, use in before.items()}
    cost = rows[SOFT] if goal.cost is None else goal.cost
    scale = float(np.abs(cost).max())
    if goal.cost is None:
        left[SOFT] = np.inf
    for _ in range(PROGRAMS):
        soft = [(row, left[n]) for n, row in rows.items() if np.sort(row)[-places:].clip(min=0).sum() > left[n]]
        chosen = least(search.program, cost, (), 1.0, whole=True, also=also, soft=soft, penalty=HEAVY * scale)
        if chosen is None:
            return None
        search.programs += 1
        picks = picked(search.program, chosen.x)
        if set(search.program.columns(picks)) == set(search.program.columns(trial.picks)):
            return None
        try:
            found = try_out(search, picks, bracketed=False)
        except np.linalg.LinAlgError:
            return None
        if is_better(search, goal, found, trial):
            return found
        x = np.zeros(count)
        x[search.program.columns(picks)] = 1.0
        after = _used(search, found, goal)
        more = {name: after.get(name, 0.0) - before[name] - float(row @ x) for name, row in rows.items()}
        held = {
            name: own for name, own in more.items() if own > ENOUGH and after.get(name, 0.0) > before[name] + left[name]
        }
        if not held:
            return None
        left |= {name: left[name] - own for name, own in held.items()}
    return None


def _used(search: Search, trial: Trial, goal: Goal) -> dict[str, float]:
    """Use by place, and the work of the load as a share of what the target allows, or of the unchanged tub's."""
    aim = search.tub.stiffness if goal.target is None else goal.target * search.soft * (1 - HAIR)
    return {place: use_of(margin) for place, margin in trial.margins.items()} | {SOFT: aim / trial.high}


def _single(search: Search, near: dict[int, Trial], goal: Goal) -> Trial | None:
    """The best of the choices a ply away."""
    best = None
    for trial in near.values():
        if best is None or is_better(search, goal, trial, best):
            best = trial
    return best
