"""Facts of the shape that a builder wants in words: closed cells of a cross-section, joint metres, free edges."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.plain import Point
from tubfem.geometry.mesh import TubMesh


@dataclass(frozen=True, eq=False, slots=True)
class Cell:
    """A closed cell of a cut: its area [m²], its segments and the panels it runs through, most length first.

    `signs` are +1 where the cell, run anticlockwise in the cut's plane, follows the segment from its first node.
    """

    area: float
    segments: Ints
    signs: Ints
    panels: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Cut:
    """A mesh cut by a plane.

    Attributes
    ----------
    nodes : (n, 2) where mesh edges cross the plane, in its own axes [m]
    segments : (s, 2) nodes of each cut element
    element, panel : (s,) the element cut and its panel's index; numbers run through the blocks in order
    length : (s,) [m]
    cells : closed cells, largest first
    open_walls : (w,) segments that are part of no cell
    """

    nodes: Floats
    segments: Ints
    element: Ints
    panel: Ints
    length: Floats
    cells: tuple[Cell, ...]
    open_walls: Ints


@dataclass(frozen=True, slots=True)
class JointLength:
    """Panels that meet along lines, by name, the lines' total length [m] and how many they are."""

    panels: tuple[str, ...]
    length: float
    lines: int


def cut(mesh: TubMesh, origin: Point, normal: Point = (1.0, 0.0, 0.0)) -> Cut:
    """Cut a mesh by a plane and find the closed cells of the section.

    The plane is moved by a thousandth of the mesh size along `normal` (back, if nothing lies there), so that it never
    runs along element edges. The plane's axes are y and z for a plane across the car.

    Raises nothing; a plane that misses the mesh gives an empty cut.
    """
    n = np.asarray(normal, float) / np.linalg.norm(normal)
    e1 = np.array([0.0, 1.0, 0.0]) if abs(n[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
    e1 = (e1 - e1 @ n * n) / np.linalg.norm(e1 - e1 @ n * n)
    frame = np.stack([e1, np.cross(n, e1)])
    for step in (1e-3, -1e-3):
        height = (mesh.points - np.asarray(origin, float)) @ n - step * mesh.size
        pairs, element = _crossings(mesh, height)
        if len(pairs):
            break
    if not len(pairs):
        none = frozen(np.zeros(0, np.int64))
        return Cut(
            frozen(np.zeros((0, 2))), frozen(np.zeros((0, 2), np.int64)), none, none, frozen(np.zeros(0)), (), none
        )
    edges, index = np.unique(pairs.reshape(-1, 2), axis=0, return_inverse=True)
    a, b = height[edges[:, 0]], height[edges[:, 1]]
    at = mesh.points[edges[:, 0]] + (a / (a - b))[:, None] * (mesh.points[edges[:, 1]] - mesh.points[edges[:, 0]])
    nodes = (at - np.asarray(origin, float)) @ frame.T
    segments = index.reshape(-1, 2)
    panel = mesh.element_panel[element]
    length = np.linalg.norm(nodes[segments[:, 1]] - nodes[segments[:, 0]], axis=1)
    cells = _cells(nodes, segments, length, panel, [p.name for p in mesh.panels])
    in_cell = np.zeros(len(segments), bool)
    for cell in cells:
        in_cell[cell.segments] = True
    return Cut(
        frozen(nodes),
        frozen(segments),
        frozen(element),
        frozen(panel),
        frozen(length),
        cells,
        frozen(np.flatnonzero(~in_cell)),
    )


def _crossings(mesh: TubMesh, height: Floats) -> tuple[Ints, Ints]:
    """Mesh edges (s, 2, 2), node pairs ascending, that the plane crosses in each cut element, and the element (s,)."""
    pairs, element, start = [], [], 0
    above = height > 0
    for block in mesh.blocks:
        side = above[block.conn]
        cut_through = np.flatnonzero(side.any(axis=1) & ~side.all(axis=1))
        side = side[cut_through]
        crossed = side != np.roll(side, -1, axis=1)
        for few in (2, 4):  # a warped quad may be cut twice
            mine = crossed.sum(axis=1) == few
            rows = cut_through[mine]
            sides = np.stack([block.conn[rows], np.roll(block.conn[rows], -1, axis=1)], -1)
            pairs.append(np.sort(sides[crossed[mine]], axis=-1).reshape(-1, 2, 2))
            element.append(np.repeat(rows, few // 2) + start)
        start += len(block.conn)
    return np.concatenate(pairs), np.concatenate(element)


def _cells(nodes: Floats, segments: Ints, length: Floats, panel: Ints, names: list[str]) -> tuple[Cell, ...]:
    """Faces of the planar graph: walk every segment both ways, at each node taking the next one clockwise."""
    n = len(segments)
    start = np.concatenate([segments[:, 0], segments[:, 1]])  # half-edge h < n runs forward, h + n back
    end = np.concatenate([segments[:, 1], segments[:, 0]])
    angle = np.arctan2(*(nodes[end] - nodes[start]).T[::-1])
    order = np.lexsort((angle, start))
    first = np.searchsorted(start[order], start[order], side="left")
    last = np.searchsorted(start[order], start[order], side="right") - 1
    rank = np.arange(2 * n)
    previous = np.empty(2 * n, np.int64)  # the half-edge that leaves the same node next clockwise
    previous[order] = order[np.where(rank == first, last, rank - 1)]
    onward = previous[(np.arange(2 * n) + n) % (2 * n)]
    graph = coo_array((np.ones(2 * n), (np.arange(2 * n), onward)), shape=(2 * n, 2 * n))
    _, face = connected_components(graph, directed=False)
    a, b = nodes[start], nodes[end]
    area = np.bincount(face, (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2)
    cells = []
    for f in np.flatnonzero(area > 1e-8):
        halves = np.flatnonzero(face == f)
        segment = halves % n
        once = np.isin(segment, np.flatnonzero(np.bincount(segment, minlength=n) == 1))  # a wall that sticks in: twice
        segment, sign = segment[once], np.where(halves[once] < n, 1, -1)
        share = np.bincount(panel[segment], length[segment], minlength=len(names))
        by_length = sorted(np.flatnonzero(share), key=lambda i: (-round(share[i], 6), names[i]))
        cells.append(Cell(float(area[f]), frozen(segment), frozen(sign), tuple(names[i] for i in by_length)))
    return tuple(sorted(cells, key=lambda c: (-round(c.area, 9), c.panels)))


def joint_lengths(mesh: TubMesh) -> tuple[JointLength, ...]:
    """Length of the lines on which the same panels meet, longest first."""
    met: dict[tuple[str, ...], list[float]] = {}
    for line in mesh.joints:
        X = mesh.points[line.edges]
        names = tuple(sorted(mesh.panels[i].name for i in line.panels))
        met.setdefault(names, []).append(float(np.linalg.norm(X[:, 1] - X[:, 0], axis=1).sum()))
    lengths = [JointLength(names, sum(each), len(each)) for names, each in met.items()]
    return tuple(sorted(lengths, key=lambda joint: (-round(joint.length, 6), joint.panels)))


def free_lengths(mesh: TubMesh) -> dict[str, float]:
    """Length of free edges by panel [m], openings included; panels without any are left out."""
    free = np.sort(mesh.free_edges, axis=1)
    length = np.linalg.norm(mesh.points[free[:, 1]] - mesh.points[free[:, 0]], axis=1)
    span = len(mesh.points)
    key = free @ (span, 1)
    order = np.argsort(key)
    total = np.zeros(len(mesh.panels))
    for block in mesh.blocks:
        sides = np.sort(np.stack([block.conn, np.roll(block.conn, -1, axis=1)], -1), axis=2) @ (span, 1)
        element, side = np.nonzero(np.isin(sides, key))
        edge = order[np.searchsorted(key[order], sides[element, side])]
        total += np.bincount(block.panel[element], length[edge], minlength=len(total))
    return {mesh.panels[i].name: float(total[i]) for i in np.flatnonzero(total)}
