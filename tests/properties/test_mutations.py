"""Mistakes planted one at a time: each must push a named check of the suite out of its tolerance.

A check here is the quantity, reference and tolerance of the test it is named after, computed by that test's own code.
"""

import laminates
import numpy as np
import pytest
from properties import test_shell_elements
from properties.test_shell_elements import FIELDS, PATCH, PATCH_CONN, stiffness_of, unbalanced, warped_sheet
from tubes import torsional_stiffness, tube, twist_model
from verification import (
    test_antisymmetric_laminates,
    test_box_torsion,
    test_laminated_shells,
    test_nasa_rp1351,
    test_transverse_shear,
    test_tsai_hahn,
)
from verification.test_laminated_shells import plate, stiffness
from verification.test_nasa_rp1351 import PRINTED

import tubfem.laminate.ply
import tubfem.laminate.shear
import tubfem.laminate.stack
import tubfem.shell.assemble
import tubfem.shell.quad4
from tubfem.shell.normals import corner_normals
from tubfem.shell.ties import rigid_motion

WIDE, HIGH = 0.1, 0.05
BOX = [[(-WIDE, -HIGH), (WIDE, -HIGH), (WIDE, HIGH), (-WIDE, HIGH), (-WIDE, -HIGH)]]
TAPE = laminates.ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)


# Mistakes: each takes pytest's monkeypatch and spoils one thing.


def flipped_ply_angle(patch):
    right = tubfem.laminate.ply.turned
    patch.setattr(tubfem.laminate.stack, "turned", lambda Q, angle: right(Q, -np.asarray(angle)))


def dropped_coupling(patch):
    right = tubfem.laminate.stack.abd

    def without(stack):
        A, B, D = right(stack)
        return A, 0 * B, D

    for module in (laminates, tubfem.laminate.stack, tubfem.laminate.shear):
        patch.setattr(module, "abd", without)


def five_sixths(patch):
    def uniform(stack):
        S = np.linalg.inv(tubfem.laminate.ply.shear_compliance(stack.plies, stack.angle))
        return 5 / 6 * np.einsum("k,kij->ij", np.diff(stack.z), S)

    patch.setattr(tubfem.laminate.shear, "shear_stiffness", uniform)


def swapped_faces(patch):
    right = tubfem.laminate.stack.make_stack

    def reversed_(layers, **keywords):
        return right(layers[::-1], **keywords)

    for module in (laminates, tubfem.laminate.stack):
        patch.setattr(module, "make_stack", reversed_)


def transposed_strain_rotation(patch):
    right = tubfem.laminate.ply.strain_rotation
    patch.setattr(tubfem.laminate.ply, "strain_rotation", lambda angle: np.swapaxes(right(angle), -1, -2))


def transposed_frame_of_elements(patch):
    right = tubfem.shell.quad4.strain_turn
    patch.setattr(tubfem.shell.quad4, "strain_turn", lambda c: right(np.swapaxes(c, -1, -2)))


def untied_drilling(patch):
    """The drilling strain is the rotation alone, not its difference from that of the sides."""
    right = tubfem.shell.quad4.strain_matrix

    def strain_matrix(*arguments):
        B, M, dA = right(*arguments)
        B = B.copy()
        B.reshape(*B.shape[:3], 4, 6)[:, :, 8, :, :3] = 0.0
        return B, M, dA

    patch.setattr(tubfem.shell.quad4, "strain_matrix", strain_matrix)


def no_drilling_stiffness(patch):
    right = tubfem.shell.assemble.padded_stiffness
    patch.setattr(tubfem.shell.assemble, "padded_stiffness", lambda stiffness, drilling: right(stiffness, 0.0))


# Checks: the quantity, its reference and what it may be off, in its own unit.


def nasa_a16():
    """Example 9, A16 printed to the unit."""
    return laminates.abd6(laminates.stack([90, 0, 45], PRINTED))[0, 2], 23_527.4, 0.06


def antisymmetric_b16():
    return laminates.abd6(laminates.stack([30, -30], laminates.T300))[0, 5], -846.765, 6e-3


def nasa_b11():
    return laminates.abd6(laminates.stack([90, 0, 45], PRINTED))[0, 3], 131.21, 0.006


def turned_q16():
    Q = tubfem.laminate.stack.stiffness_by_ply(laminates.stack([60], laminates.T300))[0]
    return Q[0, 2] / 1e9, 20.054, 6e-4


def box_with_coupling():
    return box_stiffness((45, -45), 0.025), 45_420.0, 0.006 * 45_420


def helical_box():
    return box_stiffness((15,) * 4, 0.05), 14_990.0, 0.005 * 14_990


def box_stiffness(angles, size):
    points, conns = tube(BOX, 1.0, size)
    C = tubfem.laminate.shear.stiffness8(laminates.stack(angles, TAPE))
    return torsional_stiffness(*twist_model(points, conns, [C]))


