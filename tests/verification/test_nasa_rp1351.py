"""A. T. Nettles, Basic Mechanics of Laminated Composite Plates, NASA RP-1351, October 1994 (pdf pages 46, 82, 84).

Units of the source: lb, in. The source rounds nu21 to 0.02 and computes with it, so the ply is rebuilt from its Q.
Where the print is damaged or was not read, the number was computed independently from the same data.
"""

import numpy as np
from laminates import abd6, stack, ud

from tubfem.laminate.ply import plane_stiffness
from tubfem.laminate.stack import abd, membrane_constants, stiffness_by_ply

E1, E2, G12, NU12, NU21 = 20_010_000.0, 1_301_000.0, 1_001_000.0, 0.3, 0.02
Q11, Q12, Q22 = E1 / (1 - NU12 * NU21), NU12 * E2 / (1 - NU12 * NU21), E2 / (1 - NU12 * NU21)
PRINTED = ud(Q11 - Q12**2 / Q22, Q22 - Q12**2 / Q11, G12, Q12 / Q22, thickness=0.005)
EXACT = ud(E1, E2, G12, NU12, thickness=0.005)


def test_reduced_stiffness(record):
    """Reduced stiffness of a ply, p. 82, printed to the unit: half a unit in the last digit."""
    Q = plane_stiffness([PRINTED])[0]
    record.digits([Q[0, 0], Q[0, 1], Q[1, 1], Q[2, 2]], [20_130_785, 392_656, 1_308_853, 1_001_000], atol=0.5)


def test_reduced_stiffness_at_45(record):
    """The ply turned by 45°, p. 82, 12 printed one unit off its own sum: one and a half units."""
    Q = stiffness_by_ply(stack([45], PRINTED))[0]
    record.digits([Q[0, 0], Q[0, 1], Q[0, 2], Q[2, 2]], [6_557_237, 4_555_238, 4_705_483, 5_163_582], atol=1.5)


def test_example_9_membrane_and_coupling(record):
    """Order of plies and signs of B, pp. 82-84, bottom to top 90 / 0 / 45.

    A printed to the unit, B to 0.1 or the unit (its B22 is 0.06 off).
    """
    A, B, _ = abd(stack([90, 0, 45], PRINTED))
    record.digits([A[0, 0], A[1, 1], A[0, 2], A[1, 2], A[2, 2]], [139_984, 139_984, 23_527, 23_527, 35_828], atol=0.6)
    record.digits([B[0, 0], B[1, 1]], [131.2, -339.4], atol=0.07)
    record.digits([B[0, 1], B[2, 2], B[0, 2], B[1, 2]], [104, 104, 117.6, 117.6], atol=0.07)


def test_example_9_full_precision(record):
    """Example 9 in full, independently computed to six figures."""
    A, B, D = abd(stack([90, 0, 45], PRINTED))
    record.digits([A[0, 0], A[0, 1], A[0, 2], A[2, 2]], [139_984.4, 26_702.7, 23_527.4, 35_827.9], atol=0.06)
    record.digits([B[0, 0], B[1, 1], B[0, 1], B[0, 2]], [131.21, -339.34, 104.06, 117.64], atol=0.006)
    flexural = [D[0, 0], D[0, 1], D[1, 1], D[0, 2], D[1, 2], D[2, 2]]
    record.digits(flexural, [1.27490, 0.67412, 3.62764, 0.63720, 0.63720, 0.84521], atol=6e-6)


def test_example_2_two_plies(record):
    """Two plies, [0/+45]T, bottom to top 45 / 0; B printed to the unit and computed independently to two decimals."""
    some = stack([45, 0], PRINTED)
    A, B, D = abd(some)
    record.digits([B[0, 0], B[0, 1], B[1, 1], B[0, 2], B[1, 2], B[2, 2]], [170, -52, -66, -59, -59, -52], atol=0.5)
    record.digits([B[0, 0], B[0, 1], B[1, 1], B[0, 2]], [169.67, -52.03, -65.60, -58.82], atol=0.006)
    record.digits(
        [A[0, 0], A[0, 1], A[1, 1], A[0, 2], A[2, 2]], [133_440.1, 24_739.5, 39_330.5, 23_527.4, 30_822.9], atol=0.06
    )
    record.digits(
        [D[0, 0], D[0, 1], D[1, 1], D[0, 2], D[2, 2]], [1.11200, 0.20616, 0.32775, 0.19606, 0.25686], atol=6e-6
    )
    constants = membrane_constants(some)
    record.digits(constants.Ex, 5.8678e6, atol=60)
    record.digits(constants.Ey, 1.8384e6, atol=60)
    record.digits(constants.Gxy, 1.2881e6, atol=60)
    record.digits(constants.nuxy, 0.18177, atol=6e-6)


def test_quasi_isotropic(record):
    """A quasi-isotropic laminate, [0/45/-45/90]s with the exact nu21, independently computed (six figures)."""
    some = stack([0, 45, -45, 90, 90, -45, 45, 0], EXACT)
    constants = membrane_constants(some)
    record.digits([constants.Ex, constants.Ey, constants.Gxy], [7.92897e6, 7.92897e6, 3.08191e6], rtol=2e-6)
    record.digits(constants.nuxy, 0.286374, atol=6e-7)
    D = abd6(some)[3:, 3:]
    flexural = [D[0, 0], D[0, 1], D[1, 1], D[0, 2], D[1, 2], D[2, 2]]
    # the reference gives four decimals
    record.digits(flexural, np.array([76.3753, 11.1111, 19.9179, 4.7048, 4.7048, 14.3559]), atol=6e-5)
