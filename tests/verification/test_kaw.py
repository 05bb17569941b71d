"""A. K. Kaw, Mechanics of Composite Materials, 2nd ed. 2006: examples of chapters 2, 3, 4 and 5.

Values from memory, each reproduced by an independent computation; where that gives more digits, those are used.
T300/5208; the book's z points down and counts ply 1 from the top, so its top is our tool face.
"""

import numpy as np
import pytest
from laminates import abd6, stack

from tubfem.laminate.failure import max_strain_ratio, max_stress_ratio, tsai_hill_ratio, tsai_wu_ratio
from tubfem.laminate.ply import stress_rotation
from tubfem.laminate.recovery import ply_strain, ply_stress
from tubfem.laminate.stack import abd, make_stack
from tubfem.materials import micromechanics as micro
from tubfem.materials.ply import Ply

STRENGTHS = np.array([1500.0, 1500.0, 40.0, 246.0, 68.0])  # MPa
PLY = Ply("T300", "unidirectional", 181e9, 10.3e9, 7.17e9, 0.28, 7.17e9, 7.17e9, 5e-3, 1.0)


def upper(matrix):
    return matrix[np.triu_indices(3)]


def test_example_4_2_stiffness(record):
    """A, B and D of [0/30/-45], 5 mm plies; four printed figures."""
    A, B, D = abd(stack([0, 30, -45], PLY))
    record.digits(upper(A), [1.739e9, 3.884e8, 5.663e7, 4.533e8, -1.141e8, 4.525e8], rtol=5e-4)
    record.digits(upper(B), [-3.129e6, 9.855e5, -1.072e6, 1.158e6, -1.072e6, 9.855e5], rtol=5e-4)
    record.digits(upper(D), [3.343e4, 6.461e3, -5.240e3, 9.320e3, -5.596e3, 7.663e3], rtol=5e-4)


def test_example_4_3_strain_and_stress(record):
    """Strain and stress in every ply under Nx = Ny = 1000 N/m.

    Strains to seven figures, stresses in x, y to four (independently computed).
    """
    some = stack([0, 30, -45], PLY)
    strain = np.linalg.solve(abd6(some), [1000, 1000, 0, 0, 0, 0])
    reference = [3.122948e-7, 3.491705e-6, -7.598445e-7, 2.971437e-5, -3.285024e-4, 4.101467e-4]
    record.digits(strain, reference, rtol=3e-7)
    local = ply_stress(some, ply_strain(some, np.concatenate([strain, [0, 0]])))
    in_xy = np.einsum("kij,kfj->kfi", stress_rotation(-some.angle), local)
    record.digits(in_xy[0, 0], [3.351e4, 6.188e4, -2.750e4], rtol=2e-4)
    record.digits(in_xy[1, 0], [6.930e4, 7.391e4, 3.381e4], rtol=2e-4)
    record.digits(in_xy[1, 1], [1.434e5, 8.102e4, 8.426e4], rtol=4e-4)
    record.digits(in_xy[2, 1], [-2.547e4, -1.840e4, 4.091e4], rtol=3e-4)


def test_chapter_2_criteria(record):
    """Failure criteria: 60 degree ply under sx = 2S, sy = -3S, txy = 4S; S in MPa to the printed third decimal."""
    stress = stress_rotation(np.radians(60.0)) @ [2.0, -3.0, 4.0]
    record.digits(stress, [1.7141, -2.7141, -4.1651], atol=6e-5)
    moduli = np.array([181e3, 10.3e3, 7.17e3])
    strain = np.array([stress[0] - 0.28 * stress[1], stress[1] - 0.28 * 10.3 / 181 * stress[0], stress[2]]) / moduli
    limits = STRENGTHS / moduli[[0, 0, 1, 1, 2]]
    record.digits(max_stress_ratio(stress, STRENGTHS)[0], 16.326, atol=6e-4)
    record.digits(max_strain_ratio(strain, limits)[0], 16.326, atol=6e-4)
    record.digits(tsai_hill_ratio(stress, STRENGTHS, form="tension"), 10.938, atol=6e-4)
    record.digits(tsai_hill_ratio(stress, STRENGTHS), 16.061, atol=6e-4)
    record.digits(tsai_wu_ratio(stress, STRENGTHS), 22.389, atol=6e-4)
    hoffman = -np.sqrt(40 * 246) / (2 * 1500)
    record.digits(tsai_wu_ratio(stress, STRENGTHS, interaction=hoffman), 22.489, atol=6e-4)


