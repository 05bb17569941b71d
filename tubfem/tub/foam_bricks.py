"""Foam inside a ring of four walls as bricks through its four corners, glued to the walls (docs/theory.md)."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.shell.brick8 import CORNERS, brick_springs, shapes, slopes
from tubfem.shell.model import Springs
from tubfem.tub.split import SplitMesh

GLUE = 1e3  # stiffness of the bond to the walls over that of a brick: 0.1 % softer for each wall
WIDTH = 24  # coefficients of a row
STEPS, NEAR = 30, 1e-9  # of Newton's method for the place of a wall's node in the bricks [m]


@dataclass(frozen=True, eq=False, slots=True)
class Inside:
    """Inner faces of a ring's walls: a place (n, 3) [m] for every mesh node on them.

    `node` (n,) mesh nodes in ascending order, `offset` (n, 3) [m] from the mesh to the inner face, `area` (n,) [m²].
    """

    node: Ints
    offset: Floats
    area: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Grid:
    """A structured body of bricks: `points` (z, y, x, 3) [m], z along the box, y and x across it."""

    points: Floats

    @property
    def counts(self) -> tuple[int, int, int]:
        """Bricks along z, y, x."""
        z, y, x, _ = self.points.shape
        return z - 1, y - 1, x - 1

    def conn(self) -> Ints:
        """Corners (e, 8) of every brick, z slowest, numbering `points` in their order."""
        z, y, x = self.counts
        number = np.arange((z + 1) * (y + 1) * (x + 1)).reshape(z + 1, y + 1, x + 1)
        corner = [number[k : z + k, j : y + j, i : x + i] for k in (0, 1) for j in (0, 1) for i in (0, 1)]
        return np.stack(corner, axis=-1).reshape(-1, 8)


def brick_foam(
    mesh: TubMesh, split: SplitMesh, elements: Ints, inner: Floats, C: Floats, frame: Floats, volume: float, first: int
) -> tuple[Springs, Grid] | None:
    """Springs of the foam in one ring and the grid of its bricks; None unless it has four walls and four corner lines.

    Parameters
    ----------
    elements
        Of the ring's walls.
    inner : (E, 3)
        From every element of the mesh to its inner face [m].
    C, frame
        Stiffness (6, 6) [Pa] along the axes (3, 3) of the box.
    volume
        Of the foam [m³]; the bricks' stiffness is brought to it.
    first
        Number of the shell's point that the grid's first one becomes.
    """
    walls = _walls(mesh, elements)
    lines = None if walls is None else _corner_lines(mesh, walls)
    if lines is None:
        return None
    inside = _inside(mesh, elements, walls, inner)
    axis = _along(mesh, [nodes for _, nodes in lines])
    grid = _grid(mesh, elements, walls, lines, inside, axis)
    found = locate(grid, mesh.points[inside.node] + inside.offset, axis)
    if found is None:
        return None
    brick, natural = found
    conn = grid.conn()
    X = grid.points.reshape(-1, 3)[conn]
    rows, stiffness = brick_springs(X, C, frame)
    size = _volumes(X)
    stiffness = stiffness * volume / size.sum()
    freedoms = (6 * (first + conn)[:, :, None] + np.arange(3)).reshape(len(conn), 1, WIDTH)
    glue = GLUE * C[0, 0] * inside.area / np.cbrt(size.mean())
    own = np.unique(_corners(split.conn, elements)[0])
    tied = _glue(split.mesh_node, own, inside, shapes(natural), first + conn[brick], glue)
    springs = Springs(
        np.concatenate([np.broadcast_to(freedoms, rows.shape).reshape(-1, WIDTH), tied.freedoms]),
        np.concatenate([rows.reshape(-1, WIDTH), tied.coefficients]),
        np.concatenate([stiffness.ravel(), tied.stiffness]),
    )
    return springs, grid


def _walls(mesh: TubMesh, elements: Ints) -> dict[int, int] | None:
    """Panel -> wall (0 to 3), None unless there are four walls."""
    panels = np.unique(mesh.element_panel[elements]).tolist()
    names = {panel: mesh.panels[panel].plain.split(".")[1] for panel in panels}
    order = list(dict.fromkeys(names.values()))
    return {panel: order.index(name) for panel, name in names.items()} if len(order) == 4 else None


def _corner_lines(mesh: TubMesh, walls: dict[int, int]) -> list[tuple[tuple[int, int], Ints]] | None:
    """(walls that meet there, mesh nodes) of the four corner lines, round the ring; None if they do not close."""
    edges: dict[tuple[int, int], list[Ints]] = {}
    for line in mesh.joints:
        meet = sorted({walls[panel] for panel in line.panels if panel in walls})
        if len(meet) == 2:
            edges.setdefault((meet[0], meet[1]), []).append(line.edges)
    ring = [0]
    while len(ring) < 4:
        onward = [w for w in range(4) if w not in ring and (min(ring[-1], w), max(ring[-1], w)) in edges]
        if not onward:
            return None
        ring.append(onward[0])
    pairs = [(min(a, b), max(a, b)) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
    if set(pairs) != set(edges):
        return None
    turned = list(zip(ring, [*ring[1:], ring[0]], strict=True))
    return [(turned[k], np.unique(np.concatenate(edges[pairs[k]]))) for k in range(4)]


def _inside(mesh: TubMesh, elements: Ints, walls: dict[int, int], inner: Floats) -> Inside:
    """Inner faces: where two walls meet, the place that lies on both."""
    area = areas(mesh)
    nodes, owner = _corners(tuple(block.conn for block in mesh.blocks), elements)
    share = (area / np.bincount(owner, minlength=len(area)).clip(1))[owner]
    used, back = np.unique(nodes, return_inverse=True)
    back = back.ravel()
    wall = np.array([walls.get(panel, 0) for panel in range(len(mesh.panels))])[mesh.element_panel[owner]]
    total = np.zeros((len(used), 4, 3))
    weight = np.zeros((len(used), 4))
    np.add.at(total, (back, wall), share[:, None] * inner[owner])
    np.add.at(weight, (back, wall), share)
    mean = total / np.where(weight > 0, weight, 1.0)[..., None]
    depth = np.linalg.norm(mean, axis=-1)
    normal = mean / np.where(depth > 0, depth, 1.0)[..., None]
    # the least motion that brings a node to the inner face of each of its walls
    offset = (np.linalg.pinv(normal, rcond=0.1) @ depth[..., None])[..., 0]
    return Inside(used, offset, np.bincount(back, share))


def _corners(conn: tuple[Ints, ...], elements: Ints) -> tuple[Ints, Ints]:
    """Node and element of every corner of some elements, connectivity block by block."""
    count = np.concatenate([np.full(len(nodes), nodes.shape[1]) for nodes in conn])
    owner = np.repeat(np.arange(len(count)), count)
    chosen = np.isin(owner, elements)
    return np.concatenate([nodes.ravel() for nodes in conn])[chosen], owner[chosen]


def _grid(
    mesh: TubMesh,
    elements: Ints,
    walls: dict[int, int],
    lines: list[tuple[tuple[int, int], Ints]],
    inside: Inside,
    axis: Floats,
) -> Grid:
    """Bricks as many along and across as the walls have elements, straight from corner to corner."""
    own = np.bincount([walls[panel] for panel in mesh.element_panel[elements].tolist()], minlength=4)
    chains = []
    for _, nodes in lines:
        at = np.searchsorted(inside.node, nodes)
        places = mesh.points[nodes] + inside.offset[at]
        chains.append(places[np.argsort(places @ axis)])
    along = max(round(np.mean([len(chain) - 1 for chain in chains])), 1)
    # the wall between corner line k and the next one is the one that both belong to
    between = [set(lines[k][0]) & set(lines[(k + 1) % 4][0]) for k in range(4)]
    across = [own[wall.pop()] / along for wall in between]
    x, y = (max(round(0.5 * (across[k] + across[k + 2])), 1) for k in (0, 1))
    c = np.array([_resampled(chain, along) for chain in chains])
    e, n = np.linspace(0, 1, x + 1)[None, :, None], np.linspace(0, 1, y + 1)[:, None, None]
    layers = [(1 - e) * (1 - n) * a + e * (1 - n) * b + e * n * d + (1 - e) * n * f for a, b, d, f in c.swapaxes(0, 1)]
    points = np.array(layers)
    if np.linalg.det(points[[1, 0, 0], [0, 1, 0], [0, 0, 1]] - points[0, 0, 0]) > 0:
        points = points[:, :, ::-1]  # rows are z, y, x: a left-handed triple makes a right-handed brick
    return Grid(frozen(points))


def _along(mesh: TubMesh, lines: list[Ints]) -> Floats:
    """Unit vector (3,) along a box: the mean of its corner lines'."""
    total = np.zeros(3)
    for nodes in lines:
        arm = mesh.points[nodes] - mesh.points[nodes].mean(axis=0)
        direction = np.linalg.svd(arm, full_matrices=False)[2][0]
        total += direction if direction @ total >= 0 else -direction
    return total / np.linalg.norm(total)


