"""Strain energy and where it is stored: by region, in joints, in mounts, and by the moduli that store it."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.results import Energy
from tubfem.findings.strains import Elements, Strains
from tubfem.laminate.ply import turned
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.shell.model import ShellModel
from tubfem.tub.layup import mixed
from tubfem.tub.model import LayupField, TubModel

MODULI = ("moduli along and across the fibres", "in-plane shear moduli", "cores in shear")


def second_moments(strains: Strains) -> Floats:
    """Integral (e, 8, 8) of strain times strain over every element [m2, m, -]."""
    parts = []
    for strain, dA in zip(strains.at_points, strains.areas, strict=True):
        parts.append(np.swapaxes(strain * dA[..., None], 1, 2) @ strain)
    return np.concatenate(parts)


def element_stiffness(shell: ShellModel) -> Floats:
    """Stiffness (e, 8, 8) of every element's stack."""
    return shell.stiffness[np.concatenate([block.stack for block in shell.blocks])]


def element_energy(stiffness: Floats, moments: Floats) -> Floats:
    """Strain energy (e,) [J]."""
    return 0.5 * np.einsum("eij,eij->e", stiffness, moments)


def energy_shares(
    model: TubModel, elements: Elements, shells: Floats, drilling: float, springs: Floats
) -> tuple[Energy, Floats]:
    """Energy with its shares, and the total as (1,) of its parts.

    Parameters
    ----------
    shells
        (e,) [J].
    drilling
        Energy of the drilling stabilisation [J].
    springs
        (rows,) [J], through the spring sets in order.
    """
    total = float(shells.sum() + drilling + springs.sum())
    by_region = np.bincount(elements.region, weights=shells, minlength=len(elements.regions)) / total
    joints: dict[str, float] = {}
    for ties in model.joints:
        joints[ties.name] = joints.get(ties.name, 0.0) + float(springs[ties.rows].sum() / total)
    return Energy(
        total=total,
        regions=dict(zip(elements.regions, by_region.tolist(), strict=True)),
        joints=joints,
        mounts=float(springs.sum() / total) - sum(joints.values()),
        drilling=drilling / total,
    )


def moduli_stiffness(layup: LayupField) -> Floats:
    """Parts (3, mixtures, 8, 8) of the stiffness that each of `MODULI` gives; the rest is isotropic sheet and core."""
    parts = np.array([_moduli_of(stack) for stack in layup.stacks])  # (s, 3, 8, 8)
    return np.swapaxes(mixed(layup, parts), 0, 1)


def _moduli_of(stack: Stack) -> Floats:
    """Parts (3, 8, 8) of one stack's stiffness."""
    parts = np.zeros((3, 8, 8))
    cloth = np.array([not ply.core and ply.kind != "isotropic" for ply in stack.plies])
    whole = stiffness8(stack)
    if any(ply.core for ply in stack.plies):
        parts[2, 6:, 6:] = whole[6:, 6:]
    for k in np.flatnonzero(cloth):
        ply = stack.plies[k]
        scale = 1 - ply.nu12**2 * ply.E2 / ply.E1
        along = np.array([[ply.E1, ply.nu12 * ply.E2, 0], [ply.nu12 * ply.E2, ply.E2, 0], [0, 0, 0]]) / scale
        shear = np.diag([0.0, 0.0, ply.G12])
        z0, z1 = stack.z[k], stack.z[k + 1]
        for part, own in ((0, along), (1, shear)):
            Q = turned(own, stack.angle[k])
            parts[part, :3, :3] += Q * (z1 - z0)
            parts[part, :3, 3:6] += Q * (z1**2 - z0**2) / 2
            parts[part, 3:6, :3] += Q * (z1**2 - z0**2) / 2
            parts[part, 3:6, 3:6] += Q * (z1**3 - z0**3) / 3
    return parts
