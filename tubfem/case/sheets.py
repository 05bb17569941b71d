"""Walls and panels between corner lines as sheets: one patch a bay, cut at every station where a panel stands."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.rings import crossing, ordered_cuts
from tubfem.case.schema import Case
from tubfem.case.skeleton import MM, ArcAt, CornerAt, Middle, Ring, Sheet, State, Stroke, Vertex, chain

TOUCH = 1e-3  # [m]: what lies this near another surface lies on it


def cut_state(case: Case, state: State, standing: list[Sheet], faults: list[str], cautions: list[str]) -> State:
    """The state with its rings cut at every station where one of the `standing` panels stands on them.

    A panel stands on a section if its outline names one of its corners or walls, or reaches over it.
    """
    rings = dict(state.rings)
    for name, ring in state.rings.items():
        if ring.upward:
            continue
        stations = set(ring.own)
        for sheet in standing:
            station = sheet.stations[0]
            if all(state.reaches(name, corner, station) for corner in ring.corners) and _reaches_over(
                state, ring, sheet
            ):
                stations.add(station)
        for i, part in enumerate(case.sections[name].layup_from):
            stations |= {
                station
                for station in (part.from_, part.to)
                if _limit_is_there(case, state, ring, station, ("sections", name, "layup_from", i), faults)
            }
        cuts, crossed = ordered_cuts(state, ring, stations)
        if crossed:
            faults.append(case.message(("stations",), crossing(*crossed, state.planes, name)))
            continue
        rings[name] = replace(ring, cuts=cuts)
        cautions += _close_seams(case, state, ring, cuts)
    return replace(state, rings=rings)


def _limit_is_there(case: Case, state: State, ring: Ring, station: str, path: tuple, faults: list[str]) -> bool:
    if all(state.reaches(ring.name, corner, station) for corner in ring.corners):
        return True
    faults.append(case.message(path, short_of(state, ring, None, station)))
    return False


def _reaches_over(state: State, ring: Ring, sheet: Sheet) -> bool:
    station = sheet.stations[0]
    outline = np.array([state.locate(vertex) for vertex in sheet.vertices])[:, 1:]
    corners = np.array([state.sharp(ring.name, corner, station) for corner in ring.corners])[:, 1:]
    if any(a == b for a, b in ring.walls.values()):
        corners = np.concatenate([corners, corners * [0.0, 1.0]])
    return _overlap(outline, corners)


def _overlap(one: Floats, other: Floats) -> bool:
    """Whether the boxes round two sets of points (n, 2) overlap or touch."""
    low = np.maximum(one.min(axis=0), other.min(axis=0))
    high = np.minimum(one.max(axis=0), other.max(axis=0))
    return bool((low <= high + TOUCH).all())


def _close_seams(case: Case, state: State, ring: Ring, cuts: tuple[str, ...]) -> list[str]:
    size = case.mesh.size
    cautions = []
    for one, other in pairwise(cuts):
        gap = min(
            np.linalg.norm(state.sharp(ring.name, corner, other) - state.sharp(ring.name, corner, one))
            for corner in ring.corners
        )
        if gap < 0.5 * size:
            cautions.append(
                f"caution: sections.{ring.name} gets seams {gap * MM:.0f} mm apart at {one} and {other}; "
                f"mesh size {size * MM:.0f} will be {gap * MM:.0f} there"
            )
    return cautions


def short_of(state: State, ring: Ring, corner: str | None, station: str) -> str:
    """Words for a section that does not reach a station."""
    line = f"{ring.name}.{corner}" if corner else ring.name
    if ring.upward:
        return f'{line} runs upwards, so "{station}" is none of its places: {", ".join(ring.own)}'
    x = state.planes[station].point[0] * MM
    ends = [f"{own} ({state.planes[own].point[0] * MM:.0f})" for own in (ring.own[0], ring.own[-1])]
    return f'{line} does not reach station "{station}" (x = {x:.0f}); {ring.name} runs from {ends[0]} to {ends[1]}'


def wall_sheets(case: Case, state: State, faults: list[str]) -> list[Sheet]:
    """The walls of all sections, those with another layup over part of their length in parts, and the caps."""
    sheets = []
    for name, ring in state.rings.items():
        section = case.sections[name]
        for wall, pair in ring.walls.items():
            side = "whole" if case.mirror is None else "across" if pair[0] == pair[1] else "half"
            parts = _parts(ring, wall, section.layup_from)
            for part, bays in parts.items():
                patches = tuple(patch for bay in bays for patch in _wall_patches(ring, wall, *bay))
                stations = tuple(dict.fromkeys(station for bay in bays for station in bay))
                sheets.append(Sheet(part, "wall", name, patches, side, stations))
        order = chain(ring)
        if section.cap and order is not None and order[1] in ("closed", "both"):
            sheets += _caps(case, ring, order[0], faults, both=order[1] == "both")
    return sheets


def _parts(ring: Ring, wall: str, layup_from: tuple) -> dict[str, list[tuple[str, str]]]:
    """Bays of a wall by plain panel: SECTION.WALL, and SECTION.WALL.FROM-TO where another layup is given."""
    parts: dict[str, list[tuple[str, str]]] = {}
    for bay in pairwise(ring.cuts):
        name = f"{ring.name}.{wall}"
        for part in layup_from:
            if part.wall == wall and part.from_ in ring.cuts and part.to in ring.cuts:
                first, last = sorted((ring.cuts.index(part.from_), ring.cuts.index(part.to)))
                if first <= ring.cuts.index(bay[0]) < last:
                    name = f"{ring.name}.{wall}.{part.from_}-{part.to}"
        parts.setdefault(name, []).append(bay)
    return parts


def _wall_patches(ring: Ring, wall: str, first: str, last: str) -> list[tuple[Stroke, ...]]:
    """One bay of a wall: its flat part, and its halves of rounded corners."""
    a, b = ring.walls[wall]

    def flat_end(corner: str, station: str) -> Vertex:
        if ring.radius[corner] and len(ring.walls_at(corner)) == 2:
            return ArcAt(ring.name, corner, station, wall, "end")
        return CornerAt(ring.name, corner, station)

    def far_end(station: str) -> Vertex:
        return Middle(flat_end(a, station)) if a == b else flat_end(b, station)

    patches = [quad(flat_end(a, first), flat_end(a, last), far_end(last), far_end(first))]
    for corner in dict.fromkeys((a, b)):
        if isinstance(flat_end(corner, first), ArcAt):
            strokes = {station: corner_arc(ring, corner, wall, station) for station in (first, last)}
            start, end = strokes[first][1], strokes[last][1]
            patches.append(
                (("line", (start[0], end[0])), strokes[last], ("line", (end[2], start[2])), ("arc", start[::-1]))
            )
    return patches


def corner_arc(ring: Ring, corner: str, wall: str, station: str) -> Stroke:
    """Half of a rounded corner at a station, from its middle to where it leaves the wall."""
    return "arc", (
        CornerAt(ring.name, corner, station),
        ArcAt(ring.name, corner, station, wall, "half"),
        ArcAt(ring.name, corner, station, wall, "end"),
    )


def quad(a: Vertex, b: Vertex, c: Vertex, d: Vertex) -> tuple[Stroke, ...]:
    """Four straight edges."""
    return ("line", (a, b)), ("line", (b, c)), ("line", (c, d)), ("line", (d, a))


def along_wall(ring: Ring, wall: str, start: Vertex, end: Vertex, station: str) -> list[Stroke]:
    """Strokes along a wall at a station between two of its vertices, round their corners where these are rounded."""
    strokes: list[Stroke] = []

    def rounded(vertex: Vertex) -> bool:
        return (
            isinstance(vertex, CornerAt) and bool(ring.radius[vertex.corner]) and len(ring.walls_at(vertex.corner)) == 2
        )

    if rounded(start):
        strokes.append(corner_arc(ring, start.corner, wall, station))
        start = strokes[0][1][2]
    tail: list[Stroke] = []
    if rounded(end):
        tail.append(("arc", corner_arc(ring, end.corner, wall, station)[1][::-1]))
        end = tail[0][1][0]
    return [*strokes, ("line", (start, end)), *tail]


def over_middle(ring: Ring, wall: str, start: Vertex, station: str) -> list[Stroke]:
    """Strokes from a corner of a wall over the middle to the middle plane, round the corner where it is rounded."""
    *bends, (kind, (last, _)) = along_wall(ring, wall, start, Middle(start), station)
    return [*bends, (kind, (last, Middle(last)))]


def reversed_strokes(strokes: list[Stroke]) -> list[Stroke]:
    """The same run of strokes the other way."""
    return [(kind, vertices[::-1]) for kind, vertices in strokes[::-1]]


def _caps(case: Case, ring: Ring, corners: tuple[str, ...], faults: list[str], *, both: bool) -> list[Sheet]:
    caps = []
    given = case.sections[ring.name].cap
    for i, station in enumerate(given):
        if station not in (ring.own[0], ring.own[-1]):
            ends = f'"{ring.own[0]}" or "{ring.own[-1]}"'
            faults.append(case.message(("sections", ring.name, "cap", i), f"a cap closes an end: {ends}"))
            continue
        strokes: list[Stroke] = []
        nexts = corners[1:] if both else (*corners[1:], corners[0])
        for a, b in zip(corners, nexts, strict=False):
            wall = next(wall for wall, pair in ring.walls.items() if set(pair) == {a, b})
            strokes += along_wall(ring, wall, CornerAt(ring.name, a, station), CornerAt(ring.name, b, station), station)
        if both:
            ends = [
                over_middle(ring, wall, CornerAt(ring.name, corners[j], station), station)
                for j, wall in zip((0, -1), _spans(ring, corners), strict=True)
            ]
            middle = ("line", (ends[1][-1][1][-1], ends[0][-1][1][-1]))
            strokes += [*ends[1], middle, *reversed_strokes(ends[0])]
        name = f"{ring.name}.cap" if len(given) == 1 else f"{ring.name}.cap.{station}"
        side = "whole" if case.mirror is None else "across" if both else "half"
        caps.append(Sheet(name, "cap", ring.name, (tuple(strokes),), side, (station,)))
    return caps


def _spans(ring: Ring, corners: tuple[str, ...]) -> tuple[str, str]:
    """The walls over the middle at the first and at the last corner of a ring's chain."""
    spans = {corner: [w for w, pair in ring.walls.items() if pair == (corner, corner)] for corner in corners}
    return spans[corners[0]][0], spans[corners[-1]][-1]


