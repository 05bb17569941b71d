"""Bases on a surface, and the turning of surface strains from one into another."""

import numpy as np

from tubfem.arrays import Floats


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product (..., 3) written out: on small arrays NumPy's own spends most of its time turning axes."""
    c = np.empty(np.broadcast_shapes(a.shape, b.shape))
    (a1, a2, a3), (b1, b2, b3) = (tuple(v[..., k] for k in range(3)) for v in (a, b))
    c[..., 0] = a2 * b3 - a3 * b2
    c[..., 1] = a3 * b1 - a1 * b3
    c[..., 2] = a1 * b2 - a2 * b1
    return c


def surface_frame(a1: Floats, a2: Floats, direction: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Material frame and metric of a surface at points.

    Parameters
    ----------
    a1, a2 : (..., 3)
        Tangent vectors [m].
    direction : (..., 3)
        0° reference, projected on the tangent plane.

    Returns
    -------
    e1, e2, e3 : (..., 3)
        Orthonormal, e3 along a1 × a2.
    area : (...)
        |a1 × a2| [m²].
    """
    normal = cross(a1, a2)
    area = np.linalg.norm(normal, axis=-1)
    e3 = normal / area[..., None]
    e1 = direction - (direction * e3).sum(-1, keepdims=True) * e3
    e1 = e1 / np.linalg.norm(e1, axis=-1, keepdims=True)
    return e1, cross(e3, e1), e3, area


def contravariant(a1: Floats, a2: Floats, e1: Floats, e2: Floats) -> Floats:
    """Components c (..., 2, 2) = e_i · a^α of the contravariant tangents: local derivative i = Σ c_iα ∂_α [1/m]."""
    (j11, j12), (j21, j22) = ([(a * e).sum(-1) for e in (e1, e2)] for a in (a1, a2))
    c = np.empty((*j11.shape, 2, 2))
    c[..., 0, 0], c[..., 0, 1], c[..., 1, 0], c[..., 1, 1] = j22, -j12, -j21, j11
    return c / (j11 * j22 - j12 * j21)[..., None, None]


def strain_turn(c: Floats) -> Floats:
    """Map (..., 3, 3) of covariant surface strains (ε11, ε22, 2ε12) to local ones (εx, εy, γxy)."""
    (c11, c12), (c21, c22) = (c[..., 0, 0], c[..., 0, 1]), (c[..., 1, 0], c[..., 1, 1])
    return np.stack(
        [
            np.stack([c11 * c11, c12 * c12, c11 * c12], -1),
            np.stack([c21 * c21, c22 * c22, c21 * c22], -1),
            np.stack([2 * c11 * c21, 2 * c12 * c22, c11 * c22 + c12 * c21], -1),
        ],
        -2,
    )


def tensor_rows(k: Floats, v: Floats) -> Floats:
    """Row k_i v·u_i over the nodes i: k (..., n) and v (..., 3) to (..., n, 3)."""
    return k[..., :, None] * v[..., None, :]


def cross_matrix(r: Floats) -> Floats:
    """Matrix R (..., 3, 3) with R a = r × a, of vectors r (..., 3)."""
    R = np.zeros((*r.shape, 3))
    R[..., 0, 1], R[..., 0, 2] = -r[..., 2], r[..., 1]
    R[..., 1, 0], R[..., 1, 2] = r[..., 2], -r[..., 0]
    R[..., 2, 0], R[..., 2, 1] = -r[..., 1], r[..., 0]
    return R
