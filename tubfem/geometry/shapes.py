"""Panels, openings, recesses and mounts as OCC shapes, fragmented so that everything meets on shared curves.

`model` is gmsh's, opened by `mesher.gmsh_model`. Whatever is handed to it is sorted by coordinates, never by name.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tubfem.case.plain import PlainPanel, PlainTub, Recess
from tubfem.errors import MeshError
from tubfem.geometry.curves import canonical_edge, canonical_loop, face_key, merge_points
from tubfem.geometry.draughtsman import Draughtsman, Piece
from tubfem.geometry.features import cut, imprint, press


@dataclass(frozen=True, slots=True)
class Part:
    """A panel of the half, or the bottom or the walls of a recess in it; the names are plain (no side)."""

    name: str
    region: str
    panel: PlainPanel
    recess: Recess | None = None
    only: str | None = None


@dataclass(frozen=True, slots=True)
class Shapes:
    """The fragmented half: parts in the case's order, pieces in OCC's, curves by line name."""

    parts: tuple[Part, ...]
    pieces: tuple[Piece, ...]
    lines: dict[str, tuple[int, ...]]


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
    panels_in_order = sorted(panels, key=lambda p: min(face_key(face) for face in p.faces))
    drawn = []
    for panel in panels_in_order:
        try:
            drawn.append([draughtsman.face(face.edges) for face in panel.faces])
        except Exception as error:  # gmsh raises bare Exception
            faults.append(
                f"panels.{panel.name}: no surface can be laid in its outline ({error}); check its corners' order"
            )
    if faults:
        raise MeshError(faults)
    for panel, tags in zip(panels_in_order, drawn, strict=True):
        index = first[panel.name]
        own = [Piece(tag, index, sides) for tag in tags]
        try:
            for recess in sorted(panel.recesses, key=lambda r: canonical_loop(r.edges)[0].points):
                bottom = index + 1 + 2 * panel.recesses.index(recess)
                own = press(draughtsman, own, recess, bottom, panel, tub.mirror)
            own = cut(draughtsman, own, panel)
        except MeshError as error:
            faults += error.messages
            continue
        named = {parts[piece.part].name for piece in own}
        mounts = [mount for mount in tub.mounts if mount.panel in named]
        pieces += imprint(draughtsman, own, panel, mounts)
    if faults:
        raise MeshError(faults)
    return _fragment(draughtsman, model, tub, tuple(parts), pieces)


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
