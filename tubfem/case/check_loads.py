"""Faults of subframes, pickups and load cases: names that are not there."""

from collections.abc import Iterator

from tubfem.case.check_frames import frame_faults
from tubfem.case.check_road import road_faults
from tubfem.case.faults import nearest
from tubfem.case.lines import Path
from tubfem.case.loads import Static, Torsion
from tubfem.case.road import Jacking, RoadCase, Towing
from tubfem.case.schema import Case
from tubfem.case.targets import read_target, split_side

Fault = tuple[Path, str]
Written = dict[str, list[str]]


def load_faults(case: Case, written: Written) -> Iterator[Fault]:
    """Every fault of this kind, in the order of the case."""
    yield from frame_faults(case, written)
    for name, load_case in case.load_cases.items():
        if isinstance(load_case, Torsion):
            yield from _torsion(case, ("load_cases", name), load_case, written)
        elif isinstance(load_case, Static):
            yield from _static(case, ("load_cases", name), load_case, written)
        else:
            yield from _on_wheels(case, ("load_cases", name), load_case, written)
    yield from road_faults(case, written)
    if case.vehicle is not None:
        for name, mass in case.vehicle.masses.items():
            yield from _carried(case, ("vehicle", "masses", name, "on"), mass.on, written)
    if case.modes is not None:
        for name, mass in case.modes.masses.items():
            yield from _carried(case, ("modes", "masses", name, "on"), mass.on, written)


def _torsion(case: Case, place: Path, torsion: Torsion, written: Written) -> Iterator[Fault]:
    pickups = written.get("pickups", [])
    for key, names in (("front", torsion.front), ("rear", torsion.rear)):
        for name in names:
            if name not in pickups:
                yield (*place, key), f'no pickup "{name}"{nearest(name, pickups)}'
        if case.mirror is not None and len(names) != 1:
            yield (*place, key), f'one pickup stands for both sides: {key} = "{names[0]}"'
        on_middle = [name for name in names if name in case.pickups and case.pickups[name].at[1] == 0]
        if case.mirror is not None and on_middle:
            yield ("pickups", on_middle[0], "at"), "y = 0: a pickup on the middle has no left and right to twist"
        if case.mirror is None and len(names) != 2:
            yield (*place, key), f'without mirror name the left and the right pickup: {key} = ["LEFT", "RIGHT"]'
    foremost, rearmost = (
        [case.pickups[name].at[0] for name in names if name in case.pickups] for names in (torsion.front, torsion.rear)
    )
    if foremost and rearmost and min(foremost) >= max(rearmost):
        yield (
            (*place, "front"),
            f"at {min(foremost) * 1e3:g} mm it is not in front of the rear, at {max(rearmost) * 1e3:g} mm; x runs aft. "
            "Front and rear the wrong way round, or measured forwards?",
        )


def _static(case: Case, place: Path, static: Static, written: Written) -> Iterator[Fault]:
    rigid = tuple(static.rigid)
    acting = [(("supports", i, "on"), support.on) for i, support in enumerate(static.supports)]
    acting += [(("forces", i, "on"), load.on) for i, load in enumerate(static.forces)]
    acting += [(("rigid", name, "on"), body.on) for name, body in static.rigid.items()]
    for name, mass in static.masses.items():
        yield from _carried(case, (*place, "masses", name, "on"), mass.on, written)
    pressed = [(("pressures", i, "on"), load.on) for i, load in enumerate(static.pressures)]
    probes = [(("probes", name), (point,)) for name, point in static.probes.items()]
    yield from _targets(case, place, [*acting, *pressed, *probes], written, rigid)


def _on_wheels(case: Case, place: Path, load_case: RoadCase, written: Written) -> Iterator[Fault]:
    acting = [(("on",), load_case.on)] if isinstance(load_case, Jacking | Towing) else []
    probes = [(("probes", name), (point,)) for name, point in load_case.probes.items()]
    yield from _targets(case, place, [*acting, *probes], written)


def _targets(
    case: Case, place: Path, acting: list[tuple[Path, tuple[str, ...]]], written: Written, rigid: tuple[str, ...] = ()
) -> Iterator[Fault]:
    """Faults of texts that name where something acts, at their keys under `place`."""
    for key, texts in acting:
        for text in texts:
            if _has_own_fault(case, text, written):
                continue
            try:
                target = read_target(case, text, rigid)
            except ValueError as error:
                yield (*place, *key), str(error)
                continue
            if key[0] == "pressures" and target.kind != "panel":
                yield (*place, *key), f'"{text}": a pressure acts on a panel: "panels.NAME" or "sections.NAME.WALL"'
            if key[0] == "probes" and target.kind not in ("point", "pickup", "mount", "node", "rigid"):
                yield (*place, *key), f'"{text}": a probe is a point, a pickup, a mount or "rigid.NAME"'
            if key[0] == "rigid" and target.kind not in ("point", "edge", "panel", "station"):
                yield (*place, *key), f'"{text}": a rigid set holds points, edges, panels or stations'


def _carried(case: Case, place: Path, on: tuple[str, ...], written: Written) -> Iterator[Fault]:
    for text in on:
        if not _has_own_fault(case, text, written):
            try:
                read_target(case, text)
            except ValueError as error:
                yield place, str(error)


def _has_own_fault(case: Case, text: str, written: Written) -> bool:
    """Whether the text names a table that was written but is told elsewhere to be wrong."""
    plain = split_side(text)[0] if case.mirror is not None else text
    family, _, rest = plain.partition(".")
    name = rest.partition(".")[0] if family in ("panels", "sections", "stations") else plain
    families = (family,) if family in ("panels", "sections", "stations") else ("points", "pickups", "mounts")
    return any(name in written.get(each, []) and name not in getattr(case, each) for each in families)
