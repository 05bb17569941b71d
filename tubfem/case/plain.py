"""Plain panels: what stations, sections and tape measurements come to before any meshing.

Everything in a case that is written for the tape measure is turned into these (`sections.plain_tub`).
The rooms behind see only plain panels: loops of edges in vehicle axes, metres, x aft, y right, z up.
With a mirror plane only the half y >= 0 is held here; a panel says itself what becomes of its other half.
"""

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float, float]
Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge of a loop, from its first point to its last [m].

    line: two points. arc: start, a point it passes through, end. spline: start, points it passes through, end.
    """

    kind: Literal["line", "arc", "spline"]
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a panel: a closed loop of edges, each starting where the one before ends.

    A loop in one plane is a flat face. Four edges out of plane span the surface that straight lines between
    opposite edges make (for four straight edges the bilinear one); more than four out of plane, a filled surface.
    """

    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Opening:
    """A hole: a closed loop near the panel, cut square to `normal`; `only` keeps it to one side of the tub."""

    name: str
    edges: tuple[Edge, ...]
    normal: Point
    only: Side | None = None


@dataclass(frozen=True, slots=True)
class Recess:
    """A pressed pocket: the loop at the panel, its depth [m] along `towards`, walls leaning by `draft` [rad].

    The bottom is the loop moved inwards by depth*tan(draft) and along `towards` by depth. Bottom and walls become
    panels `PANEL.NAME` and `PANEL.NAME.walls` of the regions named here, moulded on to the panel.
    """

    name: str
    edges: tuple[Edge, ...]
    depth: float
    towards: Point
    draft: float
    region: str
    walls_region: str
    only: Side | None = None


@dataclass(frozen=True, slots=True)
class PlainPanel:
    """A panel ready to mesh.

    Attributes
    ----------
    name, region : str
        Without `.left`/`.right`; a section's wall is "SECTION.WALL".
    faces : tuple of Face
        The panel in one or more pieces (a section's wall has one a bay); pieces of a panel are continuous.
    side : "half", "across" or "whole"
        half: exists twice, `.right` as written here (y >= 0) and `.left`, its true mirror image (ply angles turn the
        other way). across: one piece over the middle, of which the part y >= 0 is written here; same angles on both
        sides. whole: a case without mirror.
    tool : (3,)
        Direction the tool face looks, near enough square to the panel; the laminate grows the other way.
    zero : (3,)
        Direction of 0 degrees, to be dropped square onto the surface.
    shift : float
        How far the meshed surface lies from the tool face, into the laminate [m].
    section : bool
        A section's wall, which goes through where panels cross.
    removable : bool
        Marked as removable in the case.
    """

    name: str
    region: str
    faces: tuple[Face, ...]
    side: Literal["half", "across", "whole"]
    tool: Point
    zero: Point
    shift: float = 0.0
    section: bool = False
    removable: bool = False
    openings: tuple[Opening, ...] = ()
    recesses: tuple[Recess, ...] = ()


@dataclass(frozen=True, slots=True)
class PlainMount:
    """A bolted place on a panel: circles of the insert and of the washer or pad, imprinted in the mesh [m]."""

    name: str
    panel: str
    centre: Point
    normal: Point
    insert_radius: float
    radius: float
    only: Side | None = None


@dataclass(frozen=True, slots=True)
class PlainPoint:
    """A point that must be a node because a load, support or probe names it; `on` is its panel or None."""

    name: str
    at: Point


@dataclass(frozen=True, slots=True)
class PlainLine:
    """An edge curve that a load or support names: mesh edges on it are collected under `name`."""

    name: str
    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class PlainTub:
    """All that geometry is given. `size` is the mesh size [m]; `mirror` says that y >= 0 is written and reflected."""

    panels: tuple[PlainPanel, ...]
    mounts: tuple[PlainMount, ...]
    points: tuple[PlainPoint, ...]
    lines: tuple[PlainLine, ...]
    mirror: bool
    size: float
    stations: tuple[tuple[str, Point, Point], ...] = ()  # name, a point of the plane, its normal (aft)
