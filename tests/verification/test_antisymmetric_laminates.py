"""Antisymmetric two- and four-ply laminates of T300/5208 (ply data of Tsai and Hahn 1980), 0.125 mm plies.

Independently computed by classical lamination theory; these fix the signs of B. Tolerance: half of the last digit.
"""

import numpy as np
import pytest
from laminates import T300, stack

from tubfem.laminate.stack import abd, membrane_constants


@pytest.mark.parametrize(
    ("angles", "membrane", "coupling", "bending", "constants"),
    [
        (
            [0, 90],
            (24.0197, 0.7242, 24.0197, 1.7925),
            {(0, 0): -1339.57, (1, 1): 1339.57, (0, 2): 0, (1, 2): 0},
            (0.125102, 0.003772, 0.125102, 0.009336),
            (38.616, 7.170),
        ),
        (
            [45, -45],
            (14.1644, 10.5794, 14.1644, 11.6477),
            {(0, 2): -669.785, (1, 2): -669.785, (0, 0): 0, (1, 1): 0},
            (0.073773, 0.055101, 0.073773, 0.060665),
            (21.086, 18.743),
        ),
        (
            [30, -30],
            (27.3448, 8.1156, 5.9117, 9.1839),
            {(0, 2): -846.765, (1, 2): -313.336, (0, 0): 0, (2, 2): 0},
            (0.142421, 0.042269, 0.030790, 0.047833),
            (42.580, 15.754),
        ),
        (
            [45, -45, 45, -45],
            (28.3289, 21.1589, 28.3289, 23.2954),
            {(0, 2): -1339.57, (1, 2): -1339.57, (0, 1): 0},
            (0.590185, 0.440810, 0.590185, 0.485321),
            (24.506, 39.629),
        ),
    ],
)
def test_stiffness(record, angles, membrane, coupling, bending, constants):
    """A, B, D and free constants of antisymmetric laminates: the signs of B."""
    some = stack(angles, T300)
    A, B, D = abd(some)
    record.digits(np.array([A[0, 0], A[0, 1], A[1, 1], A[2, 2]]) / 1e6, membrane, atol=6e-5)
    for place, value in coupling.items():
        record.digits(B[place], value, atol=6e-3)
    record.digits([D[0, 0], D[0, 1], D[1, 1], D[2, 2]], bending, atol=6e-7)
    free = membrane_constants(some)
    record.digits([free.Ex / 1e9, free.Gxy / 1e9], constants, atol=6e-4)


def test_condensed_stiffness(record):
    """[45/-45] with the coupled part free."""
    A, B, D = abd(stack([45, -45], T300))
    membrane = A - B @ np.linalg.solve(D, B)
    bending = D - B @ np.linalg.solve(A, B)
    record.digits(membrane[2, 2] / 1e6, 4.6857, atol=6e-5)
    record.digits([bending[0, 0], bending[2, 2]], [0.035258, 0.024405], atol=6e-7)
