"""Strain of a shell as linear forms of nodal motion, in covariant components, for any element.

The surface moves by u and its director n by d = θ × n, interpolated from the nodes. Along the tangents a_α the
strains are, without any assumption about the shape of the surface [Naghdi's shell; Dvorkin & Bathe, Eng. Comput. 1
(1984) 77],

    membrane  2 ε_αβ = a_α·u,β + a_β·u,α
    bending   2 κ_αβ = n,α·u,β + n,β·u,α + a_α·d,β + a_β·d,α
    shear       γ_α  = n·u,α + a_α·d

All of them vanish when the whole element turns, u = ω × x and d = ω × n, however warped it is.
"""

from tubfem.arrays import Floats
from tubfem.shell.frames import cross, empty_side_by_side, over_nodes, tensor_rows


def bending_rows(dN: Floats, a: Floats, n: Floats) -> Floats:
    """Covariant curvatures κ11, κ22, 2κ12 as rows on nodal motion.

    Parameters
    ----------
    dN : (q, 2, n)
        Derivatives of the shape functions along ξ and η.
    a : (e, q, 2, 3)
        Tangents [m].
    n : (e, n, 3)
        Directors at the nodes.

    Returns
    -------
    rows : (e, q, 3, n, 6)
    """
    dn = over_nodes(dN, n)
    d1, d2 = dN[:, 0], dN[:, 1]
    # a·(θ × n) = θ·(n × a)
    arm = cross(n[:, None, None], a[:, :, :, None])
    arm1, arm2 = arm[:, :, 0], arm[:, :, 1]
    rows = empty_side_by_side((*a.shape[:2], 3, dN.shape[-1], 6))
    rows[:, :, 0, :, :3] = tensor_rows(d1, dn[:, :, 0])
    rows[:, :, 1, :, :3] = tensor_rows(d2, dn[:, :, 1])
    rows[:, :, 2, :, :3] = tensor_rows(d1, dn[:, :, 1]) + tensor_rows(d2, dn[:, :, 0])
    rows[:, :, 0, :, 3:] = d1[..., None] * arm1
    rows[:, :, 1, :, 3:] = d2[..., None] * arm2
    rows[:, :, 2, :, 3:] = d1[..., None] * arm2 + d2[..., None] * arm1
    return rows


def shear_rows(N: Floats, dN: Floats, a: Floats, n: Floats) -> Floats:
    """Covariant transverse shear γ1, γ2 as rows (e, q, 2, n, 6) on nodal motion; arguments as in `bending_rows`.

    Along fewer tangents, or one, as rows of as many.
    """
    director = over_nodes(N, n)
    rows = empty_side_by_side((*a.shape[:3], N.shape[-1], 6))
    for k in range(a.shape[2]):
        rows[:, :, k, :, :3] = tensor_rows(dN[:, k], director)
        rows[:, :, k, :, 3:] = N[..., None] * cross(n[:, None], a[:, :, k, None])
    return rows


def drilling_rows(N: Floats, n: Floats, e3: Floats) -> Floats:
    """Rotation about the surface normal as rows (e, q, n, 3) on nodal rotations.

    Read as the mean rotation about e3 plus the rest about the bisector of e3 and the nodal normal. About e3
    alone, the change of slope in a curved element would count as drilling and lock thin shells.

    Parameters
    ----------
    N : (q, n)
        Shape functions.
    n : (e, n, 3)
        Directors at the nodes.
    e3 : (e, q, 3)
        Surface normal at the points.
    """
    about = 0.5 * N[..., None] * (n[:, None] + e3[:, :, None])
    return about + (e3 - about.sum(2))[:, :, None] / N.shape[-1]
