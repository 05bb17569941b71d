"""Parts of elements that a lap or patch covers, in sixteenths, with the covered area kept whatever the mesh."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh
from tubfem.shell import quad4
from tubfem.shell.frames import cross, over_nodes, side_by_side

CELLS = 16
FINE = 8  # sub-quads along a side where an area is clipped
Field = Callable[[Floats], Floats]  # points (..., 3) -> bounds (..., c) [m], covered where all are negative
GOLDEN = 0.6180339887498949
STEP = 1e-6  # distances closer than this are equal [m]


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """Element areas (e,) [m²], the middles of every element's 16 cells (e, 16, 3) [m], and its size (e,) [m]."""

    area: Floats
    middle: Floats
    size: Floats


def element_cells(mesh: TubMesh) -> Cells:
    """The 16 cells of every element: 4 by 4 of a quad, the 16 similar triangles of a triangle."""
    areas, middles, sizes = [], [], []
    for block in mesh.blocks:
        X = mesh.points[block.conn]
        areas.append(_areas(X))
        middles.append(over_nodes(CELL_SHAPES[block.kind], X))
        sizes.append(_length(X - np.roll(X, 1, axis=1)).max(-1))
    return Cells(np.concatenate(areas), np.concatenate(middles), np.concatenate(sizes))


def _areas(X: Floats) -> Floats:
    """Area (e,) of quads or triangles with corners X (e, n, 3), by the same 2 × 2 points as the element's own."""
    if X.shape[1] == 3:
        return 0.5 * _length(cross(X[:, 1] - X[:, 0], X[:, 2] - X[:, 0]))
    tangents = over_nodes(quad4.GRADIENT, X)
    return _length(cross(tangents[:, :, 0], tangents[:, :, 1])).sum(1)


def _length(vectors: Floats) -> Floats:
    """Length (...) of vectors (..., 3)."""
    return np.sqrt((vectors * vectors).sum(-1))


def _quad_shapes(s: Floats, t: Floats) -> Floats:
    return np.stack([(1 - s) * (1 - t), s * (1 - t), s * t, (1 - s) * t], -1)


def _cell_shapes() -> dict[str, Floats]:
    """Shape functions (16, n) at the middles of the cells."""
    t, s = np.meshgrid((np.arange(4) + 0.5) / 4, (np.arange(4) + 0.5) / 4, indexing="ij")
    upright = [(i + 1 / 3, j + 1 / 3) for i in range(4) for j in range(4 - i)]
    turned = [(i + 2 / 3, j + 2 / 3) for i in range(3) for j in range(3 - i)]
    a, b = np.array(upright + turned).T / 4
    return {"quad4": _quad_shapes(s.ravel(), t.ravel()), "tria3": np.stack([1 - a - b, a, b], -1)}


CELL_SHAPES = _cell_shapes()


def circle(centre: Floats, radius: float) -> Field:
    """Within `radius` [m] of a place."""
    return lambda points: _length(points - centre)[..., None] - radius


def strip(chains: list[Floats], width: float) -> Field:
    """Within `width` [m] of polylines, cut square at the ends of each: chains of vertices (n, 3).

    Distances are straight ones: on a curved panel the strip is wider along the surface by a part (width/radius)²/24.
    """
    segments = [
        (a, b, k == 0 and not closed, k == len(chain) - 2 and not closed)
        for chain in map(straightened, chains)
        for closed in [np.linalg.norm(chain[0] - chain[-1]) < STEP]
        for k, (a, b) in enumerate(pairwise(chain))
    ]

    def field(points: Floats) -> Floats:
        best_off, best_end = (np.full_like(points[..., 0], np.inf) for _ in range(2))  # off the line, beyond an end
        for a, b, first, last in segments:
            length = np.linalg.norm(b - a)
            axis = (b - a) / length
            away = points - a
            along = (away * axis).sum(-1)
            off = _length(away - np.clip(along, 0.0, length)[..., None] * axis) - width
            before = -along if first else -length
            end = np.maximum(before, along - length if last else -length)
            nearer = np.maximum(off, end) < np.maximum(best_off, best_end)
            best_off, best_end = np.where(nearer, off, best_off), np.where(nearer, end, best_end)
        return np.stack([best_off, best_end], -1)

    return field


def one_side(field: Field, origin: Floats, normal: Floats) -> Field:
    """The part of a field on the side of a plane that `normal` points to."""
    return lambda points: np.concatenate([field(points), ((origin - points) * normal).sum(-1)[..., None]], -1)


