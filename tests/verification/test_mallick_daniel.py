"""Laminates of two textbooks, and a woven sandwich section.

P. K. Mallick, Fiber-Reinforced Composites, 2008, ex. 3.6-3.13; I. M. Daniel, O. Ishai, Engineering Mechanics of
Composite Materials, 2nd ed. (AS4/3501-6). Ply data from memory, laminate values computed independently from them by
classical lamination theory. Tolerance: half of the last digit.
"""

from dataclasses import replace

import numpy as np
import pytest
from laminates import core, stack, ud

from tubfem.laminate.stack import abd, make_stack, membrane_constants, stiffness_by_ply
from tubfem.materials.ply import Ply

MALLICK = ud(133.4e9, 8.78e9, 3.254e9, 0.26, thickness=6e-3)
DANIEL = ud(147e9, 10.3e9, 7.0e9, 0.27, thickness=0.125e-3)


def test_mallick_45_degree_ply(record):
    """A ply at 45°."""
    Q = stiffness_by_ply(stack([45], MALLICK))[0] / 1e9
    record.digits([Q[0, 0], Q[0, 1], Q[0, 2], Q[2, 2]], [40.104, 33.596, 31.294, 34.557], atol=6e-4)


def test_mallick_antisymmetric(record):
    """A, B and D of [45/-45]."""
    A, B, D = abd(stack([45, -45], MALLICK))
    record.digits(np.array([A[0, 0], A[0, 1], A[2, 2]]) / 1e6, [481.25, 403.16, 414.69], atol=6e-3)
    record.digits(np.array([B[0, 2], B[1, 2]]) / 1e3, [-1126.6, -1126.6], atol=0.06)
    record.digits([D[0, 0], D[0, 1], D[2, 2]], [5775.0, 4837.9, 4976.3], atol=0.06)


def test_mallick_symmetric(record):
    """[45/-45]s has no B."""
    _, B, D = abd(stack([45, -45, -45, 45], MALLICK))
    record.digits(B, 0, atol=1e-6)
    record.digits([D[0, 0], D[0, 1], D[0, 2], D[2, 2]], [46_200, 38_703, 27_038, 39_810], atol=0.6)


@pytest.mark.parametrize(
    ("angles", "Ex", "Ey", "Gxy", "nuxy"),
    [
        ([45, -45], 23.91, 23.91, 38.13, 0.7079),
        ([0, 45, -45, 90], 58.18, 58.18, 22.565, 0.2892),
        ([30, -30], 58.06, 13.77, 30.35, 1.2241),  # a Poisson's ratio above 1 is lawful
    ],
)
def test_daniel_symmetric(record, angles, Ex, Ey, Gxy, nuxy):
    """Engineering constants of symmetric laminates."""
    m = membrane_constants(stack([*angles, *reversed(angles)], DANIEL))
    record.digits([m.Ex / 1e9, m.Ey / 1e9, m.Gxy / 1e9], [Ex, Ey, Gxy], atol=6e-3)
    record.digits(m.nuxy, nuxy, atol=6e-5)


def test_woven_sandwich_section(record):
    """[0/45/core/45/0], faces of 60/60/4 GPa, 0.25 mm plies on 10 mm of core of about 1 MPa in its plane.

    A66 as printed asks for a core G12 of 1 MPa and A11 for nu 0.3; with those every figure agrees to its last digit.
    """
    face = Ply("woven", "woven", 60e9, 60e9, 4e9, 0.05, 4e9, 4e9, 0.25e-3, 1.0)
    middle = replace(core(40e6, 40e6, E=1e6, thickness=10e-3), G12=1e6)
    angles = np.radians([0.0, 45.0, 0.0, 45.0, 0.0])
    some = make_stack(list(zip(angles, [face, face, middle, face, face], strict=True)))
    A, B, D = abd(some)
    membrane = np.array([A[0, 0], A[1, 1], A[0, 1], A[2, 2]]) / 1e6
    record.digits(membrane, [47.8757, 47.8757, 15.2965, 16.2957], atol=6e-5)
    record.digits([D[0, 0], D[1, 1], D[0, 1], D[2, 2]], [1336.48, 1336.48, 405.74, 433.17], atol=6e-3)
    record.digits([D[0, 2], D[1, 2]], 0, atol=1e-6)
    record.digits(B, 0, atol=1e-6)
