"""Foam inside a ring of four walls as bricks through its four corners, glued to the walls (docs/theory.md)."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints, frozen
from tubfem.geometry.mesh import TubMesh
from tubfem.shell.brick8 import POINTS, brick_springs, shapes, slopes
from tubfem.shell.model import Springs
from tubfem.tub.ring import Inside, corner_lines, corners_of, inner_faces, ring_walls
from tubfem.tub.split import SplitMesh

GLUE = 1e3  # stiffness of the bond to the walls over that of a brick: 0.1 % softer for each wall
WIDTH = 24  # coefficients of a row
STEPS, NEAR = 30, 1e-9  # of Newton's method for the place of a wall's node in the bricks [m]
DAMPED = 1e-12  # keeps its steps finite where bricks, drawn on beyond their faces, fold over
REACH = 0.5  # bricks that a wall's node may lie outside all of them; from further off it is glued to a corner
LEAST = 0.1  # of the width of a section that its foam is drawn at least


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
    """Springs of the foam in one ring and the grid of its bricks; None unless four walls meet in four corner lines.

    Bricks that would turn inside out, at walls that lean on each other, are None too.

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
    walls = ring_walls(mesh, elements)
    lines = corner_lines(mesh, walls)
    if lines is None or len(lines) != 4:
        return None
    inside = inner_faces(mesh, elements, walls, inner)
    axis = _along(mesh, [nodes for _, nodes in lines])
    grid = _grid(mesh, elements, walls, lines, inside, axis)
    conn = grid.conn()
    X = grid.points.reshape(-1, 3)[conn]
    if not (_sizes(X) > 0).all():
        return None
    brick, natural = locate(grid, mesh.points[inside.node] + inside.offset, axis)
    N = shapes(natural)
    arm = np.einsum("mn,mnx->mx", N, X[brick]) - mesh.points[inside.node]
    rows, stiffness = brick_springs(X, C, frame)
    size = _sizes(X).sum(axis=1)
    stiffness = stiffness * volume / size.sum()
    freedoms = (6 * (first + conn)[:, :, None] + np.arange(3)).reshape(len(conn), 1, WIDTH)
    glue = GLUE * C[0, 0] * inside.area / np.cbrt(size.mean())
    own = np.unique(corners_of(split.conn, elements)[0])
    tied = _glue(split.mesh_node, own, inside.node, arm, N, first + conn[brick], glue)
    springs = Springs(
        np.concatenate([np.broadcast_to(freedoms, rows.shape).reshape(-1, WIDTH), tied.freedoms]),
        np.concatenate([rows.reshape(-1, WIDTH), tied.coefficients]),
        np.concatenate([stiffness.ravel(), tied.stiffness]),
    )
    return springs, grid


def _grid(
    mesh: TubMesh,
    elements: Ints,
    walls: dict[int, int],
    lines: list[tuple[tuple[int, int], Ints]],
    inside: Inside,
    axis: Floats,
) -> Grid:
    """Bricks as many along and across as the walls have elements, straight from corner to corner.

    Where walls leave less than `LEAST` of their section's width, foam is drawn that wide, so that bricks stay sound.
    """
    own = np.bincount([walls[panel] for panel in mesh.element_panel[elements].tolist()], minlength=4)
    chains, outer = [], []
    for _, nodes in lines:
        at = np.searchsorted(inside.node, nodes)
        places = mesh.points[nodes] + inside.offset[at]
        chains.append(places[np.argsort(places @ axis)])
        outer.append(mesh.points[nodes][np.argsort(mesh.points[nodes] @ axis)])
    along = max(round(np.mean([len(chain) - 1 for chain in chains])), 1)
    # the wall between corner line k and the next one is the one that both belong to
    between = [set(lines[k][0]) & set(lines[(k + 1) % 4][0]) for k in range(4)]
    across = [own[wall.pop()] / along for wall in between]
    x, y = (max(round(0.5 * (across[k] + across[k + 2])), 1) for k in (0, 1))
    c = _wide_enough(*(np.array([_resampled(chain, along) for chain in each]) for each in (outer, chains)))
    e, n = np.linspace(0, 1, x + 1)[None, :, None], np.linspace(0, 1, y + 1)[:, None, None]
    layers = [(1 - e) * (1 - n) * a + e * (1 - n) * b + e * n * d + (1 - e) * n * f for a, b, d, f in c.swapaxes(0, 1)]
    points = np.array(layers)
    if np.linalg.det(points[[1, 0, 0], [0, 1, 0], [0, 0, 1]] - points[0, 0, 0]) > 0:
        points = points[:, :, ::-1]  # rows are z, y, x: a left-handed triple makes a right-handed brick
    return Grid(frozen(points))


