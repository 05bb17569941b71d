"""Structured meshes and isotropic stiffness that the tests share."""

from dataclasses import replace

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tubfem.shell.assemble import KINDS
from tubfem.shell.bulges import bulging
from tubfem.shell.edges import relieved
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.ties import Support, tie

KIND = {"quad4": "quads", "tria3": "triangles"}  # in words


def grid(nx, ny):
    """Parameters (p, 2) on the unit square, p = i + (nx+1)·j, and connectivity (nx·ny, 4)."""
    s, t = np.meshgrid(np.linspace(0, 1, nx + 1), np.linspace(0, 1, ny + 1))
    node = np.arange((nx + 1) * (ny + 1)).reshape(ny + 1, nx + 1)
    conn = np.stack([node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]], -1).reshape(-1, 4)
    return np.stack([s.ravel(), t.ravel()], -1), conn


def isotropic(E, nu, t, k=5 / 6):
    """Stiffness (8, 8) of an isotropic sheet of thickness t."""
    Q = E / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
    C = np.zeros((8, 8))
    C[:3, :3], C[3:6, 3:6] = Q * t, Q * t**3 / 12
    C[6, 6] = C[7, 7] = k * E / 2 / (1 + nu) * t
    return C


def triangles(conn):
    """Every quad (e, 4) cut along a diagonal that changes from one to the next: (2e, 3)."""
    even, odd = conn[0::2], conn[1::2]
    parts = [even[:, [0, 1, 2]], even[:, [0, 2, 3]], odd[:, [0, 1, 3]], odd[:, [1, 2, 3]]]
    return np.concatenate(parts)


def freedoms(nodes, components):
    """Freedoms of nodes (a mask or ids) in some of the components 0 to 5."""
    nodes = np.asarray(nodes)
    if nodes.dtype == bool:
        nodes = np.flatnonzero(nodes)
    return (6 * nodes[:, None] + np.array(components)).ravel()


def held(*sets):
    """One support at zero of every freedom in any of the sets."""
    return Support(np.unique(np.concatenate(sets)))


def shell(points, blocks, stiffness, loads, *, supports=(), rigid=(), spread=(), springs=(), mass=None, drilling=1e-3):
    """A model with one column of loads, or several."""
    loads = np.asarray(loads, dtype=float).reshape(6 * len(points), -1)
    stiffness = np.asarray(stiffness).reshape(-1, 8, 8)
    ties = tie(points, loads.shape[1], supports=supports, rigid=rigid, spread=spread)
    mass = np.zeros((len(stiffness), 3)) if mass is None else mass
    return fit_edges(ShellModel(points, tuple(blocks), stiffness, mass, tuple(springs), ties, loads, drilling))


def fit_edges(model):
    """The model with the bulge of its sides and the relief of free ones, of its own stiffness."""
    blocks = bulging(model.points, model.blocks, model.stiffness)
    return replace(model, blocks=relieved(model.points, blocks, model.stiffness, model.ties))


def tied(a, b, stiffness):
    """Springs between nodes a and b (m,) at one place, component by component; stiffness (6,) [N/m, N·m/rad]."""
    a, b = (6 * np.asarray(nodes)[:, None] + np.arange(6) for nodes in (a, b))
    pairs = np.stack([a.ravel(), b.ravel()], 1)
    return Springs(pairs, np.tile([-1.0, 1.0], (len(pairs), 1)), np.tile(np.asarray(stiffness, dtype=float), len(a)))


def block(conn, direction=(1.0, 0.0, 0.0), *, stack=0, kind="quad4"):
    """Elements of one stack and one 0° direction, or one direction each; kind "tria3" cuts the quads."""
    if kind == "tria3" and conn.shape[1] == 4:
        conn = triangles(conn)
    direction = np.broadcast_to(np.asarray(direction, dtype=float), (len(conn), 3))
    return Block(kind, conn, np.full(len(conn), stack), direction)


def welded(parts, decimals=9):
    """Points and connectivities of parts (points, conn), nodes at the same place made one."""
    points = np.concatenate([p for p, _ in parts])
    start = np.cumsum([0] + [len(p) for p, _ in parts[:-1]])
    _, first, place = np.unique(np.round(points, decimals) + 0.0, axis=0, return_index=True, return_inverse=True)
    return points[first], [place.ravel()[conn + s] for (_, conn), s in zip(parts, start, strict=True)]


def sines(points, elements, a, b):
    """sin(πx/a) sin(πy/b) at the integration points (e, q) of elements."""
    place = np.einsum("qn,enx->eqx", KINDS[elements.kind].SHAPE, points[elements.conn])
    return np.sin(np.pi * place[..., 0] / a) * np.sin(np.pi * place[..., 1] / b)


def edge_weights(points, nodes):
    """Lengths that belong to nodes in a row along an edge."""
    length = np.linalg.norm(np.diff(points[nodes], axis=0), axis=1)
    weights = np.zeros(len(nodes))
    weights[:-1] += length / 2
    weights[1:] += length / 2
    return weights


def cubic_at(centres, values, place):
    """Value at a place of a regular grid of elements, by a cubic that has their means; centres (e, 2), values (e,).

    A straight line between the means of neighbours lies below a crest between them by the square of the element, and
    so does a curve that goes through the means instead of having them: what it has up to each edge is splined.
    """
    columns, rows = (np.unique(centres[:, k].round(9)) for k in (0, 1))
    order = np.lexsort((centres[:, 1].round(9), centres[:, 0].round(9)))
    table = np.asarray(values)[order].reshape(len(columns), len(rows))
    edges = [
        np.append(each - step / 2, each[-1] + step / 2) for each, step in ((c, c[1] - c[0]) for c in (columns, rows))
    ]
    area = np.diff(edges[0])[:, None] * np.diff(edges[1])
    total = np.pad(table * area, ((1, 0), (1, 0))).cumsum(0).cumsum(1)
    return RectBivariateSpline(*edges, total, kx=4, ky=4)(*place, dx=1, dy=1)[0, 0]