def between_sheet(case: Case, state: State, name: str, standing: list[Sheet], faults: list[str]) -> Sheet | None:
    """A panel between two corner lines, cut where their sections are and where a panel stands on it."""
    panel = case.panels[name]
    path = ("panels", name)
    lines = [line.partition(".")[::2] for line in panel.between]
    same = lines[0] == lines[1]
    rings = [state.rings[section] for section, _ in lines]
    if rings[0].upward != rings[1].upward or (rings[0].upward and rings[0].own != rings[1].own):
        faults.append(case.message((*path, "between"), f"{rings[0].name} and {rings[1].name} do not run the same way"))
        return None

    def there(station: str) -> bool:
        return all(state.reaches(section, corner, station) for section, corner in lines)

    limits = [station for station in (panel.from_, panel.to) if station is not None]
    for key, station in (("from", panel.from_), ("to", panel.to)):
        for ring, (_, corner) in zip(rings, lines, strict=True) if station is not None else ():
            if not state.reaches(ring.name, corner, station):
                faults.append(case.message((*path, key), short_of(state, ring, corner, station)))
                return None
    stations = {station for ring in rings for station in ring.cuts if there(station)} | set(limits)
    stations |= {
        sheet.stations[0]
        for sheet in standing
        if there(sheet.stations[0]) and _stands_on_line(state, sheet, lines, both=same)
    }
    if rings[0].upward:
        order: tuple[str, ...] = tuple(station for station in rings[0].own if station in stations)
    else:
        order, crossed = ordered_cuts(state, rings[0], stations)
        if crossed:
            faults.append(case.message(path, crossing(*crossed, state.planes, rings[0].name)))
            return None
    first = order.index(panel.from_) if panel.from_ is not None else 0
    last = order.index(panel.to) if panel.to is not None else len(order) - 1
    order = order[first : last + 1]
    if len(order) < 2:
        faults.append(
            case.message((*path, "between"), f"{' and '.join(panel.between)} have no stretch of stations in common")
        )
        return None

    def ends(station: str) -> tuple[Vertex, Vertex]:
        one, other = (CornerAt(section, corner, station) for section, corner in lines)
        return one, Middle(one) if same else other

    patches = []
    for one, other in pairwise(order):
        (a, d), (b, c) = ends(one), ends(other)
        patches.append(quad(a, b, c, d))
    side = "whole" if case.mirror is None else "across" if same else "half"
    return Sheet(name, "between", name, tuple(patches), side, order)


def _stands_on_line(state: State, sheet: Sheet, lines: list[tuple[str, str]], *, both: bool) -> bool:
    """Whether a station panel comes within reach of the straight line between two corners on its station."""
    ends = np.array([state.sharp(section, corner, sheet.stations[0]) for section, corner in lines])[:, 1:]
    if both:
        ends = ends * np.array([[1.0, 1.0], [0.0, 1.0]])
    return _overlap(np.array([state.locate(vertex) for vertex in sheet.vertices])[:, 1:], ends)
