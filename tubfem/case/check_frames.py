"""Faults of subframes and pickups: names that are not there, tubes that lead nowhere."""

from collections.abc import Iterator

from tubfem.case.faults import nearest
from tubfem.case.joining import Pickup, Subframe
from tubfem.case.lines import Path
from tubfem.case.schema import Case
from tubfem.case.targets import mates, split_side

Fault = tuple[Path, str]
Written = dict[str, list[str]]


def frame_faults(case: Case, written: Written) -> Iterator[Fault]:
    """Every fault of this kind, in the order of the case."""
    mounts = written.get("mounts", [])
    for name, subframe in case.subframes.items():
        yield from _unmatched(("subframes", name, "bolts"), subframe.bolts, mounts)
        yield from _nodes(case, ("subframes", name), subframe, written)
        yield from _tubes(case, ("subframes", name), subframe)
    for name, pickup in case.pickups.items():
        if pickup.carried_by is not None:
            yield from _unmatched(("pickups", name, "carried_by"), pickup.carried_by, mounts)
        elif pickup.on is not None:
            yield from _pickup(case, ("pickups", name, "on"), pickup, written.get("subframes", []))


def carrier(pickup: Pickup) -> tuple[str, str | None]:
    """Subframe and, where it is said, node that a pickup `on` one hangs on."""
    name, _, node = (pickup.on or "").removeprefix("subframes.").partition(".")
    return name, node or None


def _unmatched(place: Path, patterns: tuple[str, ...], mounts: list[str]) -> Iterator[Fault]:
    for pattern in patterns:
        if not mates(mounts, (pattern,)):
            close = f"; there are {', '.join(mounts)}" if mounts and "*" in pattern else nearest(pattern, mounts)
            yield place, f'"{pattern}" matches no mount{close}'


def _pickup(case: Case, place: Path, pickup: Pickup, subframes: list[str]) -> Iterator[Fault]:
    name, node = carrier(pickup)
    if name not in subframes:
        yield place, f'no subframe "{name}"{nearest(name, subframes)}'
    elif node is not None and name in case.subframes and node not in case.subframes[name].nodes:
        what = nearest(node, case.subframes[name].nodes) or "; it is rigid and has none"
        yield place, f'subframes.{name} has no node "{node}"{what}'


def _nodes(case: Case, place: Path, subframe: Subframe, written: Written) -> Iterator[Fault]:
    known = {family: written.get(family, []) for family in ("mounts", "pickups")}
    used = {split_side(end)[0] for tube in subframe.tubes for end in (tube.from_, tube.to)}
    for name, at in subframe.nodes.items():
        if isinstance(at, str):
            families = [family for family, names in known.items() if at in names]
            if not families:
                every = [each for names in known.values() for each in names]
                yield (*place, "nodes", name), f'"{at}" is no mount and no pickup{nearest(at, every)}'
            if len(families) > 1:
                text = f'"{at}" is the name of a mount and of a pickup; give them different names, or write the point'
                yield (*place, "nodes", name), text
        if name not in used:
            yield (*place, "nodes", name), "no tube ends on this node"


def _tubes(case: Case, place: Path, subframe: Subframe) -> Iterator[Fault]:
    for index, tube in enumerate(subframe.tubes):
        for key, end in (("from", tube.from_), ("to", tube.to)):
            plain = split_side(end)[0] if case.mirror is not None else end
            if plain not in subframe.nodes:
                yield (*place, "tubes", index, key), f'no node "{end}"{nearest(plain, subframe.nodes)}'
        if tube.from_ == tube.to:
            at = subframe.nodes.get(tube.from_)
            middle = isinstance(at, tuple) and at[1] == 0
            if case.mirror is None or split_side(tube.to)[1] is not None or middle:
                yield (*place, "tubes", index), f"from {tube.from_} to itself: a tube has two ends"
