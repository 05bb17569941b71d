"""Plies judged by each criterion: by hand where closed, against the laminate room's own ratios elsewhere."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.errors import CaseError
from tubfem.findings.allowables import allowables
from tubfem.findings.criteria import CRITERIA, governs, greatest, use_of_plies
from tubfem.laminate.failure import tsai_wu_ratio
from tubfem.laminate.recovery import ply_strain, ply_stress
from tubfem.laminate.stack import make_stack
from tubfem.materials.knockdowns import basis_factor
from tubfem.materials.ply import CorePly, Ply, isotropic
from tubfem.report.measures import OF_UNIT


def ply(kind="unidirectional", **own):
    limits = {"e1t": 0.02, "e1c": 0.01, "e2t": 0.005, "e2c": 0.015, "g12": 0.018} | own
    return Ply("uni", kind, 30e9, 6e9, 3e9, 0.3, 3e9, 2e9, 1e-3, 1800.0, **limits)


def foam():
    return CorePly("foam", 60e6, 60e6, 23e6, 0.3, 25e6, 25e6, 10e-3, 80.0, Ec=80e6, shear_strength=1e6)


def rules(criterion, **more):
    ones = {"first_damage_factor": 1, "fibre_factor": 1, "knockdowns": ()}
    return allowables(Margins(criterion=criterion, **(ones | more)))


def strain_of(stack, stress):
    """Generalised strain (8,) under which a single ply at 0 has that plane stress."""
    matrix = ply_stress(stack, ply_strain(stack, np.eye(8)))[:3, 0, 0]
    return np.concatenate([np.linalg.solve(matrix.T, stress), np.zeros(5)])


@pytest.mark.parametrize("criterion", CRITERIA[1:])
def test_each_stress_alone_meets_its_own_strength(criterion):
    # along, across, in shear: every criterion comes back to the strengths X = E e it was made from (closed form)
    stack = make_stack([(0.0, ply())])
    use = use_of_plies(stack, rules(criterion), "first damage")
    for stress in ([600e6, 0, 0], [-300e6, 0, 0], [0, 30e6, 0], [0, -90e6, 0], [0, 0, 54e6], [0, 0, -54e6]):
        assert_allclose(greatest(use, strain_of(stack, stress), both_hands=False), 1.0, rtol=1e-12)


def test_maximum_stress_is_not_maximum_strain():
    # pulled along, a ply held across strains as if free along: stress and strain differ by 1 / (1 - nu12 nu21)
    stack = make_stack([(0.0, ply(e2t=np.inf, e2c=np.inf))])
    strain = np.array([0.01, 0, 0, 0, 0, 0, 0, 0])
    by_strain, by_stress = (
        greatest(use_of_plies(stack, rules(name), "first damage"), strain, both_hands=False) for name in CRITERIA[:2]
    )
    assert_allclose(by_strain, 0.5, rtol=1e-12)
    assert_allclose(by_stress, 0.5 / (1 - 0.3 * 0.06), rtol=1e-12)


def test_maximum_stress_is_told_in_pascals():
    stack = make_stack([(0.0, ply())])
    found = governs(
        use_of_plies(stack, rules("maximum stress", first_damage_factor=1.5), "first damage"),
        strain_of(stack, [0, 15e6, 0]),
        both_hands=False,
    )
    assert (found.mode, found.unit, found.sign) == (2, "Pa", 1)
    assert_allclose(found.allowable, 20e6, rtol=1e-12)


def test_tsai_wu_of_a_metal_is_von_mises():
    # sigma1^2 - sigma1 sigma2 + sigma2^2 + 3 tau^2 = Y^2 (closed form); 100, -40, 30 MPa: 134.5
    stack = make_stack([(0.3, isotropic(70e9, 0.3, 2700.0, 2e-3, strength=200e6))])
    matrix = ply_stress(stack, ply_strain(stack, np.eye(8)))[:3, 0, 0]
    strain = np.concatenate([np.linalg.solve(matrix.T, [100e6, -40e6, 30e6]), np.zeros(5)])
    mises = np.sqrt(100**2 + 100 * 40 + 40**2 + 3 * 30**2)
    use = use_of_plies(stack, rules("Tsai-Wu"), "first damage")
    assert_allclose(greatest(use, strain, both_hands=True), mises / 200, rtol=1e-12)


def test_hashin_joins_shear_to_tension_across():
    # (20/30)^2 + (27/54)^2 = 0.6944: ratio 1.2, quadratic in the load (Hashin 1980, matrix tension)
    stack = make_stack([(0.0, ply())])
    use = use_of_plies(stack, rules("Hashin"), "first damage")
    strain = strain_of(stack, [0, 20e6, 27e6])
    assert_allclose(greatest(use, strain, both_hands=False), np.sqrt(0.4444444444 + 0.25), rtol=1e-9)
    assert governs(use, strain, both_hands=False).mode == 2
    # the other hand presses across: weaker
    assert governs(use, -strain, both_hands=True).sign == -1
    fibre = use_of_plies(stack, rules("Hashin"), "fibre failure")
    assert greatest(fibre, strain, both_hands=False) < 0.51  # shear alone stands in the fibre tension term


def test_hashin_leaves_woven_layers_to_maximum_stress():
    stack = make_stack([(0.0, ply("woven"))])
    strain = strain_of(stack, [0, 20e6, 27e6])
    uses = [use_of_plies(stack, rules(name), "first damage") for name in ("Hashin", "maximum stress")]
    assert_allclose(*(greatest(use, strain, both_hands=True) for use in uses), rtol=1e-12)


@pytest.mark.parametrize("criterion", CRITERIA)
@pytest.mark.parametrize("kind", ["first damage", "fibre failure"])
def test_both_hands_and_the_governing_row_agree_with_the_greatest_use(criterion, kind):
    stack = make_stack([(0.4, ply()), (0.0, foam()), (-0.9, ply("woven")), (0.2, ply(e2c=np.inf))])
    use = use_of_plies(stack, rules(criterion, first_damage_factor=1.5, fibre_factor=2.5), kind)
    strain = np.random.default_rng(3).normal(scale=1e-3, size=(40, 8)) * [1, 1, 1, 50, 50, 50, 1, 1]
    both = greatest(use, strain, both_hands=True)
    one, other = greatest(use, strain, both_hands=False), greatest(use, -strain, both_hands=False)
    assert_allclose(both, np.maximum(one, other), rtol=1e-12)
    assert np.isfinite(both).all()
    for row in range(10):
        found = governs(use, strain[row], both_hands=True)
        assert found.sign == (1 if one[row] >= other[row] else -1)
        assert not stack.plies[found.ply].core
        assert found.unit in OF_UNIT  # a report can show it
        # a margin is the factor on the whole load: at that load the use is 1 (homogeneous of first degree)
        assert_allclose(greatest(use, strain[row] / both[row], both_hands=True), 1.0, rtol=1e-9)


def test_factors_divide_the_ratio_and_knock_downs_the_strengths():
    stack = make_stack([(0.0, ply())])
    strain = strain_of(stack, [100e6, 10e6, 20e6])
    stress, X = np.array([100e6, 10e6, 20e6]), np.array([600e6, 300e6, 30e6, 90e6, 54e6])
    use = use_of_plies(stack, allowables(Margins(criterion="Tsai-Wu")), "first damage")
    assert_allclose(greatest(use, strain, both_hands=False), 1.5 / tsai_wu_ratio(stress, 0.8 * X), rtol=1e-12)


def test_b_basis_is_the_tabulated_tolerance_factor():
    # MIL-HDBK-17 table of one-sided B-basis tolerance factors of a normal population, from memory
    for count, k in ((3, 6.155), (5, 3.407), (10, 2.355), (20, 1.926)):
        assert_allclose(basis_factor(count), k, atol=6e-4)


def test_coupons_replace_untested_where_they_tested():
    found = allowables(Margins(coupons={"count": 5, "scatter": "8 %", "modes": "fibre tension"}, voids="2 %"))
    assert_allclose(found.knock_down["fibre tension"], 1 - 3.4066 * 0.08, rtol=1e-4)
    assert_allclose(found.knock_down["in-plane shear"], 0.8 * 0.86, rtol=1e-12)
    assert found.knock_down["core shear"] == 0.8  # no coupon of a ply tests the core
    names = [factor.name for factor in found.factors]
    assert {"untested", "B-basis from 5 coupons", "voids, 2 %"} <= set(names)
    assert all(factor.why and factor.source for factor in found.factors)
    with pytest.raises(CaseError, match=r"3 coupons with 20 % scatter.*6\.16"):
        allowables(Margins(coupons={"count": 3, "scatter": "20 %"}))
    with pytest.raises(CaseError, match="6 % is more"):
        allowables(Margins(voids="6 %"))


def test_a_mode_of_the_core_may_ask_its_own_factor():
    found = allowables(Margins(required={"wrinkling": 3}))
    assert (found.required["wrinkling"], found.required["core and stability"]) == (3.0, 2.0)