@pytest.mark.parametrize(
    ("angle", "stress", "strain", "hill", "wu_tension", "wu_compression"),
    [
        (0, 1500, 1500, 1500, 1500, 1500),
        (5, 783.19, 783.19, 689.95, 664.84, 743.44),
        (15, 272.00, 272.00, 244.85, 222.22, 322.83),
        (30, 157.04, 157.04, 111.96, 101.22, 215.27),
        (45, 80.00, 81.30, 68.95, 64.54, 198.90),
        (60, 53.33, 53.62, 50.50, 48.96, 211.70),
        (90, 40, 40, 40, 40, 246),
    ],
)
def test_off_axis_strength(record, angle, stress, strain, hill, wu_tension, wu_compression):
    """Strength off the fibre axis by five criteria; closed forms, computed independently to 0.01 MPa."""
    load = stress_rotation(np.radians(float(angle))) @ [1.0, 0.0, 0.0]
    S = np.array([[1 / 181e3, -0.28 / 181e3, 0], [-0.28 / 181e3, 1 / 10.3e3, 0], [0, 0, 1 / 7.17e3]])
    limits = STRENGTHS / np.array([181e3, 181e3, 10.3e3, 10.3e3, 7.17e3])
    record.digits(max_stress_ratio(load, STRENGTHS)[0], stress, atol=0.006)
    record.digits(max_strain_ratio(S @ load, limits)[0], strain, atol=0.006)
    record.digits(tsai_hill_ratio(load, STRENGTHS), hill, atol=0.006)
    record.digits(tsai_wu_ratio(load, STRENGTHS), wu_tension, atol=0.006)
    record.digits(tsai_wu_ratio(-load, STRENGTHS), wu_compression, atol=0.006)


def test_example_5_3_first_and_last_ply(record):
    """First and last ply failure of [0/half 90]s = 3 x 5 mm under Nx.

    Stresses per unit Nx and failure loads to the digits of the reference.
    """
    some = stack([0, 90, 0], PLY)
    strain = np.linalg.solve(abd6(some), [1.0, 0, 0, 0, 0, 0])
    record.digits(strain[0], 5.35338e-10, rtol=2e-6)
    stress = ply_stress(some, ply_strain(some, np.concatenate([strain, [0, 0]])))[:, 0]
    record.digits(stress[0, :2], [97.264, 1.31313], rtol=6e-6)
    record.digits(stress[1, :2], [-2.62627, 5.47214], rtol=2e-6)
    wu = tsai_wu_ratio(stress, STRENGTHS * 1e6)
    assert wu.argmin() == 1
    record.digits(wu.min(), 7.27656e6, rtol=2e-6)
    ratio, mode = max_stress_ratio(stress, STRENGTHS * 1e6)
    assert (ratio.min(), mode[1]) == (pytest.approx(7.30976e6, rel=2e-6), 2)

    discounted = Ply("gone", "unidirectional", 1.0, 1.0, 1.0, 0.0, 1.0, 1.0, 5e-3, 1.0)
    left = make_stack([(0.0, PLY), (np.pi / 2, discounted), (0.0, PLY)])
    strain = np.linalg.solve(abd6(left), [1.0, 0, 0, 0, 0, 0])
    stress = ply_stress(left, ply_strain(left, np.concatenate([strain, [0, 0]])))[0, 0]
    last = max_stress_ratio(stress, STRENGTHS * 1e6)[0]
    record.digits(last, 1.500e7, rtol=1e-6)
    record.digits(last * strain[0], 0.8287e-2, atol=6e-7)


def test_chapter_3_micromechanics(record):
    """Micromechanics: glass/epoxy at Vf 0.7; GPa to the printed digits."""
    Ef, Em, Gf, Gm = 85.0, 3.4, 85 / 2.4, 3.4 / 2.6
    record.digits(micro.rule_of_mixtures(Ef, Em, 0.7), 60.52, atol=0.005)
    record.digits(micro.rule_of_mixtures(0.2, 0.3, 0.7), 0.230, atol=5e-4)
    record.digits(micro.inverse_rule(Ef, Em, 0.7), 10.37, atol=0.005)
    record.digits(micro.inverse_rule(Gf, Gm, 0.7), 4.01, atol=0.005)
    record.digits(micro.halpin_tsai(Ef, Em, 0.7, 2.0), 20.20, atol=0.005)
    record.digits(micro.halpin_tsai(Gf, Gm, 0.7, 1.0), 6.168, atol=5e-4)
    record.digits(micro.halpin_tsai(Gf, Gm, 0.7, 1 + 40 * 0.7**10), 8.129, atol=5e-4)
