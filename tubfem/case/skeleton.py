"""Rings, vertices and patches: the tub as names, and where these names are in one state of its surfaces.

A section becomes a `Ring` of corner lines. Panels and walls become `Sheet`s of patches whose vertices are names (a
corner at a station, a point of a wall, a written point), so that the same sheet can be drawn as it was measured and as
it is meshed: only the `State` differs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.frames import Plane, unit
from tubfem.case.plain import Edge, Face

MIRROR = np.array([1.0, -1.0, 1.0])
MIDDLE = np.array([1.0, 0.0, 1.0])
MM = 1000.0


@dataclass(frozen=True, slots=True)
class CornerAt:
    """A section's corner at a station: a point of its corner line; the middle of the arc if the corner is rounded."""

    section: str
    corner: str
    station: str


@dataclass(frozen=True, slots=True)
class WallAt:
    """The point of a wall at a station that has the given height z or distance y [m]."""

    section: str
    wall: str
    station: str
    axis: Literal["y", "z"]
    value: float


@dataclass(frozen=True, slots=True)
class ArcAt:
    """A point of a rounded corner at a station: where the arc leaves a wall ("end"), or half-way there ("half")."""

    section: str
    corner: str
    station: str
    wall: str
    part: Literal["end", "half"]


@dataclass(frozen=True, slots=True)
class Pinned:
    """A point written in numbers."""

    key: str


@dataclass(frozen=True, slots=True)
class Middle:
    """A vertex dropped square on to the middle plane of a mirrored case."""

    of: "Vertex"


Vertex = CornerAt | WallAt | ArcAt | Pinned | Middle
Stroke = tuple[Literal["line", "arc", "spline"], tuple[Vertex, ...]]  # an edge of a patch


@dataclass(frozen=True, eq=False, slots=True)
class Ring:
    """A section's walls and corner lines.

    own: its stations, in order along it. cuts: own and those where a panel stands on it, in order (of a section that
    runs upwards: own). radius: of each corner on the measured face [m].
    """

    name: str
    walls: Mapping[str, tuple[str, str]]
    own: tuple[str, ...]
    upward: bool
    cuts: tuple[str, ...]
    radius: Mapping[str, float]

    @property
    def corners(self) -> tuple[str, ...]:
        """Corner names in the order in which the walls use them."""
        return tuple(dict.fromkeys(corner for pair in self.walls.values() for corner in pair))

    def walls_at(self, corner: str) -> tuple[str, ...]:
        """The walls that meet in a corner."""
        return tuple(wall for wall, pair in self.walls.items() if corner in pair)


