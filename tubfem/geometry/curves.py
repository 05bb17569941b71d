"""Loops of edges as points: canonical order, planes, sampling, moving inwards. Pure arithmetic, no gmsh."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from tubfem.arrays import Floats
from tubfem.case.plain import Edge, Face, PlainPanel

SAME = 5e-5  # m: points closer than this are one point, and a loop this near a plane is flat

Loop = tuple[Edge, ...]


def unit(vector: Iterable[float]) -> Floats:
    """The vector at length one."""
    vector = np.asarray(vector, float)
    return vector / np.linalg.norm(vector)


def reversed_edge(edge: Edge) -> Edge:
    """The same edge run from its other end."""
    return Edge(edge.kind, edge.points[::-1])


def canonical_edge(edge: Edge) -> Edge:
    """The edge in that direction which comes first by coordinates."""
    return min(edge, reversed_edge(edge), key=lambda e: e.points)


def canonical_loop(loop: Loop) -> Loop:
    """The loop with the start and the direction that come first by coordinates, however it was written."""
    backwards = tuple(reversed_edge(edge) for edge in loop[::-1])
    turns = [run[i:] + run[:i] for run in (loop, backwards) for i in range(len(loop))]
    return min(turns, key=lambda run: tuple(edge.points for edge in run))


def circumcentre(a: Floats, b: Floats, c: Floats) -> Floats:
    """Centre (3,) of the circle through three points."""
    u, v = b - a, c - a
    w = np.cross(u, v)
    return a + (np.cross(w, u) * (v @ v) + np.cross(v, w) * (u @ u)) / (2 * (w @ w))


def sample(edge: Edge, n: int = 12) -> Floats:
    """Points (m, 3) along the edge [m], its last one left out; a spline by its given points and chords between."""
    P = np.asarray(edge.points, float)
    if edge.kind == "line":
        return P[:1]
    if edge.kind == "spline":
        s = np.linspace(0, len(P) - 1, n * (len(P) - 1) + 1)[:-1]
        return np.stack([np.interp(s, np.arange(len(P)), P[:, i]) for i in range(3)], -1)
    centre = circumcentre(*P)
    e1 = unit(P[0] - centre)
    e2 = unit(np.cross(np.cross(P[1] - P[0], P[2] - P[1]), e1))
    turn = [np.arctan2((p - centre) @ e2, (p - centre) @ e1) % (2 * np.pi) for p in P[1:]]
    t = np.linspace(0, turn[1] if turn[1] > turn[0] else turn[1] - 2 * np.pi, n + 1)[:-1, None]
    return centre + np.linalg.norm(P[0] - centre) * (np.cos(t) * e1 + np.sin(t) * e2)


def sample_loop(loop: Loop, n: int = 12) -> Floats:
    """Points (m, 3) once round the loop."""
    return np.concatenate([sample(edge, n) for edge in loop])


def densified(loop: Floats, step: float) -> Floats:
    """Points on the closed polygon (m, 3), none farther than `step` from the next."""
    chord = np.roll(loop, -1, axis=0) - loop
    n = np.ceil(np.linalg.norm(chord, axis=1) / step).astype(int).clip(1)
    share = np.concatenate([np.arange(k) / k for k in n])
    return np.repeat(loop, n, axis=0) + share[:, None] * np.repeat(chord, n, axis=0)


def loop_length(loop: Loop) -> float:
    """Length once round [m], by 24 chords an edge."""
    P = sample_loop(loop, 24)
    return float(np.linalg.norm(np.roll(P, -1, axis=0) - P, axis=1).sum())


def plane_of(points: Floats) -> tuple[Floats, Floats, float]:
    """Centre (3,), normal (3,) of the best plane through a loop's points (m, 3), and how far it strays from it [m]."""
    centre = points.mean(axis=0)
    normal = np.linalg.svd(points - centre)[2][2]
    return centre, normal, float(np.abs((points - centre) @ normal).max())


def loop_normal(points: Floats) -> Floats:
    """Unit vector (3,) round which the closed polygon (m, 3) turns anticlockwise."""
    return unit(np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0))


def dropped(loop: Loop, origin: Floats, normal: Floats) -> Loop:
    """The loop moved along `normal` into the plane through `origin`."""

    def drop(p: Iterable[float]) -> tuple[float, ...]:
        p = np.asarray(p, float)
        return tuple((p - (p - origin) @ normal * normal).tolist())

    return tuple(Edge(edge.kind, tuple(drop(p) for p in edge.points)) for edge in loop)


