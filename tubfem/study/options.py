"""Every whole-ply choice of every region, with what it does to the stiffness, the scales, the purse and the shelf."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tubfem.arrays import Floats
from tubfem.case.changes import parse_change
from tubfem.case.planning import Schedule
from tubfem.case.schema import Case
from tubfem.case.stuff import Stack as Entries
from tubfem.errors import CaseError
from tubfem.geometry.mesh import areas
from tubfem.laminate.stack import Stack
from tubfem.study.cost import price_per_area
from tubfem.study.laying import Key, find_seats, lay_on
from tubfem.study.side_change import side_change
from tubfem.study.store import Ready

CHOICES = 300  # of one region; more would not be searched in minutes
OTHER_SIDE = {"far": "tool", "tool": "far", "under": "over", "over": "under"}


@dataclass(frozen=True, eq=False, slots=True)
class Option:
    """One choice of one region: `texts` as --add takes them (none: as it is), `plies` how many, dC by group.

    Mass [kg], `price` in the case's currency (None where a ply has none), `cloth` the area [m²] of each ply laid.
    """

    region: str
    texts: tuple[str, ...]
    plies: int
    change: dict[int, Floats]
    stacks: dict[Key, Stack]
    mass: float
    price: float | None
    cloth: dict[str, float]


def region_options(tub: Ready, asked: Schedule) -> dict[str, tuple[Option, ...]]:
    """All choices of every region that has more than one, the one with no plies first where it is allowed.

    Raises
    ------
    CaseError
        A region has too many choices, or none; a candidate cannot lie where it is wanted.
    """
    model, family = tub.model, tub.family
    case, area = model.case, areas(model.mesh)
    found, faults = {}, []
    for region in dict.fromkeys(group.name for group in family.groups if group.kind == "region"):
        try:
            choices = list(region_texts(case, asked, region))
        except CaseError as error:
            faults += error.messages
            continue
        if not any(choices):
            continue
        seats = find_seats(model, family, area, region)
        own = []
        for texts in choices:
            laid = lay_on(model, seats, texts)
            change = dict(laid.change)
            if texts:
                change |= side_change(model, family, tub.state.shell.springs, *texts)
            plies = sum(parse_change(text).count for text in texts)
            price = _price(case, laid.cloth)
            own.append(Option(region, texts, plies, change if texts else {}, laid.stacks, laid.mass, price, laid.cloth))
        found[region] = tuple(own)
    if faults:
        raise CaseError(faults)
    return found


def region_texts(case: Case, asked: Schedule, region: str) -> Iterator[tuple[str, ...]]:
    """Texts of every choice of a region: each way to share out up to the most plies among the candidates."""
    limits = asked.regions.get(region)
    least, most = (0, asked.most) if limits is None else (limits.min, asked.most if limits.max is None else limits.max)
    names = asked.candidates or tuple(case.plies)
    each = 2 if asked.symmetric else 1
    rounds = most // each
    count = math.comb(len(names) + rounds, rounds)
    if count > CHOICES:
        raise CaseError(
            f"{region}: up to {most} plies of {len(names)} candidates are {count} choices; "
            f"name fewer candidates, or give it fewer plies under [schedule.regions]"
        )
    if least > each * rounds:
        raise CaseError(
            f"{region}: at least {least} and at most {most} plies, two at a time because symmetric, cannot be met"
        )
    stack = case.layups[region].stack
    for counts in _shares(len(names), rounds):
        if each * sum(counts) < least:
            continue
        texts = []
        for name, number in zip(names, counts, strict=True):
            if number:
                texts += _texts(region, name, number, stack, asked)
        yield tuple(texts)


def cloth_left(case: Case, asked: Schedule) -> dict[str, float]:
    """Area [m²] that can be laid of every ply whose stock is known, offcuts taken off.

    Raises
    ------
    CaseError
        Metres off a roll whose width is not given.
    """
    left = {}
    for name, ply in case.plies.items():
        stock = ply.on_hand
        if stock is None:
            continue
        if stock.unit == "m" and ply.roll_width is None:
            raise CaseError(f'{name}: {stock.amount:g} m of a roll how wide? Write roll_width = "1270 mm"')
        area = stock.amount * (1.0 if stock.unit == "m^2" else ply.roll_width)
        left[name] = area / (1 + asked.waste)
    return left


def _shares(candidates: int, rounds: int) -> Iterator[tuple[int, ...]]:
    """Whole numbers for every candidate whose sum is at most `rounds`, none first."""
    if candidates == 1:
        yield from ((k,) for k in range(rounds + 1))
        return
    for first in range(rounds + 1):
        for rest in _shares(candidates - 1, rounds - first):
            yield (first, *rest)


def _texts(region: str, candidate: str, number: int, stack: Entries, asked: Schedule) -> list[str]:
    """One candidate so many times, and the same on the other side if the lay-up is to stay symmetric."""
    wanted = parse_change(f"{region}={candidate}")
    face = wanted.face
    if face in ("far", "tool") and _covered(stack, asked.covering, last=face == "far"):
        face = "under" if face == "far" else "over"
    faces = (face,)
    if asked.symmetric:
        if face not in OTHER_SIDE:
            raise CaseError(f"{candidate}: a symmetric lay-up has plies on both faces; leave :{face} out")
        other = OTHER_SIDE[face]
        if other in ("tool", "far") and _covered(stack, asked.covering, last=other == "far"):
            other = "under" if other == "far" else "over"
        faces = (face, other)
    texts = []
    for each in faces:
        plain = candidate.partition(":")[0].strip()
        many = f"*{number}" if number > 1 else ""
        texts.append(f"{region}={plain}{many}{'' if each == 'far' else f':{each}'}")
    return texts


def _covered(stack: Entries, covering: Sequence[str], *, last: bool) -> bool:
    """Whether the outermost entry is a covering, with something else behind it."""
    names = [entry.name for entry in stack]
    return names[-1 if last else 0] in covering and len(set(names)) > 1


def _price(case: Case, cloth: dict[str, float]) -> float | None:
    total = 0.0
    for name, area in cloth.items():
        price = price_per_area(case.plies[name])
        if price is None:
            return None
        total += price[0] * area
    return total
