"""Faults of layups, joints, mounts and patches that need no geometry: names, cores and plies taken for each other."""

from collections.abc import Iterator
from typing import Any

from tubfem.case.check_shapes import reference_fault
from tubfem.case.faults import nearest
from tubfem.case.joining import LARGER_INSERT, Mount
from tubfem.case.joint_table import joint_parts, known_parts
from tubfem.case.lines import Path
from tubfem.case.regions import core_under, laid_more, recess_regions, regions, section_walls, wall_region
from tubfem.case.schema import Case
from tubfem.case.stuff import Ply, StackEntry

Fault = tuple[Path, str]
Written = dict[str, list[str]]
THICK, WIDE, ROUND = 0.3, 0.5, 0.1  # m: no core of a panel, leg of a tab, fillet is more; it is a slip in the unit


def laid_faults(case: Case, raw: dict[str, Any], written: Written) -> Iterator[Fault]:
    """Every fault of this kind, in the order of the case."""
    for name, ply in case.plies.items():
        if ply.is_cloth:
            yield from _cloth(("plies", name), ply)
    yield from _layups(case, raw, written)
    yield from _regions(case, written)
    yield from _laps(case, raw, written)
    yield from _tapers(case)
    for name, kind in case.joint_kinds.items():
        family = "joints" if "/" in name else "joint_kinds"
        yield from _plies(case, (family, name, "tab"), kind.tab, written)
        for key, size, most in (("width", kind.width or 0.0, WIDE), ("fillet", kind.fillet, ROUND)):
            if size > most:
                yield (family, name, key), f"{size:g} m is no {key} of a joint, mind the unit; {most:g} m at most"
    yield from _joints(case, written)
    for name, mount in case.mounts.items():
        place = ("mounts", name)
        yield from _plies(case, (*place, "patch"), mount.patch, written)
        default = _table(raw, "defaults").get("mount", {})
        for key in ("bolt", "radius"):
            if getattr(mount, key) is None and isinstance(default, dict) and key not in default:
                example = '"M10"' if key == "bolt" else "30"
                yield place, f"{key} is missing: write {key} = {example} here or in [defaults] mount = {{ ... }}"
        if mount.insert is not None and mount.radius is not None and mount.insert_radius > mount.radius:
            yield (*place, "insert"), LARGER_INSERT
        if mount.on is not None and (text := deep_insert(case, mount, mount.on)):
            yield (*place, "insert", "depth"), text
        if mount.on is None and len(mount.at) == 2:
            yield place, "two numbers are tape on a panel: say on = PANEL, or write three"
        yield from _on(case, place, mount.on, written)
    for name, patch in case.patches.items():
        place = ("patches", name)
        yield from _plies(case, (*place, "ply"), patch.ply, written)
        yield from _on(case, place, patch.on, written)
        if patch.at is not None and patch.on is None and len(patch.at) == 2:
            yield place, "two numbers are tape on a panel: say on = PANEL, or write three"
        if patch.around is not None:
            yield from _around(case, place, patch.around, patch.on, written)
        for key, station in (("from", patch.from_), ("to", patch.to)):
            if station is not None and station not in written.get("stations", []):
                yield (*place, key), f'no station "{station}"{nearest(station, written.get("stations", []))}'
    for name, stiffener in case.stiffeners.items():
        yield from _on(case, ("stiffeners", name), stiffener.on, written)
        for index, point in enumerate(stiffener.path):
            if isinstance(point, str) and (text := reference_fault(case, point, written, station="needed")):
                yield ("stiffeners", name, "path", index), text


def deep_insert(case: Case, mount: Mount, part: str) -> str | None:
    """Words if a mount's insert is deeper than the core of the panel or "SECTION.WALL" that it is on."""
    core = core_under(case, part)
    if mount.insert is None or mount.insert.depth is None or not 0 < core < mount.insert.depth - 1e-9:
        return None
    return (
        f"{mount.insert.depth * 1e3:g} mm into the core of {part}, which is {core * 1e3:g} mm thick; leave depth out "
        "where it goes through"
    )


def _table(raw: dict[str, Any], key: str) -> dict[str, Any]:
    """A table as written; empty if it is absent or no table."""
    table = raw.get(key)
    return table if isinstance(table, dict) else {}


