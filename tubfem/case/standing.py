"""Who stands on whom: points that sections and panels bring along, and the surfaces these were measured to lie on."""

from collections.abc import Mapping

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.plain import Face
from tubfem.case.sheets import TOUCH
from tubfem.case.skeleton import CornerAt, Pinned, Sheet, State, Vertex, WallAt
from tubfem.case.surfaces import foot, loop_points

Sheets = Mapping[str, Sheet]


def hosts(faces: Mapping[str, tuple[Face, ...]], point: Floats, without: set[str]) -> tuple[str, ...]:
    """The sheets on whose faces a point (3,) [m] lies."""
    found = []
    for name, pieces in faces.items():
        if name in without:
            continue
        box = np.concatenate([loop_points(face.edges, 4) for face in pieces])
        curved = any(edge.kind != "line" for face in pieces for edge in face.edges)
        reach = TOUCH + (0.01 if curved else 0.0)
        near = (point > box.min(axis=0) - reach).all() and (point < box.max(axis=0) + reach).all()
        if near and foot(pieces, point).distance < TOUCH:
            found.append(name)
    return tuple(found)


def _bodies(state: State, sheets: Sheets) -> list[str]:
    """Sections, then panels between lines, on stations, free."""
    order = {"between": 0, "on": 1, "free": 2}
    panels = [sheet for sheet in sheets.values() if sheet.kind in order]
    return [*state.rings, *(sheet.name for sheet in sorted(panels, key=lambda sheet: order[sheet.kind]))]


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


def places_of(state: State, sheets: Sheets, faces: Mapping[str, tuple[Face, ...]]) -> dict[str, dict]:
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
                places[name][station, corner] = hosts(faces, state.rows[name][station][corner], own | same)
    sharing: dict[str, set[str]] = {}
    for sheet in panels.values():
        for key in pins(sheet):
            sharing.setdefault(key, set()).update(other for other in panels if key in pins(panels[other]))
    for name, sheet in panels.items():
        places[name] = {}
        for key in pins(sheet):
            own = {other for twin in twins(state, key) for other in sharing.get(twin, ())}
            same = on_station(sheets, sheet.stations[0]) if sheet.kind == "on" else set()
            places[name][key] = hosts(faces, state.points[key], own | same)
    return places


def on_station(sheets: Sheets, station: str) -> set[str]:
    """Names of the panels that lie in a station's plane."""
    return {sheet.name for sheet in sheets.values() if sheet.kind == "on" and sheet.stations[0] == station}


def twins(state: State, key: str) -> tuple[str, ...]:
    """Written points at the same place."""
    at = state.points[key]
    return tuple(other for other, point in state.points.items() if np.linalg.norm(point - at) < TOUCH)


def order_of(state: State, sheets: Sheets, places: dict[str, dict]) -> list[str]:
    """Bodies so that each comes after those it stands on; of two that stand on each other, the later one stands.

    `places` loses the hosts that would make a circle.
    """
    bodies = _bodies(state, sheets)
    rank = {body: i for i, body in enumerate(bodies)}
    named = {body: _named_sections(sheets[body]) if body in sheets else set() for body in bodies}
    stands = {body: {sheets[host].owner for hosts in places[body].values() for host in hosts} for body in bodies}
    done: list[str] = []
    open_: list[str] = []

    def visit(body: str) -> None:
        open_.append(body)
        for other in sorted(named[body] | stands[body], key=rank.__getitem__):
            mutual = body in stands[other] and rank[body] < rank[other] and other not in named[body]
            if other in open_ or mutual:
                for point, hosts in places[body].items():
                    places[body][point] = tuple(host for host in hosts if sheets[host].owner != other)
            elif other not in done:
                visit(other)
        open_.pop()
        done.append(body)

    for body in bodies:
        if body not in done:
            visit(body)
    return done
