"""A stack of plies: A, B, D, mass, effective constants, and the 8 x 8 stiffness a shell element asks for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.laminate.ply import plane_stiffness, turned
from tubfem.materials.ply import CorePly, Ply


@dataclass(frozen=True, eq=False, slots=True)
class Stack:
    """Plies from the tool face outwards.

    plies (k); angle (k,) [rad] from the 0 degree reference; z (k+1,) [m], the faces from the reference surface,
    rising from the tool face.
    """

    plies: tuple[Ply | CorePly, ...]
    angle: Floats
    z: Floats

    @property
    def thickness(self) -> float:
        """Total thickness [m]."""
        return float(self.z[-1] - self.z[0])

    def key(self) -> tuple:
        """Hashable content: equal keys are equal stacks (angles to 1e-9 rad, positions to 1e-12 m)."""
        return self.plies, tuple(np.round(self.angle, 9)), tuple(np.round(self.z, 12))


@dataclass(frozen=True, slots=True)
class Constants:
    """Effective membrane constants [Pa, -], from the inverse of the full 6 x 6 (free to warp)."""

    Ex: float
    Ey: float
    Gxy: float
    nuxy: float


def make_stack(layers: Sequence[tuple[float, Ply | CorePly]], *, tool_z: float | None = None) -> Stack:
    """A stack from (angle [rad], ply) in laying order.

    Parameters
    ----------
    layers
        From the tool face outwards; at least one.
    tool_z
        Position [m] of the tool face on the local normal; minus half the thickness by default, which puts the
        reference surface in the middle.
    """
    thickness = np.array([ply.thickness for _, ply in layers])
    start = -0.5 * thickness.sum() if tool_z is None else tool_z
    z = start + np.concatenate(([0.0], np.cumsum(thickness)))
    return Stack(tuple(p for _, p in layers), frozen(np.array([a for a, _ in layers], float)), frozen(z))


def with_plies(stack: Stack, layers: Sequence[tuple[float, Ply | CorePly]], side: str = "far") -> Stack:
    """A stack with layers (angle [rad], ply) laid on its "far" face, or outwards on its "tool" face; it stays put."""
    plies, angle = tuple(ply for _, ply in layers), [each for each, _ in layers]
    thickness = np.array([ply.thickness for ply in plies])
    if side == "far":
        z = np.concatenate([stack.z, stack.z[-1] + np.cumsum(thickness)])
        return Stack((*stack.plies, *plies), frozen(np.concatenate([stack.angle, angle])), frozen(z))
    outside = stack.z[0] - np.cumsum(thickness)
    z = np.concatenate([outside[::-1], stack.z])
    return Stack((*plies[::-1], *stack.plies), frozen(np.concatenate([angle[::-1], stack.angle])), frozen(z))


def stiffness_by_ply(stack: Stack) -> Floats:
    """Q (k, 3, 3) [Pa] of every ply in x, y."""
    return turned(plane_stiffness(stack.plies), stack.angle)


def abd(stack: Stack) -> tuple[Floats, Floats, Floats]:
    """A [N/m], B [N], D [N m], each (3, 3), about the reference surface."""
    Q = stiffness_by_ply(stack)
    z0, z1 = stack.z[:-1], stack.z[1:]
    weights = np.array([z1 - z0, (z1**2 - z0**2) / 2, (z1**3 - z0**3) / 3])
    A, B, D = np.einsum("nk,kij->nij", weights, Q)
    return A, B, D


def mass_moments(stack: Stack) -> Floats:
    """Integrals of rho, rho z, rho z^2 through the thickness (3,) [kg/m2, kg/m, kg]."""
    rho = np.array([p.rho for p in stack.plies])
    z0, z1 = stack.z[:-1], stack.z[1:]
    return np.array([rho @ (z1 - z0), rho @ (z1**2 - z0**2) / 2, rho @ (z1**3 - z0**3) / 3])


def membrane_constants(stack: Stack) -> Constants:
    """Effective membrane constants, bending free."""
    A, B, D = abd(stack)
    compliance = np.linalg.inv(np.block([[A, B], [B, D]]))
    return _constants(compliance[:3, :3] * stack.thickness)


def bending_constants(stack: Stack) -> Constants:
    """Effective flexural constants: those of the homogeneous plate with the same bending compliance."""
    A, B, D = abd(stack)
    compliance = np.linalg.inv(np.block([[A, B], [B, D]]))
    return _constants(compliance[3:, 3:] * stack.thickness**3 / 12)


def _constants(a: Floats) -> Constants:
    return Constants(float(1 / a[0, 0]), float(1 / a[1, 1]), float(1 / a[2, 2]), float(-a[0, 1] / a[0, 0]))
