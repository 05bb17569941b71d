"""Panels, openings, recesses and mounts as OCC shapes, fragmented so that everything meets on shared curves.

`model` is gmsh's, opened by `mesher.gmsh_model`. Whatever is handed to it is sorted by coordinates, never by name.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.plain import Edge, Opening, PlainMount, PlainPanel, PlainTub, Recess
from tubfem.errors import MeshError
from tubfem.geometry.curves import (
    SAME,
    Loop,
    canonical_edge,
    canonical_loop,
    dropped,
    face_key,
    inset,
    merge_points,
    moved,
    plane_of,
    sample_loop,
    unit,
)

SQUARE = 0.55  # half diagonal of the square inside an insert's circle over its radius
Sides = frozenset[str]  # the sides of the tub on which a piece of the half exists: "right", "left" or both


@dataclass(frozen=True, slots=True)
class Part:
    """A panel of the half, or the bottom or the walls of a recess in it; the names are plain (no side)."""

    name: str
    region: str
    panel: PlainPanel
    recess: Recess | None = None
    only: str | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A face of the OCC model: its tag, its part's index and the sides it exists on."""

    tag: int
    part: int
    sides: Sides


@dataclass(frozen=True, slots=True)
class Shapes:
    """The fragmented half: parts in the case's order, pieces in OCC's, curves by line name."""

    parts: tuple[Part, ...]
    pieces: tuple[Piece, ...]
    lines: dict[str, tuple[int, ...]]


class Draughtsman:
    """Makes OCC points, curves and faces, the same coordinates always giving the same tag."""

    def __init__(self, model: Any) -> None:
        self.occ = model.occ
        self._points: dict[tuple[float, ...], int] = {}
        self._curves: dict[Edge, int] = {}

    def point(self, at: tuple[float, ...]) -> int:
        """Tag of the point at these coordinates."""
        at = tuple(float(c) for c in at)
        if at not in self._points:
            self._points[at] = self.occ.addPoint(*at)
        return self._points[at]

    def curve(self, edge: Edge) -> int:
        """Tag of the curve, whichever way it was run."""
        edge = canonical_edge(edge)
        if edge not in self._curves:
            tags = [self.point(p) for p in edge.points]
            if edge.kind == "line":
                tag = self.occ.addLine(*tags)
            elif edge.kind == "arc":
                tag = self.occ.addCircleArc(tags[0], tags[1], tags[2], center=False)
            else:
                tag = self.occ.addSpline(tags)
            self._curves[edge] = tag
        return self._curves[edge]

    def face(self, loop: Loop) -> int:
        """Tag of the face inside a loop: plane, straight-lined between four edges, or filled."""
        tags = [self.curve(edge) for edge in loop]
        if plane_of(sample_loop(loop))[2] < 1e-7:  # what OCC takes for a plane
            return self.occ.addPlaneSurface([self.occ.addCurveLoop(tags)])
        if len(loop) in (3, 4):
            return self.occ.addBSplineFilling(self.occ.addWire(tags), type="Stretch")
        return self.occ.addSurfaceFilling(self.occ.addCurveLoop(tags))

    def forget(self) -> None:
        """Start afresh: tags made so far may have been consumed by a boolean operation."""
        self._points.clear()
        self._curves.clear()


def draw(model: Any, tub: PlainTub) -> Shapes:
    """Draw the half (or the whole, without mirror) and fragment everything in it.

    Raises MeshError for recesses that cannot be made and for a panel that OCC cannot fill.
    """
    panels = merge_points(tub.panels, mirror=tub.mirror)
    parts: list[Part] = []
    first: dict[str, int] = {}
    for panel in panels:
        first[panel.name] = len(parts)
        parts.append(Part(panel.name, panel.region, panel))
        for recess in panel.recesses:
            name = f"{panel.name}.{recess.name}"
            parts.append(Part(name, recess.region, panel, recess, recess.only))
            parts.append(Part(f"{name}.walls", recess.walls_region, panel, recess, recess.only))
    sides = frozenset({"right", "left"} if tub.mirror else {"right"})
    draughtsman = Draughtsman(model)
    pieces, faults = [], []
    for panel in sorted(panels, key=lambda p: min(face_key(face) for face in p.faces)):
        draughtsman.forget()
        index = first[panel.name]
        own = [Piece(draughtsman.face(face.edges), index, sides) for face in panel.faces]
        try:
            for recess in sorted(panel.recesses, key=lambda r: canonical_loop(r.edges)[0].points):
                bottom = index + 1 + 2 * panel.recesses.index(recess)
                own = _press(draughtsman, own, recess, bottom, panel, tub.mirror)
            own = _cut(draughtsman, own, panel.openings, max((r.depth for r in panel.recesses), default=0.0))
        except MeshError as error:
            faults += error.messages
            continue
        named = {parts[piece.part].name for piece in own}
        mounts = [mount for mount in tub.mounts if mount.panel in named]
        pieces += _imprint(draughtsman, own, mounts)
    if faults:
        raise MeshError(faults)
    return _fragment(draughtsman, model, tub, tuple(parts), pieces)


