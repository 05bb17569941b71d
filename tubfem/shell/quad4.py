"""Four-node shell on the true, possibly warped, bilinear surface.

Transverse shear is tied at the middles of the edges (MITC4) [Dvorkin & Bathe, Eng. Comput. 1 (1984) 77]. Membrane
strain is rebuilt from the extension of the four edges and the shear at the centre, so that warping cannot lock it
(MITC4+) [Ko, Lee & Bathe, Comput. Struct. 182 (2017) 404]. Four enhanced modes of the membrane strain let a single
element bend in its plane [Simo & Rifai, IJNME 29 (1990) 1595]. Four more let the edges bulge between their nodes, and
what bending, twist and shear vary by inside an element is weighted so that a flat regular mesh is right to the fourth
order in its size (docs/theory.md, Z.6 and Z.7; our own).
"""

from collections.abc import Iterator

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
from tubfem.shell.quadrature import QUAD, element_mean

XI = frozen(np.array([-1.0, 1.0, 1.0, -1.0]))
ETA = frozen(np.array([-1.0, -1.0, 1.0, 1.0]))
SIDES = np.array([[0, 1], [1, 2], [2, 3], [3, 0]])
NODES = (slice(0, 2), slice(1, 3), slice(2, 4), slice(3, None, -3))  # the same as views of nodes
MIDDLES = frozen(np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]]))  # of the sides
ALONG = (0, 1, 0, 1)  # the covariant component along each side: γ1 or γ2
BENDING_SLOPE, SHEAR_SLOPE = 3**0.5, 2**0.5  # weights of what curvature and shear vary by across their direction (Z.7)


def shape(points: Floats) -> tuple[Floats, Floats]:
    """Bilinear shape functions (q, 4) and derivatives (q, 2, 4) at points (q, 2)."""
    xi, eta = points[:, :1], points[:, 1:]
    N = 0.25 * (1 + XI * xi) * (1 + ETA * eta)
    dN = np.stack([0.25 * XI * (1 + ETA * eta), 0.25 * ETA * (1 + XI * xi)], 1)
    return N, dN


SHAPE, GRADIENT = (frozen(values) for values in shape(QUAD))
"""Shape functions (q, 4) and derivatives (q, 2, 4) at the integration points."""
WEIGHT = 1.0


