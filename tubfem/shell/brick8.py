"""Eight-node brick with incompatible modes, as springs that store its energy."""

import numpy as np

from tubfem.arrays import Floats

# Corners in natural coordinates -1 .. 1, the first axis fastest.
CORNERS = np.array([(x, y, z) for z in (-1.0, 1.0) for y in (-1.0, 1.0) for x in (-1.0, 1.0)])
POINTS = CORNERS / np.sqrt(3)
STRAINS = 18  # independent deformations of a brick: 24 freedoms less 6 rigid motions


def shapes(natural: Floats) -> Floats:
    """Shape functions (..., 8) at natural coordinates (..., 3)."""
    return np.prod(1 + CORNERS * natural[..., None, :], axis=-1) / 8


def slopes(natural: Floats) -> Floats:
    """Derivatives (..., 8, 3) of the shape functions by the natural coordinates."""
    factor = 1 + CORNERS * natural[..., None, :]
    return np.stack([CORNERS[:, k] * np.delete(factor, k, axis=-1).prod(axis=-1) for k in range(3)], axis=-1) / 8


def brick_stiffness(X: Floats, C: Floats) -> Floats:
    """Stiffness (e, 24, 24) [N/m] of bricks, the incompatible modes condensed.

    Parameters
    ----------
    X : (e, 8, 3)
        Corners [m] in the order of `CORNERS`.
    C : (6, 6)
        For strains xx, yy, zz, yz, zx, xy (engineering shear) [Pa].

    Notes
    -----
    E. L. Wilson et al. 1973 with the correction of R. L. Taylor, P. J. Beresford and E. L. Wilson, Int. J. Num. Meth.
    Eng. 10 (1976) 1211-1219, which makes it pass the patch test on any hexahedron: the modes 1 - ξ², 1 - η², 1 - ζ² are
    differentiated with the Jacobian at the middle, times its determinant over that of the point.
    """
    J = np.einsum("gna,enx->egax", slopes(POINTS), X)
    J0 = np.einsum("na,enx->eax", slopes(np.zeros(3)), X)
    size, size0 = np.linalg.det(J), np.linalg.det(J0)
    own = np.einsum("egxa,gna->egnx", np.linalg.inv(J), slopes(POINTS))
    bubble = -2 * POINTS[:, :, None] * np.eye(3)  # (g, mode, natural axis)
    modes = np.einsum("exa,gma->egmx", np.linalg.inv(J0), bubble) * (size0[:, None] / size)[..., None, None]
    B = np.concatenate([_strain(own), _strain(modes)], axis=-1)
    K = np.einsum("egsi,st,egtj,eg->eij", B, C, B, size, optimize=True)
    u, a = slice(24), slice(24, None)
    return K[:, u, u] - K[:, u, a] @ np.linalg.solve(K[:, a, a], K[:, a, u])


def brick_springs(X: Floats, C: Floats, frame: Floats) -> tuple[Floats, Floats]:
    """Rows (e, 18, 24) over the motions of the corners, and their stiffness (e, 18) [N/m].

    Parameters
    ----------
    X, C
        As `brick_stiffness`, C along the axes of `frame` (3, 3).
    """
    value, mode = np.linalg.eigh(brick_stiffness(X @ frame.T, C))
    rows = mode[:, :, -STRAINS:].transpose(0, 2, 1).reshape(len(X), STRAINS, 8, 3) @ frame
    return rows.reshape(len(X), STRAINS, 24), value[:, -STRAINS:]


def _strain(gradient: Floats) -> Floats:
    """Strains (..., 6, 3 n) of motions of n shape functions with gradients (..., n, 3)."""
    B = np.zeros((*gradient.shape[:-2], 6, gradient.shape[-2], 3))
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        B[..., i, :, i] = gradient[..., i]
        B[..., 3 + i, :, j], B[..., 3 + i, :, k] = gradient[..., k], gradient[..., j]
    return B.reshape(*B.shape[:-2], -1)