def _volume_faces(occ: Any, volume: int) -> set[int]:
    return {abs(tag) for shell in occ.getSurfaceLoops(volume)[1] for tag in shell}


def _split(occ: Any, tools: list[tuple[int, int]], pieces: list[Piece]) -> tuple[list[list[int]], list[list[int]]]:
    """Fragment tools and pieces: tags that each tool and each piece became."""
    _, became = occ.fragment(tools, [(2, piece.tag) for piece in pieces])
    tags = [[tag for _, tag in children] for children in became]
    return tags[: len(tools)], tags[len(tools) :]


def _keep(occ: Any, volumes: list[list[int]]) -> None:
    """Remove volumes, leaving their faces."""
    occ.remove([(3, tag) for tags in volumes for tag in sorted(set(tags))])


def _cut(pen: Draughtsman, pieces: list[Piece], openings: tuple[Opening, ...], depth: float) -> list[Piece]:
    """Cut openings through the pieces of a panel; a one-sided one leaves its filling for the other side."""
    if not openings:
        return pieces
    occ = pen.occ
    pen.forget()
    openings = tuple(sorted(openings, key=lambda o: canonical_loop(o.edges)[0].points))
    prisms = []
    for opening in openings:
        P = sample_loop(opening.edges)
        normal, centre = unit(opening.normal), P.mean(axis=0)
        reach = 0.25 * float(np.ptp(P, axis=0).max()) + 0.01 + depth
        loop = moved(canonical_loop(dropped(opening.edges, centre, normal)), -reach * normal)
        swept = occ.extrude([(2, pen.face(loop))], *(2 * reach * normal))
        prisms.append(next(tag for dim, tag in swept if dim == 3))
    volumes, became = _split(occ, [(3, tag) for tag in prisms], pieces)
    inside = [set().union(*(_volume_faces(occ, tag) for tag in tags)) for tags in volumes]
    result = []
    for piece, children in zip(pieces, became, strict=True):
        for tag in children:
            sides = piece.sides
            for opening, faces in zip(openings, inside, strict=True):
                if tag in faces:
                    sides = sides - ({opening.only} if opening.only else sides)
            if sides:
                result.append(Piece(tag, piece.part, sides))
    _keep(occ, volumes)
    return result


def _press(
    pen: Draughtsman, pieces: list[Piece], recess: Recess, bottom: int, panel: PlainPanel, mirror: bool
) -> list[Piece]:
    """Press a recess: a solid with leaning walls, split by the panel.

    The skin of the solid's lower part is bottom and walls.
    """
    occ = pen.occ
    pen.forget()
    towards = unit(recess.towards)
    P = sample_loop(recess.edges)
    centre = P.mean(axis=0)
    # the pocket is square to the panel: its depth is measured along the loop's own normal
    square = plane_of(P)[1]
    square = square if square @ towards > 0 else -square
    rise = max(0.002, 2 * plane_of(P)[2])
    flat = canonical_loop(dropped(recess.edges, centre, square))
    lean = np.tan(recess.draft)
    upper = inset(flat, square, -rise * lean)
    lower = inset(flat, square, recess.depth * lean)
    if upper is None or None in upper or lower is None:
        deep, degrees = recess.depth * 1e3, np.degrees(recess.draft)
        raise MeshError(
            f"panels.{panel.name}.recesses.{recess.name}: walls leaning by {degrees:.0f} degrees meet before the depth "
            f"of {deep:.0f} mm is reached (or the outline is not made of lines and tangent arcs); "
            "make it shallower, steeper or wider"
        )
    top = moved(upper, -rise * square)
    base = tuple(None if edge is None else moved((edge,), recess.depth * square)[0] for edge in lower)
    shell = [pen.face(top), pen.face(tuple(edge for edge in base if edge))]
    n = len(top)
    low = [next(base[j % n].points[0] for j in range(i, i + n) if base[j % n]) for i in range(n)]
    for i in range(n):
        after = (i + 1) % n
        left = Edge("line", (low[i], top[i].points[0]))
        right = Edge("line", (top[i].points[-1], low[after]))
        foot = () if base[i] is None else (Edge(base[i].kind, base[i].points[::-1]),)
        shell.append(pen.face((left, top[i], right, *foot)))
    volume = (3, occ.addVolume([occ.addSurfaceLoop(shell, sewing=True)]))
    if mirror and P[:, 1].min() < -SAME:
        span = 10 * float(np.ptp(P, axis=0).max()) + 1
        x, _, z = centre - span / 2
        box = (3, occ.addBox(x, 0, z, span, span, span))
        volume = occ.intersect([volume], [box])[0][0]
    volumes, became = _split(occ, [volume], pieces)
    inside = [child for children in became for child in children]
    heights = [(np.subtract(occ.getCenterOfMass(3, tag), centre) @ square, tag) for tag in volumes[0]]
    if len(heights) < 2:
        raise MeshError(f"panels.{panel.name}.recesses.{recess.name}: does not lie on the panel; check its place")
    pocket = max(heights)[1]
    only = {recess.only} if recess.only else None
    result = []
    filled = set().union(*(_volume_faces(occ, tag) for tag in volumes[0]))
    for piece, children in zip(pieces, became, strict=True):
        for tag in children:
            sides = piece.sides - (only or piece.sides) if tag in filled else piece.sides
            if sides:
                result.append(Piece(tag, piece.part, sides))
    sides = frozenset(only or pieces[0].sides)
    for tag in sorted(_volume_faces(occ, pocket) - set(inside)):
        at = np.array(occ.getCenterOfMass(2, tag))
        if mirror and abs(occ.getBoundingBox(2, tag)[4]) < 1e-6:
            continue  # the cut on the middle plane
        deepest = (at - centre) @ square > recess.depth - 1e-6
        result.append(Piece(tag, bottom if deepest else bottom + 1, sides))
    _keep(occ, volumes)
    return result


