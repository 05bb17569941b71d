"""Panels with an outline, on a station or free, as sheets: their references looked up and their points pinned."""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.frames import area_vector, unit
from tubfem.case.schema import Case
from tubfem.case.shapes import Arc, OnWall, Spline
from tubfem.case.sheets import TOUCH, along_wall, over_middle, reversed_strokes, short_of
from tubfem.case.skeleton import MM, CornerAt, Middle, Pinned, Sheet, State, Stroke, Vertex, WallAt, label
from tubfem.case.surfaces import crossing_edges

DROP = 0.020  # [m]: three numbers lie at most this far off the panel they are given for


@dataclass(eq=False, slots=True)
class Outliner:
    """What is gathered while the outlines of a case are read: written points, faults and notes."""

    case: Case
    state: State
    points: dict[str, Floats] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def outline_sheet(reader: Outliner, name: str) -> Sheet | None:
    """The sheet of panel `name`, which has an outline; None if a fault was noted."""
    panel = reader.case.panels[name]
    path = ("panels", name)
    before = len(reader.faults)
    corners: list[Vertex] = []
    curves: dict[int, tuple[str, tuple[Vertex, ...]]] = {}  # by the corner they start from
    for i, item in enumerate(panel.outline):
        where = (*path, "outline", i)
        key = f"{name}#{i}"
        if isinstance(item, Arc | Spline):
            through = (item.arc,) if isinstance(item, Arc) else item.spline
            vertices = tuple(_vertex(reader, point, panel.on, f"{key}.{j}", where) for j, point in enumerate(through))
            curves[len(corners) - 1] = ("arc" if isinstance(item, Arc) else "spline", vertices)
        else:
            corners.append(_vertex(reader, item, panel.on, key, where))
    if len(reader.faults) > before:
        return None
    reader.state = reader.state.with_points(reader.points)
    count = len(corners)
    curves = {i % count: curve for i, curve in curves.items()}
    strokes: list[Stroke] = []
    for i in range(count - 1 if panel.across else count):
        start, end = corners[i], corners[(i + 1) % count]
        if i in curves:
            kind, through = curves[i]
            strokes.append((kind, (start, *through, end)))
        else:
            strokes += _straight(reader.state, start, end, panel.on)
    if panel.across:
        strokes = _closed_over_middle(reader.state, strokes, corners[0], corners[-1], panel.on)
    side = "whole" if reader.case.mirror is None else "across" if panel.across else "half"
    kind = "free" if panel.on is None else "on"
    sheet = Sheet(name, kind, name, (tuple(strokes),), side, () if panel.on is None else (panel.on,))
    _check_crossing(reader, sheet)
    return sheet if len(reader.faults) == before else None


def _closed_over_middle(
    state: State, strokes: list[Stroke], first: Vertex, last: Vertex, station: str | None
) -> list[Stroke]:
    """The half outline run straight across at both ends and closed on the middle plane."""
    ends: list[Vertex] = []
    tail: list[Stroke] = []
    head: list[Stroke] = []
    for vertex, across in ((last, tail), (first, head)):
        if abs(state.locate(vertex)[1]) < 1e-9:
            ends.append(vertex)
        else:
            across += _straight(state, vertex, Middle(vertex), station)
            ends.append(across[-1][1][-1])
    return [*strokes, *tail, ("line", (ends[0], ends[1])), *reversed_strokes(head)]


def _straight(state: State, start: Vertex, end: Vertex, station: str | None) -> list[Stroke]:
    """A straight edge: along a wall if both ends lie on one, else broken at the corner lines that it runs over.

    Broken there, the edge follows these corners exactly when walls are moved to their middles.
    """
    if station is None:
        return [("line", (start, end))]
    for wall in sorted(_walls_of(state, start, station) & _walls_of(state, end, station)):
        section, _, name = wall.partition(".")
        return along_wall(state.rings[section], name, start, end, station)
    if isinstance(end, Middle) and end.of == start:
        for wall in sorted(_walls_of(state, start, station)):
            section, _, name = wall.partition(".")
            a, b = state.rings[section].walls[name]
            if a == b:
                return over_middle(state.rings[section], name, start, station)
    a, b = state.locate(start), state.locate(end)
    length = np.linalg.norm(b - a)
    if length < 1e-9:
        return [("line", (start, end))]
    found = []
    for name, ring in state.rings.items():
        for corner in ring.corners:
            vertex = CornerAt(name, corner, station)
            if vertex in (start, end) or not state.reaches(name, corner, station):
                continue
            offset = state.locate(vertex) - a
            along = offset @ (b - a) / length
            if 2 * TOUCH < along < length - 2 * TOUCH and np.linalg.norm(offset - along * (b - a) / length) < TOUCH:
                found.append((along, vertex))
    chain: list[Vertex] = [start]
    last = 0.0
    for along, vertex in sorted(found, key=lambda item: item[0]):
        if along - last > 2 * TOUCH:
            chain.append(vertex)
            last = along
    chain.append(end)
    return [("line", pair) for pair in pairwise(chain)]


