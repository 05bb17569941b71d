"""Nodes split along joints that are not moulded: which elements stay one body, and which bodies meet where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from tubfem.arrays import Ints, frozen
from tubfem.errors import CaseError
from tubfem.geometry.mesh import TubMesh, areas, centroids

Kinds = Mapping[tuple[int, int], str | None]  # pairs of panel indices, ascending -> joint kind; None is continuous
BODIES = 64  # more bodies than ever meet in one edge


@dataclass(frozen=True, eq=False, slots=True)
class Seam:
    """Two panels whose bodies are parted along a line, with a joint of one kind between them.

    `panels` (A, B) are indices into `TubMesh.panels`; `edges` (m, 2) are mesh nodes in order along the line; `a` and
    `b` (m, 2) are the shell nodes that stand there on either body; `elements` (m, 2) are A's and B's at the edge.
    `pairs` are all pairs of panels, ascending, that meet there with this joint: A and B, and others moulded to them.
    """

    panels: tuple[int, int]
    kind: str
    edges: Ints
    a: Ints
    b: Ints
    elements: Ints
    pairs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False, slots=True)
class SplitMesh:
    """The mesh with nodes of its own for every body along a joint.

    Attributes
    ----------
    mesh_node : (P,) mesh node that each node stands on; the first p are the mesh's own
    conn : per block (e, n), nodes of every element
    seams : where bodies were parted
    through : (cut panel, panel that goes through) of every crossing of two panels neither or both of which are
        section walls: the case leaves open which one is in two pieces
    """

    mesh_node: Ints
    conn: tuple[Ints, ...]
    seams: tuple[Seam, ...]
    through: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False, slots=True)
class _Sides:
    """Every side of every element, sorted by edge.

    `corner` (m, 2) are numbers of element corners, ordered as the edge's nodes ascend; `key` (m,) of the edge.
    """

    corner: Ints
    key: Ints
    element: Ints
    panel: Ints


def split_mesh(mesh: TubMesh, kinds: Sequence[Kinds]) -> SplitMesh:
    """Part the mesh along every joint that is not continuous.

    Around a node, elements stay together when they share an edge that is not parted: a joint that ends inside a
    panel leaves its last node whole, and pieces that touch in a point of the line only come apart.

    Parameters
    ----------
    mesh
        The tub's mesh, conforming along all joints.
    kinds
        Joint of every pair of panels that meet, for each of the mesh's joint lines.
    """
    node, element = corners(mesh)
    sides, rank = _sides(mesh, node, element), panel_ranks(mesh)
    body = np.zeros(len(sides.key), dtype=np.int64)
    meetings: dict[tuple[int, int, str], list[tuple[int, int, int, int]]] = {}
    together: dict[tuple[int, int, str], set[tuple[int, int]]] = {}
    parted: set[int] = set()
    through: set[tuple[int, int]] = set()
    for line, own in zip(mesh.joints, kinds, strict=True):
        if all(own[pair] is None for pair in combinations(line.panels, 2)):
            continue
        keys = _key(mesh, line.edges[:, 0], line.edges[:, 1])
        begin, end = np.searchsorted(sides.key, keys), np.searchsorted(sides.key, keys, side="right")
        for edge, first, last in zip(line.edges.tolist(), begin.tolist(), end.tolist(), strict=True):
            panels = tuple(sides.panel[first:last].tolist())
            local, cuts = bodies_at_edge(panels, own, mesh, rank)
            through |= cuts
            body[first:last] = local
            if max(local) > 0:
                parted.update(edge)
            for i, j, kind, pairs in _meetings(panels, local, own, rank):
                key = (panels[i], panels[j], kind)
                meetings.setdefault(key, []).append((edge[0], edge[1], first + i, first + j))
                together.setdefault(key, set()).update(pairs)
    mesh_node, copies = _copies(node, sides, body, parted, len(mesh.points))
    ends = np.cumsum([block.conn.size for block in mesh.blocks])[:-1]
    parts = zip(np.split(copies, ends), mesh.blocks, strict=True)
    return SplitMesh(
        mesh_node=frozen(mesh_node),
        conn=tuple(frozen(part.reshape(block.conn.shape)) for part, block in parts),
        seams=tuple(_seam(key, np.array(meetings[key]), together[key], sides, copies) for key in sorted(meetings)),
        through=tuple(sorted(through)),
    )


def corners(mesh: TubMesh) -> tuple[Ints, Ints]:
    """Node and element of every element corner, through the blocks in order."""
    node = np.concatenate([block.conn.ravel() for block in mesh.blocks])
    count = np.concatenate([np.full(len(block.conn), block.conn.shape[1]) for block in mesh.blocks])
    return node, np.repeat(np.arange(len(count)), count)


def panel_ranks(mesh: TubMesh) -> Ints:
    """Place (panels,) of every panel in the order by size, largest first, then by where it is.

    What has to be chosen between panels is chosen by it: names and the order of the file have no say.
    """
    count, panel, area = len(mesh.panels), mesh.element_panel, areas(mesh)
    middle = np.concatenate([centroids(mesh.points, block.conn) for block in mesh.blocks])
    size = np.bincount(panel, area, minlength=count)
    moment = np.stack([np.bincount(panel, area * x, minlength=count) for x in middle.T])
    order = np.lexsort((*np.round(1e6 * moment), -np.round(1e6 * size)))
    rank = np.empty(count, dtype=np.int64)
    rank[order] = np.arange(count)
    return rank


def bodies_at_edge(
    panels: tuple[int, ...], kinds: Kinds, mesh: TubMesh, rank: Ints
) -> tuple[list[int], set[tuple[int, int]]]:
    """Which of the elements at one edge hang together.

    A panel with elements on both sides of a line goes through, unless it crosses another that does and the two are
    not moulded: then the section's wall goes through and the other is in two pieces. Between two of a kind, the
    larger goes through.

    Parameters
    ----------
    panels
        Panel of every element at the edge.
    rank
        As `panel_ranks` has it.

    Returns
    -------
    bodies
        Number of the body of every element.
    open choices
        (cut panel, through panel) where the case does not say which one is cut.

    Raises
    ------
    CaseError
        Two panels are moulded together by way of a third and have a joint of another kind as well.
    """
    count = {panel: panels.count(panel) for panel in panels}
    cut, open_choice = set(), set()
    for a, b in combinations(sorted(p for p in count if count[p] > 1), 2):
        if kinds[a, b] is None:
            continue
        sections = mesh.panels[a].section, mesh.panels[b].section
        wins = sections[0] if sections[0] != sections[1] else rank[a] < rank[b]
        loser, winner = (b, a) if wins else (a, b)
        cut.add(loser)
        if sections[0] == sections[1]:
            open_choice.add((loser, winner))
    body = list(range(len(panels)))
    for i, j in combinations(range(len(panels)), 2):
        p, q = sorted((panels[i], panels[j]))
        if (p == q and p not in cut) or (p != q and kinds[p, q] is None):
            body = [body[i] if number == body[j] else number for number in body]
    _refuse_contradiction(panels, body, kinds, mesh)
    order = {number: k for k, number in enumerate(dict.fromkeys(body))}
    return [order[number] for number in body], open_choice


def _refuse_contradiction(panels: tuple[int, ...], body: list[int], kinds: Kinds, mesh: TubMesh) -> None:
    for i, j in combinations(range(len(panels)), 2):
        p, q = sorted((panels[i], panels[j]))
        if p != q and body[i] == body[j] and kinds[p, q] is not None:
            a, b = mesh.panels[p].name, mesh.panels[q].name
            others = {mesh.panels[r].name for r, number in zip(panels, body, strict=True) if number == body[i]}
            raise CaseError(
                f"joints: {a}/{b} is {kinds[p, q]}, but where they meet both hang together through "
                f"{', '.join(sorted(others - {a, b})) or 'one panel'} by continuous joints; "
                "a panel cannot be both moulded on and fastened to the same body"
            )


def _meetings(
    panels: tuple[int, ...], body: list[int], kinds: Kinds, rank: Ints
) -> list[tuple[int, int, str, set[tuple[int, int]]]]:
    """One (i on the lower panel, j, kind, pairs of panels) for every two bodies and kind of joint between them.

    Where several panels of a body meet the other, the largest stands for it.
    """
    found: dict[tuple[int, int, str], tuple[int, int, str, set[tuple[int, int]]]] = {}
    order = sorted(range(len(panels)), key=lambda k: (rank[panels[k]], k))
    for pair in combinations(order, 2):
        i, j = sorted(pair, key=panels.__getitem__)
        kind = None if panels[i] == panels[j] else kinds[panels[i], panels[j]]
        if kind is not None and body[i] != body[j]:
            low, high = sorted((body[i], body[j]))
            found.setdefault((low, high, kind), (i, j, kind, set()))[3].add((panels[i], panels[j]))
    return list(found.values())


def _sides(mesh: TubMesh, node: Ints, element: Ints) -> _Sides:
    pairs, start = [], 0
    for block in mesh.blocks:
        number = start + np.arange(block.conn.size).reshape(block.conn.shape)
        pairs.append(np.stack([number, np.roll(number, -1, axis=1)], -1).reshape(-1, 2))
        start += block.conn.size
    corner = np.concatenate(pairs)
    flip = node[corner[:, 0]] > node[corner[:, 1]]
    corner[flip] = corner[flip, ::-1]
    key = _key(mesh, node[corner[:, 0]], node[corner[:, 1]])
    order = np.argsort(key, kind="stable")
    owner = element[corner[order, 0]]
    return _Sides(corner[order], key[order], owner, mesh.element_panel[owner])


def _key(mesh: TubMesh, first: Ints, second: Ints) -> Ints:
    return np.minimum(first, second) * len(mesh.points) + np.maximum(first, second)


def _copies(node: Ints, sides: _Sides, body: Ints, parted: set[int], points: int) -> tuple[Ints, Ints]:
    """Mesh node of every node once copies are made, and the node of every element corner."""
    group = sides.key * BODIES + body
    order = np.argsort(group, kind="stable")
    chain = group[order][1:] == group[order][:-1]
    links = sides.corner[order]
    a, b = links[:-1][chain].ravel(), links[1:][chain].ravel()
    graph = sparse.coo_array((np.ones(len(a)), (a, b)), shape=(len(node), len(node)))
    _, part = csgraph.connected_components(graph, directed=False)
    part[~np.isin(node, np.fromiter(parted, dtype=np.int64))] = -1
    fan, first, back = np.unique(np.stack([node, part], -1), axis=0, return_index=True, return_inverse=True)
    # Fans of a node in the order of their first corner: the first keeps the mesh's number.
    by_node = np.lexsort((first, fan[:, 0]))
    extra = np.r_[False, fan[by_node, 0][1:] == fan[by_node, 0][:-1]]
    number = fan[:, 0].copy()
    number[by_node[extra]] = points + np.arange(extra.sum())
    mesh_node = np.concatenate([np.arange(points), fan[by_node[extra], 0]])
    return mesh_node, number[back.ravel()]


def _seam(key: tuple[int, int, str], rows: Ints, pairs: set[tuple[int, int]], sides: _Sides, copies: Ints) -> Seam:
    edges, sides_a, sides_b = rows[:, :2], rows[:, 2], rows[:, 3]
    descending = edges[:, 0] > edges[:, 1]

    def nodes(side: Ints) -> Ints:
        pair = copies[sides.corner[side]]
        pair[descending] = pair[descending, ::-1]
        return frozen(pair)

    elements = np.stack([sides.element[sides_a], sides.element[sides_b]], -1)
    a, b = nodes(sides_a), nodes(sides_b)
    return Seam(key[:2], key[2], frozen(edges), a, b, frozen(elements), tuple(sorted(pairs)))
