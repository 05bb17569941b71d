"""The inside of a ring of walls: its corner lines, its inner faces, and where these meet."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh, areas


@dataclass(frozen=True, eq=False, slots=True)
class Inside:
    """Inner faces of a ring's walls: a place (n, 3) [m] for every mesh node on them.

    `node` (n,) mesh nodes in ascending order, `offset` (n, 3) [m] from the mesh to the inner face, `area` (n,) [m²].
    """

    node: Ints
    offset: Floats
    area: Floats


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where walls meet inside a ring: two walls beside `wall` reach `taken` [m] into its `width` [m] at a place [m]."""

    wall: str
    place: tuple[float, float, float]
    width: float
    taken: float


def ring_walls(mesh: TubMesh, elements: Ints) -> dict[int, int]:
    """Panel -> number of its wall, of the panels that some elements of a ring belong to."""
    panels = np.unique(mesh.element_panel[elements]).tolist()
    names = {panel: mesh.panels[panel].plain.split(".")[1] for panel in panels}
    order = list(dict.fromkeys(names.values()))
    return {panel: order.index(name) for panel, name in names.items()}


def corner_lines(mesh: TubMesh, walls: dict[int, int]) -> list[tuple[tuple[int, int], Ints]] | None:
    """(walls that meet there, mesh nodes) of the corner lines, round the ring; None if they do not close."""
    edges: dict[tuple[int, int], list[Ints]] = {}
    for line in mesh.joints:
        meet = sorted({walls[panel] for panel in line.panels if panel in walls})
        if len(meet) == 2:
            edges.setdefault((meet[0], meet[1]), []).append(line.edges)
    count, ring = len(set(walls.values())), [0]
    if count < 3:
        return None
    while len(ring) < count:
        onward = [w for w in range(count) if w not in ring and (min(ring[-1], w), max(ring[-1], w)) in edges]
        if not onward:
            return None
        ring.append(onward[0])
    turned = list(pairwise([*ring, ring[0]]))
    pairs = [(min(pair), max(pair)) for pair in turned]
    if set(pairs) != set(edges):
        return None
    return [(turned[k], np.unique(np.concatenate(edges[pairs[k]]))) for k in range(count)]


def inner_faces(mesh: TubMesh, elements: Ints, walls: dict[int, int], inner: Floats) -> Inside:
    """Inner faces: where two walls meet, the place that lies on both."""
    area = areas(mesh)
    nodes, owner = corners_of(tuple(block.conn for block in mesh.blocks), elements)
    share = (area / np.bincount(owner, minlength=len(area)).clip(1))[owner]
    used, back = np.unique(nodes, return_inverse=True)
    back = back.ravel()
    wall = np.array([walls.get(panel, 0) for panel in range(len(mesh.panels))])[mesh.element_panel[owner]]
    count = max(walls.values()) + 1
    total = np.zeros((len(used), count, 3))
    weight = np.zeros((len(used), count))
    np.add.at(total, (back, wall), share[:, None] * inner[owner])
    np.add.at(weight, (back, wall), share)
    mean = total / np.where(weight > 0, weight, 1.0)[..., None]
    depth = np.linalg.norm(mean, axis=-1)
    normal = mean / np.where(depth > 0, depth, 1.0)[..., None]
    # the least motion that brings a node to the inner face of each of its walls
    offset = (np.linalg.pinv(normal, rcond=0.1) @ depth[..., None])[..., 0]
    return Inside(used, offset, np.bincount(back, share))


def corners_of(conn: tuple[Ints, ...], elements: Ints) -> tuple[Ints, Ints]:
    """Node and element of every corner of some elements, connectivity block by block."""
    count = np.concatenate([np.full(len(nodes), nodes.shape[1]) for nodes in conn])
    owner = np.repeat(np.arange(len(count)), count)
    chosen = np.isin(owner, elements)
    return np.concatenate([nodes.ravel() for nodes in conn])[chosen], owner[chosen]


def meeting(mesh: TubMesh, walls: dict[int, int], elements: Ints, inner: Floats) -> Meeting | None:
    """Where the inner faces beside a wall cross each other furthest for its width; None if they nowhere do.

    Parameters
    ----------
    walls
        Panel -> wall, of `ring_walls`.
    elements
        Of the ring's walls.
    inner : (E, 3)
        From every element of the mesh to its inner face [m].
    """
    lines = corner_lines(mesh, walls)
    if lines is None:
        return None
    inside = inner_faces(mesh, elements, walls, inner)
    names = {wall: mesh.panels[panel].plain for panel, wall in walls.items()}
    found, worst = None, 0.0
    for (_, wall), one, other in ((lines[k - 1][0], lines[k - 1][1], lines[k][1]) for k in range(len(lines))):
        opposite = other[cKDTree(mesh.points[other]).query(mesh.points[one])[1]]
        across = mesh.points[opposite] - mesh.points[one]
        first, last = (inside.offset[np.searchsorted(inside.node, nodes)] for nodes in (one, opposite))
        width = np.linalg.norm(across, axis=1)
        taken = np.einsum("nx,nx->n", first - last, across) / width
        k = int((taken / width).argmax())
        if taken[k] > (1 + worst) * width[k]:
            worst = float(taken[k] / width[k]) - 1
            x, y, z = (mesh.points[one[k]] + 0.5 * across[k]).tolist()
            found = Meeting(names[wall], (x, y, z), float(width[k]), float(taken[k]))
    return found
