"""Consistent nodal loads, and mass. Every load is a column (d,) over all freedoms; add them up per case."""

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.shell.assemble import KINDS
from tubfem.shell.frames import cross, surface_frame
from tubfem.shell.model import Block, Springs
from tubfem.shell.normals import smooth_normals
from tubfem.shell.sides import alone

CURVED = np.radians(1.0)  # between the normals at two nodes of an element, where half of its linked moments is left


def pressure(points: Floats, block: Block, value: Floats | float) -> Floats:
    """Pressure [Pa] along e3 (from the tool face into the laminate) of all elements, each (e,) or each point (e, q)."""
    N, e3, dA = _surface(points, block)
    value = np.asarray(value, dtype=float)
    push = ((value[:, None] if value.ndim == 1 else value) * dA)[..., None] * e3
    force = np.einsum("qn,eqx->enx", N, push)
    (normal,) = smooth_normals(points, [block.conn])
    return _gather(points, block.conn, force, _linked_moments(points, block, normal, push.sum(1)))


def body_force(points: Floats, blocks: tuple[Block, ...], mass: Floats, acceleration: Floats) -> Floats:
    """Weight of the shell in a field of `acceleration` (3,) [m/s²], with its lever about the element surface.

    `mass` (s, 3) as in `ShellModel`: the force per area is m0 a and the moment m1 n × a.
    """
    total = np.zeros(6 * len(points))
    normals = smooth_normals(points, [block.conn for block in blocks])
    for block, n in zip(blocks, normals, strict=True):
        N, _, dA = _surface(points, block)
        share = dA @ N  # area of each node
        m0, m1 = mass[block.stack, 0], mass[block.stack, 1]
        force = (m0[:, None] * share)[..., None] * acceleration
        moment = (m1[:, None] * share)[..., None] * np.cross(n, acceleration)
        moment += _linked_moments(points, block, n, force.sum(1))
        total += _gather(points, block.conn, force, moment)
    return total


def row_force(points: int, masses: Springs, acceleration: Floats) -> Floats:
    """Weight (d,) of masses written as springs are (velocity for elongation), in a field of `acceleration` (3,)."""
    motion = np.zeros((points, 6))
    motion[:, :3] = acceleration
    pushed = masses.stiffness * (motion.ravel()[masses.freedoms] * masses.coefficients).sum(1)
    total = np.zeros(6 * points)
    np.add.at(total, masses.freedoms, masses.coefficients * pushed[:, None])
    return total


def row_masses(points: int, masses: Springs) -> Floats:
    """Mass (p,) [kg] that belongs to every point, of masses whose rows are x, y, z, and three that do not count.

    Rows for translation in x give each point its share by what they read of its own motion in x.
    """
    share = masses.coefficients * masses.stiffness[:, None] * (masses.freedoms % 6 == 0)
    share[np.arange(len(share)) % 6 != 0] = 0.0
    return np.bincount(masses.freedoms.ravel() // 6, share.ravel(), minlength=points)


def edge_load(points: Floats, edges: Ints, per_length: Floats) -> Floats:
    """Load per length (m, 6) or (6,), force [N/m] and moment [N], on edges of two nodes (m, 2)."""
    length = np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1)
    half = np.broadcast_to(per_length, (len(edges), 6)) * (length / 2)[:, None]
    total = np.zeros((len(points), 6))
    for end in (0, 1):
        np.add.at(total, edges[:, end], half)
    return total.ravel()


def point_load(points: Floats, node: int, load: Floats) -> Floats:
    """Force and moment (6,) [N, N·m] on one point."""
    total = np.zeros((len(points), 6))
    total[node] = load
    return total.ravel()


def node_areas(points: Floats, blocks: tuple[Block, ...]) -> Floats:
    """Tributary area (p,) of every point [m²]."""
    area = np.zeros(len(points))
    for block in blocks:
        N, _, dA = _surface(points, block)
        np.add.at(area, block.conn, dA @ N)
    return area