def _resampled(chain: Floats, count: int) -> Floats:
    """Places (count + 1, 3) at even steps along a polyline."""
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(chain, axis=0), axis=1))])
    at = np.linspace(0, run[-1], count + 1)
    return np.stack([np.interp(at, run, chain[:, k]) for k in range(3)], axis=1)


def locate(grid: Grid, places: Floats, axis: Floats) -> tuple[Ints, Floats] | None:
    """Brick (m,) and natural coordinates (m, 3) of places (m, 3) [m]; a little outside is in the nearest brick.

    None if Newton's method does not find them: bricks too crooked.
    """
    z, y, x = grid.counts
    ends = grid.points[0].mean(axis=(0, 1)) @ axis, grid.points[-1].mean(axis=(0, 1)) @ axis
    at = np.full((len(places), 3), 0.5) * [x, y, z]
    at[:, 2] = np.clip((places @ axis - ends[0]) / (ends[1] - ends[0]), 0, 1) * z
    corner = grid.points[:, [0, 0, -1, -1], [0, -1, 0, -1]]  # (z, 4, 3): a layer is bilinear between them
    for _ in range(STEPS):
        layer = np.clip(np.floor(at[:, 2]).astype(np.int64), 0, z - 1)
        natural = 2 * np.stack([at[:, 0] / x, at[:, 1] / y, at[:, 2] - layer], axis=-1) - 1
        X = np.concatenate([corner[layer], corner[layer + 1]], axis=1)
        miss = places - np.einsum("mn,mnx->mx", shapes(natural), X)
        if np.abs(miss).max() < NEAR:
            break
        J = np.einsum("mna,mnx->mxa", slopes(natural), X) * [2 / x, 2 / y, 2]
        at = at + np.linalg.solve(J, miss[..., None])[..., 0]
    else:
        return None
    cell = np.stack([np.clip(np.floor(at[:, k]), 0, n - 1) for k, n in enumerate((x, y, z))], axis=-1).astype(np.int64)
    return (cell[:, 2] * y + cell[:, 1]) * x + cell[:, 0], 2 * (at - cell) - 1


