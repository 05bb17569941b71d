"""Springs along a line between split nodes, springs between two points, and springs to the ground."""

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.shell.frames import cross_matrix
from tubfem.shell.model import Springs
from tubfem.shell.quadrature import LINE

LINE_DIRECTIONS = ("along", "normal", "out_of_plane", "rotation")


def line_springs(points: Floats, a: Ints, b: Ints, frame: Floats, stiffness: Floats) -> Springs:
    """Springs spread along a joint line between two rows of coinciding nodes.

    The gap u_b - u_a is linear over each segment and integrated at two Gauss points, so that any linear gap
    stores its exact energy.

    Parameters
    ----------
    points : (p, 3)
        [m].
    a, b : (m, 2)
        Nodes at the ends of each segment, on one side and on the other.
    frame : (m, 3, 3)
        Unit vectors along the line, across it in the panel, and out of the panel.
    stiffness : (m, 4) or (4,)
        Per length: along, normal, out of plane [N/m²], and rotation about the line [N].

    Returns
    -------
    springs
        4·2·m rows in the order (segment, Gauss point, direction): `values.reshape(m, 2, 4)`. The force of a row
        over its share of the length, `line_shares`, is the force per length [N/m, N].
    """
    count = len(a)
    N = np.stack([1 - LINE, LINE], 1)
    # One direction vector over the six freedoms of a node for each of the four springs.
    reading = np.zeros((count, 4, 6))
    reading[:, :3, :3] = frame
    reading[:, 3, 3:] = frame[:, 0]
    one_side = N[None, :, None, :, None] * reading[:, None, :, None, :]  # (m, gauss, direction, node, component)
    coefficients = np.stack([-one_side, one_side], axis=3).reshape(count * 8, 24)
    nodes = np.stack([a, b], axis=1)
    freedoms = (6 * nodes[..., None] + np.arange(6)).reshape(count, 1, 24)
    k = np.broadcast_to(np.asarray(stiffness, dtype=float), (count, 4))[:, None] * line_shares(points, a)[:, :, None]
    return _compact(np.broadcast_to(freedoms, (count, 8, 24)).reshape(-1, 24), coefficients, k.ravel())


def line_shares(points: Floats, a: Ints) -> Floats:
    """Length (m, 2) that each Gauss point of the segments a (m, 2) stands for [m]."""
    length = np.linalg.norm(points[a[:, 1]] - points[a[:, 0]], axis=1)
    return np.repeat(length[:, None] / 2, 2, axis=1)


def point_springs(points: Floats, a: Ints, b: Ints, frame: Floats, stiffness: Floats) -> Springs:
    """Springs between the points a and b (m,), each moved as a rigid body to the middle between them.

    Parameters
    ----------
    points : (p, 3)
        [m].
    a, b : (m,)
    frame : (m, 3, 3) or (3, 3)
        Axes of the spring as rows.
    stiffness : (m, 6) or (6,)
        Along the three axes [N/m] and about them [N·m/rad].

    Returns
    -------
    springs
        6·m rows, `values.reshape(m, 6)`.
    """
    count = len(a)
    axes = np.broadcast_to(np.asarray(frame, dtype=float), (count, 3, 3))
    middle = 0.5 * (points[a] + points[b])
    reading = np.zeros((count, 6, 2, 6))
    for side, (nodes, sign) in enumerate(((a, -1.0), (b, 1.0))):
        # axis·(u + θ × r) = axis·u + (r × axis)·θ
        reading[:, :3, side, :3] = sign * axes
        reading[:, :3, side, 3:] = sign * np.einsum("mxy,miy->mix", cross_matrix(middle - points[nodes]), axes)
        reading[:, 3:, side, 3:] = sign * axes
    freedoms = (6 * np.stack([a, b], 1)[..., None] + np.arange(6)).reshape(count, 1, 12)
    k = np.broadcast_to(np.asarray(stiffness, dtype=float), (count, 6))
    return _compact(np.broadcast_to(freedoms, (count, 6, 12)).reshape(-1, 12), reading.reshape(-1, 12), k.ravel())


def ground_springs(freedoms: Ints, stiffness: Floats) -> Springs:
    """Springs from freedoms (m,) to the ground, `stiffness` (m,) or one number [N/m, N·m/rad]."""
    ids = np.asarray(freedoms, dtype=np.int64).reshape(-1, 1)
    return Springs(ids, np.ones(ids.shape), np.broadcast_to(np.asarray(stiffness, dtype=float), len(ids)).copy())


def _compact(freedoms: Ints, coefficients: Floats, stiffness: Floats) -> Springs:
    """Springs whose columns that are zero in every row are dropped."""
    used = (coefficients != 0.0).any(0)
    return Springs(freedoms[:, used], coefficients[:, used], stiffness)
