"""The band encloses what a change of its parts really does."""

import numpy as np
from numpy.testing import assert_allclose

from tubfem.findings.band import REASONS, stiffness_band

PARTS = ("moduli along and across the fibres", "in-plane shear moduli", "cores in shear", "joints", "mounts")


def test_springs_in_series_meet_the_low_end():
    # in series energy goes as compliance and stress is fixed, so the complementary bound is the truth
    compliance = np.array([4.0, 1.0, 2.0, 2.0, 1.0])
    shares = dict(zip(PARTS, compliance / compliance.sum(), strict=True))
    low = np.array([np.prod([r.low for r in REASONS if r.part == part]) for part in PARTS])
    assert_allclose(stiffness_band(1 / compliance.sum(), shares).low, 1 / (compliance / low).sum(), rtol=1e-12)


def test_springs_in_parallel_meet_the_high_end():
    stiffness = np.array([4.0, 1.0, 2.0, 2.0, 1.0])
    shares = dict(zip(PARTS, stiffness / stiffness.sum(), strict=True))
    high = np.array([np.prod([r.high for r in REASONS if r.part == part]) for part in PARTS])
    assert_allclose(stiffness_band(stiffness.sum(), shares).high, (stiffness * high).sum(), rtol=1e-12)


def test_nothing_uncertain_gives_no_band():
    band = stiffness_band(5000.0, dict.fromkeys(PARTS, 0.0))
    assert (band.low, band.high, band.why) == (5000.0, 5000.0, ())
    assert any("mesh" in text for text in band.left_out)


def test_reasons_alone_are_smaller_than_all_together():
    band = stiffness_band(100.0, dict.fromkeys(PARTS, 0.2))
    assert all(reason.low_percent <= 0 <= reason.high_percent for reason in band.why)
    assert band.low <= 100 + min(reason.low_percent for reason in band.why)
    assert band.high >= 100 + max(reason.high_percent for reason in band.why)