def _walls_of(state: State, vertex: Vertex, station: str) -> set[str]:
    match vertex:
        case CornerAt(section, corner, at) if at == station:
            return {f"{section}.{wall}" for wall in state.rings[section].walls_at(corner)}
        case WallAt(section, wall, at, _, _) if at == station:
            return {f"{section}.{wall}"}
    return set()


def _vertex(reader: Outliner, item: object, station: str | None, key: str, path: tuple) -> Vertex:
    """The vertex an outline's entry means; after a fault, a point that is not used."""
    if isinstance(item, str):
        return named_vertex(reader, item, station, path)
    if isinstance(item, OnWall):
        return _on_wall(reader, item, station, path)
    case, state = reader.case, reader.state
    if len(item) == 2:
        reader.points[key] = state.planes[station].at(*item)
    else:
        point = np.array(item)
        if station is not None:
            off = state.planes[station].height(point)
            if abs(off) > DROP:
                reader.faults.append(
                    case.message(path, f"lies {abs(off) * MM:.0f} mm off the plane of {station}; two numbers put it on")
                )
            elif abs(off) > 1e-9:
                reader.notes.append(f"{path[1]}: corner {path[-1] + 1} dropped {abs(off) * MM:.1f} mm on to {station}")
            point = point - off * state.planes[station].normal
        reader.points[key] = point
    return Pinned(key)


def named_vertex(reader: Outliner, text: str, station: str | None, path: tuple) -> Vertex:
    """The vertex of "A", a written point, "sill.in_low" at the panel's own station, or "sill.in_low@dash"."""
    case, state = reader.case, reader.state
    if text in case.points:
        key = f"points.{text}"
        point = np.array(case.points[text])
        off = 0.0 if station is None else state.planes[station].height(point)
        if abs(off) > TOUCH:
            reader.faults.append(case.message(path, f'"{text}" lies {abs(off) * MM:.1f} mm off the plane of {station}'))
        reader.points[key] = point
        return Pinned(key)
    line, _, at = text.partition("@")
    section, _, corner = line.partition(".")
    place = at or station
    if not state.reaches(section, corner, place):
        reader.faults.append(case.message(path, short_of(state, state.rings[section], corner, place)))
        return Pinned(text)
    vertex = CornerAt(section, corner, place)
    if station is not None and abs(off := state.planes[station].height(state.locate(vertex))) > TOUCH:
        reader.faults.append(case.message(path, f'"{text}" lies {abs(off) * MM:.1f} mm off the plane of {station}'))
    return vertex


def _on_wall(reader: Outliner, item: OnWall, station: str | None, path: tuple) -> Vertex:
    case, state = reader.case, reader.state
    section, _, wall = item.on.partition(".")
    ring = state.rings[section]
    for corner in ring.walls[wall]:
        if not state.reaches(section, corner, station):
            reader.faults.append(case.message(path, short_of(state, ring, corner, station)))
            return Pinned(item.on)
    axis, value = ("z", item.z) if item.z is not None else ("y", item.y)
    ends = [end[1 if axis == "y" else 2] for end in state.wall_ends(section, wall, station)]
    low, high = min(ends), max(ends)
    if not low - TOUCH <= value <= high + TOUCH or high - low < TOUCH:
        reader.faults.append(
            case.message(
                path,
                f"{item.on} at {station} reaches from {axis} = {low * MM:.0f} to {high * MM:.0f}; "
                f"{axis} = {value * MM:.0f} is not on it",
            )
        )
        return Pinned(item.on)
    return WallAt(section, wall, station, axis, value)


def _check_crossing(reader: Outliner, sheet: Sheet) -> None:
    vertices = [vertex for _, points in sheet.patches[0] for vertex in points[:-1]]
    points = np.array([reader.state.locate(vertex) for vertex in vertices])
    area = area_vector(points)
    if np.linalg.norm(area) < 1e-9:
        reader.faults.append(reader.case.message(("panels", sheet.name, "outline"), "the outline has no area"))
        return
    crossing = crossing_edges(points, unit(area))
    if crossing is None:
        return
    i, j, at = crossing
    names = [label(vertex, reader.state) for vertex in vertices]
    reader.faults.append(
        reader.case.message(
            ("panels", sheet.name),
            f"edges {i + 1} and {j + 1} cross near y = {at[1] * MM:.0f}, z = {at[2] * MM:.0f}; corners are listed "
            f"out of order (…{names[j]}, {names[(j + 1) % len(names)]}…)",
        )
    )
