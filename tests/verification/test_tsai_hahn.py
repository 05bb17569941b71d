"""S. W. Tsai, H. T. Hahn, Introduction to Composite Materials, 1980: T300/5208 and its laminates.

The reduced stiffness and its invariants are the book's (from memory, recomputed); the laminate constants were computed
independently from the same ply data to the digits shown. Tolerance: half of the last digit.
"""

import numpy as np
import pytest
from laminates import T300, stack

from tubfem.laminate.ply import plane_stiffness
from tubfem.laminate.stack import bending_constants, membrane_constants, stiffness_by_ply


def test_reduced_stiffness_and_invariants(record):
    """Reduced stiffness of a ply and its invariants."""
    Q = plane_stiffness([T300])[0] / 1e9
    record.digits([Q[0, 0], Q[1, 1], Q[0, 1], Q[2, 2]], [181.81, 10.346, 2.897, 7.17], atol=0.005)
    U = [
        (3 * Q[0, 0] + 3 * Q[1, 1] + 2 * Q[0, 1] + 4 * Q[2, 2]) / 8,
        (Q[0, 0] - Q[1, 1]) / 2,
        (Q[0, 0] + Q[1, 1] - 2 * Q[0, 1] - 4 * Q[2, 2]) / 8,
        (Q[0, 0] + Q[1, 1] + 6 * Q[0, 1] - 4 * Q[2, 2]) / 8,
        (Q[0, 0] + Q[1, 1] - 2 * Q[0, 1] + 4 * Q[2, 2]) / 8,
    ]
    record.digits(U, [76.368, 85.732, 19.710, 22.607, 26.880], atol=6e-4)


@pytest.mark.parametrize(
    ("angle", "reference"),
    [
        (60, [23.647, 32.463, 20.054, 109.379, 54.193, 36.736]),
        (30, [109.379, 32.463, 54.193, 23.647, 20.054, 36.736]),
        (-45, [56.658, 42.318, -42.866, 56.658, -42.866, 46.591]),
    ],
)
def test_turned_stiffness(record, angle, reference):
    """A ply turned by 60°, 30° and -45°."""
    Q = stiffness_by_ply(stack([angle], T300))[0] / 1e9
    record.digits([Q[0, 0], Q[0, 1], Q[0, 2], Q[1, 1], Q[1, 2], Q[2, 2]], reference, atol=6e-4)


def test_turned_compliance_at_60(record):
    """Compliance of a ply at 60°."""
    S = np.linalg.inv(stiffness_by_ply(stack([60], T300))[0] / 1e9)
    reference = [0.080527, -0.007878, -0.032338, 0.034746, -0.046958, 0.114147]
    record.digits([S[0, 0], S[0, 1], S[0, 2], S[1, 1], S[1, 2], S[2, 2]], reference, atol=6e-7)


@pytest.mark.parametrize(
    ("angles", "membrane", "bending"),
    [
        ([0, 45, -45, 90], (69.676, 69.676, 26.880, 0.29603), (116.552, 26.981, 21.065)),
        ([0, 60, -60], (69.676, 69.676, 26.880, 0.29603), (131.455, 30.071, 12.270)),
        ([45, -45], (25.051, 25.051, 46.591, 0.74690), (22.715, 22.715, 25.705)),
        ([0, 90], (95.991, 95.991, 7.170, 0.03015), (160.114, 31.727, 7.170)),
        ([0, 0, 45, -45], (103.979, 29.216, 26.880, 0.67481), (161.987, 14.545, 11.070)),
        ([45, -45, 45, -45], (25.051, 25.051, 46.591, 0.74690), (24.657, 24.657, 41.369)),
    ],
)
def test_symmetric_laminates(record, angles, membrane, bending):
    """Membrane and bending constants of six symmetric laminates."""
    some = stack([*angles, *reversed(angles)], T300)
    m, b = membrane_constants(some), bending_constants(some)
    record.digits([m.Ex / 1e9, m.Ey / 1e9, m.Gxy / 1e9], membrane[:3], atol=6e-4)
    record.digits(m.nuxy, membrane[3], atol=6e-6)
    record.digits([b.Ex / 1e9, b.Ey / 1e9, b.Gxy / 1e9], bending, atol=6e-4)
