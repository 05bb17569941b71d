"""Who stands on whom: points that sections and panels bring along, and the surfaces these were measured to lie on."""

from collections.abc import Iterable, Mapping, Set
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.sheets import TOUCH
from tubfem.case.skeleton import CornerAt, Pinned, Ring, Sheet, State, Vertex, WallAt
from tubfem.case.surfaces import Surface, foot

Sheets = Mapping[str, Sheet]
Bays = dict[str, dict[str, dict[str, tuple[str, ...]]]]  # by section, station and corner: the sheets it stands on


def under(surfaces: Mapping[str, Surface], point: Floats, without: Set[str] = frozenset()) -> tuple[str, ...]:
    """The sheets on whose surfaces a point (3,) [m] lies."""
    found = []
    for name, each in surfaces.items():
        near = (point > each.boxes[:, 0] - TOUCH) & (point < each.boxes[:, 1] + TOUCH)
        if name not in without and near.all(axis=1).any() and foot(each, point).distance < TOUCH:
            found.append(name)
    return tuple(found)


def _bodies(state: State, sheets: Sheets) -> list[str]:
    """Sections that run aft, then those that run upwards, then panels between lines, on stations, free.

    Of a kind the larger come first, then by place: names and the order of the file have no say.
    """
    order = {"between": 2, "on": 3, "free": 4}
    keys = {
        name: (int(ring.upward), *_size_and_place([p for row in state.rows[name].values() for p in row.values()]))
        for name, ring in state.rings.items()
    }
    for sheet in sheets.values():
        if sheet.kind in order:
            keys[sheet.name] = (order[sheet.kind], *_size_and_place([state.locate(v) for v in sheet.vertices]))
    return sorted(keys, key=keys.__getitem__)


def _size_and_place(points: Iterable[Floats]) -> tuple[float, ...]:
    """What bodies are ordered by: the diagonal of the box round the points, largest first, and the box's ends [um]."""
    corners = np.array(list(points))
    low, high = corners.min(axis=0), corners.max(axis=0)
    ends = np.round(1e6 * np.array([*low, *high]))
    return (-float(np.round(1e6 * np.linalg.norm(high - low))), *ends.tolist())


def _named_sections(sheet: Sheet) -> set[str]:
    """Sections that a panel's vertices name."""

    def section(vertex: Vertex) -> str | None:
        while not isinstance(vertex, CornerAt | WallAt | Pinned):
            vertex = vertex.of if hasattr(vertex, "of") else CornerAt(vertex.section, vertex.corner, vertex.station)
        return None if isinstance(vertex, Pinned) else vertex.section

    return {name for vertex in sheet.vertices if (name := section(vertex)) is not None}


def pins(sheet: Sheet) -> tuple[str, ...]:
    """Written points of a panel."""
    found = []
    for vertex in sheet.vertices:
        while hasattr(vertex, "of"):
            vertex = vertex.of
        if isinstance(vertex, Pinned):
            found.append(vertex.key)
    return tuple(dict.fromkeys(found))


def places_of(state: State, sheets: Sheets, surfaces: Mapping[str, Surface]) -> dict[str, dict]:
    """For each body, the points it brings along and the sheets that each of them lies on, as measured."""
    panels = {sheet.name: sheet for sheet in sheets.values() if sheet.kind in ("between", "on", "free")}
    names = {name: _named_sections(sheet) for name, sheet in panels.items()}
    places: dict[str, dict] = {}
    for name, ring in state.rings.items():
        own = {sheet.name for sheet in sheets.values() if sheet.owner == name}
        own |= {panel for panel, sections in names.items() if name in sections}
        places[name] = {}
        for station in ring.own:
            same = on_station(sheets, station) if not ring.upward else set()
            for corner in ring.corners:
                at = state.rows[name][station][corner]
                found = under(surfaces, at, own | same)
                places[name][station, corner] = (*found, *_seams(state, sheets, found, at)) if ring.upward else found
    sharing: dict[str, set[str]] = {}
    for sheet in panels.values():
        for key in pins(sheet):
            sharing.setdefault(key, set()).update(other for other in panels if key in pins(panels[other]))
    for name, sheet in panels.items():
        places[name] = {}
        for key in pins(sheet):
            own = {other for twin in twins(state, key) for other in sharing.get(twin, ())}
            same = on_station(sheets, sheet.stations[0]) if sheet.kind == "on" else set()
            places[name][key] = under(surfaces, state.points[key], own | same)
    return places