def mount_frame(mount: PlainMount) -> Floats:
    """Axes (3, 3) of a mount's plane: two across, so that the middle plane y = 0 lies on one, and the normal."""
    n = unit(mount.normal)
    across = np.array([0.0, 1.0, 0.0]) - n[1] * n
    e1 = unit(across if np.linalg.norm(across) > 0.1 else np.array([1.0, 0.0, 0.0]) - n[0] * n)
    return np.stack([e1, np.cross(n, e1), n])


def _imprint(pen: Draughtsman, pieces: list[Piece], mounts: list[PlainMount]) -> list[Piece]:
    """Imprint circles of insert and pad, a square inside and four lines, so that all is meshed in four-sided blocks."""
    if not mounts:
        return pieces
    occ = pen.occ
    pen.forget()
    tools = []
    for mount in sorted(mounts, key=lambda m: m.centre):
        axes, centre = mount_frame(mount), np.asarray(mount.centre)
        reach = 0.25 * mount.radius
        turn = np.arange(8)[:, None] * np.pi / 4
        spokes = np.cos(turn) * axes[0] + np.sin(turn) * axes[1]
        square, insert, pad = (
            [tuple(p) for p in (centre + radius * spokes - reach * axes[2]).tolist()]
            for radius in (SQUARE * mount.insert_radius, mount.insert_radius, mount.radius)
        )
        edges = []
        for k in range(0, 8, 2):
            following = (k + 2) % 8
            edges += [Edge("arc", (p[k], p[k + 1], p[following])) for p in (insert, pad)]
            edges += [Edge("line", ends) for ends in ((square[k], square[following]), (square[k], insert[k]))]
            edges.append(Edge("line", (insert[k], pad[k])))
        swept = occ.extrude([(1, pen.curve(edge)) for edge in edges], *(2 * reach * axes[2]))
        tools += [entity for entity in swept if entity[0] == 2]
    curtains, became = _split(occ, tools, pieces)
    kept = {tag for children in became for tag in children}
    occ.remove([(2, tag) for tags in curtains for tag in sorted(set(tags) - kept)], recursive=True)
    return [Piece(tag, p.part, p.sides) for p, children in zip(pieces, became, strict=True) for tag in children]


def _fragment(pen: Draughtsman, model: Any, tub: PlainTub, parts: tuple[Part, ...], pieces: list[Piece]) -> Shapes:
    """Fragment all pieces against each other and against named points and lines; drop what is not a piece."""
    occ = pen.occ
    pen.forget()

    def place(piece: Piece) -> tuple[float, ...]:
        return (*np.round([*occ.getCenterOfMass(2, piece.tag), occ.getMass(2, piece.tag)], 7), len(piece.sides))

    pieces = sorted(pieces, key=place)
    points = [(0, pen.point(at)) for at in sorted({p.at for p in tub.points})]
    edges = sorted({canonical_edge(edge) for line in tub.lines for edge in line.edges}, key=lambda e: e.points)
    curves = [(1, pen.curve(edge)) for edge in edges]
    tools = points + curves
    if len(pieces) + len(tools) > 1:
        _, became = occ.fragment([(2, piece.tag) for piece in pieces], tools)
    else:
        became = [[(2, piece.tag)] for piece in pieces]  # a lone face has nothing to be split by
    result, keep = [], set()
    for piece, children in zip(pieces, became, strict=False):
        for _, tag in children:
            result.append(Piece(tag, piece.part, piece.sides))
            keep.add(tag)
    of_edge = dict(zip(edges, became[len(pieces) + len(points) :], strict=True))
    lines = {
        line.name: tuple(tag for edge in line.edges for _, tag in of_edge[canonical_edge(edge)]) for line in tub.lines
    }
    occ.remove(occ.getEntities(3), recursive=True)
    occ.remove([entity for entity in occ.getEntities(2) if entity[1] not in keep], recursive=True)
    used = {tag for tags in lines.values() for tag in tags}
    occ.synchronize()
    loose = [(1, t) for _, t in occ.getEntities(1) if not len(model.getAdjacencies(1, t)[0]) and t not in used]
    occ.remove(loose, recursive=True)
    occ.synchronize()
    return Shapes(parts, tuple(sorted(result, key=lambda p: p.tag)), lines)
