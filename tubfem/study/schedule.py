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
from tubfem.run import Stages, change_case, run_case
from tubfem.shell.solve import Factored
from tubfem.study.cost import price_per_area
from tubfem.study.cuts import make_program
from tubfem.study.options import all_options, cloth_left
from tubfem.study.reduced import galerkin
from tubfem.study.search import HAIR, Search, Trial, cheapest, exclude, stiffest, try_out, with_margins
from tubfem.study.shares import energy_shares
from tubfem.study.store import ready
from tubfem.study.tabs import NAMED
from tubfem.study.weakest import weakest_of

CONFIRMS = 6  # runs in full before the last one is given as it is
EXCLUDED = 3  # choices that fall short in full are excluded one by one so often; then the target is raised
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
    texts : everything laid more, as --add takes it
    plies : by place (region, "joint:A/B", "patch:NAME"), how many
    low, high : bracket of the reduced model [N·m/deg]
    confirmed, margin, place : stiffness, lowest margin and where, of a run in full
    mass, price : what the run in full weighs more [kg]; net of offcuts in `currency`
    cloth : area laid of every ply [m²]
    worth, bound : mass (by area, corners not counted), price or stiffness, and what no choice is better than
    possible : whether any choice meets the target in the reduced model; if not, this is the stiffest
    reached : whether the run in full does; `strong` whether no margin is negative in it
    blocks : what holds the twist that is left
    """

    case: Case
    asked: Schedule
    load_case: str
    target: float | None
    before: Findings
    base_stiffness: float
    base_margin: float
    texts: tuple[str, ...]
    plies: dict[str, int]
    low: float
    high: float
    confirmed: float
    margin: float
    place: str
    mass: float
    price: float | None
    currency: str | None
    cloth: dict[str, float]
    worth: float
    bound: float
    possible: bool
    reached: bool
    strong: bool
    blocks: tuple[Block, ...]
    choices: int
    programs: int
    snapshots: int


def schedule(
    case: Case, asked: Schedule | None = None, *, folder: Path | None = None, stages: Stages | None = None
) -> Scheduled:
    """Search the whole-ply schedule of a case.

    Parameters
    ----------
    asked
        What is wanted; what the case says under [schedule] by default.
    folder
        Where the reduced model is kept, and read again while the tub is the same.

    Raises
    ------
    CaseError
        Nothing limits the search, a price is missing, or a region has too many choices.
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
    factors: dict[int, Factored] = {}
    model, _, findings = run_case(case, stages=stages, solved=factors.__setitem__)
    with stages("reduced model"):
        tub, _ = ready(model, folder, factors)
    with stages("choices"):
        options = all_options(tub, asked)
        if not options:
            raise CaseError("no place may get a ply more; raise most or max under [schedule]")
        if asked.target is None:  # cloth whose stock is not known cannot be given out
            left = {**dict.fromkeys(names - left.keys(), 0.0), **left}
        search = Search(tub, make_program(options, left), findings, folder)
    with stages("search"):
        trial, bound, possible = _found(search, asked)
    return _confirmed(case, asked, search, trial, bound, possible, stages)


def _found(search: Search, asked: Schedule) -> tuple[Trial, float, bool]:
    """The choice, the bound of what was asked for, and whether a target is met."""
    if asked.target is not None:
        trial, bound = cheapest(search, _cost(search, asked), asked.target)
        if trial is not None:
            return _mended(search, asked, asked.target, trial), bound, True
    trial, bound = stiffest(search)
    return _mended(search, asked, None, trial), bound, asked.target is None


def _mended(search: Search, asked: Schedule, target: float | None, trial: Trial) -> Trial:
    """The choice without negative margins that comes after it, or itself where nothing mends them."""

    def again() -> Trial | None:
        return stiffest(search)[0] if target is None else cheapest(search, _cost(search, asked), target)[0]

    return with_margins(search, trial, again) or trial


def _cost(search: Search, asked: Schedule) -> Floats:
    options = search.program.options
    mass = np.array([option.mass for option in options])
    return mass if asked.least == "mass" else np.array([option.price for option in options], dtype=float)


def _confirmed(
    case: Case, asked: Schedule, search: Search, trial: Trial, bound: float, possible: bool, stages: Stages
) -> Scheduled:
    """The choice by a run in full; searched again where the run finds it too soft, or weak where it was not."""
    name, mesh = search.tub.setup.name, search.tub.model.mesh
    for number in range(CONFIRMS):
        with stages("confirm"):
            _, _, findings = run_case(change_case(case, add=trial.texts), base=case, mesh=mesh)
        stiffness = findings.load_cases[name].torsion.pickup_to_pickup
        margin, place = _lowest(findings, name)
        soft = asked.target is not None and possible and stiffness < asked.target * (1 - HAIR)
        if number == CONFIRMS - 1 or not (soft or margin < 0 <= trial.margin):
            break
        with stages("search"):
            if soft:
                exclude(search, trial)
                wanted = asked.target if number < EXCLUDED else asked.target * trial.high / stiffness * (1 + 2 * HAIR)
                again, lower = cheapest(search, _cost(search, asked), wanted)
                bound = lower if number < EXCLUDED and again is not None and not search.banned else bound
                again = None if again is None else _mended(search, asked, wanted, again)
            else:
                said = trial.margins.get(place, trial.margin)
                search.short[place] = search.short.get(place, 0.0) + said - margin
                again = _mended(search, asked, asked.target if possible else None, try_out(search, trial.picks))
        if again is None or again.texts == trial.texts:
            break
        trial = again
    enough = asked.target is None or stiffness >= asked.target * (1 - HAIR)
    prices = [option.price for option in trial.picks]
    cloth: dict[str, float] = {}
    for option in trial.picks:
        for ply, area in option.cloth.items():
            cloth[ply] = cloth.get(ply, 0.0) + area
    currencies = {price_per_area(case.plies[ply])[1] for ply in cloth if price_per_area(case.plies[ply])}
    base = search.findings
    return Scheduled(
        case=case,
        asked=asked,
        load_case=name,
        target=asked.target,
        before=base,
        base_stiffness=search.tub.stiffness,
        base_margin=_lowest(base, name)[0],
        texts=trial.texts,
        plies={option.region: option.plies for option in trial.picks if option.plies},
        low=trial.low,
        high=trial.high,
        confirmed=stiffness,
        margin=margin,
        place=place,
        mass=findings.mass.total - base.mass.total,
        price=None if None in prices else sum(prices),
        currency=currencies.pop() if len(currencies) == 1 else None,
        cloth=cloth,
        worth=_worth(asked, trial, stiffness, possible=possible),
        bound=bound,
        possible=possible,
        reached=possible and enough,
        strong=margin >= 0,
        blocks=blocks(search, trial),
        choices=len(search.program.options),
        programs=search.programs,
        snapshots=len(search.tub.snapshots),
    )


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


def _lowest(findings: Findings, name: str) -> tuple[float, str]:
    """Lowest margin of regions and joints, and where."""
    found = weakest_of(findings.load_cases[name])
    return np.inf if found.margin is None else found.margin, found.place