def _cloth(place: Path, ply: Ply) -> Iterator[Fault]:
    if ply.resin is None:
        yield place, 'laid with which resin? Write resin = "epoxy, room-temperature cure" here or in [defaults]'
    if ply.process is None and ply.fibre_fraction is None and ply.mass_fraction is None and ply.thickness is None:
        yield place, 'how much resin stays in it? Write process = "hand" here or in [defaults], or a fibre_fraction'


def _own_entries(case: Case, raw: dict[str, Any]) -> Iterator[tuple[str, Path, StackEntry]]:
    """Entries of every layup where they are written, not where they are copied: layup, place, entry."""
    for name, table in _table(raw, "layups").items():
        if name not in case.layups:
            continue
        stack = case.layups[name].stack
        if isinstance(table, list):
            yield from ((name, ("layups", name, index), entry) for index, entry in enumerate(stack))
            continue
        added = len(table.get("add", ()))
        base = len(stack) - added
        if "same_as" not in table:
            yield from ((name, ("layups", name, "stack", index), entry) for index, entry in enumerate(stack[:base]))
        yield from ((name, ("layups", name, "add", index), entry) for index, entry in enumerate(stack[base:]))


def _layups(case: Case, raw: dict[str, Any], written: Written) -> Iterator[Fault]:
    for _, place, entry in _own_entries(case, raw):
        if text := _entry_fault(entry, written):
            yield place, text


def _entry_fault(entry: StackEntry, written: Written) -> str | None:
    plies, cores = written.get("plies", []), written.get("cores", [])
    if entry.name in plies:
        return f"{entry.name} is a ply, which brings its own thickness" if entry.is_core else None
    if entry.name in cores:
        if not entry.is_core:
            return f'{entry.name} is a core, say how thick: "{entry.name} 15 mm"'
        thick = entry.thickness > THICK
        return f"{entry.thickness:g} m is no core of a panel, mind the unit; {THICK:g} m at most" if thick else None
    what, family = ("core", cores) if entry.is_core else ("ply", [*plies, *cores])
    return f'no {what} "{entry.name}"{nearest(entry.name, family)}'


def _plies(case: Case, path: Path, entries: tuple[StackEntry, ...], written: Written) -> Iterator[Fault]:
    for index, entry in enumerate(entries):
        place = (*path, index) if (*path, index) in case.lines else path
        if entry.is_core or entry.name in written.get("cores", []):
            yield place, f"{entry.name} is a core; only plies are laid here"
        elif text := _entry_fault(entry, written):
            yield place, text


def _regions(case: Case, written: Written) -> Iterator[Fault]:
    laid = written.get("layups", [])
    for name in laid:
        layup = case.layups.get(name)
        if layup is not None and not layup.stack:
            yield ("layups", name, "same_as"), f"leads to no schedule{nearest(name, [n for n in laid if n != name])}"
    missing = {region: parts for region, parts in regions(case).items() if region not in {*laid, *case.layups}}
    for name, panel in case.panels.items():
        for recess_name, recess in panel.recesses.items():
            bottom, walls = recess_regions(name, recess_name, recess)
            for key, region in (("layup", bottom), ("walls", walls)):
                if missing.pop(region, None) and getattr(recess, key) is not None:
                    yield (
                        ("panels", name, "recesses", recess_name),
                        f'region "{region}" (recess of {name}) has no layup; add layups.{region} or leave {key} out '
                        f"to use {name}'s plies without core",
                    )
    for region, parts in missing.items():
        family = "panels" if parts[0] in case.panels else "sections"
        place = (family, parts[0].split(".")[0])
        yield place, f'region "{region}" has no layup; add layups.{region}{nearest(region, laid)}'
    for region, parts in regions(case).items():
        family, own = _of_that_name(case, region)
        if own and set(parts) != own:
            what = f'region "{region}" is {", ".join(parts)}, not the {family[:-1]} of that name'
            yield (family, region), f"{what}; give the region a name of its own"


def _of_that_name(case: Case, region: str) -> tuple[str, set[str]]:
    """The panel or section called as a region, and what it is made of."""
    if region in case.panels:
        return "panels", {region}
    if region in case.sections:
        return "sections", {f"{region}.{wall}" for wall in section_walls(case.sections[region])}
    return "", set()


