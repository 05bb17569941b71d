"""Openings cut, recesses pressed and mounts imprinted in the pieces of a panel.

What lies on one flat or straight-lined face is drawn on it as curves; what crosses a seam, an edge or the middle is
cut by prisms and curtains, since intersecting surfaces is slower and leaves stray points on warped ones.
"""

from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.plain import Edge, Opening, PlainMount, PlainPanel, Recess
from tubfem.errors import MeshError
from tubfem.geometry.curves import (
    SAME,
    Loop,
    canonical_loop,
    densified,
    dropped,
    inset,
    moved,
    plane_of,
    sample,
    sample_loop,
    unit,
)
from tubfem.geometry.draughtsman import Draughtsman, Piece
from tubfem.geometry.surface import drop_on, inside

SQUARE = 0.55  # half diagonal of the square inside an insert's circle over its radius


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


def on_face(panel: PlainPanel, loop: Loop, normal: Floats) -> Loop | None:
    """The edges drawn on the one face of the panel that holds them all, else None; on a warped face as splines."""
    for face in panel.faces:
        if drop_on(face, densified(sample_loop(loop), 0.01), normal) is None:
            continue
        edges = []
        for edge in loop:
            P = np.asarray(edge.points, float)
            flat = plane_of(sample_loop(face.edges))
            if flat[2] < 1e-7 and (edge.kind == "line" or abs(flat[1] @ normal) > 1 - 1e-12):
                P = drop_on(face, P, normal)
                edges.append(Edge(edge.kind, tuple(map(tuple, P.tolist()))))
                continue
            if edge.kind == "line":
                P = P[0] + np.linspace(0, 1, 7)[:, None] * (P[1] - P[0])
            else:
                P = np.concatenate([sample(edge, 8), P[-1:]])
            edges.append(Edge("spline", tuple(map(tuple, drop_on(face, P, normal).tolist()))))
        return tuple(edges)
    return None


def cut(pen: Draughtsman, pieces: list[Piece], panel: PlainPanel) -> list[Piece]:
    """Cut a panel's openings through its pieces; a one-sided one leaves its filling for the other side."""
    drawn, swept = [], []
    for opening in sorted(panel.openings, key=lambda o: canonical_loop(o.edges)[0].points):
        normal = unit(opening.normal)
        edges = None if _meets_recess(opening, panel) else on_face(panel, canonical_loop(opening.edges), normal)
        (swept if edges is None else drawn).append((opening, edges))
    pieces = _cut_along(pen, pieces, drawn) if drawn else pieces
    depth = max((recess.depth for recess in panel.recesses), default=0.0)
    return _cut_through(pen, pieces, [opening for opening, _ in swept], depth) if swept else pieces


def _meets_recess(opening: Opening, panel: PlainPanel) -> bool:
    """Whether an opening lies in a recess, wholly or in part, as seen along the opening's normal."""
    normal = unit(opening.normal)
    e1 = unit(np.cross(normal, [1.0, 0, 0] if abs(normal[0]) < 0.7 else [0, 1.0, 0]))
    frame = np.stack([e1, np.cross(normal, e1)])
    hole = densified(sample_loop(opening.edges), 0.005) @ frame.T
    pockets = [densified(sample_loop(recess.edges), 0.005) @ frame.T for recess in panel.recesses]
    return any(np.any(inside(pocket, hole, -1.0)) or np.any(inside(hole, pocket, -1.0)) for pocket in pockets)


def _opened(piece: Piece, tag: int, opening: Opening) -> Piece:
    return Piece(tag, piece.part, piece.sides - ({opening.only} if opening.only else piece.sides))


def _cut_along(pen: Draughtsman, pieces: list[Piece], drawn: list[tuple[Opening, Loop]]) -> list[Piece]:
    """Cut out what loops drawn on the faces enclose: the faces that are bounded by one loop and nothing else."""
    occ = pen.occ
    pen.forget()
    tools = [[(1, pen.curve(edge)) for edge in loop] for _, loop in drawn]
    _, became = occ.fragment([(2, p.tag) for p in pieces], [entity for loop in tools for entity in loop])
    rims, at = [], len(pieces)
    for loop in tools:
        rims.append({tag for children in became[at : at + len(loop)] for _, tag in children})
        at += len(loop)
    result = []
    for piece, children in zip(pieces, became, strict=False):
        for _, tag in children:
            bounds = {abs(curve) for around in occ.getCurveLoops(tag)[1] for curve in around}
            child = Piece(tag, piece.part, piece.sides)
            for (opening, _), rim in zip(drawn, rims, strict=True):
                child = _opened(child, tag, opening) if bounds <= rim else child
            if child.sides:
                result.append(child)
            else:
                occ.remove([(2, tag)])
    return result


