"""Four-node shell on the true, possibly warped, bilinear surface.

Transverse shear is tied at the middles of the edges (MITC4) [Dvorkin & Bathe, Eng. Comput. 1 (1984) 77]. Membrane
strain is rebuilt from the extension of the four edges and the shear at the centre, so that warping cannot lock it
(MITC4+) [Ko, Lee & Bathe, Comput. Struct. 182 (2017) 404]. Four enhanced modes each for membrane and bending
strain let a single element bend in its plane [Simo & Rifai, IJNME 29 (1990) 1595].
"""

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.shell.frames import (
    contravariant,
    cross,
    empty_side_by_side,
    over_nodes,
    side_by_side,
    strain_turn,
    surface_frame,
    tensor_rows,
)
from tubfem.shell.kinematics import bending_rows, drilling_rows, shear_rows
from tubfem.shell.quadrature import QUAD

XI = frozen(np.array([-1.0, 1.0, 1.0, -1.0]))
ETA = frozen(np.array([-1.0, -1.0, 1.0, 1.0]))
TIES = frozen(np.array([[0.0, -1.0], [0.0, 1.0], [-1.0, 0.0], [1.0, 0.0]]))  # γ1 on the first two, γ2 on the others


def shape(points: Floats) -> tuple[Floats, Floats]:
    """Bilinear shape functions (q, 4) and derivatives (q, 2, 4) at points (q, 2)."""
    xi, eta = points[:, :1], points[:, 1:]
    N = 0.25 * (1 + XI * xi) * (1 + ETA * eta)
    dN = np.stack([0.25 * XI * (1 + ETA * eta), 0.25 * ETA * (1 + XI * xi)], 1)
    return N, dN


SHAPE, GRADIENT = (frozen(values) for values in shape(QUAD))
"""Shape functions (q, 4) and derivatives (q, 2, 4) at the integration points."""
WEIGHT = 1.0


def strain_matrix(X: Floats, normals: Floats, direction: Floats) -> tuple[Floats, Floats, Floats]:
    """Generalised strains per unit nodal motion and per unit enhanced mode, in the material frame.

    Parameters
    ----------
    X : (e, 4, 3)
        Corners [m].
    normals : (e, 4, 3)
        Directors at the corners (`tubfem.shell.normals`).
    direction : (e, 3)
        0° reference.

    Returns
    -------
    B : (e, 4, 9, 24)
        εx εy γxy κx κy κxy γxz γyz and drilling at the 2 × 2 Gauss points, on global motion.
    M : (e, 4, 9, 8)
        The same on the enhanced modes.
    dA : (e, 4)
        Area of each Gauss point [m²].
    """
    X, normals, direction = (side_by_side(values) for values in (X, normals, direction))
    N, dN = shape(QUAD)
    a = over_nodes(dN, X)
    e1, e2, e3, dA = surface_frame(a[:, :, 0], a[:, :, 1], direction[:, None])
    c = contravariant(a[:, :, 0], a[:, :, 1], e1, e2)
    turn = strain_turn(c)
    count, points = dA.shape
    rows = empty_side_by_side((count, points, 9, 4, 6))
    rows[:, :, 0:3, :, 3:] = 0.0
    _turn(turn, _membrane_rows(X), into=rows[:, :, 0:3, :, :3])
    _turn(turn, bending_rows(dN, a, normals), into=rows[:, :, 3:6])
    _turn(c, _tied_shear_rows(X, normals), into=rows[:, :, 6:8])
    local1, local2 = (c[:, :, i, 0, None] * dN[:, 0] + c[:, :, i, 1, None] * dN[:, 1] for i in (0, 1))
    rows[:, :, 8, :, :3] = 0.5 * (tensor_rows(local2, e1) - tensor_rows(local1, e2))
    rows[:, :, 8, :, 3:] = drilling_rows(N, normals, e3)
    B = np.empty((count, points, 9, 24))
    for q in range(points):
        for k in range(9):  # piece by piece: so little that a cache holds it on both sides
            B[:, q, k] = rows[:, q, k].reshape(count, 24)
    return B, _enhanced_modes(X, direction, dA), np.ascontiguousarray(dA)


def _turn(turn: Floats, rows: Floats, *, into: Floats) -> None:
    """Rows (e, q, j, n, x) of covariant strains as local ones (e, q, i, n, x)."""
    turn = turn[..., None, None]
    for i in range(turn.shape[2]):
        local = into[:, :, i]
        np.multiply(turn[:, :, i, 0], rows[:, :, 0], out=local)
        for j in range(1, turn.shape[3]):
            local += turn[:, :, i, j] * rows[:, :, j]