def _laps(case: Case, raw: dict[str, Any], written: Written) -> Iterator[Fault]:
    parts = regions(case)
    known = {**parts, **{part: () for part in known_parts(case)}}
    for name, place, entry in _own_entries(case, raw):
        for region, lap in entry.laps.items():
            if region not in known:
                if region not in (*written.get("panels", []), *written.get("sections", [])):
                    yield place, f'laps onto "{region}": no such region{nearest(region, parts)}'
            elif region == name:
                yield place, f"laps onto {name}, the region it is laid in"
            elif lap.over is not None and region in case.layups and lap.over > len(case.layups[region].stack):
                count = len(case.layups[region].stack)
                yield place, f"laps over entry {lap.over} of {region}, which has {count} entries"


def _tapers(case: Case) -> Iterator[Fault]:
    """Tapers of `layup_from`: the schedule has to be the wall's own with plies more."""
    for name, section in case.sections.items():
        for index, bay in enumerate(section.layup_from):
            base = wall_region(name, section, bay.wall)
            if bay.taper is None or bay.wall not in section.walls or not {bay.layup, base} <= set(case.layups):
                continue
            own = case.layups[bay.layup].stack
            more = laid_more(own, case.layups[base].stack)
            if more is None:
                text = (
                    f"layups.{bay.layup} does not hold all that {base} has, in its order; write same_as = "
                    f'"{base}", add = [...], or what is laid more as entries of its own'
                )
            elif not more:
                text = f"nothing to end: layups.{bay.layup} has no ply more than {base}"
            elif any(own[place].is_core for place, _ in more):
                text = f"layups.{bay.layup} has a core more than {base}; only plies end one after another"
            else:
                continue
            yield ("sections", name, "layup_from", index, "taper"), text


def _joints(case: Case, written: Written) -> Iterator[Fault]:
    kinds = written.get("joint_kinds", [])
    parts = known_parts(case)
    for name, kind in case.joints.items():
        both = joint_parts(name)
        if both is None:
            yield ("joints", name), 'a joint\'s name is "A/B", with "*" for any and ".1", ".2" for one line of several'
            continue
        for part in both[:2]:
            base = part.split(".")[0]
            unsound = base in {*written.get("panels", []), *written.get("sections", [])} - {
                *case.panels,
                *case.sections,
            }
            if part in parts or part == "*" or unsound:
                continue
            walls = [each for each in parts if each.startswith(f"{base}.")]
            if walls and base != part:
                yield ("joints", name), f'no wall "{part}"{nearest(part, walls)}'
            else:
                yield ("joints", name), f'no panel, wall, section or region "{part}"{nearest(part, parts)}'
        if isinstance(kind, str) and kind not in kinds and kind != name:
            yield ("joints", name), f"no joint kind {kind}{nearest(kind, kinds)}"


def _on(case: Case, place: Path, on: str | None, written: Written) -> Iterator[Fault]:
    if on is None or on in written.get("panels", []):
        return
    section, _, wall = on.partition(".")
    if section in written.get("sections", []):
        walls = section_walls(case.sections[section]) if section in case.sections else ()
        if wall not in walls and walls:
            known = [f"{section}.{each}" for each in walls]
            yield (*place, "on"), f'"{on}": which wall?{nearest(on, known).replace("; ", " ", 1)}'
        return
    yield (*place, "on"), f'no panel "{on}"{nearest(on, [*written.get("panels", []), *written.get("sections", [])])}'


def _around(case: Case, place: Path, around: str, on: str | None, written: Written) -> Iterator[Fault]:
    if around.startswith("edge of "):
        yield from _on(case, place, around.removeprefix("edge of "), written)
        return
    if around.startswith("corner "):
        if text := reference_fault(case, around.removeprefix("corner "), written, station="not needed"):
            yield (*place, "around"), text
        return
    feature, _, name = around.partition(".")
    family = {"opening": "openings", "recess": "recesses"}[feature]
    panels = case.panels if on is None else {on: case.panels[on]} if on in case.panels else {}
    holders = [panel for panel, table in panels.items() if name in getattr(table, family)]
    if len(holders) > 1:
        yield (*place, "around"), f'{" and ".join(holders)} both have one; say on = "{holders[0]}"'
    elif not holders:
        names = [hole for table in panels.values() for hole in getattr(table, family)]
        yield (*place, "around"), f'no {feature} "{name}"{nearest(name, names)}'
