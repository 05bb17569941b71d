"""Motion of the surface inside an element, for the energies that need it: inertia, and stress times slope.

The elements know deflection only through transverse shear, tied along their edges. Where the shear along an edge is
constant, n·u follows the rotations of the edge's ends: its second derivative is minus the bending strain κ of the
edge. That quadratic part, with κ as in `tubfem.shell.kinematics` so that no rigid motion sees it, is added to the
translations interpolated from the corners [linked interpolation; O. C. Zienkiewicz, Z. Xu, L. F. Zeng,
A. Samuelsson & N.-E. Wiberg, IJNME 36 (1993) 3043]. It vanishes at the points where shear is tied, so the stiffness
is the same with it. Without it the slopes of a rippled panel are too small, and a panel eight elements wide buckles
a tenth or more too late in shear.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.shell import quad4, tria3
from tubfem.shell.frames import contravariant, cross_matrix, surface_frame
from tubfem.shell.quadrature import QUAD, TRIANGLE

EDGES = {"quad4": ((0, 1), (1, 2), (2, 3), (3, 0)), "tria3": ((0, 1), (1, 2), (2, 0))}


@dataclass(frozen=True, eq=False, slots=True)
class Motion:
    """Rows on the nodal motion of elements with d freedoms, at their q integration points.

    Attributes
    ----------
    surface : (e, q, 3, d)
        Translation of the surface in global axes.
    director : (e, q, 3, d)
        Change of the director, θ × n.
    slopes : (e, q, 2, 3, d)
        Derivatives of the translation along e1 and e2 of the material frame [1/m].
    area : (e, q)
        Area of each point [m²].
    """

    surface: Floats
    director: Floats
    slopes: Floats
    area: Floats


def surface_motion(kind: str, X: Floats, normals: Floats, direction: Floats, *, linked: bool = True) -> Motion:
    """Motion of elements of one kind; arguments as `quad4.strain_matrix`. Not linked, without the quadratic part."""
    element = {"quad4": quad4, "tria3": tria3}[kind]
    N, dN = element.SHAPE, element.GRADIENT
    a = np.einsum("qan,enx->eqax", dN, X)
    e1, e2, _, area = surface_frame(a[:, :, 0], a[:, :, 1], direction[:, None])
    count, points, nodes = len(X), len(N), X.shape[1]
    surface, director = (np.zeros((count, points, 3, nodes, 6)) for _ in range(2))
    covariant = np.zeros((count, points, 2, 3, nodes, 6))
    for x in range(3):
        surface[:, :, x, :, x] = N
        covariant[:, :, :, x, :, x] = dN
    # θ × n = -n × θ
    director[..., 3:] = -np.einsum("qn,enxy->eqxny", N, cross_matrix(normals))
    bubble, slope = edge_bubbles(kind)
    for k, (i, j) in enumerate(EDGES[kind] if linked else ()):
        bend = _edge_bending(X, normals, i, j)  # (e, 3, n, 6): n times half the edge's bending strain
        surface += bubble[:, k, None, None, None] * bend[:, None]
        covariant += slope[:, :, k, None, None, None] * bend[:, None, None]
    c = contravariant(a[:, :, 0], a[:, :, 1], e1, e2)
    slopes = c @ covariant.reshape(count, points, 2, -1)
    shape = (count, points, 3, 6 * nodes)
    return Motion(
        surface.reshape(shape),
        director.reshape(shape),
        slopes.reshape(count, points, 2, 3, 6 * nodes),
        area * element.WEIGHT,
    )


def motion_at(kind: str, X: Floats, normals: Floats, at: Floats) -> Floats:
    """Motion of places on elements of one kind as rows (e, 6, 6n) on their nodal motion: translation, rotation.

    The translation is linked, so that a beam bonded along the places finds constant bending without shear.

    Parameters
    ----------
    X, normals : (e, n, 3)
        Corners [m] and directors there.
    at : (e, 2)
        Place on each element, in its own coordinates.
    """
    N = (quad4.shape(at)[0] if kind == "quad4" else tria3.shape(at))[:, None]
    count, nodes = X.shape[:2]
    rows = np.zeros((count, 6, nodes, 6))
    for k in range(6):
        rows[:, k, :, k] = N[:, 0]
    bubble = bubbles(kind, at)
    for k, (i, j) in enumerate(EDGES[kind]):
        rows[:, :3] += bubble[:, k, None, None, None] * _edge_bending(X, normals, i, j)
    return rows.reshape(count, 6, 6 * nodes)


def bubbles(kind: str, at: Floats) -> Floats:
    """Edge functions (q, edges) at places (q, 2): 1 - s² along their own edge, |s| ≤ 1, 0 on others."""
    if kind == "quad4":
        xi, eta = at.T
        values = [(1 - xi**2) * (1 - eta) / 2, (1 - eta**2) * (1 + xi) / 2]
        return np.stack([*values, (1 - xi**2) * (1 + eta) / 2, (1 - eta**2) * (1 - xi) / 2], 1)
    L = tria3.shape(at)
    return np.stack([4 * L[:, i] * L[:, j] for i, j in EDGES[kind]], 1)


def edge_bubbles(kind: str) -> tuple[Floats, Floats]:
    """Edge functions (q, edges) and derivatives (q, 2, edges) at the integration points."""
    if kind == "quad4":
        xi, eta = QUAD.T
        along = [-xi * (1 - eta), (1 - eta**2) / 2, -xi * (1 + eta), -(1 - eta**2) / 2]
        across = [-(1 - xi**2) / 2, -eta * (1 + xi), (1 - xi**2) / 2, -eta * (1 - xi)]
        return bubbles(kind, QUAD), np.stack([np.stack(along, 1), np.stack(across, 1)], 1)
    L, dL = tria3.shape(TRIANGLE), tria3.SLOPES
    slopes = [4 * (L[:, None, i] * dL[:, j] + L[:, None, j] * dL[:, i]) for i, j in EDGES[kind]]
    return bubbles(kind, TRIANGLE), np.stack(slopes, -1)


def _edge_bending(X: Floats, normals: Floats, i: int, j: int) -> Floats:
    """Mean normal of the edge i-j times half its bending strain, as rows (e, 3, n, 6) on nodal motion."""
    a, dn = (X[:, j] - X[:, i]) / 2, (normals[:, j] - normals[:, i]) / 2
    row = np.zeros((*X.shape[:2], 6))
    for node, half in ((i, -0.5), (j, 0.5)):
        row[:, node, :3] = half * dn
        row[:, node, 3:] = half * np.cross(normals[:, node], a)  # a·(θ × n) = θ·(n × a)
    mean = normals[:, i] + normals[:, j]
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    return 0.5 * mean[:, :, None, None] * row[:, None]
