"""Feet, distances and insides on plain faces, so that points can be dropped on to panels and hung on to them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.frames import arc_points, area_vector, cross, spline_points, unit
from tubfem.case.plain import Edge, Face

FLAT = 1e-9  # [m]: a face whose points lie this near a plane is flat


@dataclass(frozen=True, eq=False, slots=True)
class Foot:
    """Where a point falls on a face: the point there, the face's unit normal, how far off, and if inside."""

    at: Floats
    normal: Floats
    distance: float
    inside: bool


@dataclass(frozen=True, eq=False, slots=True)
class Surface:
    """Faces cut up for looking up feet: flat polygons and bilinear quads (n, 3) [m]; boxes round them (piece, 2, 3)."""

    faces: tuple[Face, ...]
    pieces: tuple[Floats, ...]
    boxes: Floats


def surface(faces: tuple[Face, ...]) -> Surface:
    """The faces cut up."""
    cut = tuple(piece for face in faces for piece in pieces(face))
    return Surface(faces, cut, np.array([[piece.min(axis=0), piece.max(axis=0)] for piece in cut]))


def edge_points(edge: Edge, count: int = 24) -> Floats:
    """The edge as a chain of points (n, 3) [m]; curves in `count` steps (a span)."""
    if edge.kind == "line":
        return np.array(edge.points)
    if edge.kind == "arc":
        return arc_points(*np.array(edge.points), count)
    return spline_points(np.array(edge.points), count)


def loop_points(edges: tuple[Edge, ...], count: int = 24) -> Floats:
    """The closed loop as points (n, 3) [m], the first not repeated."""
    return np.concatenate([edge_points(edge, count)[:-1] for edge in edges])


def pieces(face: Face) -> Iterator[Floats]:
    """The face as flat polygons and bilinear quads, each (n, 3) [m].

    A warped face of four edges is ruled between its second and fourth edge where these are curved; any other warped
    face is fanned out from its middle.
    """
    points = loop_points(face.edges)
    normal = unit(area_vector(points))
    if len(points) == 3 or np.abs((points - points.mean(axis=0)) @ normal).max() < FLAT:
        yield points
    elif len(face.edges) == 4:
        if all(edge.kind == "line" for edge in face.edges):
            yield points
            return
        count = 12
        first, second, third, fourth = (_resampled(edge, count) for edge in face.edges)
        curved = face.edges[0].kind != "line" or face.edges[2].kind != "line"
        a, b = (first, third[::-1]) if curved else (second, fourth[::-1])
        for i in range(count):
            yield np.array([a[i], a[i + 1], b[i + 1], b[i]])
    else:
        middle = points.mean(axis=0)
        for p, q in zip(points, np.roll(points, -1, axis=0), strict=True):
            yield np.array([p, q, middle])


def _resampled(edge: Edge, count: int) -> Floats:
    chain = edge_points(edge)
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(chain, axis=0), axis=1))])
    return np.stack([np.interp(np.linspace(0.0, length[-1], count + 1), length, chain[:, i]) for i in range(3)], axis=1)


def foot(on: Surface, point: Floats, direction: Floats | None = None) -> Foot:
    """Where `point` (3,) [m] falls on the nearest of the surface's faces, square to it or along `direction` (3,).

    Returns
    -------
    Foot
        `distance` is to the face as it ends; `at` lies on the face's own surface, run on beyond its border if the
        point falls beside it.
    """
    point = np.asarray(point, dtype=float)
    if direction is not None:
        feet = [_foot_on(piece, point, direction) for piece in on.pieces]
        return min(feet, key=lambda found: (not found.inside, found.distance))
    off = np.maximum(np.maximum(on.boxes[:, 0] - point, point - on.boxes[:, 1]), 0.0)
    least = np.sqrt((off**2).sum(axis=1))  # no piece is nearer than the box round it
    best: Foot | None = None
    for i in np.argsort(least, kind="stable"):
        if best is not None and least[i] > best.distance:
            break
        found = _foot_on(on.pieces[i], point, None)
        best = found if best is None or found.distance < best.distance else best
    return best


def _foot_on(piece: Floats, point: Floats, direction: Floats | None) -> Foot:
    normal = unit(area_vector(piece))
    flat = np.abs((piece - piece.mean(axis=0)) @ normal).max() < FLAT
    if not flat and len(piece) == 4:
        return _foot_on_bilinear(piece, point, direction)
    along = normal if direction is None else direction
    slope = along @ normal
    if abs(slope) < 1e-9:
        return Foot(point, normal, np.inf, inside=False)
    at = point + along * ((piece[0] - point) @ normal) / slope
    inside, gap = inside_polygon(piece, at, normal)
    return Foot(at, normal, float(np.hypot(np.linalg.norm(at - point), 0.0 if inside else gap)), inside)