def angle_ply_plate():
    ply = laminates.ud(25.0, 1.0, 0.5, 0.25, thickness=0.5)
    C = stiffness((45, -45), ply, np.full(2, 5 / 6 * 0.35))
    return 100 * plate(C, 100.0, held_on_x=[0, 2, 3]) / 100.0**4, 0.6564, 0.006 * 0.6564


def pagano_shear():
    face = laminates.ud(25, 1, 0.5, 0.25, G13=0.5, G23=0.2, thickness=0.1)
    middle = laminates.ud(0.04, 0.04, 0.016, 0.25, G13=0.06, G23=0.06, thickness=0.8)
    layers = [(0.0, face), (0.0, middle), (0.0, face)]
    return tubfem.laminate.shear.shear_stiffness(tubfem.laminate.stack.make_stack(layers))[0, 0], 0.060585, 6e-7


def patch_strain():
    """Strain read on MacNeal and Harder's patch in a field of constant membrane strain."""
    name, motion, strain = FIELDS[3]
    assert name == "membrane"
    X = np.column_stack([PATCH, np.zeros(8)])[PATCH_CONN]
    B, _, _ = tubfem.shell.quad4.strain_matrix(X, corner_normals(X), np.tile([1.0, 0, 0], (len(X), 1)))
    found = np.einsum("eqkd,ed->eqk", B, motion[PATCH_CONN].reshape(len(X), -1))[..., :8]
    return np.abs(found - strain).max(), 0.0, 1e-12


def rigid_motion_forces():
    """Largest force of a rigid motion, per largest stiffness."""
    points, conn = warped_sheet("quad4")
    K = stiffness_of(points, conn, "quad4", unbalanced())
    return np.abs(K @ rigid_motion(points).reshape(-1, 6)).max() / np.abs(K).max(), 0.0, 1e-13


def seventh_eigenvalue():
    """Softest motion that is not rigid, as a power of ten below the stiffest: at most seven."""
    points, conn = warped_sheet("quad4")
    values = np.linalg.eigvalsh(stiffness_of(points, conn, "quad4", unbalanced()))
    return -np.log10(max(values[6], 1e-300) / values[-1]), 3.5, 3.5


# What is planted, in words; the check; the test that it is, by its file, and what it looks at.
RP1351, ANTISYMMETRIC, PLATES = test_nasa_rp1351, test_antisymmetric_laminates, test_laminated_shells
EXAMPLE_9 = RP1351.test_example_9_full_precision
CONSTANT_STRAIN = test_shell_elements.test_strain_matrix_reads_constant_strain
FREE_MOTIONS = test_shell_elements.test_stiffness_is_symmetric_with_exactly_six_free_motions
BOXES = test_box_torsion.test_laminated_box
MUTATIONS = [
    (flipped_ply_angle, "sign of a ply's angle", nasa_a16, EXAMPLE_9, "A16"),
    (flipped_ply_angle, "sign of a ply's angle", antisymmetric_b16, ANTISYMMETRIC.test_stiffness, "B16 of [30/-30]"),
    (dropped_coupling, "B left out", angle_ply_plate, PLATES.test_angle_ply_plate, "[45/-45], a/h 100"),
    (dropped_coupling, "B left out", box_with_coupling, BOXES, "walls [45/-45]"),
    (
        five_sixths,
        "5/6 of the shear moduli for a sandwich",
        pagano_shear,
        test_transverse_shear.test_pagano_sandwich,
        "along x",
    ),
    (swapped_faces, "faces of the stack swapped", nasa_b11, EXAMPLE_9, "B11"),
    (
        transposed_strain_rotation,
        "rotation of strains transposed",
        turned_q16,
        test_tsai_hahn.test_turned_stiffness,
        "Q16 at 60°",
    ),
    (transposed_strain_rotation, "rotation of strains transposed", helical_box, BOXES, "walls [15]4"),
    (transposed_frame_of_elements, "frame of the elements transposed", patch_strain, CONSTANT_STRAIN, "quads"),
    (
        untied_drilling,
        "drilling not tied to the sides' rotation",
        rigid_motion_forces,
        FREE_MOTIONS,
        "forces of a rigid motion",
    ),
    (no_drilling_stiffness, "no drilling stiffness", seventh_eigenvalue, FREE_MOTIONS, "the seventh motion"),
]


@pytest.mark.parametrize(
    ("spoil", "mutation", "check", "test", "what"),
    MUTATIONS,
    ids=[f"{m[0].__name__}-{m[2].__name__}" for m in MUTATIONS],
)
def test_mistake_is_caught(record, monkeypatch, spoil, mutation, check, test, what):
    value, reference, tolerance = check()
    assert abs(value - reference) <= tolerance
    spoil(monkeypatch)
    value, reference, tolerance = check()
    name = f"`{test.__module__.split('.')[-1]}.{test.__name__}`, {what}"
    record.caught(mutation, name, abs(value - reference) / tolerance)
