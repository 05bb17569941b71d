"""Strains, resultants and energy from the motion, with the enhanced modes that the assembly condensed."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.shell.assemble import KINDS, chunks, padded_stiffness, strain_matrix
from tubfem.shell.frames import surface_frame
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.normals import smooth_normals
from tubfem.shell.quadrature import element_mean
from tubfem.shell.reading import as_read


@dataclass(frozen=True, eq=False, slots=True)
class ElementStrains:
    """Strains of the elements of one block in their material frames.

    Attributes
    ----------
    strain : (c, e, q, 8)
        εx εy γxy κx κy κxy γxz γyz at the integration points [-, 1/m], as they are read (`shell.reading`).
    stored : (c, e, q, 8)
        Those whose energy is that of the element.
    area : (e, q)
        Area of each integration point [m²].
    energy : (c, e)
        Strain energy of all eight strains [J].
    drilling_energy : (c, e)
        Energy of the drilling stabilisation, not in `energy` [J].
    """

    strain: Floats
    stored: Floats
    area: Floats
    energy: Floats
    drilling_energy: Floats

    @property
    def mean(self) -> Floats:
        """Mean strain (c, e, 8) over each element."""
        return np.einsum("ceqk,eq->cek", self.strain, self.area / self.area.sum(1, keepdims=True), optimize=True)


def generalised_strains(model: ShellModel, u: Floats) -> tuple[ElementStrains, ...]:
    """State of every block under the motion u (c, p, 6) [m, rad], in the order of `model.blocks`."""
    normals = smooth_normals(model.points, [block.conn for block in model.blocks])
    return tuple(_block_strains(model, block, n, u) for block, n in zip(model.blocks, normals, strict=True))


def _block_strains(model: ShellModel, block: Block, normals: Floats, u: Floats) -> ElementStrains:
    parts = list(_chunk_strains(model, block, normals, u))
    strain, stored, area, energy, drilling = ([part[k] for part in parts] for k in range(5))
    return ElementStrains(
        strain=frozen(np.concatenate(strain, axis=1)),
        stored=frozen(np.concatenate(stored, axis=1)),
        area=frozen(np.concatenate(area)),
        energy=frozen(np.concatenate(energy, axis=1)),
        drilling_energy=frozen(np.concatenate(drilling, axis=1)),
    )


def _chunk_strains(
    model: ShellModel, block: Block, normals: Floats, u: Floats
) -> Iterator[tuple[Floats, Floats, Floats, Floats, Floats]]:
    padded = padded_stiffness(model.stiffness, model.drilling)
    for part in chunks(block):
        conn, C = block.conn[part], padded[block.stack[part]]
        B, M, dA = strain_matrix(model.points, block, part, normals[part])
        count, points, _, freedoms = B.shape
        motion = u[:, conn].reshape(len(u), count, freedoms).transpose(1, 2, 0)  # (e, d, c)
        strain = (B.reshape(count, -1, freedoms) @ motion).reshape(count, points, 9, -1)
        weighted = (C[:, None] @ M * dA[..., None, None]).reshape(count, points * 9, -1)
        enhanced = M.reshape(count, points * 9, -1)
        drive = weighted.transpose(0, 2, 1) @ strain.reshape(count, points * 9, -1)
        amount = np.linalg.solve(enhanced.transpose(0, 2, 1) @ weighted, -drive)
        strain = strain + (enhanced @ amount).reshape(strain.shape)
        twice = (strain * (C[:, None] @ strain)).sum(2)  # (e, q, c), its energy per area
        total, drilling = (
            0.5 * (part * dA[..., None]).sum(1).T for part in (twice, C[:, 8, 8, None, None] * strain[:, :, 8] ** 2)
        )
        stored = strain[:, :, :8]
        found = read(model.points, block, part, C, dA, stored)
        yield found.transpose(3, 0, 1, 2), stored.transpose(3, 0, 1, 2), dA, total - drilling, drilling


def read_means(model: ShellModel, elements: Ints, dA: Floats, strain: Floats) -> tuple[Floats, Floats]:
    """Mean strains (e, 8, c), as they are read, of elements of one block, and the shear (e, 2, c) that a twist drives.

    `elements` (e,) are numbered through all blocks; `dA` (e, q) [m²]; `strain` (e, q, 8, c) as of their modes and
    motion, in their own frames.
    """
    ends = np.cumsum([len(block.conn) for block in model.blocks])
    number = int(np.searchsorted(ends, elements[0], side="right"))
    block = model.blocks[number]
    part = elements - (ends[number] - len(block.conn))
    found = read(model.points, block, part, model.stiffness[block.stack[part]], dA, strain)
    mean = element_mean(found, dA)[:, 0]
    return mean, mean[:, 6:] - element_mean(strain[:, :, 6:], dA)[:, 0]


def read(points: Floats, block: Block, part: slice | Ints, C: Floats, dA: Floats, strain: Floats) -> Floats:
    """Strains (e, q, 8, c) of some elements of a block as they are read (`shell.reading`); C (e, 8, 8) or larger."""
    if block.kind != "quad4":
        return strain
    bulge = np.zeros((len(C), 4)) if block.bulge is None else block.bulge[part]
    return as_read(points[block.conn[part]], block.direction[part], bulge, dA, C[:, :8, :8], strain)


def resultants(stiffness: Floats, stack: Ints, strain: Floats) -> Floats:
    """Nx Ny Nxy Mx My Mxy Qx Qy (c, e, ..., 8) [N/m, N] of strains (c, e, ..., 8), stiffness (s, 8, 8), stack (e,)."""
    C = stiffness[stack]
    flat = strain.reshape(*strain.shape[:2], -1, 8)
    return (flat @ C.transpose(0, 2, 1)).reshape(strain.shape)


def material_frames(points: Floats, block: Block) -> tuple[Floats, Floats]:
    """Frames (e, q, 3, 3), rows e1 e2 e3, and places (e, q, 3) [m] of the integration points."""
    kind = KINDS[block.kind]
    X = points[block.conn]
    a = np.einsum("qan,enx->eqax", kind.GRADIENT, X)
    e1, e2, e3, _ = surface_frame(a[:, :, 0], a[:, :, 1], block.direction[:, None])
    return np.stack([e1, e2, e3], axis=2), np.einsum("qn,enx->eqx", kind.SHAPE, X)


def spring_elongations(springs: Springs, u: Floats) -> Floats:
    """Elongation (c, m) of every row under the motion u (c, p, 6) [m or rad]."""
    motion = u.reshape(len(u), -1)[:, springs.freedoms]
    return (motion * springs.coefficients).sum(-1)


def spring_forces(springs: Springs, u: Floats) -> Floats:
    """Force (c, m) in every row [N or N·m], positive when it pulls."""
    return springs.stiffness * spring_elongations(springs, u)


def ground_forces(model: ShellModel, u: Floats) -> Floats:
    """Forces (c, p, 6) of the springs that hold a single freedom to the ground, on the model [N, N·m]."""
    total = np.zeros((len(u), 6 * len(model.points)))
    for springs in model.springs:
        if springs.freedoms.shape[1] == 1:
            force = -spring_forces(springs, u) * springs.coefficients[:, 0]
            np.add.at(total, (slice(None), springs.freedoms[:, 0]), force)
    return total.reshape(u.shape)


def spring_energies(springs: Springs, u: Floats) -> Floats:
    """Energy (c, m) of every row [J]."""
    return 0.5 * springs.stiffness * spring_elongations(springs, u) ** 2