def strain_matrix(
    X: Floats, normals: Floats, direction: Floats, bulge: Floats | None = None
) -> tuple[Floats, Floats, Floats]:
    """Generalised strains per unit nodal motion and per unit enhanced mode, in the material frame.

    Parameters
    ----------
    X : (e, 4, 3)
        Corners [m].
    normals : (e, 4, 3)
        Directors at the corners (`tubfem.shell.normals`).
    direction : (e, 3)
        0° reference.
    bulge : (e, 4)
        How much the sides bulge (`Block.bulge`); None where all are straight.

    Returns
    -------
    B : (e, 4, 9, 24)
        εx εy γxy κx κy κxy γxz γyz and drilling at the 2 × 2 Gauss points, on global motion.
    M : (e, 4, 9, 8)
        The same on the enhanced modes: four of the membrane, then the bulge of each side.
    dA : (e, 4)
        Area of each Gauss point [m²].
    """
    bulge = np.zeros((len(X), 4)) if bulge is None else bulge
    X, normals, direction, bulge = (side_by_side(values) for values in (X, normals, direction, bulge))
    N, dN = shape(QUAD)
    a = over_nodes(dN, X)
    e1, e2, e3, dA = surface_frame(a[:, :, 0], a[:, :, 1], direction[:, None])
    c = contravariant(a[:, :, 0], a[:, :, 1], e1, e2)
    turn = strain_turn(c)
    count, points = dA.shape
    centre = Centre(X, direction, dA)
    rows = empty_side_by_side((count, points, 9, 4, 6))
    rows[:, :, 0:3, :, 3:] = 0.0
    _turn(turn, _membrane_rows(X), into=rows[:, :, 0:3, :, :3])
    _turn(turn, bending_rows(dN, a, normals), into=rows[:, :, 3:6])
    centre.weigh_slopes(rows[:, :, 3:6], bulge)
    rows[:, :, 6:8] = 0.0
    bend, shear = centre.bending_of_bulges(), _shear_of_ties(c, dA)
    # The bulge takes about 1 - (1 - bulge)² of a side's shear. Said here as well as by the mode itself, so that the
    # shear of a very thin laminate, all but none, is not the difference of two large numbers.
    taken = (1 - (1 - bulge) ** 2)[:, None, None]
    weight = empty_side_by_side((count, points, 5, 4))
    weight[:, :, :3] = centre.twist_of_sides(X, bulge)[:, None] - bend * taken
    weight[:, :, 3:] = shear * (1 - taken)
    for t, (tie, nodes) in enumerate(zip(_tie_rows(X, normals), NODES, strict=True)):
        rows[:, :, 3:8, nodes] += weight[..., t, None, None] * tie[:, None, None]
    local1, local2 = (c[:, :, i, 0, None] * dN[:, 0] + c[:, :, i, 1, None] * dN[:, 1] for i in (0, 1))
    rows[:, :, 8, :, :3] = 0.5 * (tensor_rows(local2, e1) - tensor_rows(local1, e2))
    rows[:, :, 8, :, 3:] = drilling_rows(N, normals, e3)
    B = np.empty((count, points, 9, 24))
    for q in range(points):
        for k in range(9):  # piece by piece: so little that a cache holds it on both sides
            B[:, q, k] = rows[:, q, k].reshape(count, 24)
    M = np.zeros((count, points, 9, 8))
    centre.fill_membrane_modes(M[..., :4])
    M[:, :, 3:6, 4:] = bend
    M[:, :, 6:8, 4:] = shear * (bulge > 0)[:, None, None]
    return B, M, np.ascontiguousarray(dA)


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


def _tie_rows(X: Floats, normals: Floats) -> Iterator[Floats]:
    """Covariant transverse shear along each side, in its middle, as rows (e, 2, 6) on the motion of its ends."""
    middle = np.array([[0.5, 0.5]])
    for nodes, way in zip(NODES, (1, 1, -1, -1), strict=True):  # sides 34 and 41 run against ξ, η
        along = way * np.array([[[-0.5, 0.5]]])
        yield shear_rows(middle, along, over_nodes(along, X[:, nodes]), normals[:, nodes])[:, 0, 0]


def _shear_of_ties(c: Floats, dA: Floats) -> Floats:
    """Local shear (e, q, 2, 4) of the covariant shear along each side, linear between opposite sides."""
    between = 0.5 * (1 + QUAD @ MIDDLES.T)
    covariant = np.zeros((len(QUAD), 2, 4))
    covariant[:, ALONG, range(4)] = between
    local = c @ covariant
    mean = element_mean(local, dA)
    return mean + SHEAR_SLOPE * (local - mean)


def _twist_weight(bulge: Floats) -> Floats:
    return np.sqrt(8 - 4 / (2 - bulge.mean(1)))