def node_masses(points: Floats, blocks: tuple[Block, ...], mass: Floats) -> Floats:
    """Mass (p,) [kg] that belongs to every point, `mass` (s, 3) as in `ShellModel`."""
    total = np.zeros(len(points))
    for block in blocks:
        N, _, dA = _surface(points, block)
        np.add.at(total, block.conn, mass[block.stack, :1] * (dA @ N))
    return total


def element_areas(points: Floats, block: Block) -> Floats:
    """Area (e,) [m²]."""
    return _surface(points, block)[2].sum(1)


def mass_and_centre(points: Floats, blocks: tuple[Block, ...], mass: Floats) -> tuple[float, Floats]:
    """Mass [kg] and centre of gravity (3,) [m] of the shells, each at its own height above the surface."""
    total, moment = 0.0, np.zeros(3)
    for block in blocks:
        N, e3, dA = _surface(points, block)
        place = np.einsum("qn,enx->eqx", N, points[block.conn])
        m0, m1 = (mass[block.stack, k][:, None] * dA for k in (0, 1))
        total += m0.sum()
        moment += np.einsum("eq,eqx->x", m0, place) + np.einsum("eq,eqx->x", m1, e3)
    return float(total), moment / total


def _surface(points: Floats, block: Block) -> tuple[Floats, Floats, Floats]:
    """Shape functions (q, n), normals (e, q, 3) and areas (e, q) at the integration points."""
    kind = KINDS[block.kind]
    a = np.einsum("qan,enx->eqax", kind.GRADIENT, points[block.conn])
    _, _, e3, area = surface_frame(a[:, :, 0], a[:, :, 1], block.direction[:, None])
    return kind.SHAPE, e3, area * kind.WEIGHT


def _gather(points: Floats, conn: Ints, force: Floats, moment: Floats | None = None) -> Floats:
    total = np.zeros((len(points), 6))
    np.add.at(total[:, :3], conn, force)
    if moment is not None:
        np.add.at(total[:, 3:], conn, moment)
    return total.ravel()


def _linked_moments(points: Floats, block: Block, normal: Floats, force: Floats) -> Floats:
    """Moments (e, n, 3) of an even load of resultant `force` (e, 3) on the deflection that rotations add (Z.4).

    Between nodes i and j it bulges by (L/8)(1 - s²) times the difference of their tilts along the edge, which is what
    makes the tied shear the shear of that deflection; half the edge's bulge times a third of the area takes the load.
    `normal` (e, n, 3) are the directors at the corners.
    """
    if block.kind != "quad4":
        return np.zeros((*block.conn.shape, 3))
    X = points[block.conn]
    along = np.roll(X, -1, axis=1) - X  # edges 12, 23, 34, 41
    e3 = cross(X[:, 2] - X[:, 0], X[:, 3] - X[:, 1])
    e3 = e3 / np.linalg.norm(e3, axis=1)[:, None]
    turn = ((force * e3).sum(1) / 24)[:, None, None] * cross(np.broadcast_to(e3[:, None], along.shape), along)
    turn = turn * _share_of_links(block.conn, normal)[..., None]
    return np.roll(turn, 1, axis=1) - turn


def _share_of_links(conn: Ints, normal: Floats) -> Floats:
    """Share (e, n) of the linked moments of each side: less the more elements are curved, but all along the rim.

    A curved shell carries its load in stretch and hardly any by what bends between its nodes; where its elements are
    not alike, what is left of their moments would turn the nodes of a thin one by much more than its load does.
    """
    (free,) = alone([conn])
    rim = np.zeros(conn.max(initial=-1) + 1, dtype=bool)
    rim[conn[free]] = rim[np.roll(conn, -1, axis=1)[free]] = True
    turned = np.linalg.norm(normal - np.roll(normal, 1, axis=1), axis=-1).max(1, keepdims=True)
    along_rim = rim[conn] & rim[np.roll(conn, -1, axis=1)]
    return np.where(along_rim, 1.0, 1 / (1 + (turned / CURVED) ** 2))