def _membrane_rows(X: Floats) -> Floats:
    """Covariant membrane strains ε11, ε22, 2ε12 as rows (e, q, 3, 4, 3) on nodal translations.

    With a1 = g1 + η h and u,ξ = u1 + η uh the extension along ξ is c1 + η s1 + η² h·uh. In a flat element h lies in
    the plane and h·uh follows from the other five numbers; that relation is kept, and the part of h·uh that
    only warping brings is left out. The extensions at the edges, c ± s + h·uh, are kept whole.
    """
    k1, k2, kh = XI / 4, ETA / 4, XI * ETA / 4
    g1, g2, h = (over_nodes(k, X) for k in (k1, k2, kh))
    shear = tensor_rows(k1, g2) + tensor_rows(k2, g1)
    slope1 = tensor_rows(kh, g1) + tensor_rows(k1, h)
    slope2 = tensor_rows(kh, g2) + tensor_rows(k2, h)
    twist = tensor_rows(kh, h)
    mean1, mean2 = tensor_rows(k1, g1) + twist, tensor_rows(k2, g2) + twist
    normal = cross(g1, g2)
    square = (normal**2).sum(-1)
    # h = r g1 + s g2 + warp; |r| + |s| < 1 in a convex element
    r = ((cross(h, g2) * normal).sum(-1) / square)[:, None, None]
    s = ((cross(g1, h) * normal).sum(-1) / square)[:, None, None]
    flat = (r * slope1 + s * slope2 - r * r * mean1 - s * s * mean2 - r * s * shear) / (1 - r * r - s * s)
    xi, eta = QUAD[:, 0, None, None], QUAD[:, 1, None, None]
    mean1, mean2, shear, slope1, slope2, flat = (row[:, None] for row in (mean1, mean2, shear, slope1, slope2, flat))
    return np.stack(
        [
            mean1 + eta * slope1 + (eta**2 - 1) * flat,
            mean2 + xi * slope2 + (xi**2 - 1) * flat,
            shear + xi * slope1 + eta * slope2 + 2 * xi * eta * flat,
        ],
        axis=2,
    )


def _tied_shear_rows(X: Floats, normals: Floats) -> Floats:
    """Covariant transverse shear γ1, γ2 as rows (e, q, 2, 4, 6), linear between the middles of opposite edges."""
    N, dN = shape(TIES)
    tie = shear_rows(N, dN, over_nodes(dN, X), normals)
    low1, high1, low2, high2 = (tie[:, None, t, k] for t, k in ((0, 0), (1, 0), (2, 1), (3, 1)))
    xi, eta = QUAD[:, 0, None, None], QUAD[:, 1, None, None]
    gamma1 = 0.5 * (1 - eta) * low1 + 0.5 * (1 + eta) * high1
    gamma2 = 0.5 * (1 - xi) * low2 + 0.5 * (1 + xi) * high2
    return np.stack([gamma1, gamma2], axis=2)


def _enhanced_modes(X: Floats, direction: Floats, dA: Floats) -> Floats:
    """Modes (e, q, 9, 8): ξ in ε11, η in ε22, ξ and η in 2ε12, the same in curvature; their integrals vanish."""
    g1, g2 = (over_nodes(k / 4, X) for k in (XI, ETA))
    e1, e2, _, area = surface_frame(g1, g2, direction)
    turn = strain_turn(contravariant(g1, g2, e1, e2))
    xi, eta = QUAD.T
    modes = np.stack([xi, eta, xi, eta], -1)  # ξ in ε11, η in ε22, ξ and η in 2ε12
    local = turn[:, None, :, [0, 1, 2, 2]] * modes[:, None] * (area[:, None] / dA)[..., None, None]
    M = np.zeros((*dA.shape, 9, 8))
    M[:, :, 0:3, :4] = local
    M[:, :, 3:6, 4:] = local
    # A mode of 2ε12 is the slope of one displacement, v,1 along ξ or u,2 along η, so it turns the surface too. Without
    # that share a quad bent in its plane keeps a drilling strain that grows with the square of its aspect.
    M[:, :, 8, 2], M[:, :, 8, 3] = -0.5 * xi / dA, 0.5 * eta / dA
    return M
