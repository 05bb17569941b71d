"""How many plies where: the least mass or price that is stiff and strong enough, or the stiffest that the cloth gives.

Searched in the reduced model, confirmed by a run in full, and told with the bound that no choice is below.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.planning import Schedule
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.results import Findings
from tubfem.run import Stages, run_case
from tubfem.shell.solve import Factored
from tubfem.study.answer import Answer, Asking, Full, find_answer, summary
from tubfem.study.cost import price_per_area, refuse_mixed_prices
from tubfem.study.cuts import make_program
from tubfem.study.descent import Goal
from tubfem.study.executors import SERIAL, Kept, Pool
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.study.judged import followed
from tubfem.study.options import all_options, cloth_left
from tubfem.study.reduced import galerkin
from tubfem.study.search import HAIR, Search, Trial, try_out
from tubfem.study.shares import energy_shares
from tubfem.study.store import ready
from tubfem.study.tabs import NAMED
from tubfem.study.together import together

STUDY = "schedule"
SHOWN = 5  # regions and joints that hold the rest of the twist
STIFFER = 10.0  # times: what a block would give if it were so much stiffer


@dataclass(frozen=True, slots=True)
class Block:
    """A region or joint that holds a share of the twist; `full` if it has the most plies allowed.

    `stiffness` [N·m/deg] is the tub's with this block ten times as stiff.
    """

    kind: str
    name: str
    share: float
    full: bool
    stiffness: float


@dataclass(frozen=True, eq=False, slots=True)
class Scheduled:
    """A schedule found, or how near to it the choices come.

    Attributes
    ----------
    target : [N·m/deg], None where the stiffest was asked for
    texts, drops : everything laid more, as --add takes it, and taken off, as --drop does
    plies : by place (region, "joint:A/B", "patch:NAME"), how many more, or fewer (less than 0)
    low, high : bracket of the reduced model [N·m/deg]
    confirmed, margin, place : stiffness, lowest margin and where, of a run in full; None where nothing is judged
    weaker : what else that run judges, by name, that has become negative by what is taken off
    mass, price : what the run in full weighs more [kg]; net of offcuts in `currency`
    cloth, saved : area of every ply laid more, and taken off [m²]
    worth, bound : mass (by area, corners not counted), price or stiffness, and what no choice is better than
    summed : stiffness as the bound knows it, which adds up what the choices do to one group [N·m/deg]
    possible : whether any choice meets the target in the reduced model; if not, this is the stiffest
    reached : whether the run in full does; `strong` whether no margin is negative in it
    fewer : whether plies might be taken off
    blocks : what holds the twist that is left
    """

    case: Case
    asked: Schedule
    load_case: str
    target: float | None
    before: Findings
    base_stiffness: float
    base_margin: float | None
    texts: tuple[str, ...]
    drops: tuple[str, ...]
    plies: dict[str, int]
    low: float
    high: float
    confirmed: float
    margin: float | None
    place: str
    weaker: dict[str, float]
    mass: float
    price: float | None
    currency: str | None
    cloth: dict[str, float]
    saved: dict[str, float]
    worth: float
    bound: float
    summed: float
    possible: bool
    reached: bool
    strong: bool
    fewer: bool
    blocks: tuple[Block, ...]
    choices: int
    programs: int
    snapshots: int


def schedule(
    case: Case,
    asked: Schedule | None = None,
    *,
    folder: Path | None = None,
    stages: Stages | None = None,
    pool: Pool = SERIAL,
) -> Scheduled:
    """Search the whole-ply schedule of a case.

    Parameters
    ----------
    asked
        What is wanted; what the case says under [schedule] by default.
    folder
        Where the reduced model is kept, and read again while the tub is the same.
    pool
        Where the full solves are done.

    Raises
    ------
    CaseError
        Nothing limits the search, a price is missing or in another currency, or a region has too many choices.
    """
    stages = stages or Stages()
    asked = asked or case.schedule
    left = cloth_left(case, asked)
    names = {text.partition("@")[0].partition(":")[0].strip() for text in asked.candidates} or set(case.plies)
    if asked.target is None and not names & left.keys():
        raise CaseError(
            "what for? Give --stiffness or --springs, or the cloth there is: --with 'PLY=6 m', or on_hand under [plies]"
        )
    unpriced = sorted(name for name in names if price_per_area(case.plies[name]) is None)
    if asked.least == "price" and unpriced:
        raise CaseError(f'no price per area of {", ".join(unpriced)}; write price = "13 EUR/m^2" under [plies]')
    if asked.least == "price":
        laid = {entry.name for layup in case.layups.values() for entry in layup.stack if not entry.is_core}
        refuse_mixed_prices(case, names | laid)
    factors: dict[int, Factored] = {}
    model, _, findings = run_case(case, stages=stages, solved=factors.__setitem__)
    with stages("reduced model"):
        tub, _ = ready(model, folder, factors)
    with stages("choices"):
        options = all_options(tub, asked)
        if not options:
            raise CaseError("no place may get a ply more, or have one fewer; raise most, max or fewer under [schedule]")
        if asked.target is None:  # cloth whose stock is not known cannot be given out
            left = {**dict.fromkeys(names - left.keys(), 0.0), **left}
        search = Search(tub, make_program(options, left), together(tub.model, tub.family), folder)
        search.pace = 2 if asked.symmetric else 1
    goal = Goal() if asked.target is None else Goal(_cost(search, asked), asked.target)
    before = Full(**summary(findings, tub.setup.name))
    kept = None if folder is None else Kept(folder, STUDY, fingerprint(case_key(case), model.mesh.points.tobytes()))
    answer = find_answer(search, goal, Asking(case, model.mesh, before, pool, kept, stages))
    return _scheduled(case, asked, search, findings, before, answer)


def _cost(search: Search, asked: Schedule) -> Floats:
    options = search.program.options
    mass = np.array([option.mass for option in options])
    return mass if asked.least == "mass" else np.array([option.price for option in options], dtype=float)


def _scheduled(
    case: Case, asked: Schedule, search: Search, findings: Findings, before: Full, answer: Answer
) -> Scheduled:
    name, trial, full = search.tub.setup.name, answer.trial, answer.full
    margin, place = _lowest(followed(full.judged, name))
    enough = asked.target is None or full.stiffness >= asked.target * (1 - HAIR)
    prices = [option.price for option in trial.picks]
    area: dict[str, float] = {}
    saved: dict[str, float] = {}
    for option in trial.picks:
        for ply, each in option.cloth.items():
            own = area if each > 0 else saved
            own[ply] = own.get(ply, 0.0) + abs(each)
    currencies = {price[1] for ply in area | saved if (price := price_per_area(case.plies[ply]))}
    return Scheduled(
        case=case,
        asked=asked,
        load_case=name,
        target=asked.target,
        before=findings,
        base_stiffness=search.tub.stiffness,
        base_margin=_lowest(followed(before.judged, name))[0],
        texts=trial.texts,
        drops=trial.drops,
        plies={option.region: option.plies for option in trial.picks if option.plies},
        low=trial.low,
        high=trial.high,
        confirmed=full.stiffness,
        margin=margin,
        place=place,
        weaker=answer.weaker if trial.drops else {},
        mass=full.mass - before.mass,
        price=None if None in prices or len(currencies) > 1 else sum(prices),
        currency=next(iter(currencies)) if len(currencies) == 1 else None,
        cloth=area,
        saved=saved,
        worth=_worth(asked, trial, full.stiffness, possible=answer.possible),
        bound=answer.bound,
        summed=_summed(search, trial),
        possible=answer.possible,
        reached=answer.possible and enough,
        strong=(margin is None or margin >= 0) and not (answer.weaker and trial.drops),
        fewer=any(option.drops for option in search.program.options),
        blocks=blocks(search, trial),
        choices=len(search.program.options),
        programs=search.programs,
        snapshots=len(search.tub.snapshots),
    )


def _summed(search: Search, trial: Trial) -> float:
    try:
        return try_out(search, trial.picks, bracketed=False, added=True).high
    except np.linalg.LinAlgError:  # the sum leaves nothing
        return 0.0


def _worth(asked: Schedule, trial: Trial, stiffness: float, *, possible: bool) -> float:
    """What was made least, or the stiffness that was made most."""
    if asked.target is None or not possible:
        return stiffness
    return sum(option.mass if asked.least == "mass" else option.price for option in trial.picks)


def blocks(search: Search, trial: Trial) -> tuple[Block, ...]:
    """The regions and joints that hold most of the twist that is left."""
    tub = search.tub
    most = {name: max(o.plies for o in search.program.options if o.region == name) for name in search.program.regions}
    plies = {option.region: option.plies for option in trial.picks}
    shares = energy_shares(tub, trial.b, trial.change)
    found = []
    for (kind, name), share in sorted(shares.items(), key=lambda item: -item[1])[:SHOWN]:
        change = dict(trial.change)
        for k in tub.family.named(kind, name):
            C = tub.family.groups[k].C
            before = change.get(k, np.zeros_like(C))
            change[k] = before + (STIFFER - 1) * (C + before)
        stiffer = tub.reduced.scale / float(tub.reduced.load @ galerkin(tub.reduced, change))
        place = NAMED + name if kind == "joint" else name
        full = (kind == "region" or place in most) and plies.get(place, 0) >= most.get(place, 0)
        found.append(Block(kind, name, share, full, stiffer))
    return tuple(found)


def _lowest(margins: dict[str, float]) -> tuple[float | None, str]:
    """The lowest margin and where; None where nothing is judged."""
    return min(((margin, place) for place, margin in margins.items()), default=(None, ""))
