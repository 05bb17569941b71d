"""Small tubs meshed by hand: bilinear panels on a regular grid, joined where their nodes fall together."""

from collections import defaultdict

import numpy as np

from tubfem.arrays import frozen
from tubfem.geometry.mesh import Block, JointLine, Mount, Panel, TubMesh
from tubfem.geometry.topology import chains


def panel(name, corners, cells, *, region=None, zero=None, shift=0.0, section=False, mirrored=False):
    """A bilinear panel: corners in order round it, so that the normal comes out on the far face; cells (nx, ny)."""
    corners = np.asarray(corners, dtype=float)
    zero = corners[1] - corners[0] if zero is None else np.asarray(zero, dtype=float)
    plain = name.removesuffix(".left").removesuffix(".right")
    meta = Panel(name, plain, region or plain, mirrored, shift, section, False)
    return meta, corners, cells, zero


def _grid(corners, cells):
    nx, ny = cells
    s, t = np.meshgrid(np.linspace(0, 1, nx + 1), np.linspace(0, 1, ny + 1))
    s, t = s.ravel()[:, None], t.ravel()[:, None]
    a, b, c, d = corners
    points = (1 - s) * (1 - t) * a + s * (1 - t) * b + s * t * c + (1 - s) * t * d
    node = np.arange((nx + 1) * (ny + 1)).reshape(ny + 1, nx + 1)
    conn = np.stack([node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]], -1).reshape(-1, 4)
    return points, conn


def tub_mesh(panels, *, size=0.05, mounts=(), points=(), lines=()):
    """TubMesh of panels; mounts are (name, panel name, centre, insert radius, radius), points (name, at)."""
    metas = tuple(meta for meta, *_ in panels)
    coordinates, conns, owner, directions = [], [], [], []
    count = 0
    for index, (_, corners, cells, zero) in enumerate(panels):
        xyz, conn = _grid(corners, cells)
        coordinates.append(xyz)
        conns.append(conn + count)
        owner.append(np.full(len(conn), index))
        directions.append(np.tile(zero, (len(conn), 1)))
        count += len(xyz)
    xyz = np.concatenate(coordinates)
    _, first, back = np.unique(np.round(xyz / 1e-7).astype(np.int64), axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first, kind="stable")
    rank = np.argsort(order, kind="stable")
    points_xyz, conn = xyz[first[order]], rank[back.ravel()][np.concatenate(conns)]
    element_panel = np.concatenate(owner)
    by_edge = defaultdict(list)
    for element, nodes in enumerate(conn.tolist()):
        for k in range(4):
            by_edge[tuple(sorted((nodes[k], nodes[(k + 1) % 4])))].append(element)
    meeting = defaultdict(list)
    for edge, elements in by_edge.items():
        meet = tuple(sorted({int(element_panel[e]) for e in elements}))
        if len(meet) > 1:
            meeting[meet].append(edge)
    joints = tuple(
        JointLine(meet, frozen(chain))
        for meet, edges in sorted(meeting.items())
        for chain in chains(np.array(edges), points_xyz)
    )
    free = np.array([edge for edge, elements in by_edge.items() if len(elements) == 1], dtype=np.int64)
    middle = points_xyz[conn].mean(1)
    made = []
    for name, on, centre, insert, radius in mounts:
        index = [meta.name for meta in metas].index(on)
        distance = np.linalg.norm(middle - np.asarray(centre), axis=1)
        mine = element_panel == index
        nodes = points_xyz[conn[np.flatnonzero(mine)[0]]]
        normal = np.cross(nodes[2] - nodes[0], nodes[3] - nodes[1])
        made.append(
            Mount(
                name,
                index,
                frozen(np.flatnonzero(mine & (distance < insert))),
                frozen(np.flatnonzero(mine & (distance < radius))),
                frozen(np.asarray(centre, dtype=float)),
                frozen(normal / np.linalg.norm(normal)),
            )
        )
    nodes_at = {name: nearest(points_xyz, at) for name, at in points}
    edges_at = {name: frozen(_edges_on(points_xyz, list(by_edge), a, b)) for name, a, b in lines}
    block = Block("quad4", frozen(conn), frozen(element_panel), frozen(np.concatenate(directions)))
    return TubMesh(frozen(points_xyz), (block,), metas, joints, tuple(made), nodes_at, edges_at, frozen(free), size)


def nearest(points, at):
    """Node nearest to a place."""
    return int(np.argmin(np.linalg.norm(points - np.asarray(at, dtype=float), axis=1)))


def _edges_on(points, edges, a, b):
    a, b = np.asarray(a, dtype=float), np.asarray(b, dtype=float)
    axis = (b - a) / np.linalg.norm(b - a)
    off = np.linalg.norm(np.cross(points - a, axis), axis=1) < 1e-9
    along = (points - a) @ axis
    on = off & (along > -1e-9) & (along < np.linalg.norm(b - a) + 1e-9)
    chosen = [edge for edge in edges if on[edge[0]] and on[edge[1]]]
    return np.array(sorted(chosen, key=lambda edge: along[list(edge)].sum()), dtype=np.int64)