def _foot_on_bilinear(quad: Floats, point: Floats, direction: Floats | None) -> Foot:
    """Newton on the patch's own (u, v): the foot's residual vanishes across the direction, or across the normal."""
    a, b, c, d = quad
    u = v = 0.5
    ab, dc, ad, bc = b - a, c - d, d - a, c - b
    for _ in range(30):
        at = _bilinear(quad, u, v)
        du, dv = (1 - v) * ab + v * dc, (1 - u) * ad + u * bc
        axis = cross(du, dv) if direction is None else direction
        gap = point - at
        volume = axis @ cross(du, dv)
        if abs(volume) < 1e-30:
            break
        step = (gap @ cross(dv, axis) / volume, gap @ cross(axis, du) / volume)  # Cramer's rule
        u, v = min(max(u + step[0], -2.0), 3.0), min(max(v + step[1], -2.0), 3.0)
        if abs(step[0]) + abs(step[1]) < 1e-13:
            break
    at = _bilinear(quad, u, v)
    normal = unit(cross((1 - v) * ab + v * dc, (1 - u) * ad + u * bc))
    edge = 1e-9
    inside = bool(-edge <= u <= 1 + edge and -edge <= v <= 1 + edge)
    ends = at if inside else _bilinear(quad, *np.clip([u, v], 0.0, 1.0))
    return Foot(at, normal, float(np.linalg.norm(ends - point)), inside)


def _bilinear(quad: Floats, u: float, v: float) -> Floats:
    a, b, c, d = quad
    return (1 - u) * (1 - v) * a + u * (1 - v) * b + u * v * c + (1 - u) * v * d


def inside_polygon(polygon: Floats, point: Floats, normal: Floats) -> tuple[bool, float]:
    """Whether a point of the polygon's (n, 3) plane lies in it, and its distance [m] from the border."""
    e1 = unit(cross(normal, [0.0, 0.0, 1.0] if abs(normal[2]) < 0.9 else [1.0, 0.0, 0.0]))
    axes = np.stack([e1, cross(normal, e1)], axis=1)
    p = (polygon - point) @ axes
    q = np.roll(p, -1, axis=0)
    gap = float(segment_distance(p, q, np.zeros(2)).min())
    crosses = (p[:, 1] > 0.0) != (q[:, 1] > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        x = p[:, 0] - p[:, 1] * (q[:, 0] - p[:, 0]) / (q[:, 1] - p[:, 1])
    inside = bool(np.count_nonzero(crosses & (x > 0.0)) % 2) or gap < 1e-9
    return inside, gap


def segment_distance(starts: Floats, ends: Floats, point: Floats) -> Floats:
    """Distances (n,) [m] of one point from the straight pieces starts-ends (n, d)."""
    along = ends - starts
    square = np.maximum((along**2).sum(axis=-1), 1e-30)
    t = np.clip(((point - starts) * along).sum(axis=-1) / square, 0.0, 1.0)
    return np.linalg.norm(starts + t[..., None] * along - point, axis=-1)


def crossing_edges(points: Floats, normal: Floats) -> tuple[int, int, Floats] | None:
    """The first two edges (counted from 0) of a closed polygon (n, 3) that cross, and where; None if none do."""
    e1 = unit(points[1] - points[0])
    axes = np.stack([e1, np.cross(normal, e1)], axis=1)
    flat = points @ axes
    count = len(points)
    for i in range(count):
        for j in range(i + 2, count):
            if i == 0 and j == count - 1:
                continue
            p, r = flat[i], flat[(i + 1) % count] - flat[i]
            q, s = flat[j], flat[(j + 1) % count] - flat[j]
            det = r[0] * s[1] - r[1] * s[0]
            if abs(det) < 1e-14:
                continue
            gap = q - p
            t, u = (gap[0] * s[1] - gap[1] * s[0]) / det, (gap[0] * r[1] - gap[1] * r[0]) / det
            if 1e-9 < t < 1 - 1e-9 and 1e-9 < u < 1 - 1e-9:
                return i, j, points[i] + t * (points[(i + 1) % count] - points[i])
    return None
