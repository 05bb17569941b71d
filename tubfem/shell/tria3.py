"""Three-node shell.

Membrane: assumed natural strains with true drilling freedoms, the optimal triangle of Felippa [Comput. Methods
Appl. Mech. Eng. 192 (2003) 2125] with its one number that depends on the material, β0 = (1 - 4ν²)/2, fixed at ν = 0.3
of metals and quasi-isotropic laminates, so that the strains know no stiffness. Bending and transverse shear: MITC3+
[Lee, Lee & Bathe, Comput. Struct. 138 (2014) 12] without its last, nearly vanishing shear term; the bubble rotation is
written as two enhanced modes.

A triangle alone, with no neighbour and no support, has one motion too many without energy (its nodal rotations
swirl about the normal's foot); two that share an edge have none.
"""

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.shell.frames import contravariant, strain_turn, surface_frame, tensor_rows
from tubfem.shell.kinematics import bending_rows, drilling_rows, shear_rows
from tubfem.shell.quadrature import TRIANGLE


def shape(points: Floats) -> Floats:
    """Linear shape functions (q, 3) at points (q, 2)."""
    return np.stack([1 - points.sum(1), points[:, 0], points[:, 1]], 1)


SLOPES = frozen(np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]]))
SHAPE = frozen(shape(TRIANGLE))
GRADIENT = frozen(np.repeat(SLOPES[None], len(TRIANGLE), axis=0))
"""Shape functions (q, 3) and derivatives (q, 2, 3) at the integration points."""
WEIGHT = 1.0 / 6.0
TIES = frozen(np.array([[1 / 6, 2 / 3], [2 / 3, 1 / 6], [1 / 6, 1 / 6]]))
FREE = 1.5  # αb of Felippa, Table 1: share of the drilling rotations in the mean strain
HIGHER = np.sqrt(9 / 4 * 0.5 * (1 - 4 * 0.3**2))  # (9/4 β0)^½: weight of the linear strains
# Felippa eq. (25) with β1…β9 = 1 2 1 0 1 -1 -1 -1 -2: side strains at the three corners per hierarchical rotation.
NATURAL = frozen(
    np.array(
        [
            [[1, 2, 1], [0, 1, -1], [-1, -1, -2]],
            [[-2, -1, -1], [1, 1, 2], [-1, 0, 1]],
            [[1, -1, 0], [-1, -2, -1], [2, 1, 1]],
        ],
        dtype=float,
    )
)


def strain_matrix(X: Floats, normals: Floats, direction: Floats) -> tuple[Floats, Floats, Floats]:
    """Generalised strains per unit nodal motion and per unit bubble rotation, in the material frame.

    Parameters
    ----------
    X : (e, 3, 3)
        Corners [m].
    normals : (e, 3, 3)
        Directors at the corners (`tubfem.shell.normals`).
    direction : (e, 3)
        0° reference.

    Returns
    -------
    B : (e, 3, 9, 18)
        εx εy γxy κx κy κxy γxz γyz at three points, on global motion; the ninth row, drilling strain, is zero
        because the membrane strains hold the drilling rotations.
    M : (e, 3, 9, 2)
        The same on the bubble rotation.
    dA : (e, 3)
        Area of each point [m²].
    """
    count, points = len(X), len(TRIANGLE)
    tangents = np.einsum("ai,eix->eax", SLOPES, X)
    e1, e2, e3, area = surface_frame(tangents[:, 0], tangents[:, 1], direction)
    c = contravariant(tangents[:, 0], tangents[:, 1], e1, e2)
    turn = strain_turn(c)
    a = np.broadcast_to(tangents[:, None], (count, points, 2, 3))
    # Covariant components of a unit bubble director along e1 and e2.
    lean = np.einsum("eax,emx->eam", tangents, np.stack([e1, e2], 1))
    _, df = _bubble(TRIANGLE)
    first, second = df[:, 0, None] * lean[:, None, 0], df[:, 1, None] * lean[:, None, 1]
    mixed = df[:, 0, None] * lean[:, None, 1] + df[:, 1, None] * lean[:, None, 0]

    B = np.zeros((count, points, 9, 18))
    M = np.zeros((count, points, 9, 2))
    B[:, :, 0:3] = _membrane_rows(X, normals, e1, e2, e3, area / 2).reshape(count, points, 3, 18)
    B[:, :, 3:6] = turn[:, None] @ bending_rows(GRADIENT, a, normals).reshape(count, points, 3, 18)
    M[:, :, 3:6] = turn[:, None] @ np.stack([first, second, mixed], axis=2)
    shear = _assumed_shear(a, normals, lean)
    B[:, :, 6:8] = (c @ shear[..., :18])[:, None]
    M[:, :, 6:8] = (c @ shear[..., 18:])[:, None]
    return B, M, np.repeat(WEIGHT * area[:, None], points, axis=1)


