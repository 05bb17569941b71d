"""A fine model of the panel round one opening, moved along its outer edge as the tub's own mesh moves there.

Elements of a tub are tens of millimetres, the distances at which a notched laminate is judged are one and four. So the
strip of panel round a rim is meshed by itself, in rings that grow from 0.4 mm on, with the same laminates and the same
shell element; its outer edge follows the tub's solution, and equilibrium does the rest. What is read does not hang on
the tub's mesh but through that motion.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh
from tubfem.shell.model import Block, ShellModel
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import solve
from tubfem.shell.ties import Support, tie
from tubfem.tub.rims import Rim

POINT, AVERAGE = 1.016e-3, 3.81e-3  # m: 0.04 and 0.15 in, Whitney and Nuismer, J. Compos. Mater. 8 (1974) 253
FIRST = np.array([0.0, 0.4, 0.8, 1.2, 1.8, 2.7])  # rings, in parts of POINT up to AVERAGE
GROWTH = 1.6
REACH = 0.15  # m at least, and half the opening's width: how far the fine model goes, if there is room
FREE = 0.9  # of the way to the nearest joint or other rim
CANDIDATES = 8  # elements of the tub tried for a place
STEPS = 12


@dataclass(frozen=True, eq=False, slots=True)
class RimModel:
    """The fine mesh: rings x places along the rim.

    Attributes
    ----------
    points : (rings + 1, m, 3) [m]
    conn : (rings, m, 4) nodes, the normal as in the panel
    ring : (rings + 1,) distance from the rim [m] where there is room; further out rings are drawn together
    off : (rings, m) of the elements' middles from the rim [m]
    nearest : (rings, m) element of the tub's mesh
    outer : (m, 4) shell nodes of the tub round every place of the outermost ring, and `weights` (m, 4)
    """

    points: Floats
    conn: Ints
    ring: Floats
    off: Floats
    nearest: Ints
    outer: Ints
    weights: Floats


def rim_model(mesh: TubMesh, shell: ShellModel, rim: Rim) -> RimModel:
    """Mesh the strip round a rim on the panel of `shell`, whose blocks are those of `mesh`."""
    members = np.flatnonzero(mesh.element_panel == rim.panel)
    corners = _corners(shell)[members]
    width = 2 * np.linalg.norm(rim.points - rim.points.mean(axis=0), axis=1).max()
    room = FREE * _room(mesh, rim)
    reach = np.minimum(max(REACH, width / 2, 1.5 * mesh.size), room)
    ring = _rings(float(reach.max()))
    # places with less room have the same first rings, where strains are read, and the rest drawn together
    first = ring[len(FIRST)]
    ring_here = np.where(
        ring[:, None] <= first,
        ring[:, None],
        first + (ring[:, None] - first) * np.maximum(reach - first, 0.5 * first) / max(ring[-1] - first, 1e-9),
    )
    points = rim.points + ring_here[..., None] * rim.outward
    conn = _grid(len(ring), len(rim.points))
    middle = points.reshape(-1, 3)[conn].mean(axis=2)
    tree = cKDTree(shell.points[corners].mean(axis=1))
    at = tree.query(middle.reshape(-1, 3))[1]
    nearest = members[at].reshape(conn.shape[:2])
    X = points.reshape(-1, 3)[conn[0, 0]]
    facing = np.cross(X[2] - X[0], X[3] - X[1]) @ _normal(shell.points[corners[at[0]]])
    if facing < 0:
        conn = conn[..., ::-1]
    outer, weights = _follow(shell.points, corners, tree, points[-1])
    off = 0.25 * (ring_here[1:] + ring_here[:-1])
    off = off + np.roll(off, -1, axis=1)
    return RimModel(points, conn, ring, off, nearest, outer, weights)


def rim_strains(model: RimModel, shell: ShellModel, stiffness: Floats, stack: Ints, u: Floats) -> Floats:
    """Generalised strains (c, r, m, 8) in the tub's material frames: the rings up to `AVERAGE`, and the outermost.

    Parameters
    ----------
    stiffness : (s, 8, 8) of the laminates; `stack` (rings, m) says which lies where
    u : (c, P, 6) motion of the tub's shell nodes
    """
    rings, m = model.nearest.shape
    count = (rings + 1) * m
    edge = np.arange(count - m, count)
    motion = np.einsum("mk,cmki->cmi", model.weights, u[:, model.outer])
    freedoms = (6 * edge[:, None] + np.arange(6)).ravel()
    held = Support(freedoms, np.moveaxis(motion.reshape(len(u), -1), 0, -1))
    direction = np.concatenate([block.direction for block in shell.blocks])[model.nearest.ravel()]
    points = model.points.reshape(-1, 3)
    fine = replace(
        shell,
        points=points,
        blocks=(Block("quad4", model.conn.reshape(-1, 4), stack.ravel(), direction),),
        stiffness=stiffness,
        mass=np.zeros((len(stiffness), 3)),
        springs=(),
        beams=(),
        ties=tie(points, len(u), supports=[held]),
        loads=np.zeros((6 * count, len(u))),
    )
    u = solve(fine).u
    block, read = fine.blocks[0], np.r_[: len(FIRST) * m, (rings - 1) * m : rings * m]
    wanted = replace(fine, blocks=(Block(block.kind, block.conn[read], block.stack[read], block.direction[read]),))
    return generalised_strains(wanted, u)[0].mean.reshape(len(u), len(FIRST) + 1, m, 8)


def at_rim(model: RimModel, strains: Floats) -> dict[str, Floats]:
    """Strains (c, m, 8) halfway between places, by criterion, from those of `rim_strains`."""
    ring = model.ring[: len(FIRST) + 1]
    middles, steps = 0.5 * (ring[1:] + ring[:-1]), np.diff(ring)
    return {
        "point stress": strains[:, int(np.argmin(np.abs(middles - POINT)))],
        "average stress": np.einsum("r,crmi->cmi", steps / steps.sum(), strains[:, : len(FIRST)]),
    }


def _rings(reach: float) -> Floats:
    ring = [*(FIRST * POINT), AVERAGE]
    step = ring[-1] - ring[-2]
    while ring[-1] < reach:
        step *= GROWTH
        ring.append(ring[-1] + step)
    ring = np.array(ring)
    if len(ring) > len(FIRST) + 1:
        tail = ring[len(FIRST) :]
        ring[len(FIRST) :] = tail[0] + (tail - tail[0]) * (reach - tail[0]) / (tail[-1] - tail[0])
    return ring


def _grid(rings: int, m: int) -> Ints:
    """Quads (rings - 1, m, 4) of a closed grid of nodes."""
    i, j = np.meshgrid(np.arange(rings - 1), np.arange(m), indexing="ij")
    here, on = i * m + j, i * m + (j + 1) % m
    return np.stack([here, on, on + m, here + m], axis=-1)


def _corners(shell: ShellModel) -> Ints:
    """Shell nodes (e, 4) of every element; a triangle's last one twice."""
    return np.concatenate(
        [block.conn if block.conn.shape[1] == 4 else block.conn[:, [0, 1, 2, 2]] for block in shell.blocks]
    )


