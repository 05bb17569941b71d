"""Geometric stiffness and mass: the energy of stress times slope squared, and that of inertia.

Geometric stiffness. Under membrane forces N the motion u stores

    ½ ∫ N_αβ u,α·u,β dA

[von Kármán's strains of the surface, with all three components of u, so that a column of walls buckles as a whole as
it should]. Turning the whole model by ω turns its forces f: K_G (ω × x) = ω × f. Moments and transverse shear of the
loaded state are left out, and so is the bending of the stress within the thickness, N h²/12 times curvature squared:
less than 1 % until a ripple is as short as twenty thicknesses. A beam's pull does the same to its two slopes.
"""

from collections.abc import Sequence

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats
from tubfem.shell.assemble import assemble, spring_rows
from tubfem.shell.model import MODES_OF_A_BEAM, ShellModel, Springs
from tubfem.shell.motion import surface_motion
from tubfem.shell.recover import generalised_strains, resultants, spring_forces


def membrane_forces(model: ShellModel, u: Floats) -> tuple[Floats, ...]:
    """Nx Ny Nxy (e, q, 3) [N/m] of every block in the material frames under one motion u (p, 6)."""
    strains = generalised_strains(model, u[None])
    return tuple(
        resultants(model.stiffness, block.stack, found.strain)[0, ..., :3]
        for block, found in zip(model.blocks, strains, strict=True)
    )


def geometric_stiffness(model: ShellModel, forces: Sequence[Floats], *, linked: bool = True) -> sparse.csc_array:
    """Geometric stiffness (d, d) [N/m, N, N·m] before any tie, under membrane forces (e, q, 3) of every block.

    With `linked` False the slopes are those between the corners alone: too small where a ripple is not much longer
    than an element.
    """

    def element(index: int, part: slice, normals: Floats) -> Floats:
        block = model.blocks[index]
        X, direction = model.points[block.conn[part]], block.direction[part]
        motion = surface_motion(block.kind, X, normals, direction, linked=linked)
        N = forces[index][part] * motion.area[..., None]
        tensor = np.stack([np.stack([N[..., 0], N[..., 2]], -1), np.stack([N[..., 2], N[..., 1]], -1)], -2)
        count, points, _, _, d = motion.slopes.shape
        pull = (tensor @ motion.slopes.reshape(count, points, 2, 3 * d)).reshape(count, -1, d)
        return motion.slopes.reshape(count, -1, d).transpose(0, 2, 1) @ pull

    return assemble(model, element)


def mass_matrix(model: ShellModel) -> sparse.csc_array:
    """Consistent mass (d, d) of shells and beams, and lumps, before any tie [kg, kg·m, kg·m²].

    From `model.mass`: translation, its coupling with rotation where the laminate lies beside the surface, and rotary
    inertia. Turning about its own normal a node has none.
    """

    def element(index: int, part: slice, normals: Floats) -> Floats:
        block = model.blocks[index]
        motion = surface_motion(block.kind, model.points[block.conn[part]], normals, block.direction[part])
        m0, m1, m2 = (model.mass[block.stack[part], k, None, None, None] for k in range(3))
        dA = motion.area[..., None, None]
        count, d = len(m0), motion.surface.shape[-1]
        u, n = (rows.reshape(count, -1, d) for rows in (motion.surface, motion.director))
        on_u = (dA * (m0 * motion.surface + m1 * motion.director)).reshape(count, -1, d)
        on_n = (dA * (m1 * motion.surface + m2 * motion.director)).reshape(count, -1, d)
        return u.transpose(0, 2, 1) @ on_u + n.transpose(0, 2, 1) @ on_n

    lumps = np.outer(model.lumps, [1.0, 1.0, 1.0, 0.0, 0.0, 0.0]).ravel()
    beams = spring_rows([beams.masses for beams in model.beams], len(lumps))
    return assemble(model, element, beams + sparse.csc_array(sparse.diags_array(lumps)))


def beam_geometric_stiffness(model: ShellModel, u: Floats) -> sparse.csc_array:
    """Geometric stiffness (d, d) of the beams' pull under one motion u (p, 6): ½ ∫ N (v'² + w'²) ds (T.9)."""
    found = []
    for beams in model.beams:
        pull = spring_forces(beams.springs, u[None])[0, ::MODES_OF_A_BEAM]
        slopes = beams.slopes
        weight = slopes.stiffness * np.repeat(pull, len(slopes.stiffness) // len(pull))
        found.append(Springs(slopes.freedoms, slopes.coefficients, weight))
    return spring_rows(found, 6 * len(model.points))
