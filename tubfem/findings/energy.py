"""Strain energy and where it is stored: by region, in joints, mounts and tubes, and by the moduli that store it."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.results import Energy
from tubfem.findings.strains import Elements, Strains
from tubfem.laminate.ply import plane_stiffness, turned
from tubfem.laminate.stack import Stack
from tubfem.shell.model import ShellModel
from tubfem.tub.layup import mixed
from tubfem.tub.model import LayupField, TubModel

MODULI = ("moduli along and across the fibres", "in-plane shear moduli", "cores in shear")


def second_moments(strains: Strains) -> Floats:
    """Integral (e, 8, 8) of strain times strain over every element [m2, m, -]."""
    parts = []
    for strain, dA in zip(strains.stored, strains.areas, strict=True):
        parts.append(np.swapaxes(strain * dA[..., None], 1, 2) @ strain)
    return np.concatenate(parts)


def element_stiffness(shell: ShellModel) -> Floats:
    """Stiffness (e, 8, 8) of every element's stack."""
    return shell.stiffness[np.concatenate([block.stack for block in shell.blocks])]


def element_energy(stiffness: Floats, moments: Floats) -> Floats:
    """Strain energy (e,) [J]."""
    return 0.5 * np.einsum("eij,eij->e", stiffness, moments)


def energy_shares(model: TubModel, elements: Elements, shells: Floats, drilling: float, springs: Floats) -> Energy:
    """Energy with its shares, which sum to 1.

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
    foams = {name: float(springs[rows].sum() / total) for name, rows in model.foams}
    frames = {frame.name: float(springs[frame.rows].sum() / total) for frame in model.frames}
    parts = sum(sum(shares.values()) for shares in (joints, foams, frames))
    return Energy(
        total=total,
        regions=dict(zip(elements.regions, by_region.tolist(), strict=True)),
        joints=joints,
        mounts=float(springs.sum() / total) - parts,
        drilling=drilling / total,
        attachments=_by_mount(model, springs / total),
        foams=foams,
        frames=frames,
    )


def _by_mount(model: TubModel, shares: Floats) -> dict[str, float]:
    """Share of every mount's bolts."""
    found: dict[str, float] = {}
    for bolt in model.bolts:
        found[bolt.mount] = found.get(bolt.mount, 0.0) + float(shares[bolt.rows].sum())
    return found


def moduli_stiffness(layup: LayupField, stiffness: Floats) -> Floats:
    """Parts (3, m, 8, 8) of every mixture's stiffness (m, 8, 8) that each of `MODULI` gives.

    The rest is sheet that is isotropic, and core in its own plane.
    """
    cloth = mixed(layup, np.array([_cloth_parts(stack) for stack in layup.stacks]))  # (m, 2, 8, 8)
    core = np.zeros_like(stiffness)
    cored = np.array([any(ply.core for ply in stack.plies) for stack in layup.stacks])
    has = np.array([cored[list(stacks)].any() for stacks in layup.mixture_stacks])
    core[has, 6:, 6:] = stiffness[has, 6:, 6:]
    return np.stack([cloth[:, 0], cloth[:, 1], core])


def _cloth_parts(stack: Stack) -> Floats:
    """Parts (2, 8, 8) of a stack's stiffness: its cloth without its in-plane shear moduli, and those alone."""
    cloth = np.array([not ply.core and ply.kind != "isotropic" for ply in stack.plies])
    own = plane_stiffness(stack.plies) * cloth[:, None, None]
    shear = np.zeros_like(own)
    shear[:, 2, 2] = own[:, 2, 2]
    Q = turned(np.stack([own - shear, shear]), stack.angle)  # (2, k, 3, 3)
    z0, z1 = stack.z[:-1], stack.z[1:]
    A, B, D = (np.einsum("k,pkij->pij", (z1**n - z0**n) / n, Q) for n in (1, 2, 3))
    parts = np.zeros((2, 8, 8))
    parts[:, :3, :3], parts[:, :3, 3:6], parts[:, 3:6, :3], parts[:, 3:6, 3:6] = A, B, B, D
    return parts