def _bubble(points: Floats) -> tuple[Floats, Floats]:
    """Cubic bubble (q,) and its derivatives (q, 2)."""
    r, s = points.T
    return 27 * r * s * (1 - r - s), 27 * np.stack([s * (1 - 2 * r - s), r * (1 - r - 2 * s)], 1)


def _assumed_shear(a: Floats, normals: Floats, lean: Floats) -> Floats:
    """Constant covariant shear (e, 2, 18 + 2) on nodal motion and bubble [Lee, Lee & Bathe 2014, eq. (17)]."""
    rows = shear_rows(shape(TIES), GRADIENT, a, normals).reshape(len(a), 3, 2, 18)
    bubble, _ = _bubble(TIES)
    rows = np.concatenate([rows, bubble[:, None, None] * lean[:, None]], axis=-1)
    A, B, C = rows[:, 0], rows[:, 1], rows[:, 2]
    shared = (C[:, 0] + C[:, 1]) / 3
    return np.stack([(2 * B[:, 0] - B[:, 1]) / 3 + shared, (2 * A[:, 1] - A[:, 0]) / 3 + shared], axis=1)


def _membrane_rows(X: Floats, normals: Floats, e1: Floats, e2: Floats, e3: Floats, area: Floats) -> Floats:
    """Membrane strains εx, εy, γxy as rows (e, q, 3, 3, 6): a constant part and one that is linear over the element."""
    x, y = ((X * e[:, None]).sum(-1) for e in (e1, e2))
    after, before = [1, 2, 0], [2, 0, 1]
    ox, oy = x[:, before] - x[:, after], y[:, before] - y[:, after]  # the side opposite each node
    fx, fy = x[:, after] - x, y[:, after] - y  # the side that leaves it
    bx, by = x - x[:, before], y - y[:, before]  # the side that arrives
    zero = np.zeros_like(ox)
    half = 1 / (2 * area)[:, None, None]
    mean_x = half * np.stack([-oy, zero, ox], 1)
    mean_y = half * np.stack([zero, ox, -oy], 1)
    turning = -FREE / 6 * half * np.stack([oy * (by - fy), ox * (bx - fx), 2 * (bx * by - fx * fy)], 1)
    side = np.stack([-oy * by, -ox * bx, oy * bx + ox * by], 1) / (6 * area)[:, None, None]
    linear = 0.5 * HIGHER * (side[:, None] @ NATURAL)

    # What the linear strains read: nodal rotation less that of the whole triangle, (v,x - u,y)/2.
    corners = np.broadcast_to(e3[:, None], (len(X), 3, 3))
    rotation = drilling_rows(np.eye(3), normals, corners)
    whole = -(tensor_rows(ox, e1) + tensor_rows(oy, e2)) / (4 * area)[:, None, None]
    rows = np.empty((len(X), 3, 3, 3, 6))
    spin = linear.sum(-1)[..., None, None]
    rows[..., :3] = (tensor_rows(mean_x, e1[:, None]) + tensor_rows(mean_y, e2[:, None]))[:, None] - spin * whole[
        :, None, None
    ]
    rows[..., 3:] = np.einsum("eqsi,einx->eqsnx", turning[:, None] + linear, rotation, optimize=True)
    return rows
