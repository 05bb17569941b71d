"""Faults of stations, sections and panels that need no geometry: names, corners, signs, which way things face."""

from collections.abc import Iterator
from typing import Any

from tubfem.case.faults import nearest
from tubfem.case.lines import Path
from tubfem.case.quantities import wrong_count
from tubfem.case.schema import Case
from tubfem.case.shapes import AlongZero, Arc, OnWall, Opening, OutlinePoint, Panel, Section, Spline

Fault = tuple[Path, str]
Written = dict[str, list[str]]


def shape_faults(case: Case, raw: dict[str, Any], written: Written) -> Iterator[Fault]:
    """Every fault of this kind, in the order of the case."""
    yield from _front_and_rear(case)
    for name, section in case.sections.items():
        yield from _section_stations(name, section, raw, written)
        yield from _section_corners(name, section)
        yield from _section_names(case, name, section, written)
    for name, panel in case.panels.items():
        yield from _panel_names(case, name, panel, written)
        yield from _panel_faces(name, panel)
        if case.mirror is None and panel.across:
            yield ("panels", name, "across"), 'only a case with mirror = "y" has halves: write the whole outline'
    yield from _signs(case, raw)
    yield from _sides(case)


def _front_and_rear(case: Case) -> Iterator[Fault]:
    """A station called rear that lies in front of one called front at either of its heights: measured forwards."""
    front, rear = case.stations.get("front"), case.stations.get("rear")
    if front is None or rear is None:
        return
    foremost, rearmost = (tuple(x for x, _ in (each.first, each.second)) for each in (front, rear))
    if max(rearmost) < min(foremost):
        yield (
            ("stations", "rear"),
            f"at {max(rearmost) * 1e3:g} mm it lies in front of front, at {min(foremost) * 1e3:g} mm; x runs aft. The "
            "wrong way round, or measured forwards?",
        )


def _section_stations(name: str, section: Section, raw: dict[str, Any], written: Written) -> Iterator[Fault]:
    stations = written.get("stations", [])
    for station, corners in section.at.items():
        known = station in stations
        for corner, point in corners.items():
            value = raw["sections"][name]["at"][station][corner]
            if known and len(point) != 2:
                yield ("sections", name, "at", station, corner), wrong_count(value, "2")
            elif not known and len(point) == 2:
                yield ("sections", name, "at", station), f'no station "{station}"{nearest(station, stations)}'
                break
    for station in section.cap:
        if station not in section.at:
            yield ("sections", name, "cap"), f'the section is not measured at "{station}"{nearest(station, section.at)}'


def _section_corners(name: str, section: Section) -> Iterator[Fault]:
    corners = section.corners
    for station, points in section.at.items():
        extra = [corner for corner in points if corner not in corners]
        for corner in corners:
            if corner in points:
                continue
            given = [other for other, there in section.at.items() if corner in there]
            where = f"given at {', '.join(given)}" if given else "given nowhere"
            close = nearest(corner, extra).replace("; nearest: ", "") if extra else ""
            hint = f'. Nearest: "{close}"' if close and "there are" not in close else ""
            yield ("sections", name, "at", station), f'corner "{corner}" is missing ({where}){hint}'
            extra = [other for other in extra if other != close]
        for corner in extra:
            yield ("sections", name, "at", station, corner), f"no wall uses this corner{nearest(corner, corners)}"


def _section_names(case: Case, name: str, section: Section, written: Written) -> Iterator[Fault]:
    for wall, (first, second) in section.walls.items():
        if first == second and case.mirror is None:
            yield ("sections", name, "walls", wall), 'only a case with mirror = "y" has walls across the middle'
        if wall == "cap" or (case.mirror is not None and wall in ("left", "right")):
            yield ("sections", name, "walls", wall), f"{wall} is taken: choose another name"
    for wall in section.regions:
        if wall not in (*section.walls, "*", *(("cap",) if section.cap else ())):
            yield ("sections", name, "regions", wall), f'no wall "{wall}"{nearest(wall, section.walls)}'
    if isinstance(section.corner_radius, dict):
        for corner in section.corner_radius:
            if corner not in section.corners:
                yield ("sections", name, "corner_radius"), f'no corner "{corner}"{nearest(corner, section.corners)}'
    for index, bay in enumerate(section.layup_from):
        place = ("sections", name, "layup_from", index)
        for key, station in (("from", bay.from_), ("to", bay.to)):
            if station not in section.at and station not in written.get("stations", []):
                yield (*place, key), f'no station "{station}"{nearest(station, section.at)}'
        if bay.wall not in section.walls:
            yield (*place, "wall"), f'no wall "{bay.wall}"{nearest(bay.wall, section.walls)}'
        if bay.layup not in written.get("layups", []):
            yield (*place, "layup"), f"no layup {bay.layup}{nearest(bay.layup, written.get('layups', []))}"
    ends = open_ends(section)
    for key, given in (("fill", section.fill), ("cap", section.cap)):
        if given and ends:
            what = "foam needs a closed ring" if key == "fill" else "a cap needs a closed ring"
            yield ("sections", name, key), f"the section is open between {' and '.join(ends)}; {what}"
    if section.fill is not None and section.fill not in written.get("cores", []):
        yield ("sections", name, "fill"), f"no core {section.fill}{nearest(section.fill, written.get('cores', []))}"