def moved(loop: Loop, by: Floats) -> Loop:
    """The loop moved by a vector."""
    return tuple(Edge(e.kind, tuple(tuple((np.asarray(p) + by).tolist()) for p in e.points)) for e in loop)


def inset(loop: Loop, normal: Floats, distance: float) -> tuple[Edge | None, ...] | None:
    """The flat loop of lines and arcs moved inwards by `distance` (outwards if negative) in its plane [m].

    One edge for each of the given ones, so that walls can be ruled between the two; None for an arc that has shrunk
    to a point, where its neighbours then meet. None altogether if a line would shrink to nothing, if an edge is a
    spline or if an arc meets its neighbour at an angle.
    """
    normal = unit(normal)
    if loop_normal(sample_loop(loop)) @ normal < 0:
        normal = -normal
    ends, middles, gone = [], [], []
    for edge in loop:
        P = np.asarray(edge.points, float)
        if edge.kind == "spline":
            return None
        if edge.kind == "line":
            Q = P + np.cross(normal, unit(P[1] - P[0])) * distance
        else:
            centre = circumcentre(*P)
            radius = np.linalg.norm(P[0] - centre)
            bulge = np.cross(P[1] - P[0], P[2] - P[1]) @ normal > 0  # outwards: shrinks when the loop does
            Q = centre + (P - centre) * (1 - (distance if bulge else -distance) / radius)
            if (Q[0] - centre) @ (P[0] - centre) < SAME * radius:
                Q = None
        gone.append(Q is None)
        ends.append(None if Q is None else (Q[0], Q[-1]))
        middles.append([] if Q is None else list(Q[1:-1]))
    last = [i for i in range(len(loop)) if not gone[i]]
    corners = np.zeros((len(loop), 3))  # corner i stands before edge i
    for before, i in zip(last[-1:] + last[:-1], last, strict=True):
        (a, b), (c, d) = ends[before], ends[i]
        if np.linalg.norm(b - c) > 1e-9:
            if loop[i].kind != "line" or loop[before].kind != "line":
                return None
            u, v = b - a, d - c
            across = np.cross(u, v) @ normal
            if abs(across) < 1e-6 * np.linalg.norm(u) * np.linalg.norm(v):
                return None
            b = a + np.cross(c - a, v) @ normal / across * u
        corners[np.arange(before + 1, i + 1 if i > before else i + 1 + len(loop)) % len(loop)] = b
    result = []
    for i, edge in enumerate(loop):
        a, b = corners[i], corners[(i + 1) % len(loop)]
        run = np.subtract(edge.points[-1], edge.points[0])
        if gone[i]:
            result.append(None)
        elif (b - a) @ run <= SAME * np.linalg.norm(run) and edge.kind == "line":
            return None
        else:
            result.append(Edge(edge.kind, tuple(tuple(p.tolist()) for p in (a, *middles[i], b))))
    return tuple(result)


def merge_points(panels: tuple[PlainPanel, ...], *, mirror: bool) -> tuple[PlainPanel, ...]:
    """The panels with ends of edges closer than `SAME` made one point, and with ends at y = 0 put exactly there."""
    every = [edge for panel in panels for face in panel.faces for edge in face.edges]
    ends = np.array(sorted({p for edge in every for p in (edge.points[0], edge.points[-1])}), float).reshape(-1, 3)
    pairs = cKDTree(ends).query_pairs(SAME, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), pairs.T), shape=(len(ends),) * 2)
    _, label = connected_components(graph, directed=False)
    _, first = np.unique(label, return_index=True)  # ends are sorted: the first one speaks for its cluster
    target = ends[first][label]
    if mirror:
        target[np.abs(target[:, 1]) < SAME, 1] = 0.0
    place = {tuple(p): tuple(q) for p, q in zip(ends.tolist(), target.tolist(), strict=True)}

    def merged(edge: Edge) -> Edge:
        return Edge(edge.kind, (place[edge.points[0]], *edge.points[1:-1], place[edge.points[-1]]))

    def faces(panel: PlainPanel) -> tuple[Face, ...]:
        loops = [
            tuple(merged(e) for e in face.edges if merged(e).points[0] != merged(e).points[-1]) for face in panel.faces
        ]
        return tuple(sorted((Face(canonical_loop(loop)) for loop in loops if len(loop) > 1), key=face_key))

    return tuple(replace(panel, faces=faces(panel)) for panel in panels)


def face_key(face: Face) -> tuple:
    """What faces are sorted by: coordinates, never names."""
    return tuple(edge.points for edge in face.edges)
