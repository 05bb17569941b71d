"""Transverse shear from equilibrium: the true stress distribution, its energy, the shear stiffness.

Cylindrical bending along an axis n lets strains vary along n only. The traction on the face square to n is then
``t(z) = C(z) (u' + z b')`` with C (2, 2) = [[Q11, Q16], [Q16, Q66]] in axes along and square to n. Equilibrium gives
``tau(z) = -integral of dt/dn``. The four unknown gradients u'', b'' follow from four conditions: no gradient of the
membrane forces (so the neutral surface finds itself and the choice of reference surface drops out) and a moment
gradient that is the one shear force, 1, and no twist. Doing this along x and along y gives ``tau(z) = P(z) V`` with
``integral of P = identity``; the shear compliance is the energy of P in the plies' own transverse compliance.

Along the axes of a cross-ply laminate this is the form of each direction, S = D^2 / integral of g^2/G with
g = integral of Q11 z (which a uniform 5/6 misses by 30 to 40 % on a sandwich). Between axes "bending along x and along
y" depends on which x: so the distribution is formed in the axes of each ply and averaged, weighted by how far the ply
is from isotropic. A cross-ply keeps its own axes, and every laminate turns as a tensor.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.laminate.ply import plane_stiffness, shear_compliance, turned, vector_rotation
from tubfem.laminate.stack import Stack, abd

GAUSS, WEIGHT = np.polynomial.legendre.leggauss(3)  # exact for the quartic energy density within a ply
INTEGRATION = 0.5 * (1 + GAUSS)  # of each ply
LEVELS = np.array([0.0, 0.5, 1.0])  # of each ply, where its stress is read
TRACTION = np.array([[0, 2], [2, 1]])  # components (x, y) of the traction on the face square to x, to y


@dataclass(frozen=True, eq=False, slots=True)
class ShearMap:
    """Transverse shear of a stack.

    Attributes
    ----------
    stress : (k, m, 2, 2) (txz, tyz) [Pa] per unit (gxz, gyz) at `LEVELS` of every ply
    stiffness : (2, 2) [N/m]
    """

    stress: Floats
    stiffness: Floats


def shear_map(stack: Stack) -> ShearMap:
    """Stress and stiffness of one stack, from one distribution."""
    P = shear_distribution(stack, np.concatenate([LEVELS, INTEGRATION]))
    stiffness = _energy_stiffness(stack, P[:, len(LEVELS) :])
    return ShearMap(frozen(P[:, : len(LEVELS)] @ stiffness), frozen(stiffness))


def shear_stiffness(stack: Stack) -> Floats:
    """Transverse shear stiffness (2, 2) [N/m]: (Vx, Vy) from (gxz, gyz), energy equivalent."""
    return _energy_stiffness(stack, shear_distribution(stack, INTEGRATION))


def _energy_stiffness(stack: Stack, P: Floats) -> Floats:
    """Stiffness (2, 2) from the distribution P (k, g, 2, 2) at the integration points."""
    S = shear_compliance(stack.plies, stack.angle)
    dz = np.diff(stack.z)[:, None] * 0.5 * WEIGHT
    F = (dz[..., None, None] * (P.swapaxes(-1, -2) @ S[:, None] @ P)).sum(axis=(0, 1))
    stiffness = np.linalg.inv(F)
    return 0.5 * (stiffness + stiffness.T)


def shear_distribution(stack: Stack, at: Floats) -> Floats:
    """P (k, m, 2, 2) [1/m]: (txz, tyz) [Pa] at the fractions ``at`` (m,) of each ply, from (Vx, Vy) [N/m]."""
    own = plane_stiffness(stack.plies)
    weights = _anisotropy(own) * np.diff(stack.z)
    frames = np.round(np.mod(stack.angle, np.pi / 2), 12)  # a right angle more gives the same distribution
    if weights.sum() <= 1e-9 * own[:, 0, 0] @ np.diff(stack.z):
        frames, weights = np.zeros(1), np.ones(1)  # isotropic throughout: every frame gives the same
    total = np.zeros((len(stack.plies), len(at), 2, 2))
    for frame in np.unique(frames):
        R = vector_rotation(frame)
        total += weights[frames == frame].sum() * (R.T @ _distribution(own, stack, frame, at) @ R)
    return total / weights.sum()


def stiffness8(stack: Stack, shear: ShearMap | None = None) -> Floats:
    """Stiffness (8, 8) for ex ey gxy kx ky kxy gxz gyz: [A B; B D; shear] [N/m, N, N m, N/m].

    `shear` is the stack's `shear_map` where it is known already.
    """
    A, B, D = abd(stack)
    C = np.zeros((8, 8))
    C[:3, :3], C[:3, 3:6], C[3:6, :3], C[3:6, 3:6] = A, B, B, D
    C[6:, 6:] = shear_stiffness(stack) if shear is None else shear.stiffness
    return C


def _anisotropy(Q: Floats) -> Floats:
    """How far each ply (k, 3, 3) is from isotropic [Pa]: its invariants U2 and U3 (Tsai and Pagano)."""
    U2 = (Q[:, 0, 0] - Q[:, 1, 1]) / 2
    U3 = (Q[:, 0, 0] + Q[:, 1, 1] - 2 * Q[:, 0, 1] - 4 * Q[:, 2, 2]) / 8
    size = np.hypot(U2, U3)
    return np.where(size > 1e-9 * Q[:, 0, 0], size, 0.0)


def _distribution(own: Floats, stack: Stack, frame: float, at: Floats) -> Floats:
    """P (k, m, 2, 2) in axes turned by ``frame``: cylindrical bending along its x and along its y."""
    Q = turned(own, stack.angle - frame)
    middle = 0.5 * (stack.z[0] + stack.z[-1])  # any origin gives the same; this one is well conditioned
    z = stack.z - middle
    z0, h, half = z[:-1], np.diff(z), np.diff(z**2) / 2
    C = Q[:, TRACTION[:, :, None], TRACTION[:, None, :]]  # (k, axis, 2, 2)
    a, b, d = (np.stack([h, half, np.diff(z**3) / 3]) @ C.reshape(len(h), -1)).reshape(3, 2, 2, 2)
    size = stack.thickness  # scales the 4 x 4 to one order of magnitude
    K = np.empty((2, 4, 4))
    K[:, :2, :2], K[:, :2, 2:], K[:, 2:, :2], K[:, 2:, 2:] = a, b / size, b / size, d / size**2
    force = np.eye(4)[2:, :, None]  # of each axis: one unit of the shear force along it
    g = np.linalg.solve(K, force / size)
    first, second = (C @ g[:, :2])[..., 0], (C @ g[:, 2:] / size)[..., 0]  # (k, axis, 2)
    ends = first * h[:, None, None] + second * half[:, None, None]
    start = np.cumsum(ends, axis=0) - ends
    points = z0[:, None] + np.asarray(at) * h[:, None]  # (k, m)
    linear = (points - z0[:, None])[..., None, None] * first[:, None]
    square = ((points**2 - z0[:, None] ** 2) / 2)[..., None, None] * second[:, None]
    return -(start[:, None] + linear + square).swapaxes(-1, -2)