def open_ends(section: Section) -> tuple[str, str] | tuple[()]:
    """The two corners between which a section is open, or nothing for a closed ring."""
    uses = [corner for first, second in section.walls.values() if first != second for corner in (first, second)]
    ends = [corner for corner in section.corners if uses.count(corner) == 1]
    across = [first for first, second in section.walls.values() if first == second]
    if not ends:
        return ()
    if across and len(ends) == 2:  # a hat: each half ends at the corner that the wall over the middle does not use
        free = [corner for corner in ends if corner not in across]
        return (free[0], free[0]) if free else ()
    return ends[0], ends[-1]


def _panel_names(case: Case, name: str, panel: Panel, written: Written) -> Iterator[Fault]:
    stations = written.get("stations", [])
    for key, station in (("on", panel.on), ("from", panel.from_), ("to", panel.to)):
        if station is not None and station not in stations:
            yield ("panels", name, key), f'no station "{station}"{nearest(station, stations)}'
    for index, line in enumerate(panel.between or ()):
        if "@" in line:
            yield ("panels", name, "between", index), f'"{line}": the whole corner line; from and to limit the panel'
        elif text := reference_fault(case, line, written, station="not needed"):
            yield ("panels", name, "between", index), text
    own = "not needed" if panel.on is not None else "needed"
    for index, point in enumerate(panel.outline):
        for text in _outline_faults(case, panel, point, written, own):
            yield ("panels", name, "outline", index), text
    if panel.outline and isinstance(panel.outline[-1], Arc | Spline) and panel.across:
        yield ("panels", name, "outline"), "a half outline ends with a corner, not with an arc or spline"
    if panel.outline and isinstance(panel.outline[0], Arc | Spline):
        yield ("panels", name, "outline"), "an outline starts with a corner; an arc stands between its two ends"
    for index, (one, other) in enumerate(zip(panel.outline, panel.outline[1:], strict=False)):
        if isinstance(one, Arc | Spline) and isinstance(other, Arc | Spline):
            yield ("panels", name, "outline", index + 1), "two curves in a row: a corner stands between them"
    if isinstance(panel.origin, str) and (text := reference_fault(case, panel.origin, written, station=own)):
        yield ("panels", name, "origin"), text
    for key, line in (
        ("along", panel.along),
        ("zero", panel.zero.along if isinstance(panel.zero, AlongZero) else None),
    ):
        if line is None:
            continue
        ends = line if isinstance(line, tuple) else split_line(case, line)
        if not ends:
            yield ("panels", name, key), f'"{line}" is not two points: write "A-B"'
        for end in ends:
            if text := reference_fault(case, end, written, station=own):
                yield ("panels", name, key), text


def split_line(case: Case, text: str) -> tuple[str, str] | tuple[()]:
    """The two ends of "A-B"; where names hold a "-" themselves, the first cut that gives two known ones."""
    cuts = [(text[:i].strip(), text[i + 1 :].strip()) for i, character in enumerate(text) if character == "-"]
    known = {*case.points, *(f"{name}.{corner}" for name, s in case.sections.items() for corner in s.corners)}
    sound = [cut for cut in cuts if all(end.partition("@")[0] in known for end in cut)]
    return next(iter(sound or cuts), ())


def _outline_faults(case: Case, panel: Panel, point: OutlinePoint, written: Written, own: str) -> Iterator[str]:
    inner = point.spline if isinstance(point, Spline) else (point.arc,) if isinstance(point, Arc) else (point,)
    for item in inner:
        if isinstance(item, OnWall):
            section, _, wall = item.on.partition(".")
            if panel.on is None:
                yield "a height on a wall needs the panel's station: on = STATION"
            if section not in written.get("sections", []):
                yield f"no section {section}{nearest(section, written.get('sections', []))}"
            elif section in case.sections and wall not in case.sections[section].walls:
                yield f"no wall {item.on}{nearest(wall, case.sections[section].walls)}"
        elif isinstance(item, str):
            if text := reference_fault(case, item, written, station=own):
                yield text
        elif len(item) == 2 and panel.on is None:
            yield "two numbers are [y, z] on a station: say on = STATION, or write three numbers"


