"""Openings inside one panel, covered for a look at the section as if it were whole."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tubfem.arrays import Floats, Ints, frozen
from tubfem.geometry.mesh import Block, TubMesh


@dataclass(frozen=True, eq=False, slots=True)
class Hole:
    """An opening whose whole rim lies in one panel: panel, rim edges (n, 2), its least and greatest corner [m]."""

    panel: int
    edges: Ints
    low: Floats
    high: Floats


def inner_openings(mesh: TubMesh) -> tuple[Hole, ...]:
    """Closed loops of free edges that lie in one panel and touch no joint, by place."""
    edges = mesh.free_edges
    if not len(edges):
        return ()
    nodes, local = np.unique(edges, return_inverse=True)
    local = local.reshape(-1, 2)
    graph = coo_array((np.ones(len(local)), local.T), shape=(len(nodes), len(nodes)))
    _, loop = connected_components(graph, directed=False)
    panel = _panel_of_edges(mesh, edges)
    jointed = np.isin(nodes, np.concatenate([np.zeros(0, np.int64), *(line.edges.ravel() for line in mesh.joints)]))
    simple = np.bincount(local.ravel()) == 2
    found = []
    for number in np.unique(loop):
        own, rows = loop == number, loop[local[:, 0]] == number
        if jointed[own].any() or not simple[own].all() or len(np.unique(panel[rows])) > 1:
            continue
        X = mesh.points[nodes[own]]
        if not _is_inside(mesh, int(panel[rows][0]), X):
            continue
        found.append(Hole(int(panel[rows][0]), edges[rows], X.min(axis=0), X.max(axis=0)))
    return tuple(sorted(found, key=lambda hole: tuple(hole.low)))


def cover(mesh: TubMesh, holes: tuple[Hole, ...]) -> tuple[TubMesh, Ints]:
    """The mesh with a fan of triangles over every hole, and which element (e,) of the old mesh each is like.

    A covering triangle is like the element beside its edge.
    """
    if not holes:
        return mesh, np.arange(mesh.element_count)
    edges = np.concatenate([hole.edges for hole in holes])
    beside = _element_of_edges(mesh, edges)
    middles = np.array([0.5 * (hole.low + hole.high) for hole in holes])
    apex = len(mesh.points) + np.repeat(np.arange(len(holes)), [len(hole.edges) for hole in holes])
    panel = np.repeat([hole.panel for hole in holes], [len(hole.edges) for hole in holes])
    direction = np.concatenate([block.direction for block in mesh.blocks])[beside]
    fan = Block("tria3", np.column_stack([edges, apex]), panel, direction)
    points = frozen(np.concatenate([mesh.points, middles]))
    return replace(mesh, points=points, blocks=(*mesh.blocks, fan)), np.concatenate(
        [np.arange(mesh.element_count), beside]
    )


def _is_inside(mesh: TubMesh, panel: int, rim: Floats) -> bool:
    """Whether a rim is the edge of a hole in a panel rather than the outline of the panel itself."""
    nodes = np.unique(np.concatenate([block.conn[block.panel == panel].ravel() for block in mesh.blocks]))
    return bool(np.ptp(rim, axis=0).max() < (1 - 1e-9) * np.ptp(mesh.points[nodes], axis=0).max())


def _element_of_edges(mesh: TubMesh, edges: Ints) -> Ints:
    """An element (n,) at each edge (n, 2)."""
    count = len(mesh.points)
    wanted = np.sort(edges, axis=1) @ [count, 1]
    keys, elements, first = [], [], 0
    for block in mesh.blocks:
        sides = np.sort(np.stack([block.conn, np.roll(block.conn, -1, axis=1)], -1), axis=2) @ [count, 1]
        keys.append(sides.ravel())
        elements.append(np.repeat(np.arange(len(block.conn)) + first, block.conn.shape[1]))
        first += len(block.conn)
    key, element = np.concatenate(keys), np.concatenate(elements)
    order = np.argsort(key, kind="stable")
    return element[order[np.searchsorted(key[order], wanted)]]


def _panel_of_edges(mesh: TubMesh, edges: Ints) -> Ints:
    return mesh.element_panel[_element_of_edges(mesh, edges)]