@dataclass(frozen=True, eq=False, slots=True)
class Sheet:
    """A panel or wall as patches of named vertices. owner: the section or panel it belongs to."""

    name: str
    kind: Literal["wall", "cap", "on", "between", "free"]
    owner: str
    patches: tuple[tuple[Stroke, ...], ...]
    side: Literal["half", "across", "whole"]
    stations: tuple[str, ...] = ()

    @property
    def vertices(self) -> tuple[Vertex, ...]:
        """All vertices, patch by patch; a patch's edges share theirs."""
        return tuple(vertex for patch in self.patches for _, points in patch for vertex in points[:-1])


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """Where everything is: as measured, or as meshed. Points (3,) in vehicle axes [m].

    rows: corners (sharp) by section, own station and corner. radius: of corners by section and corner.
    """

    planes: Mapping[str, Plane]
    rings: Mapping[str, Ring]
    rows: Mapping[str, Mapping[str, Mapping[str, Floats]]]
    points: Mapping[str, Floats] = field(default_factory=dict)
    radius: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def with_points(self, points: Mapping[str, Floats]) -> "State":
        """The same with more written points."""
        return replace(self, points={**self.points, **points})

    def locate(self, vertex: Vertex) -> Floats:
        """Where a vertex is (3,) [m]; a corner line is run on straight beyond its ends."""
        match vertex:
            case CornerAt(section, corner, station):
                return self._rounded(section, corner, station)
            case WallAt(section, wall, station, axis, value):
                a, b = self.wall_ends(section, wall, station)
                i = 1 if axis == "y" else 2
                return a + (b - a) * (value - a[i]) / (b[i] - a[i])
            case ArcAt(section, corner, station, wall, part):
                return self._arc_point(section, corner, station, wall, part)
            case Pinned(key):
                return self.points[key]
            case Middle(of):
                return self.locate(of) * MIDDLE

    def sharp(self, section: str, corner: str, station: str) -> Floats:
        """A corner at a station (3,) [m] as if it were not rounded."""
        rows = self.rows[section]
        if station in rows:
            return rows[station][corner]
        line = np.array([rows[own][corner] for own in self.rings[section].own])
        height = self.planes[station].height(line)
        i = int(np.clip(np.searchsorted(height, 0.0) - 1, 0, len(line) - 2))
        return line[i] - (line[i + 1] - line[i]) * height[i] / (height[i + 1] - height[i])

    def reaches(self, section: str, corner: str, station: str) -> bool:
        """Whether a corner line reaches a station without being run on."""
        rows = self.rows[section]
        if station in rows:
            return True
        if station not in self.planes or self.rings[section].upward:
            return False
        ends = np.array([rows[self.rings[section].own[i]][corner] for i in (0, -1)])
        height = self.planes[station].height(ends)
        return bool(height[0] <= 1e-9 and height[1] >= -1e-9)

    def wall_ends(self, section: str, wall: str, station: str) -> tuple[Floats, Floats]:
        """The two corners of a wall at a station (3,) [m]; of a wall over the middle, a corner and its image."""
        a, b = self.rings[section].walls[wall]
        first = self.sharp(section, a, station)
        return first, first * MIRROR if a == b else self.sharp(section, b, station)

    def _corner_arc(self, section: str, corner: str, station: str) -> tuple[Floats, dict[str, Floats], float, float]:
        """Sharp corner, unit directions into its walls, radius, and half the angle between the walls [rad]."""
        at = self.sharp(section, corner, station)
        ring = self.rings[section]
        into = {}
        for wall in ring.walls_at(corner):
            a, b = self.wall_ends(section, wall, station)
            into[wall] = unit(b - a if ring.walls[wall][0] == corner else a - b)
        radius = self.radius.get(section, {}).get(corner, 0.0) if len(into) == 2 else 0.0
        if radius == 0.0:
            return at, into, 0.0, np.pi / 2
        one, other = into.values()
        return at, into, radius, 0.5 * float(np.arccos(np.clip(one @ other, -1.0, 1.0)))

    def _rounded(self, section: str, corner: str, station: str) -> Floats:
        if not self.radius.get(section, {}).get(corner):
            return self.sharp(section, corner, station)
        at, into, radius, half = self._corner_arc(section, corner, station)
        if radius == 0.0:
            return at
        return at + unit(sum(into.values())) * radius * (1.0 / np.sin(half) - 1.0)

    def _arc_point(self, section: str, corner: str, station: str, wall: str, part: str) -> Floats:
        at, into, radius, half = self._corner_arc(section, corner, station)
        end = at + into[wall] * radius / np.tan(half)
        if part == "end":
            return end
        centre = at + unit(sum(into.values())) * radius / np.sin(half)
        middle = self._rounded(section, corner, station)
        return centre + unit(unit(end - centre) + unit(middle - centre)) * radius

    def face(self, patch: tuple[Stroke, ...]) -> Face:
        """The patch drawn; edges that have shrunk to a point are left out."""
        edges = []
        for kind, vertices in patch:
            points = [self.locate(vertex) for vertex in vertices]
            if np.linalg.norm(np.ptp(points, axis=0)) > 1e-9:
                edges.append(Edge(kind, tuple(tuple(float(x) for x in point) for point in points)))
        return Face(tuple(edges))

    def faces(self, sheet: Sheet) -> tuple[Face, ...]:
        """All faces of a sheet."""
        return tuple(self.face(patch) for patch in sheet.patches)


def label(vertex: Vertex, state: State) -> str:
    """The vertex as the builder would write it."""
    match vertex:
        case CornerAt(section, corner, _) | ArcAt(section, corner, _):
            return f"{section}.{corner}"
        case WallAt(section, wall, _, axis, value):
            return f"{section}.{wall} at {axis} = {value * MM:.0f}"
        case Middle(of):
            return f"the middle at z = {state.locate(of)[2] * MM:.0f}"
        case Pinned():
            x, y, z = state.locate(vertex) * MM
            return f"[{x:.0f}, {y:.0f}, {z:.0f}]"


def chain(ring: Ring) -> tuple[tuple[str, ...], Literal["closed", "mirrored", "both", "open"]] | None:
    """Corners of a ring in the order of its walls, and how it closes; None if its walls branch.

    closed: the last corner joins the first. mirrored: its walls go on to the mirror image at the last corner. both:
    at the first corner too, so that it is a closed ring over the middle. open: neither.
    """
    ordinary = {wall: pair for wall, pair in ring.walls.items() if pair[0] != pair[1]}
    spans = [pair[0] for pair in ring.walls.values() if pair[0] == pair[1]]
    links = {corner: [pair for pair in ordinary.values() if corner in pair] for corner in ring.corners}
    if any(len(links[corner]) + spans.count(corner) > 2 for corner in links) or len(spans) > 2:
        return None
    loose = [corner for corner in ring.corners if len(links[corner]) < 2]
    order = [next((corner for corner in loose if corner not in spans), loose[0] if loose else ring.corners[0])]
    left = dict(ordinary)
    while True:
        here = order[-1]
        step = next(((wall, pair) for wall, pair in left.items() if here in pair), None)
        if step is None:
            break
        del left[step[0]]
        order.append(step[1][1] if step[1][0] == here else step[1][0])
    if left:
        return None
    if len(order) > 1 and order[0] == order[-1]:
        return tuple(order[:-1]), "closed"
    if len(spans) == 2 or (len(order) == 1 and spans.count(order[0]) == 2):
        return tuple(order), "both"
    return tuple(order), "mirrored" if spans else "open"