def _wide_enough(outer: Floats, inner: Floats) -> Floats:
    """Corners (4, z, 3) of the foam: the inner ones, or as far towards the outer ones as leaves a layer its width."""
    across = np.roll(outer, -1, axis=0) - outer
    lost = across - (np.roll(inner, -1, axis=0) - inner)
    share = np.einsum("kzx,kzx->kz", lost, across) / np.einsum("kzx,kzx->kz", across, across)
    kept = np.minimum((1 - LEAST) / share.max(axis=0).clip(1 - LEAST), 1.0)[:, None]
    return np.where(kept < 1, outer + kept * (inner - outer), inner)


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


def locate(grid: Grid, places: Floats, axis: Floats) -> tuple[Ints, Floats]:
    """Brick (m,) and natural coordinates (m, 3) of places (m, 3) [m].

    Up to `REACH` of a brick outside is in the nearest one, drawn on; what lies further off, as the nodes of a wall do
    that the thickness of the next one covers, comes to the nearest corner of a brick.
    """
    z, y, x = grid.counts
    count = np.array([x, y, z])
    ends = grid.points[0].mean(axis=(0, 1)) @ axis, grid.points[-1].mean(axis=(0, 1)) @ axis
    at = np.full((len(places), 3), 0.5) * count
    at[:, 2] = np.clip((places @ axis - ends[0]) / (ends[1] - ends[0]), 0, 1) * z
    corner = grid.points[:, [0, 0, -1, -1], [0, -1, 0, -1]]  # (z, 4, 3): a layer is bilinear between them
    for _ in range(STEPS):
        layer = np.clip(np.floor(at[:, 2]).astype(np.int64), 0, z - 1)
        natural = 2 * np.stack([at[:, 0] / x, at[:, 1] / y, at[:, 2] - layer], axis=-1) - 1
        X = np.concatenate([corner[layer], corner[layer + 1]], axis=1)
        miss = places - np.einsum("mn,mnx->mx", shapes(natural), X)
        found = np.abs(miss).max(axis=1) < NEAR
        if found.all():
            break
        J = np.einsum("mna,mnx->mxa", slopes(natural), X) * [2 / x, 2 / y, 2]
        square = J.swapaxes(1, 2) @ J
        square += DAMPED * np.trace(square, axis1=1, axis2=2)[:, None, None] * np.eye(3)
        step = np.linalg.solve(square, J.swapaxes(1, 2) @ miss[..., None])[..., 0]
        at = np.clip(at + step, -REACH, count + REACH)
    if not found.all():
        nearest = cKDTree(grid.points.reshape(-1, 3)).query(places[~found])[1]
        at[~found] = np.stack(np.unravel_index(nearest, grid.points.shape[:3])[::-1], axis=-1)
    cell = np.clip(np.floor(at), 0, count - 1).astype(np.int64)
    return (cell[:, 2] * y + cell[:, 1]) * x + cell[:, 0], 2 * (at - cell) - 1


def _sizes(X: Floats) -> Floats:
    """Volume (e, 8) [m³] of the parts of bricks, two points along each axis; negative where a brick is inside out."""
    return np.linalg.det(np.einsum("gna,enx->egax", slopes(POINTS), X))


def _glue(mesh_node: Ints, own: Ints, node: Ints, arm: Floats, N: Floats, corners: Ints, stiffness: Floats) -> Springs:
    """Three rows a mesh node of the walls: its motion at the end of `arm` less that of the brick there (L.1).

    Of the shell nodes (among `own`) that a joint has parted at a corner the mean is held, so that the glue does not
    tie them again.
    """
    order = own[np.argsort(mesh_node[own], kind="stable")]
    start, stop = (np.searchsorted(mesh_node[order], node, side) for side in ("left", "right"))
    count, component = len(node), np.arange(3)
    most = min(int((stop - start).max()), (WIDTH - 8) // 3)
    freedoms = np.zeros((count, 3, WIDTH), dtype=np.int64)
    coefficients = np.zeros((count, 3, WIDTH))
    freedoms[:, :, :8] = 6 * corners[:, None, :] + component[:, None]
    coefficients[:, :, :8] = -N[:, None, :]
    share = 1 / np.minimum(stop - start, most)
    for k in range(most):
        there = start + k < stop
        held = order[np.minimum(start + k, stop - 1)]
        part = np.where(there, share, 0.0)[:, None]
        at = 8 + 3 * k
        after, last = (component + 1) % 3, (component + 2) % 3
        freedoms[:, :, at] = 6 * held[:, None] + component
        freedoms[:, :, at + 1] = 6 * held[:, None] + 3 + after
        freedoms[:, :, at + 2] = 6 * held[:, None] + 3 + last
        coefficients[:, :, at] = part
        coefficients[:, :, at + 1] = part * arm[:, last]
        coefficients[:, :, at + 2] = -part * arm[:, after]
    return Springs(freedoms.reshape(-1, WIDTH), coefficients.reshape(-1, WIDTH), np.repeat(stiffness, 3))