def _cut_through(pen: Draughtsman, pieces: list[Piece], openings: list[Opening], depth: float) -> list[Piece]:
    """Cut with prisms square to each opening's normal; `depth` of the deepest recess, which they go through too."""
    occ = pen.occ
    pen.forget()
    prisms = []
    for opening in openings:
        P = sample_loop(opening.edges)
        normal, centre = unit(opening.normal), P.mean(axis=0)
        reach = 0.25 * float(np.ptp(P, axis=0).max()) + 0.01 + depth
        loop = moved(canonical_loop(dropped(opening.edges, centre, normal)), -reach * normal)
        swept = occ.extrude([(2, pen.face(loop))], *(2 * reach * normal))
        prisms.append(next(tag for dim, tag in swept if dim == 3))
    volumes, became = _split(occ, [(3, tag) for tag in prisms], pieces)
    within = [set().union(*(_volume_faces(occ, tag) for tag in tags)) for tags in volumes]
    result = []
    for piece, children in zip(pieces, became, strict=True):
        for tag in children:
            child = Piece(tag, piece.part, piece.sides)
            for opening, faces in zip(openings, within, strict=True):
                child = _opened(child, tag, opening) if tag in faces else child
            if child.sides:
                result.append(child)
    _keep(occ, volumes)
    return result


def press(
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


def imprint(pen: Draughtsman, pieces: list[Piece], panel: PlainPanel, mounts: list[PlainMount]) -> list[Piece]:
    """Imprint circles of insert and pad, a square inside and four lines, so that all is meshed in four-sided blocks."""
    if not mounts:
        return pieces
    occ = pen.occ
    pen.forget()
    tools = []
    for mount in sorted(mounts, key=lambda m: m.centre):
        normal = unit(mount.normal)
        edges = _mount_edges(mount)
        own = on_face(panel, edges, normal) if mount.panel == panel.name else None
        if own is not None:
            tools += [(1, pen.curve(edge)) for edge in own]
            continue
        reach = 0.25 * mount.radius
        swept = occ.extrude([(1, pen.curve(edge)) for edge in moved(edges, -reach * normal)], *(2 * reach * normal))
        tools += [entity for entity in swept if entity[0] == 2]
    _, became = occ.fragment(tools, [(2, piece.tag) for piece in pieces])
    kept = {tag for children in became[len(tools) :] for _, tag in children}
    curtains = {tag for children in became[: len(tools)] for dim, tag in children if dim == 2}
    occ.remove([(2, tag) for tag in sorted(curtains - kept)], recursive=True)
    became = became[len(tools) :]
    return [Piece(tag, p.part, p.sides) for p, children in zip(pieces, became, strict=True) for _, tag in children]


def _mount_edges(mount: PlainMount) -> Loop:
    """Quarters of both circles, the square inside and the lines between them, in the mount's own plane."""
    axes, centre = mount_frame(mount), np.asarray(mount.centre)
    turn = np.arange(8)[:, None] * np.pi / 4
    spokes = np.cos(turn) * axes[0] + np.sin(turn) * axes[1]
    square, insert, pad = (
        [tuple(p) for p in (centre + radius * spokes).tolist()]
        for radius in (SQUARE * mount.insert_radius, mount.insert_radius, mount.radius)
    )
    edges = []
    for k in range(0, 8, 2):
        following = (k + 2) % 8
        edges += [Edge("arc", (p[k], p[k + 1], p[following])) for p in (insert, pad)]
        edges += [Edge("line", ends) for ends in ((square[k], square[following]), (square[k], insert[k]))]
        edges.append(Edge("line", (insert[k], pad[k])))
    return tuple(edges)