class Centre:
    """Frame, metric and area of elements in their middle, and what varies about it."""

    def __init__(self, X: Floats, direction: Floats, dA: Floats) -> None:
        g1, g2 = (over_nodes(k / 4, X) for k in (XI, ETA))
        self.e1, self.e2, _, area = surface_frame(g1, g2, direction)
        self.contravariant = contravariant(g1, g2, self.e1, self.e2)
        self.turn = strain_turn(self.contravariant)
        self.back = np.stack([np.stack([(g * e).sum(-1) for e in (self.e1, self.e2)], -1) for g in (g1, g2)], 1)
        self.dA = dA
        self.shrink = area[:, None] / dA  # makes integrals of ξ, η and ξη vanish

    def weigh_slopes(self, rows: Floats, bulge: Floats) -> None:
        """Curvature rows (e, q, 3, n, 6), their differences from the mean weighted by direction, in place (Z.7)."""
        twist = _twist_weight(bulge)
        along = np.full(len(twist), BENDING_SLOPE)
        scale = (self.turn * np.stack([along, along, twist], -1)[:, None]) @ strain_turn(self.back)
        mean = element_mean(rows, self.dA)
        _turn(scale[:, None], rows - mean, into=rows)
        rows += mean

    def plain_slopes(self, slopes: Floats, bulge: Floats) -> Floats:
        """Slopes (e, 2, 3, c) along ξ and η of weighted curvatures, as of the plate; nodes show half of a twist's."""
        twist = _twist_weight(bulge)
        found = np.einsum("eij,eajc->eaic", strain_turn(self.back), slopes)
        found[:, 1, 0] /= BENDING_SLOPE  # those along their own direction are bulges', without weight
        found[:, 0, 1] /= BENDING_SLOPE
        found[:, :, 2] *= (2 / twist)[:, None, None]
        return np.einsum("eij,eajc->eaic", self.turn, found)

    def shear_of_twist(self, slopes: Floats, bulge: Floats) -> Floats:
        """Shear force (e, 2, c) that the rim's twist carries, of slopes (e, 2, 3, c) of moments along ξ and η (Z.8)."""
        unit = self.back / np.linalg.norm(self.back, axis=-1, keepdims=True)
        forces = []
        for k, sides in ((0, [0, 2]), (1, [1, 3])):
            t1, t2 = unit[:, k, 0], unit[:, k, 1]
            n1, n2 = -t2, t1
            twisting = np.stack([t1 * n1, t2 * n2, t1 * n2 + t2 * n1], -1)
            across = np.einsum("ei,eia->ea", np.stack([n1, n2], -1), self.contravariant)
            forces.append(bulge[:, sides].mean(1)[:, None] * np.einsum("ea,ei,eaic->ec", across, twisting, slopes))
        return np.linalg.solve(unit, np.stack(forces, 1))

    def bending_of_bulges(self) -> Floats:
        """Curvature (e, q, 3, 4) of a rotation (3/2)(1 - s²) along each side, s from -1 to 1, in local components."""
        xi, eta = QUAD.T
        run = np.stack([xi, eta, xi, eta], -1)
        across = 0.5 * (1 + SHEAR_SLOPE * (QUAD @ MIDDLES.T))
        return -3 * self.turn[:, None][..., ALONG] * (run * across)[:, None] * self.shrink[..., None, None]

    def twist_of_sides(self, X: Floats, bulge: Floats) -> Floats:
        """Mean curvature (e, 3, 4) per covariant shear along each side: rotations of bulges round the rim (Z.6)."""
        along = X[:, SIDES[:, 1]] - X[:, SIDES[:, 0]]
        t1, t2 = ((along * e[:, None]).sum(-1) for e in (self.e1, self.e2))
        size = np.hypot(t1, t2)
        t1, t2 = t1 / size, t2 / size
        # -bulge times the shear, over the length of the side; the normal that leaves the element is (t2, -t1).
        way = -2 * bulge / self.dA.sum(1, keepdims=True) * np.array([1, 1, -1, -1])  # sides 34 and 41 run against ξ, η
        return way[:, None] * np.stack([t1 * t2, -t1 * t2, t2 * t2 - t1 * t1], 1)

    def fill_membrane_modes(self, M: Floats) -> None:
        """Modes (e, q, 9, 4): ξ in ε11, η in ε22, ξ and η in 2ε12; their integrals vanish."""
        xi, eta = QUAD.T
        modes = np.stack([xi, eta, xi, eta], -1)
        M[:, :, 0:3] = self.turn[:, None, :, [0, 1, 2, 2]] * modes[:, None] * self.shrink[..., None, None]
        # A mode of 2ε12 is the slope of one displacement, v,1 along ξ or u,2 along η, so it turns the surface too.
        # Without that share a quad bent in its plane keeps a drilling strain that grows with the square of its aspect.
        M[:, :, 8, 2], M[:, :, 8, 3] = -0.5 * xi / self.dA, 0.5 * eta / self.dA
