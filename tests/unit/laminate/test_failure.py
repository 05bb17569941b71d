from dataclasses import replace

import numpy as np
import pytest
from laminates import AS4_STRENGTHS, T300, core, stack
from numpy.testing import assert_allclose

from tubfem.laminate.failure import (
    MODES,
    hashin_ratio,
    max_stress_ratio,
    mode_ratios,
    ply_limits,
    ply_margins,
    tsai_hill_ratio,
    tsai_wu_ratio,
)
from tubfem.laminate.recovery import ply_strain
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import Ply, isotropic

LIMITS = np.array([0.02, 0.01, 0.005, 0.015, 0.018])


@pytest.mark.parametrize(
    ("strain", "mode", "margin"),
    [
        ((0.01, 0, 0), "fibre tension", 1.0),
        ((-0.01, 0, 0), "fibre compression", 0.0),
        ((0, 0.01, 0), "transverse tension", -0.5),
        ((0, -0.01, 0), "transverse compression", 0.5),
        ((0, 0, -0.009), "in-plane shear", 1.0),
    ],
)
def test_each_mode_by_its_sign(strain, mode, margin):
    ratio = mode_ratios(np.array(strain), LIMITS)
    worst = ratio.argmin()
    assert MODES[worst] == mode
    assert ratio[worst] - 1 == pytest.approx(margin)
    assert np.isinf(np.delete(ratio, worst)).all()


def test_nothing_loaded_is_infinitely_safe():
    zero = np.zeros((2, 3))
    assert np.isinf(max_stress_ratio(zero, AS4_STRENGTHS)[0]).all()
    assert np.isinf(tsai_hill_ratio(zero, AS4_STRENGTHS)).all()
    assert np.isinf(tsai_wu_ratio(zero, AS4_STRENGTHS)).all()
    assert np.isinf(hashin_ratio(zero, AS4_STRENGTHS)).all()


def test_ratio_puts_tsai_wu_on_its_surface():
    """Closed form: scaled by its ratio, any stress satisfies the criterion."""
    stress = np.random.default_rng(1).normal(size=(50, 3)) * [800, 60, 50]
    scaled = stress * tsai_wu_ratio(stress, AS4_STRENGTHS)[:, None]
    assert_allclose(tsai_wu_ratio(scaled, AS4_STRENGTHS), 1, rtol=1e-10)


def test_margins_name_ply_face_and_mode():
    """[0/90] in bending about y: the outer 90 ply cracks across before any fibre breaks, on its far face."""
    some = stack([0, 90], T300)
    strain = np.array([[0, 0, 0, 5.0, 0, 0, 0, 0], [0, 0, 0, -5.0, 0, 0, 0, 0]])
    damage, fibre = ply_margins(some, ply_strain(some, strain), ply_limits(some))
    assert damage.margin.shape == (2,)
    assert (damage.ply[0], damage.face[0], MODES[damage.mode[0]]) == (1, 1, "transverse tension")
    e = 5.0 * 0.125e-3
    assert damage.margin[0] == pytest.approx(T300.e2t / e - 1)
    assert (fibre.ply[1], fibre.face[1], MODES[fibre.mode[1]]) == (0, 0, "fibre tension")
    assert fibre.margin[1] == pytest.approx(T300.e1t / e - 1)


def test_across_a_woven_ply_fibres_break():
    woven = Ply("w", "woven", 20e9, 20e9, 3e9, 0.1, 2e9, 2e9, 1e-3, 1.0, 0.02, 0.01, 0.02, 0.01, 0.015)
    some = make_stack([(0.0, woven)])
    strain = np.array([0, -5e-3, 0, 0, 0, 0, 0, 0])
    damage, fibre = ply_margins(some, ply_strain(some, strain), ply_limits(some))
    assert fibre.margin == damage.margin == pytest.approx(1.0)
    assert woven.mode_names[fibre.mode] == "fibre compression"


def test_cores_do_not_govern_and_factors_go_by_name():
    metal = isotropic(70e9, 0.33, 2700.0, 1e-3, strength=240e6)
    some = make_stack([(0.0, T300), (0.0, core(1e7, 1e7, thickness=1e-2)), (0.0, metal)])
    factors = dict.fromkeys(MODES, 1.0) | {"fibre tension": 0.5, "transverse tension": 0.25}
    limits = ply_limits(some, factors)
    assert np.isinf(limits[1]).all()
    assert_allclose(limits[0] / T300.limits, [0.5, 1, 0.25, 1, 1])
    assert_allclose(limits[2], metal.limits)  # a metal's yield is no untested laminate
    mat = replace(T300, kind="mat")
    assert_allclose(ply_limits(make_stack([(0.0, mat)]), factors)[0] / mat.limits, [0.5, 1, 0.5, 1, 1])


def test_unknown_form_is_refused():
    with pytest.raises(ValueError, match="tension or signed"):
        tsai_hill_ratio(np.ones(3), AS4_STRENGTHS, form="other")