def reference_fault(case: Case, text: str, written: Written, *, station: str) -> str | None:
    """What is wrong with "sill.in_low", "sill.in_low@dash" or a point's name; `station` "needed" or "not needed"."""
    corner, at, place = text.partition("@")
    section_name, dot, corner_name = corner.partition(".")
    if not dot:
        points = written.get("points", [])
        known = [*points, *(f"{n}.{c}" for n, s in case.sections.items() for c in s.corners)]
        return None if text in points else f'no point "{text}"{nearest(text, known)}'
    if section_name not in written.get("sections", []):
        return f'"{text}": no section {section_name}{nearest(section_name, written.get("sections", []))}'
    section = case.sections.get(section_name)
    if section is None:
        return None  # has faults of its own
    if corner_name not in section.corners:
        return f'"{text}": no corner {corner_name} in {section_name}{nearest(corner_name, section.corners)}'
    if at and place not in section.at and place not in written.get("stations", []):
        return f'"{text}": no station {place}{nearest(place, [*section.at, *written.get("stations", [])])}'
    if not at and station == "needed":
        return f'"{text}": at which station? Write "{text}@{next(iter(section.at))}"'
    return None


def _panel_faces(name: str, panel: Panel) -> Iterator[Fault]:
    if panel.on is None:
        return
    looks = "a panel on a station looks fore and aft"
    for place, facing in (
        (("tool",), panel.tool),
        *((("recesses", n, "towards"), recess.towards) for n, recess in panel.recesses.items()),
    ):
        if facing not in ("fore", "aft"):
            key = place[-1]
            yield ("panels", name, *place), f'{key} = "{facing}", but {looks}; choose "fore" or "aft"'


def _signs(case: Case, raw: dict[str, Any]) -> Iterator[Fault]:
    """Distances out from the middle that are written negative."""
    if case.mirror is None:
        return
    for path, point, position in _outs(case):
        if point[position] < 0:
            value = _value(raw, path)
            number = value[position] if isinstance(value, list) else value
            positive = -number if isinstance(number, int | float) else str(number).lstrip(" -")
            yield (
                path,
                f'y = {number}: with mirror = "y" distances are out from the middle, so {positive}. '
                f'For one side only: only = "left"',
            )


def _outs(case: Case) -> Iterator[tuple[Path, tuple[float, ...], int]]:
    for name, section in case.sections.items():
        for station, corners in section.at.items():
            for corner, point in corners.items():
                yield ("sections", name, "at", station, corner), point, len(point) - 2
    for name, point in case.points.items():
        yield ("points", name), point, 1
    for name, panel in case.panels.items():
        for index, point in enumerate(panel.outline):
            if isinstance(point, tuple):
                yield ("panels", name, "outline", index), point, len(point) - 2
        for family in ("openings", "recesses"):
            for hole_name, hole in getattr(panel, family).items():
                if hole.at is not None and (out := tape_out(panel, hole.at)) is not None:
                    yield ("panels", name, family, hole_name, "at"), hole.at, out
    for family in ("mounts", "patches"):
        for name, thing in getattr(case, family).items():
            panel = case.panels.get(thing.on) if thing.on is not None else None
            if thing.at is None or (panel is None and len(thing.at) == 2):
                continue
            out = 1 if panel is None else tape_out(panel, thing.at)
            if out is not None:
                yield (family, name, "at"), thing.at, out
    for name, pickup in case.pickups.items():
        yield ("pickups", name, "at"), pickup.at, 1
    for name, subframe in case.subframes.items():
        for node, at in subframe.nodes.items():
            if isinstance(at, tuple):
                yield ("subframes", name, "nodes", node), at, 1
    for name, stiffener in case.stiffeners.items():
        for index, at in enumerate(stiffener.path):
            if isinstance(at, tuple):
                yield ("stiffeners", name, "path", index), at, 1


def tape_out(panel: Panel, at: tuple[float, ...]) -> int | None:
    """Which of the numbers of `at` is the distance out from the middle; None if the panel has its own origin."""
    if len(at) == 3:
        return 1
    if panel.origin is not None:
        return None
    return 0 if panel.on is not None else 1


def _value(raw: Any, path: Path) -> Any:
    for part in path:
        raw = raw[part]
    return raw


def _sides(case: Case) -> Iterator[Fault]:
    if case.mirror is not None:
        return
    holes: list[tuple[Path, Opening]] = []
    for name, panel in case.panels.items():
        holes += [(("panels", name, "openings", each), hole) for each, hole in panel.openings.items()]
        holes += [(("panels", name, "recesses", each), hole) for each, hole in panel.recesses.items()]
    others = [((f, n), thing) for f in ("mounts", "patches", "stiffeners") for n, thing in getattr(case, f).items()]
    for path, thing in (*holes, *others):
        if thing.only is not None:
            yield (*path, "only"), 'only a case with mirror = "y" has two sides: leave only out'
