"""Thin-walled tubes of any section, twisted."""

from itertools import pairwise

import numpy as np
from meshes import block, freedoms, shell, welded

from tubfem.shell.solve import solve
from tubfem.shell.ties import Support


def wall_nodes(a, b, size):
    """Nodes (m, 2) of a wall from a to b."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    n = max(round(np.linalg.norm(b - a) / size), 1)
    return a + np.arange(n + 1)[:, None] / n * (b - a)


def tube(walls, length, size):
    """Nodes (p, 3) along x and one connectivity a wall; walls are lists of corners (y, z), welded where they meet.

    A wall's 1-2 edge runs along the axis, so that its normal is (1, 0, 0) × (direction of the wall).
    """
    n = max(round(length / size), 1)
    x = np.linspace(0, length, n + 1)
    parts = []
    for corners in walls:
        runs = [wall_nodes(a, b, size) for a, b in pairwise(corners)]
        yz = np.concatenate([runs[0][:1], *(run[1:] for run in runs)])
        m = len(yz)
        points = np.column_stack([np.repeat(x, m), np.tile(yz, (n + 1, 1))])
        node = np.arange((n + 1) * m).reshape(n + 1, m)
        parts.append(
            (points, np.stack([node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]], -1).reshape(-1, 4))
        )
    return welded(parts)


def twist_model(points, conns, C, *, ends="free free", drilling=1e-3):
    """Both ends keep their shape; the far one is turned by 1 rad, or shifted along y or z.

    `ends` says whether the near and the far one are "free" to warp or "held"; the k-th connectivity has the k-th
    stiffness of C, or all have the only one.
    """
    near, far = (np.flatnonzero(np.isclose(points[:, 0], x)) for x in (0, points[:, 0].max()))
    y, z = points[far, 1], points[far, 2]
    one, zero = np.ones(len(far)), np.zeros(len(far))
    motion = np.stack([[-z, y, one], [one, zero, zero], [zero, one, zero]], -1)
    supports = [
        Support(freedoms(near, [1, 2, 3])),
        Support(freedoms(far, [1, 2, 3]), motion.transpose(1, 0, 2).reshape(-1, 3)),
    ]
    held = [nodes for nodes, end in zip((near, far), ends.split(), strict=True) if end == "held"]
    supports += [Support(freedoms(nodes, [0, 4, 5])) for nodes in held] or [Support(freedoms(near[:1], [0]))]
    blocks = [block(conn, stack=k if len(C) > 1 else 0) for k, conn in enumerate(conns)]
    loads = np.zeros((6 * len(points), 3))
    return shell(points, blocks, C, loads, supports=supports, drilling=drilling), far


def torsional_stiffness(model, far):
    """Torque per angle of the far end [N·m/rad], the section free to turn about whatever axis it likes."""
    points = model.points
    r = solve(model).reactions[:, far]
    y, z = points[far, 1], points[far, 2]
    shear = r[:, :, 1:3].sum(1)
    torque = (r[:, :, 3] + y * r[:, :, 2] - z * r[:, :, 1]).sum(1)
    shift = np.linalg.solve(shear[1:].T, -shear[0])
    return torque[0] + shift @ torque[1:]