def _normal(X: Floats) -> Floats:
    return np.cross(X[2] - X[0], X[3] - X[1])


def _room(mesh: TubMesh, rim: Rim) -> Floats:
    """Distance (m,) of every place of a rim from the nearest joint or other free edge of its panel [m]."""
    own = np.unique(np.concatenate([block.conn[block.panel == rim.panel].ravel() for block in mesh.blocks]))
    lines = [mesh.free_edges.reshape(-1, 2), *(line.edges for line in mesh.joints)]
    edges = np.concatenate(lines)
    edges = edges[np.isin(edges, own).all(axis=1)]
    places = np.concatenate([mesh.points[edges].mean(axis=1), mesh.points[np.unique(edges)]])
    gap = cKDTree(rim.points).query(places)[0]
    step = np.linalg.norm(rim.points - np.roll(rim.points, 1, axis=0), axis=1).max()
    others = places[gap > max(0.6 * step, 2e-3)]
    return cKDTree(others).query(rim.points)[0] if len(others) else np.full(len(rim.points), np.inf)


def _follow(points: Floats, corners: Ints, tree: cKDTree, places: Floats) -> tuple[Ints, Floats]:
    """The four corners (m, 4) whose weighted motion (m, 4) is the motion of every place (m, 3)."""
    count = min(CANDIDATES, len(corners))
    tried = tree.query(places, k=count)[1].reshape(len(places), count)
    X = points[corners[tried]]  # (m, k, 4, 3)
    r = np.zeros((*tried.shape, 2))
    for _ in range(STEPS):
        N, dN = _shape(r)
        gap = places[:, None] - np.einsum("mkn,mknx->mkx", N, X)
        J = np.einsum("mkna,mknx->mkxa", dN, X)
        normal = J.swapaxes(-1, -2) @ J + 1e-12 * np.eye(2) * (J**2).sum(axis=(-2, -1))[..., None, None]
        step = np.linalg.solve(normal, (J.swapaxes(-1, -2) @ gap[..., None]))[..., 0]
        r = np.clip(r + step, -1.5, 1.5)
    r = np.clip(r, -1.0, 1.0)
    N, _ = _shape(r)
    gap = np.linalg.norm(places[:, None] - np.einsum("mkn,mknx->mkx", N, X), axis=-1)
    best = gap.argmin(axis=1)
    row = np.arange(len(places))
    return corners[tried[row, best]], N[row, best]


def _shape(r: Floats) -> tuple[Floats, Floats]:
    """Bilinear shapes (..., 4) and their gradients (..., 4, 2)."""
    s, t = r[..., 0], r[..., 1]
    a, b = np.array([-1, 1, 1, -1]), np.array([-1, -1, 1, 1])
    s, t = 1 + a * s[..., None], 1 + b * t[..., None]
    return s * t / 4, np.stack([a * t, b * s], axis=-1) / 4
