"""Bases on a surface, and the turning of surface strains from one into another."""

import numpy as np

from tubfem.arrays import Floats


def side_by_side(values: Floats) -> Floats:
    """The same array (e, ...) with its elements side by side in memory.

    NumPy keeps that order in what it works out from it, so that its innermost loops run over hundreds of elements
    instead of three components.
    """
    return _last_axis_first(np.ascontiguousarray(_first_axis_last(values)))


def empty_side_by_side(shape: tuple[int, ...]) -> Floats:
    """An array (e, ...) yet to be filled, with its elements side by side in memory."""
    return _last_axis_first(np.empty((*shape[1:], shape[0])))


def over_nodes(weights: Floats, values: Floats) -> Floats:
    """Sums (e, ..., x) over the nodes of weights (..., n) times values (e, n, x), side by side in memory."""
    flat = np.ascontiguousarray(_first_axis_last(values))  # no copy if they lie so
    _, x, count = flat.shape
    total = weights.reshape(-1, len(flat)) @ flat.reshape(len(flat), -1)
    return _last_axis_first(total.reshape(*weights.shape[:-1], x, count))


def _first_axis_last(values: Floats) -> Floats:
    """The view (..., k) of (k, ...)."""
    return values.transpose(*range(1, values.ndim), 0)


def _last_axis_first(values: Floats) -> Floats:
    """The view (k, ...) of (..., k)."""
    return values.transpose(values.ndim - 1, *range(values.ndim - 1))


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product (..., 3) written out: on small arrays NumPy's own spends most of its time turning axes."""
    (a1, a2, a3), (b1, b2, b3) = (tuple(v[..., k] for k in range(3)) for v in (a, b))
    return _first_axis_last(np.stack([a2 * b3 - a3 * b2, a3 * b1 - a1 * b3, a1 * b2 - a2 * b1]))


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
    area = np.sqrt((normal * normal).sum(-1))
    e3 = normal / area[..., None]
    e1 = direction - (direction * e3).sum(-1, keepdims=True) * e3
    e1 = e1 / np.sqrt((e1 * e1).sum(-1, keepdims=True))
    return e1, cross(e3, e1), e3, area


def contravariant(a1: Floats, a2: Floats, e1: Floats, e2: Floats) -> Floats:
    """Components c (..., 2, 2) = e_i · a^α of the contravariant tangents: local derivative i = Σ c_iα ∂_α [1/m]."""
    (j11, j12), (j21, j22) = ([(a * e).sum(-1) for e in (e1, e2)] for a in (a1, a2))
    c = empty_side_by_side((*j11.shape, 2, 2))
    c[..., 0, 0], c[..., 0, 1], c[..., 1, 0], c[..., 1, 1] = j22, -j12, -j21, j11
    return c / (j11 * j22 - j12 * j21)[..., None, None]


def strain_turn(c: Floats) -> Floats:
    """Map (..., 3, 3) of covariant surface strains (ε11, ε22, 2ε12) to local ones (εx, εy, γxy)."""
    (c11, c12), (c21, c22) = (c[..., 0, 0], c[..., 0, 1]), (c[..., 1, 0], c[..., 1, 1])
    turn = empty_side_by_side((*c.shape[:-2], 3, 3))
    turn[..., 0, 0], turn[..., 0, 1], turn[..., 0, 2] = c11 * c11, c12 * c12, c11 * c12
    turn[..., 1, 0], turn[..., 1, 1], turn[..., 1, 2] = c21 * c21, c22 * c22, c21 * c22
    turn[..., 2, 0], turn[..., 2, 1], turn[..., 2, 2] = 2 * c11 * c21, 2 * c12 * c22, c11 * c22 + c12 * c21
    return turn


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
