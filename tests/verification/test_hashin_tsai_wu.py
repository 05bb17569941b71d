"""Failure of AS4/3501-6 and of a T300/5208 laminate.

Z. Hashin, J. Appl. Mech. 47 (1980) 329-334, plane form; strengths of AS4/3501-6 from Soden, Hinton, Kaddour, Compos.
Sci. Technol. 58 (1998) 1011-1022 (read second-hand). Indices and ratios are closed forms computed independently to
five decimals; laminate loads by classical lamination theory to 0.01 N/mm.
"""

import numpy as np
import pytest
from laminates import AS4_STRENGTHS, T300, abd6, stack

from tubfem.laminate.failure import hashin_index, hashin_ratio, max_stress_ratio, tsai_wu_ratio
from tubfem.laminate.recovery import ply_strain, ply_stress

FT, FC, MT, MC = range(4)


@pytest.mark.parametrize(
    ("stress", "indices", "indices_79", "wu"),
    [
        ((1000, 0, 50), {FT: 0.66356, MT: 0.40058, FC: 0, MC: 0}, {}, 1.27107),
        ((-1000, 0, 50), {FC: 0.45654, MT: 0.40058, FT: 0, MC: 0}, {}, 1.05309),
        ((0, 30, 40), {MT: 0.64699, FT: 0.25637, FC: 0, MC: 0}, {}, 1.14274),
        ((0, -100, 60), {MC: 0.82683, MT: 0}, {MC: 0.67625}, 1.41494),
        ((500, -150, 70), {FT: 0.85088, MC: 1.34763, MT: 0}, {MC: 1.23470}, 0.95551),
    ],
)
def test_single_ply(record, stress, indices, indices_79, wu):
    """Hashin and Tsai-Wu under five states of stress."""
    load = np.array(stress, float)
    got = hashin_index(load, AS4_STRENGTHS)
    other = hashin_index(load, AS4_STRENGTHS, across=79.0)
    for mode, value in indices.items():
        record.digits(got[mode], value, atol=6e-6)
    for mode, value in indices_79.items():
        record.digits(other[mode], value, atol=6e-6)
    record.digits(tsai_wu_ratio(load, AS4_STRENGTHS), wu, atol=6e-6)


def test_hashin_ratio_is_where_the_index_is_one(record):
    """In transverse compression the index is not quadratic in the load, so 1/sqrt(index) would be wrong."""
    load = np.array([500.0, -150.0, 70.0])
    ratio = hashin_ratio(load, AS4_STRENGTHS, across=79.0)
    for mode in (FT, MC):
        record.digits(hashin_index(ratio[mode] * load, AS4_STRENGTHS, across=79.0)[mode], 1, rtol=1e-12)
    assert np.isinf(ratio[[FC, MT]]).all()
    assert abs(ratio[MC] - 1.23470**-0.5) > 0.004


ANGLES = [0, 45, -45, 90, 90, -45, 45, 0]


@pytest.mark.parametrize(
    ("load", "stress_load", "stress_plies", "wu_load", "wu_plies"),
    [
        ((1, 0, 0, 0, 0, 0), 293.73, {90}, 276.12, {90}),
        ((-1, 0, 0, 0, 0, 0), 509.87, {45, -45}, 565.42, {0}),
        ((0, 0, 1, 0, 0, 0), 254.93, {0, 90}, 203.03, {45, -45}),
        ((1, 1, 0, 0, 0, 0), 298.95, {0, 45, -45, 90}, 302.00, {0, 45, -45, 90}),
        ((0, 0, 0, 1, 0, 0), 157.96, {45}, 113.81, {0}),
    ],
)
def test_first_ply_failure_of_a_quasi_isotropic_laminate(record, load, stress_load, stress_plies, wu_load, wu_plies):
    """[0/45/-45/90]s, 1 mm: N/mm and N mm/mm."""
    some = stack(ANGLES, T300)
    strain = np.linalg.solve(abd6(some), np.array(load) * np.array([1e3, 1e3, 1e3, 1, 1, 1]))
    stress = ply_stress(some, ply_strain(some, np.concatenate([strain, [0, 0]])))
    strengths = np.array(T300.strengths)
    for ratio, least, plies in (
        (max_stress_ratio(stress, strengths)[0], stress_load, stress_plies),
        (tsai_wu_ratio(stress, strengths), wu_load, wu_plies),
    ):
        record.digits(ratio.min(), least, atol=0.006)
        worst = np.nonzero(np.isclose(ratio, ratio.min(), rtol=1e-9).any(axis=1))[0]
        assert {ANGLES[k] for k in worst} <= plies


def test_bending_breaks_the_compressed_face_first(record):
    """Same laminate under Mx: the outer 0 ply fails at 113.81 on the compressed face, 174.8 on the other."""
    some = stack(ANGLES, T300)
    strain = np.linalg.solve(abd6(some), [0, 0, 0, 1.0, 0, 0])
    record.digits(strain[3:] / 1e3, [1.02958e-4, -5.7145e-5, -1.5882e-5], atol=6e-10)
    ratio = tsai_wu_ratio(ply_stress(some, ply_strain(some, np.append(strain, [0, 0]))), np.array(T300.strengths))
    record.digits(ratio[0, 0], 113.81, atol=0.006)
    record.digits(ratio[-1, 1], 174.8, atol=0.06)