def _seams(state: State, sheets: Sheets, found: tuple[str, ...], point: Floats) -> tuple[str, ...]:
    """Station panels in whose plane a point lies on a seam of what it stands on, though outside their outlines.

    It stays on that seam: a foot a few millimetres beside it would leave a sliver.
    """
    planes = {station for host in found for station in sheets[host].stations if station in state.planes}
    near = [station for station in planes if abs(state.planes[station].height(point)) < TOUCH]
    return tuple(sorted({name for station in near for name in on_station(sheets, station)} - set(found)))


def on_station(sheets: Sheets, station: str) -> set[str]:
    """Names of the panels that lie in a station's plane."""
    return {sheet.name for sheet in sheets.values() if sheet.kind == "on" and sheet.stations[0] == station}


def twins(state: State, key: str) -> tuple[str, ...]:
    """Written points at the same place."""
    at = state.points[key]
    return tuple(other for other, point in state.points.items() if np.linalg.norm(point - at) < TOUCH)


def order_of(state: State, sheets: Sheets, places: dict[str, dict]) -> list[str]:
    """Bodies so that each comes after those it stands on; of two on each other, the later one of `_bodies` stands.

    `places` loses the hosts that would make a circle.
    """
    bodies = _bodies(state, sheets)
    rank = {body: i for i, body in enumerate(bodies)}
    named = {body: _named_sections(sheets[body]) if body in sheets else set() for body in bodies}
    stands = {body: {sheets[host].owner for found in places[body].values() for host in found} for body in bodies}
    done: list[str] = []
    open_: list[str] = []

    def visit(body: str) -> None:
        open_.append(body)
        for other in sorted(named[body] | stands[body], key=rank.__getitem__):
            mutual = body in stands[other] and rank[body] < rank[other] and other not in named[body]
            if other in open_ or mutual:
                for point, found in places[body].items():
                    places[body][point] = tuple(host for host in found if sheets[host].owner != other)
            elif other not in done:
                visit(other)
        open_.pop()
        done.append(body)

    for body in bodies:
        if body not in done:
            visit(body)
    return done


def standing_bays(
    state: State, sheets: Sheets, places: dict[str, dict]
) -> dict[str, dict[str, dict[str, tuple[str, ...]]]]:
    """Stations between a section's own where one of its corner lines stands on another surface.

    Such a line follows that surface from seam to seam, so it needs places of its own there: by section and station,
    for each corner that stands, the sheets it stands on.
    """
    found: Bays = {}
    for name, ring in state.rings.items():
        for first, last in () if ring.upward else pairwise(ring.own):
            for corner in ring.corners:
                both = tuple(h for h in places[name][first, corner] if h in places[name][last, corner])
                if not both:
                    continue
                between = set(ring.cuts[ring.cuts.index(first) + 1 : ring.cuts.index(last)])
                for host in both:
                    between |= _seams_between(state, ring, sheets[host], first, last)
                for station in between:
                    found.setdefault(name, {}).setdefault(station, {})[corner] = both
    return found


def _seams_between(state: State, ring: Ring, host: Sheet, first: str, last: str) -> set[str]:
    """Seams of a host strictly between two stations of a ring that all corners of the ring reach there."""
    found = set()
    for station in host.stations if host.kind in ("wall", "between") else ():
        if station in state.planes and station not in ring.own:
            ends = [
                [state.planes[station].height(state.rows[ring.name][own][corner]) for corner in ring.corners]
                for own in (first, last)
            ]
            if max(ends[0]) < -TOUCH and min(ends[1]) > TOUCH:
                found.add(station)
    return found