def _volumes(X: Floats) -> Floats:
    """Volume (e,) [m³] of bricks by two points along each axis."""
    J = np.einsum("gna,enx->egax", slopes(CORNERS / np.sqrt(3)), X)
    return np.linalg.det(J).sum(axis=1)


def _glue(mesh_node: Ints, own: Ints, inside: Inside, N: Floats, corners: Ints, stiffness: Floats) -> Springs:
    """Three rows a mesh node of the walls: its inner face less the brick there (L.1).

    Of the shell nodes (among `own`) that a joint has parted at a corner the mean is held, so that the glue does not
    tie them again.
    """
    order = own[np.argsort(mesh_node[own], kind="stable")]
    start, stop = (np.searchsorted(mesh_node[order], inside.node, side) for side in ("left", "right"))
    count, component = len(inside.node), np.arange(3)
    most = min(int((stop - start).max()), (WIDTH - 8) // 3)
    freedoms = np.zeros((count, 3, WIDTH), dtype=np.int64)
    coefficients = np.zeros((count, 3, WIDTH))
    freedoms[:, :, :8] = 6 * corners[:, None, :] + component[:, None]
    coefficients[:, :, :8] = -N[:, None, :]
    share = 1 / np.minimum(stop - start, most)
    for k in range(most):
        there = start + k < stop
        node = order[np.minimum(start + k, stop - 1)]
        part = np.where(there, share, 0.0)[:, None]
        at = 8 + 3 * k
        after, last = (component + 1) % 3, (component + 2) % 3
        freedoms[:, :, at] = 6 * node[:, None] + component
        freedoms[:, :, at + 1] = 6 * node[:, None] + 3 + after
        freedoms[:, :, at + 2] = 6 * node[:, None] + 3 + last
        coefficients[:, :, at] = part
        coefficients[:, :, at + 1] = part * inside.offset[:, last]
        coefficients[:, :, at + 2] = -part * inside.offset[:, after]
    return Springs(freedoms.reshape(-1, WIDTH), coefficients.reshape(-1, WIDTH), np.repeat(stiffness, 3))
