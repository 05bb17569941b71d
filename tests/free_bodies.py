"""Forces that a part of a shell needs for the motion of the whole."""

import numpy as np

from tubfem.shell.assemble import element_stiffness, padded_stiffness, strain_matrix
from tubfem.shell.normals import smooth_normals


def by_block(model, chosen):
    """Blocks and which of their elements are among the chosen (e,) of all."""
    ends = np.cumsum([len(b.conn) for b in model.blocks])[:-1]
    return zip(model.blocks, np.split(chosen, ends), strict=True)


def element_forces(model, u, chosen):
    """What the chosen elements ask of the nodes (c, p, 6) in the motion u."""
    total = np.zeros_like(u)
    C = padded_stiffness(model.stiffness, model.drilling)
    normals = smooth_normals(model.points, [b.conn for b in model.blocks])
    for (b, some), n in zip(by_block(model, chosen), normals, strict=True):
        if not some.any():
            continue
        conn = b.conn[some]
        B, M, dA = (each[some] for each in strain_matrix(model.points, b, slice(0, len(b.conn)), n))
        K = element_stiffness(B, M, dA, C[b.stack[some]])
        force = np.einsum("eij,cej->cei", K, u[:, conn].reshape(len(u), len(conn), -1))
        np.add.at(total, (slice(None), conn), force.reshape(len(u), *conn.shape, 6))
    return total


def spring_forces(model, u, chosen):
    """What the springs whose nodes' mean place is chosen, `chosen(points)`, ask of the nodes (c, p, 6)."""
    total = np.zeros((len(u), u[0].size))
    motion = u.reshape(len(u), -1)
    for springs in model.springs:
        some = chosen(model.points[springs.freedoms // 6].mean(1))
        freedoms, factor = springs.freedoms[some], springs.coefficients[some]
        pull = springs.stiffness[some] * (motion[:, freedoms] * factor).sum(-1)
        np.add.at(total, (slice(None), freedoms), pull[..., None] * factor)
    return total.reshape(u.shape)
