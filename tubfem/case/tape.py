"""Tape coordinates: two numbers measured on a panel, or three in vehicle axes dropped on to it, as places there."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.check_shapes import split_line
from tubfem.case.frames import LYING, area_vector, unit
from tubfem.case.outlines import DROP
from tubfem.case.plain import Face
from tubfem.case.schema import Case
from tubfem.case.skeleton import MM, CornerAt, Pinned, Sheet, State, Vertex
from tubfem.case.surfaces import Foot, Surface, foot, loop_points


@dataclass(frozen=True, eq=False, slots=True)
class Tape:
    """How the tape lies on a panel: from `origin` along `first` and then `second` (3,), unit vectors.

    drop: None if that is on the panel already, else the direction along which it is dropped on to it.
    """

    origin: Floats
    first: Floats
    second: Floats
    drop: Floats | None


@dataclass(frozen=True, eq=False, slots=True)
class Spot:
    """A place on a panel: the point (3,) [m], the unit normal into the laminate, the tape's two directions there.

    off: how far three numbers were dropped [m].
    """

    at: Floats
    normal: Floats
    first: Floats
    second: Floats
    off: float
    inside: bool


def tape_on(
    state: State, sheet: Sheet, faces: tuple[Face, ...], normals: Floats, ends: tuple[Vertex, Vertex, Vertex] | None
) -> Tape | None:
    """The tape of a sheet in a state; None if the panel needs `origin` and `along` and has none.

    Parameters
    ----------
    normals : of the sheet's patches (n, 3), into the laminate
    ends : the panel's own origin, and the two points that give its first direction
    """
    areas = np.array([np.linalg.norm(area_vector(loop_points(face.edges))) for face in faces])
    normal = unit(areas @ normals)
    if ends is not None:
        origin, start, end = (state.locate(vertex) for vertex in ends)
        first = unit(end - start)
        first = unit(first - (first @ normal) * normal)
        middle = np.mean([loop_points(face.edges).mean(axis=0) for face in faces], axis=0)
        second = np.cross(normal, first)
        return Tape(origin, first, second * (1.0 if second @ (middle - origin) >= 0.0 else -1.0), normal)
    if sheet.kind == "on" or (sheet.kind == "cap" and not state.rings[sheet.owner].upward):
        plane = state.planes[sheet.stations[0]]
        across = np.array([0.0, 1.0, 0.0])
        return Tape(plane.point, across, np.cross(plane.normal, across), None)
    if abs(normal[2]) >= LYING:
        start = next((plane.point[0] for plane in state.planes.values()), 0.0)
        return Tape(
            np.array([start, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])
        )
    return None


def moved_tape(measured: Tape, meshed: Tape) -> Tape:
    """The tape on the meshed panel; on a lying panel it starts where the first station was measured."""
    if measured.drop is not None and measured.drop[2] == 1.0:
        return measured
    return meshed


def spot(on: Surface, normals: Floats, tape: Tape | None, at: tuple[float, ...] | Floats) -> Spot:
    """Where two tape numbers, or three vehicle coordinates [m], are on a sheet drawn as `on`."""
    at = np.asarray(at, dtype=float)
    if len(at) == 3:
        found = foot(on, at)
        off = float(np.linalg.norm(found.at - at))
    else:
        point = tape.origin + at[0] * tape.first + at[1] * tape.second
        found = foot(on, point, tape.drop)
        off = 0.0
    return _spot(found, normals, tape, off)


def _spot(found: Foot, normals: Floats, tape: Tape | None, off: float) -> Spot:
    normal = found.normal * (1.0 if found.normal @ normals.sum(axis=0) >= 0.0 else -1.0)
    wanted = (tape.first, tape.second) if tape is not None else _by_eye(normal)
    first = unit(wanted[0] - (wanted[0] @ normal) * normal)
    second = np.cross(normal, first)
    return Spot(found.at, normal, first, second * (1.0 if second @ wanted[1] >= 0.0 else -1.0), off, found.inside)


def _by_eye(normal: Floats) -> tuple[Floats, Floats]:
    """Directions on a panel that no tape rule covers: aft, or across where aft is square to it; then up."""
    aft = np.array([1.0, 0.0, 0.0])
    return aft if abs(normal[0]) < 0.9 else np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


def is_near(found: Spot) -> bool:
    """Whether three numbers lie near enough to their panel to be dropped on it."""
    return found.off <= DROP


def off_text(found: Spot, at: tuple[float, ...], panel: str) -> str:
    """Words for three numbers that lie too far off their panel."""
    axis = int(np.argmax(np.abs(found.normal)))
    names = ("x", "y", "z")
    return (
        f"lies {found.off * MM:.0f} mm off {panel} (at {names[axis]} = {at[axis] * MM:.0f}); "
        f"two numbers [{', '.join(name for i, name in enumerate(names) if i != axis)}] put it on the panel"
    )


def tape_ends(case: Case, name: str) -> tuple[Vertex, Vertex, Vertex] | None:
    """Vertices of a panel's `origin` and `along`; None if it has none."""
    panel = case.panels.get(name)
    if panel is None or panel.origin is None:
        return None
    along = panel.along if isinstance(panel.along, tuple) else split_line(case, panel.along)
    origin = panel.origin if isinstance(panel.origin, str) else None
    start = vertex_of(case, along[0], panel.on)
    return (
        vertex_of(case, origin, panel.on) if origin is not None else Pinned(f"{name}.origin"),
        start,
        vertex_of(case, along[1], panel.on),
    )


def vertex_of(case: Case, text: str, station: str | None = None) -> Vertex:
    """The vertex of a point's name or "SECTION.CORNER@STATION", known to be there."""
    if text in case.points:
        return Pinned(f"points.{text}")
    line, _, place = text.partition("@")
    section, _, corner = line.partition(".")
    return CornerAt(section, corner, place or station)
