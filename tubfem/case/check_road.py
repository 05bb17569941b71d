"""Faults of the car round the tub: axles with their members, and load cases of a car on its wheels."""

import math
from collections.abc import Iterator

from tubfem.case.faults import nearest
from tubfem.case.lines import Path
from tubfem.case.road import ROAD, Combination
from tubfem.case.schema import Case
from tubfem.case.vehicle import UPRIGHT, Axle, Link, OnArm

Fault = tuple[Path, str]
SHORT = 1e-3  # m: no member is this short


def road_faults(case: Case, written: dict[str, list[str]]) -> Iterator[Fault]:
    """Every fault of this kind but targets, in the order of the case."""
    for name, axle in case.axles.items():
        yield from _axle(case, ("axles", name), axle, written.get("pickups", []))
    if {"front", "rear"} <= set(case.axles) and case.axles["front"].contact[0] >= case.axles["rear"].contact[0]:
        yield ("axles", "front", "contact"), "the front wheel stands behind the rear one; x runs aft"
    on_wheels = [name for name, table in case.load_cases.items() if isinstance(table, ROAD)]
    if on_wheels:
        yield from _car(case, ("load_cases", on_wheels[0]), written)
    for name, load_case in case.load_cases.items():
        if isinstance(load_case, Combination):
            yield from _combination(case, ("load_cases", name, "of"), load_case, written.get("load_cases", []))


def _car(case: Case, place: Path, written: dict[str, list[str]]) -> Iterator[Fault]:
    """What load cases on wheels need besides their own tables, told at the first of them."""
    missing = [end for end in ("front", "rear") if end not in case.axles and end not in written.get("axles", [])]
    if case.mirror is None:
        yield place, 'a car on its wheels needs mirror = "y": one half written, wheels on both sides'
    if missing:
        which = " and ".join(f"[axles.{end}]" for end in missing)
        yield place, f"the car needs wheels to stand on: write {which} with contact, hub and links or pickups"
    if case.vehicle is None and "vehicle" not in written:
        yield (
            place,
            'what does the tub carry? write [vehicle] with masses.NAME = { mass = "80 kg", on = "...", at = .. }',
        )


def _combination(case: Case, place: Path, combination: Combination, written: list[str]) -> Iterator[Fault]:
    for name in combination.of:
        if name not in written:
            yield (*place, name), f'no load case "{name}"{nearest(name, written)}'
        elif isinstance(case.load_cases.get(name), Combination):
            yield (*place, name), f'"{name}" is a combination itself; add up its own load cases'


def _axle(case: Case, place: Path, axle: Axle, pickups: list[str]) -> Iterator[Fault]:
    for key in ("pickups", "pivots"):
        for pickup in getattr(axle, key):
            yield from _pickup((*place, key), pickup, pickups)
    for name, arm in axle.arms.items():
        for pickup in arm.pivots:
            yield from _pickup((*place, "arms", name, "pivots"), pickup, pickups)
        if arm.ball is None and not any(_on(end) == name for link in axle.links.values() for end in link.ends):
            yield (
                (*place, "arms", name),
                'nothing but the tub is on it: give ball = [..], or a link\'s end { on = ".." }',
            )
    for name, link in axle.links.items():
        yield from _link(case, (*place, "links", name), link, axle, pickups)
    if axle.pickups:
        return
    found, needed = _count(case, axle)
    if found < needed:
        bodies = ", ".join([UPRIGHT, *axle.arms])
        yield (
            place,
            f"{found} forces hold {bodies}, {needed} are needed (six for each): a link gives one, a ball three; "
            "is the spring, the tie rod or a link missing?",
        )


def _count(case: Case, axle: Axle) -> tuple[int, int]:
    """Forces that hold the upright and arms of one side (a live axle: of both), and how many are needed."""
    both = 2 if axle.live else 1
    links = sum(1 if link.only is not None or _is_middle(case, link) else both for link in axle.links.values())
    if not axle.live:
        links = sum(link.only is None or link.only == "right" for link in axle.links.values())
    arms = axle.arms.values()
    balls = len(axle.pivots) + sum(len(arm.pivots) + (arm.ball is not None) for arm in arms)
    return links + 3 * both * balls, 6 * (1 + both * len(arms))


def _is_middle(case: Case, link: Link) -> bool:
    """Whether a link lies in the middle of the car, its own mirror image."""
    at = [end_place(case, end) for end in link.ends]
    return all(place is not None and place[1] == 0 for place in at)


def end_place(case: Case, end: str | tuple[float, ...] | OnArm) -> tuple[float, ...] | None:
    """Where a link's end is, as written [m]; None for a pickup that is not there."""
    if isinstance(end, str):
        return case.pickups[end].at if end in case.pickups else None
    return end.at if isinstance(end, OnArm) else end


def _on(end: str | tuple[float, ...] | OnArm) -> str | None:
    """The body that a link's end is on; None for the tub."""
    if isinstance(end, str):
        return None
    return end.on if isinstance(end, OnArm) else UPRIGHT


def _link(case: Case, place: Path, link: Link, axle: Axle, pickups: list[str]) -> Iterator[Fault]:
    bodies = [UPRIGHT, *axle.arms]
    sound = True
    for key, end in (("from", link.from_), ("to", link.to)):
        if isinstance(end, str):
            found = list(_pickup((*place, key), end, pickups))
            sound &= not found
            yield from found
        elif _on(end) not in bodies:
            sound = False
            yield (*place, key), f'on = "{_on(end)}": no such arm{nearest(_on(end), bodies)}'
    if not sound:
        return
    if _on(link.from_) == _on(link.to):
        where = "the tub" if _on(link.to) is None else f"the {_on(link.to)}"
        yield place, f"both its ends are on {where}, so it holds nothing"
    ends = [end_place(case, end) for end in link.ends]
    if None not in ends and math.dist(*ends) < SHORT:
        yield place, "its two ends are the same point; a member needs a length to have a direction"
    if link.only is not None and not axle.live:
        yield (*place, "only"), "a link on one side alone belongs to live = true; else each wheel needs its own"


def _pickup(place: Path, name: str, pickups: list[str]) -> Iterator[Fault]:
    if name not in pickups:
        yield place, f'no pickup "{name}"{nearest(name, pickups)}'
