"""Every whole-ply choice of every region, tab and patch: what it does to stiffness, scales, purse and shelf."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import add_plies, parse_change, tab_kind
from tubfem.case.faults import nearest
from tubfem.case.planning import Schedule
from tubfem.case.schema import Case
from tubfem.case.stuff import Stack as Entries
from tubfem.errors import CaseError
from tubfem.geometry.mesh import areas
from tubfem.laminate.stack import Stack
from tubfem.study.cost import price_per_area
from tubfem.study.dropping import fewer_texts, take_off
from tubfem.study.laying import Key, Laid, find_seats, lay_on
from tubfem.study.reduced import galerkin
from tubfem.study.shares import energy_shares
from tubfem.study.side_change import side_change
from tubfem.study.store import Ready
from tubfem.study.tabs import NAMED, Tabs, tab_change, tabs_of
from tubfem.tub.further import FURTHER, laid_patches
from tubfem.tub.plies import cured_layers

CHOICES = 300  # of one region; more would not be searched in minutes
IDLE = 5e-4  # share of the twist: the tab of a joint that holds less gets no choice
NOTHING = Laid({}, {}, 0.0, 0.0, {})
PATCH = "patch:"  # before a patch's name, as --add takes it
OTHER_SIDE = {"far": "tool", "tool": "far", "under": "over", "over": "under"}


@dataclass(frozen=True, eq=False, slots=True)
class Option:
    """One choice of one place: `texts` as --add takes them, `drops` as --drop does (neither: as it is), dC by group.

    `region` is the place: a region, "joint:A/B" (the tab of one joint) or "patch:NAME" (of [patches], or a mount's).
    `plies` how many more, mass [kg], `price` in the case's currency (None where a ply has none) and `cloth`, the area
    [m²] of each ply, are less than 0 where plies are taken off.
    """

    region: str
    texts: tuple[str, ...]
    plies: int
    change: dict[int, Floats]
    stacks: dict[Key, Stack]
    mass: float
    price: float | None
    cloth: dict[str, float]
    drops: tuple[str, ...] = ()

    @property
    def same(self) -> bool:
        """Whether the place stays as it is."""
        return not self.texts and not self.drops


def all_options(tub: Ready, asked: Schedule) -> dict[str, tuple[Option, ...]]:
    """All choices of every place that has more than one, the one with no plies first where it is allowed.

    Raises
    ------
    CaseError
        A place has too many choices, or none; a candidate cannot lie where it is wanted; a joint has no such tab.
    """
    model = tub.model
    area = areas(model.mesh)
    regions = dict.fromkeys(group.name for group in tub.family.groups if group.kind == "region")
    tabs = {tabs.target: tabs for tabs in tabs_of(model)}
    makers = {region: partial(_region_options, tub, asked, area, region) for region in regions}
    shares = energy_shares(tub, galerkin(tub.reduced, {}), {})
    for place, own in tabs.items():
        if shares.get(("joint", own.name), 0.0) >= IDLE or place in asked.regions:
            makers[place] = partial(_tab_options, tub, asked, own)
    for name in laid_patches(model.case):
        makers[f"patch:{name}"] = partial(_patch_options, tub, asked, area, f"patch:{name}")
    named = [name for name in asked.regions if name.startswith(NAMED) and name not in tabs]
    faults = [f'no joint "{name.removeprefix(NAMED)}" with a tab{nearest(name, tabs)}' for name in named]
    found = {}
    for place, make in makers.items():
        try:
            options = tuple(make())
        except CaseError as error:
            faults += error.messages
            continue
        if any(option.plies for option in options):
            found[place] = options
    if faults:
        raise CaseError(faults)
    return found


def _region_options(tub: Ready, asked: Schedule, area: Floats, region: str) -> Iterator[Option]:
    model, family = tub.model, tub.family
    choices = list(region_texts(model.case, asked, region))
    fewer = [] if asked.target is None else list(_fewer_options(tub, asked, area, region))
    if any(choices):
        seats = find_seats(model, family, area, region)
        for texts in choices:
            laid = lay_on(model, seats, texts) if texts else NOTHING
            change = dict(laid.change)
            if texts:
                change |= side_change(model, family, tub.state.shell.springs, *texts)
            yield _option(model.case, region, texts, replace(laid, change=change))
    elif fewer:
        yield _option(model.case, region, (), NOTHING)
    yield from fewer


def _fewer_options(tub: Ready, asked: Schedule, area: Floats, region: str) -> Iterator[Option]:
    """Choices with plies taken off; where the least price is asked for, of plies that have one."""
    model, springs = tub.model, tub.state.shell.springs
    for texts in fewer_texts(model.case, asked, region):
        try:
            laid = take_off(model, tub.family, springs, area, region, texts)
        except np.linalg.LinAlgError:  # nothing would hold some element
            continue
        option = _option(model.case, region, (), laid)
        if asked.least == "mass" or option.price is not None:
            yield replace(option, drops=texts, plies=-sum(parse_change(text).count for text in texts))


def _patch_options(tub: Ready, asked: Schedule, area: Floats, place: str) -> Iterator[Option]:
    model = tub.model
    choices = list(single_texts(model.case, asked, place))
    if not any(choices):
        return
    seats = find_seats(model, tub.family, area, place)
    made = 0
    for texts in choices:
        laid = lay_on(model, seats, texts) if texts else NOTHING
        if laid.change or not texts:
            made += 1
            yield _option(model.case, place, texts, laid)
    if not made:
        raise CaseError(f"{place}: nothing of it lies where the mesh can tell, so that no plies more can be laid")


def _tab_options(tub: Ready, asked: Schedule, tabs: Tabs) -> Iterator[Option]:
    case = tub.model.case
    for texts in single_texts(case, asked, tabs.target):
        change = tab_change(tub.model, tub.family, tabs, texts) if texts else {}
        cloth = {each.ply: tabs.area * each.count for each in map(parse_change, texts)}
        mass = sum(
            area * sum(ply.areal_mass for _, ply in cured_layers(case, name, None)) for name, area in cloth.items()
        )
        yield _option(case, tabs.target, texts, Laid(change, {}, mass, sum(cloth.values()), cloth))


def _option(case: Case, place: str, texts: tuple[str, ...], laid: Laid) -> Option:
    plies = sum(parse_change(text).count for text in texts)
    price = _price(case, laid.cloth)
    return Option(place, texts, plies, laid.change, laid.stacks, laid.mass, price, laid.cloth)


def single_texts(case: Case, asked: Schedule, place: str) -> Iterator[tuple[str, ...]]:
    """Texts of every choice of a tab or patch: nothing, or up to the most plies of one candidate, faces left out.

    A candidate for another face than the one last laid does not go there. Each ply more of a stepped patch ends inside
    the one before, so that there are no more than find room.

    Raises
    ------
    CaseError
        More plies are asked for than can be laid.
    """
    least, most = asked.limits(place)
    names = [name for name in asked.candidates or case.plies if parse_change(f"{place}={name}").face == "far"]
    if place.startswith(PATCH) and laid_patches(case)[place.removeprefix(PATCH)].stagger:
        most = min(most, FURTHER)
    found = 0
    if least == 0:
        found += 1
        yield ()
    for name in names:
        for number in range(max(least, 1), most + 1):
            text = f"{place}={name}{f'*{number}' if number > 1 else ''}"
            try:
                add_plies(case, text)
            except CaseError:  # no room
                break
            found += 1
            yield (text,)
    if not found:
        raise CaseError(f"{place}: at least {least} plies more of one candidate cannot be laid")


def entries_of(case: Case, place: str) -> Entries:
    """What lies in a place: a region's stack, a patch's plies, the tab of a joint."""
    if place.startswith(PATCH):
        return laid_patches(case)[place.removeprefix(PATCH)].entries
    if place.startswith(NAMED):
        return tab_kind(case, place.removeprefix(NAMED)).tab
    return case.layups[place].stack


def region_texts(case: Case, asked: Schedule, region: str) -> Iterator[tuple[str, ...]]:
    """Texts of every choice of a region: each way to share out up to the most plies among the candidates."""
    least, most = asked.limits(region)
    least = max(least, 0)
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
            raise CaseError(
                f"{stock.amount:g} m of {name} off a roll how wide? Give plies.{name} its "
                'roll_width = "1270 mm", or write an area, "5 m^2"'
            )
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