def straightened(chain: Floats) -> Floats:
    """Vertices (n, 3) of a polyline without those that lie on the straight line between their neighbours."""
    keep, places = [0], chain.tolist()
    for k in range(1, len(chain) - 1):
        (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = places[keep[-1]], places[k], places[k + 1]
        a, b, c, p, q, r = x1 - x0, y1 - y0, z1 - z0, x2 - x1, y2 - y1, z2 - z1
        if hypot(b * r - c * q, c * p - a * r, a * q - b * p) > 1e-6 * hypot(a, b, c) * hypot(p, q, r):
            keep.append(k)
    return chain[[*keep, len(chain) - 1]]


def covered_cells(mesh: TubMesh, cells: Cells, elements: Ints, field: Field) -> tuple[Floats, float, Floats]:
    """Cells of the elements of one panel that a field covers, as many as the covered area asks for.

    Cells are taken from the inside outwards until their area is the covered one, so the total is right to half a
    cell on any mesh. Where many lie equally far out they are taken evenly along the edge, and two that mirror each
    other across the middle of the tub together.

    Parameters
    ----------
    elements : (m,)
        Elements of the panel, through the blocks in order.

    Returns
    -------
    covered : (m, 16) bool
    area
        Covered area [m²], clipped by the panel and its openings.
    taken
        Area of the cells taken [m²].
    """
    covered = np.zeros((len(elements), CELLS), dtype=bool)
    depth, size = field(side_by_side(cells.middle[elements])).max(-1), cells.size[elements]
    inside = depth.max(1) < -size
    covered[inside] = True
    whole = float(cells.area[elements[inside]].sum())
    near = np.flatnonzero((depth.min(1) <= size) & ~inside)
    if not len(near):
        return covered, whole, whole
    chosen = elements[near]
    area = float(_clipped_areas(mesh, chosen, field).sum())
    level, where = np.round(depth[near] / STEP), np.abs(np.round(cells.middle[chosen] / STEP))
    weight = np.broadcast_to(cells.area[chosen, None] / CELLS, level.shape).ravel()
    level, where = level.ravel(), where.reshape(-1, 3)
    order, pair = _outwards(level, where)
    total = np.concatenate([[0.0], np.cumsum(weight[order])])
    stops = np.concatenate([[0], np.flatnonzero(np.diff(pair[order])) + 1, [len(order)]])
    stop = stops[np.argmin(np.abs(total[stops] - area))]
    taken = np.zeros(len(order), dtype=bool)
    taken[order[:stop]] = True
    covered[near] = taken.reshape(-1, CELLS)
    return covered, whole + area, whole + float(total[stop])


def _outwards(level: Floats, where: Floats) -> tuple[Ints, Ints]:
    """Order of cells from the inside out, and a number that cells have in common only if they mirror each other."""
    place = np.column_stack([level, where])
    kinds, pair = np.unique(place, axis=0, return_inverse=True)
    pair = pair.ravel()
    starts = np.flatnonzero(np.r_[True, np.diff(kinds[:, 0]) != 0])
    rank = np.arange(len(kinds)) - np.repeat(starts, np.diff(np.r_[starts, len(kinds)]))
    spread = (rank * GOLDEN) % 1.0
    return np.lexsort((pair, spread[pair], level)), pair


def _clipped_areas(mesh: TubMesh, elements: Ints, field: Field) -> Floats:
    """Covered area of every element, bounds linear within fine triangles."""
    area = np.zeros(len(elements))
    start = 0
    for block in mesh.blocks:
        mine = np.flatnonzero((elements >= start) & (elements < start + len(block.conn)))
        X = mesh.points[block.conn[elements[mine] - start]]
        area[mine] = _areas(X) * _fractions(X, field)
        start += len(block.conn)
    return area


def _fractions(X: Floats, field: Field) -> Floats:
    """Part of each element (e, n, 3) that the field covers."""
    if not len(X):
        return np.zeros(0)
    if X.shape[1] == 3:
        X = X[:, [0, 1, 2, 2]]  # a quad with one side drawn together
    s = np.linspace(0, 1, FINE + 1)
    t, s = np.meshgrid(s, s, indexing="ij")
    points = over_nodes(_quad_shapes(s, t), X)
    value = field(points)
    a, b, c, d = np.s_[:, :-1, :-1], np.s_[:, :-1, 1:], np.s_[:, 1:, 1:], np.s_[:, 1:, :-1]
    inside, whole = np.zeros(len(X)), np.zeros(len(X))
    for p, q, r in ((a, b, c), (a, c, d)):
        size = 0.5 * _length(cross(points[q] - points[p], points[r] - points[p]))
        # Exact where one bound cuts a triangle; in the few corners where two do, the product.
        part = size * negative_part(np.stack([value[p], value[q], value[r]], -1)).prod(-1)
        inside += part.sum((1, 2))
        whole += size.sum((1, 2))
    return inside / whole


def negative_part(value: Floats) -> Floats:
    """Part (...) of triangles where a function, linear with corner values (..., 3), is negative."""
    value = np.sort(value, axis=-1)
    low, middle, high = value[..., 0], value[..., 1], value[..., 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        one = low**2 / ((middle - low) * (high - low))
        two = 1 - high**2 / ((high - low) * (high - middle))
    return np.select([high <= 0, low >= 0, middle >= 0], [1.0, 0.0, one], two)
