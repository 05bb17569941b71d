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
    assert_allclose(stiffness_band(1 / compliance.sum(), shares, 0.0).low, 1 / (compliance / low).sum(), rtol=1e-12)


def test_springs_in_parallel_meet_the_high_end():
    stiffness = np.array([4.0, 1.0, 2.0, 2.0, 1.0])
    shares = dict(zip(PARTS, stiffness / stiffness.sum(), strict=True))
    high = np.array([np.prod([r.high for r in REASONS if r.part == part]) for part in PARTS])
    assert_allclose(stiffness_band(stiffness.sum(), shares, 0.0).high, (stiffness * high).sum(), rtol=1e-12)


def test_nothing_uncertain_gives_no_band():
    band = stiffness_band(5000.0, dict.fromkeys(PARTS, 0.0), 0.0)
    assert (band.low, band.high, band.why) == (5000.0, 5000.0, ())
    assert not any("mesh" in text for text in band.left_out)


def test_what_the_mesh_lacks_makes_it_softer_only():
    band = stiffness_band(5000.0, dict.fromkeys(PARTS, 0.0), 0.25)
    assert_allclose((band.low, band.high), (4000.0, 5000.0), rtol=1e-12)
    (reason,) = band.why
    assert reason.text.startswith("mesh")
    assert_allclose((reason.low_percent, reason.high_percent), (-20.0, 0.0), rtol=1e-12)


def test_reasons_alone_are_smaller_than_all_together():
    band = stiffness_band(100.0, dict.fromkeys(PARTS, 0.2), 0.0)
    assert all(reason.low_percent <= 0 <= reason.high_percent for reason in band.why)
    assert band.low <= 100 + min(reason.low_percent for reason in band.why)
    assert band.high >= 100 + max(reason.high_percent for reason in band.why)


def test_band_encloses_every_change_within_its_reasons():
    # a random structure: five parts that act side by side at every point, points joined at random
    rng = np.random.default_rng(11)
    B = rng.normal(size=(12, 3, 10))  # strains of 12 points from 10 freedoms
    parts = rng.normal(size=(5, 12, 3, 3))
    C = parts @ np.swapaxes(parts, -1, -2)
    load = rng.normal(size=10)

    def stiffness(factors):
        K = np.einsum("qki,p,pqkl,qlj->ij", B, factors, C, B, optimize=True)
        u = np.linalg.solve(K, load)
        strain = B @ u
        energy = np.einsum("qk,p,pqkl,ql->p", strain, factors, C, strain, optimize=True)
        return 1 / (load @ u), energy / energy.sum()

    base, shares = stiffness(np.ones(5))
    band = stiffness_band(base, dict(zip(PARTS, shares, strict=True)), 0.0)
    limits = np.array(
        [[np.prod([getattr(r, end) for r in REASONS if r.part == p]) for p in PARTS] for end in ("low", "high")]
    )
    for _ in range(50):
        factors = rng.uniform(*limits)
        assert band.low <= stiffness(factors)[0] <= band.high
    for end in limits:
        assert band.low <= stiffness(end)[0] <= band.high
