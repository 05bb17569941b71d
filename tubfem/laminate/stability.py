"""Local stability of a sandwich: skin wrinkling, shear crimping, dimpling; and the core's own shear and crush."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.laminate.failure import UNLOADED
from tubfem.laminate.ply import strain_rotation
from tubfem.laminate.recovery import shear_stress
from tubfem.laminate.shear import shear_stiffness
from tubfem.laminate.stack import Stack, abd, stiffness_by_ply

WRINKLING = 0.5  # NASA CR-1457 (Sullins, Smith, Spier 1969), from memory; class rules use 0.3 (Korean Register GC-06-E)
WRINKLING_CODE = 0.3


@dataclass(frozen=True, slots=True)
class Face:
    """One skin of a sandwich: its plies first to last (exclusive), the core ply it stands on, which side it is."""

    first: int
    last: int
    core: int
    side: str


def wrinkling_stress(E_face: Floats, Ec: Floats, G_core: Floats, coefficient: float = WRINKLING) -> Floats:
    """Skin stress [Pa] at which it wrinkles, coefficient x (Ef Ec Gc)^(1/3); Hoff and Mautner (1945) found 0.91."""
    return coefficient * np.cbrt(E_face * Ec * G_core)


def crimping_load(G_core: Floats, d: Floats, core_thickness: Floats) -> Floats:
    """Line load [N/m] of shear crimping, Gc d^2 / c; d between the middles of the skins [m]."""
    return G_core * d**2 / core_thickness


def dimpling_stress(E_face: Floats, nu: Floats, face_thickness: Floats, cell: Floats) -> Floats:
    """Skin stress [Pa] at which it dimples over a cell or gap of that size [m], 2 Ef / (1 - nu^2) (t / s)^2."""
    return 2 * E_face / (1 - nu**2) * (face_thickness / cell) ** 2


def dimpling_of(membrane: Floats, angle: Floats, thickness: float, cell: float) -> Floats:
    """Stress (...) [Pa] at which a skin of mean stiffness (3, 3) [Pa] dimples when pressed along angle (...) [rad].

    The isotropic form with sqrt(Q11 Q22) in the axes of the compression for E / (1 - nu^2).
    """
    back = strain_rotation(-angle)
    Q = np.swapaxes(back, -1, -2) @ membrane @ back
    return dimpling_stress(np.sqrt(Q[..., 0, 0] * Q[..., 1, 1]), 0.0, thickness, cell)


def faces(stack: Stack) -> tuple[Face, ...]:
    """The skins of a sandwich: runs of plies next to a core, tool side first; empty for a solid laminate."""
    core = [p.core for p in stack.plies]
    found, first = [], 0
    for k in range(len(core) + 1):
        if k < len(core) and not core[k]:
            continue
        if first < k:
            if first > 0:
                found.append(Face(first, k, first - 1, "far"))
            if k < len(core):
                found.append(Face(first, k, k, "tool"))
        first = k + 1
    return tuple(found)


def wrinkling_margins(stack: Stack, strain: Floats, coefficient: float = WRINKLING) -> Floats:
    """Margin (..., f) [-] of each of `faces` against wrinkling under the skin's greatest compression.

    ``strain`` (..., 8) is the generalised strain. The skin's mean stress is turned to its principal axes; its modulus
    and the core's shear modulus are taken along the compression. Infinite where a skin is in tension.
    """
    Q = stiffness_by_ply(stack)
    z0, z1 = stack.z[:-1], stack.z[1:]
    margins = []
    for face in faces(stack):
        pick = slice(face.first, face.last)
        t = (z1 - z0)[pick]
        A = np.einsum("k,kij->ij", t, Q[pick])
        B = np.einsum("k,kij->ij", (z1**2 - z0**2)[pick] / 2, Q[pick])
        stress = (strain[..., :3] @ A + strain[..., 3:6] @ B) / t.sum()
        angle, least = principal_compression(stress)
        T = strain_rotation(angle)
        compliance = np.linalg.inv(A / t.sum())
        E = 1 / (T[..., 0, None, :] @ compliance @ T[..., 0, :, None])[..., 0, 0]
        core = stack.plies[face.core]
        turn = angle - stack.angle[face.core]
        G = 1 / (np.cos(turn) ** 2 / core.G13 + np.sin(turn) ** 2 / core.G23)
        margins.append(_margin(wrinkling_stress(E, core.Ec, G, coefficient), -least))
    return np.stack(margins, axis=-1) if margins else np.full((*strain.shape[:-1], 0), np.inf)


def crimping_margin(stack: Stack, strain: Floats) -> Floats:
    """Margin (...) [-] of the whole laminate against shear crimping under its greatest compressive line load.

    The crimping load along a direction is the equilibrium shear stiffness along it, of which Gc d^2 / c is the
    thin-skin form.
    """
    A, B, _ = abd(stack)
    load = strain[..., :3] @ A + strain[..., 3:6] @ B
    angle, least = principal_compression(load)
    n = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    critical = np.einsum("...i,ij,...j->...", n, shear_stiffness(stack), n, optimize=True)
    return _margin(critical, -least)


def core_shear_margins(stack: Stack, strain: Floats, factor: float = 1.0) -> Floats:
    """Margin (..., k) [-] of every core ply in transverse shear; infinite for skins.

    ``factor`` is the product of knock-downs; the core's own ``shear_use`` is left to the reserve that is asked.
    """
    strength = np.array([p.shear_strengths if p.core else (np.inf, np.inf) for p in stack.plies])
    stress = shear_stress(stack, strain, np.array([0.0, 0.5, 1.0])) / (factor * strength)[:, None]
    return _margin(1.0, np.linalg.norm(stress, axis=-1).max(axis=-1))


def principal_compression(stress: Floats) -> tuple[Floats, Floats]:
    """Angle (...) [rad] and value (...) of the least principal stress of (..., 3) sx sy txy."""
    sx, sy, t = (stress[..., k] for k in range(3))
    least = 0.5 * (sx + sy) - np.hypot(0.5 * (sx - sy), t)
    return 0.5 * np.arctan2(-2 * t, sy - sx), least


def principal_strain(strain: Floats) -> tuple[Floats, Floats]:
    """Greatest and least principal strain (...) [-] of (..., 3) ex ey gxy."""
    ex, ey, g = (strain[..., k] for k in range(3))
    radius = np.hypot(0.5 * (ex - ey), 0.5 * g)
    return 0.5 * (ex + ey) + radius, 0.5 * (ex + ey) - radius


def _margin(critical: Floats, demand: Floats) -> Floats:
    critical, demand = np.broadcast_arrays(critical, demand)
    margin = np.full(demand.shape, np.inf)
    return np.divide(critical, demand, out=margin, where=demand > UNLOADED) - 1
