"""What is wrong with the panels, found on the fragmented shapes and on the meshed half, named with sizes in mm."""

from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints
from tubfem.case.plain import PlainTub
from tubfem.geometry.assemble import HalfMesh
from tubfem.geometry.curves import SAME
from tubfem.geometry.mesh import centroids
from tubfem.geometry.shapes import Shapes
from tubfem.geometry.topology import chains, edge_table

NARROW = 0.1  # a strip narrower than this times the mesh size, and eight times as long, is a sliver
NEAR = 0.5  # an edge that runs closer than this times the mesh size to what it does not touch leaves a gap
RUN = 4.0  # how many times longer than its gap such a run is at least


def shape_faults(model: Any, shapes: Shapes, tub: PlainTub) -> list[str]:
    """Overlapping panels with the area, and strips too narrow to mesh with their width."""
    faults, owners = [], {}
    for piece in shapes.pieces:
        owners.setdefault(piece.tag, []).append(piece)
    overlap: dict[tuple[str, str], float] = {}
    for tag, pieces in owners.items():
        area = model.occ.getMass(2, tag)
        for i, a in enumerate(pieces):
            for b in pieces[i + 1 :]:
                if a.sides & b.sides:
                    pair = tuple(sorted((shapes.parts[a.part].name, shapes.parts[b.part].name)))
                    overlap[pair] = overlap.get(pair, 0.0) + area
        curves = [int(t) for t in model.getAdjacencies(2, tag)[1]]
        perimeter = sum(model.occ.getMass(1, t) for t in curves)
        width = 2 * area / perimeter
        if width < NARROW * tub.size and perimeter / 2 > 8 * width:
            name = shapes.parts[pieces[0].part].name
            beside = sorted(
                {
                    shapes.parts[p.part].name
                    for t in curves
                    for face in model.getAdjacencies(1, t)[0]
                    for p in owners[int(face)]
                }
                - {name}
            )
            where = _mm(model.occ.getCenterOfMass(2, tag))
            faults.append(
                f"panels.{name}: a strip {width * 1e3:.1f} mm wide and {perimeter / 2 * 1e3:.0f} mm long is left "
                f"beside {' and '.join(beside) or 'itself'} at {where}; end the panel on the "
                "other, or move one so that at least a tenth of the mesh size remains"
            )
    for (a, b), area in sorted(overlap.items()):
        who = f"panels {a} and {b} overlap" if a != b else f"panel {a} overlaps itself"
        faults.append(f"{who} over {area * 1e4:.1f} cm^2; end one where the other begins, or cut an opening in it")
    return faults


def half_faults(half: HalfMesh, tub: PlainTub) -> list[str]:
    """Panels that touch nothing, with the nearest one, and edges that run beside a panel without touching it."""
    names = [panel.name for panel in tub.panels]
    owner = np.array([names.index(part.panel.name) for part in half.parts])[half.part]
    if len(names) == 1:
        return []
    table, by_element = edge_table(half.conn)
    pairs = np.unique(np.stack([by_element.ravel(), np.repeat(owner, 4)], -1), axis=0)
    shared = np.bincount(pairs[:, 0], minlength=len(table))
    joined = set(pairs[shared[pairs[:, 0]] > 1, 1].tolist())
    faults = []
    for i in range(len(names)):
        if i in joined or not np.any(owner == i):
            continue
        own, others = np.unique(half.conn[owner == i]), half.conn[owner != i]
        distance, _, element = nearest(half.points[own], half.points, others, np.inf)
        who = names[owner[owner != i][element[np.argmin(distance)]]]
        gap = distance.min() * 1e3
        touch = f"nearest: {who}, {gap:.1f} mm" if gap > 2e3 * SAME else f"it meets {who} only at a point"
        faults.append(f"panels.{names[i]} touches no other panel ({touch})")
    count = np.bincount(by_element.ravel(), minlength=len(table))
    free = count == 1
    if tub.mirror:
        free &= np.any(half.points[table, 1] != 0.0, axis=1)
    holder = np.zeros(len(table), np.int64)
    holder[by_element.ravel()] = np.repeat(owner, 4)
    gaps: dict[frozenset[str], tuple[float, str]] = {}  # two panels with a gap see each other: the longer run speaks
    for i, name in enumerate(names):
        if i in joined and np.any(free & (holder == i)):
            for beside, length, message in _gaps(half, tub, owner, i, name, names, table[free & (holder == i)]):
                pair = frozenset({name, beside})
                gaps[pair] = max(gaps.get(pair, (0.0, "")), (length, message))
    return faults + [message for _, message in gaps.values()]


def _gaps(
    half: HalfMesh, tub: PlainTub, owner: Ints, i: int, name: str, names: list[str], edges: Ints
) -> list[tuple[str, float, str]]:
    """Runs of a panel's free edges beside another panel, where nothing of its own reaches across.

    What they run beside, their length [m] and the message.
    """
    faults, near = [], NEAR * tub.size
    others, own = half.conn[owner != i], half.conn[owner == i]
    whose = owner[owner != i]
    for line in chains(edges, half.points):
        middle = half.points[line].mean(axis=1)
        length = np.linalg.norm(half.points[line[:, 1]] - half.points[line[:, 0]], axis=1)
        gap, foot, element = nearest(middle, half.points, others, near)
        bridged = nearest(foot, half.points, own, near)[0] if np.any(element >= 0) else gap
        who = np.where((element >= 0) & (gap > 2 * SAME) & (bridged > 0.5 * gap), whose[element], -1)
        if tub.mirror:
            twin = (middle[:, 1] < near / 2) & (who < 0)
            gap, who = np.where(twin, 2 * middle[:, 1], gap), np.where(twin, len(names), who)
        for run in np.split(np.arange(len(who)), np.flatnonzero(np.diff(who)) + 1):
            other = int(who[run[0]])
            total, mean = length[run].sum(), gap[run].mean()
            if other >= 0 and total > RUN * mean:
                beside = names[other] if other < len(names) else "its own mirror image"
                message = (
                    f"panels.{name}: an edge runs {mean * 1e3:.1f} mm beside {beside} for {total * 1e3:.0f} mm near "
                    f"{_mm(middle[run].mean(axis=0))} without touching it; end it on {beside}, or move it "
                    f"{near * 1e3:.0f} mm clear"
                )
                faults.append((beside, round(float(total), 6), message))
    return faults


def nearest(points: Floats, nodes: Floats, conn: Ints, reach: float) -> tuple[Floats, Floats, Ints]:
    """Distance (m,), nearest point (m, 3) and element (m,) of a mesh of quads; -1 and inf where none within `reach`."""
    middle = centroids(nodes, conn)
    radius = float(np.linalg.norm(nodes[conn] - middle[:, None], axis=2).max())
    tree = cKDTree(middle)
    bound = tree.query(points)[0] + 2 * radius  # the nearest element's middle is no farther than this
    found = tree.query_ball_point(points, np.minimum(bound, reach + radius))
    row = np.repeat(np.arange(len(points)), [len(f) for f in found])
    element = np.concatenate([np.asarray(f, np.int64) for f in found]) if len(row) else np.zeros(0, np.int64)
    best = np.full(len(points), np.inf)
    foot, which = np.array(points), np.full(len(points), -1)
    for corners in ((0, 1, 2), (0, 2, 3)):
        q = nearest_on_triangles(points[row], *(nodes[conn[element, c]] for c in corners))
        distance = np.linalg.norm(points[row] - q, axis=1)
        order = np.lexsort((element, distance, row))
        first = order[np.unique(row[order], return_index=True)[1]]
        better = first[distance[first] < np.minimum(best[row[first]], reach)]
        best[row[better]], foot[row[better]], which[row[better]] = distance[better], q[better], element[better]
    return best, foot, which


def nearest_on_triangles(p: Floats, a: Floats, b: Floats, c: Floats) -> Floats:
    """Nearest point (n, 3) to each p on its triangle abc, all (n, 3)."""
    n = np.cross(b - a, c - a)
    square = np.sum(n * n, axis=1).clip(1e-300)
    inside = np.ones(len(p), bool)
    best, least = np.array(a), np.full(len(p), np.inf)
    for u, v in ((a, b), (b, c), (c, a)):
        inside &= np.sum(np.cross(v - u, p - u) * n, axis=1) >= 0
        t = np.sum((p - u) * (v - u), axis=1) / np.sum((v - u) ** 2, axis=1).clip(1e-300)
        q = u + np.clip(t, 0, 1)[:, None] * (v - u)
        distance = np.linalg.norm(p - q, axis=1)
        closer = distance < least
        best[closer], least[closer] = q[closer], distance[closer]
    foot = p - (np.sum((p - a) * n, axis=1) / square)[:, None] * n
    return np.where(inside[:, None], foot, best)


def _mm(at: Floats) -> str:
    return "({:.0f}, {:.0f}, {:.0f})".format(*(np.asarray(at) * 1e3))
