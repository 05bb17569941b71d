"""Core shear, wrinkling and crimping of a sandwich by hand."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.findings.allowables import allowables
from tubfem.findings.sandwich import core_detail, core_use, sandwich_use
from tubfem.laminate.shear import shear_stiffness
from tubfem.laminate.stability import core_shear_margins, crimping_margin, wrinkling_margins
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import CorePly, Ply, isotropic


@pytest.fixture
def rules():
    return allowables(Margins())


def sandwich(E=60e9, Ec=130e6, G=40e6, skin=1e-3, core=0.02):
    face = isotropic(E, 0.0, 1800.0, skin)
    foam = CorePly("foam", 1e3, 1e3, 500.0, 0.0, G, G, core, 80.0, Ec, shear_strength=1.0e6)
    return make_stack([(0.0, face), (0.0, foam), (0.0, face)])


def test_wrinkling_by_the_recommended_half(rules):
    # NASA CR-1457 (Sullins, Smith & Spier 1969), from memory: 0.5 (Ef Ec Gc)^(1/3) = 339.1 MPa for these three
    strain = np.zeros(8)
    strain[0] = -1e-3  # both skins at -60 MPa
    use = sandwich_use(core_use(sandwich(), rules), strain, both_hands=False)
    assert_allclose(use["wrinkling"], 2.0 * 60.0 / 339.1, rtol=2e-4)
    assert_allclose(use["wrinkling, class rule"], 60.0 / (0.6 * 339.1), rtol=2e-4)  # 0.3 of a design stress
    detail = core_detail(core_use(sandwich(), rules), strain, "wrinkling", both_hands=False)
    assert (detail.ply, detail.unit, detail.sign) == (1, "Pa", 1)
    assert_allclose([detail.demand, detail.allowable], [60e6, 339.1e6 / 2], rtol=2e-4)


def test_wrinkling_needs_compression_and_finds_its_hand(rules):
    strain = np.zeros(8)
    strain[0] = 1e-3
    assert sandwich_use(core_use(sandwich(), rules), strain, both_hands=False)["wrinkling"] == 0.0
    detail = core_detail(core_use(sandwich(), rules), strain, "wrinkling", both_hands=True)
    assert detail.sign == -1
    bent = np.zeros(8)
    bent[3] = 0.1  # far skin stretched, tool skin compressed
    assert core_detail(core_use(sandwich(), rules), bent, "wrinkling", both_hands=False).skin == "tool skin"
    assert core_detail(core_use(sandwich(), rules), -bent, "wrinkling", both_hands=False).skin == "far skin"


def test_crimping_load(rules):
    # Gc d^2 / c = 24 x 20.5^2 / 20 N/mm = 504.3 N/mm (closed form), faces of 0.5 mm
    stack = sandwich(E=50e9, G=24e6, skin=0.5e-3)
    strain = np.zeros(8)
    strain[0] = -1e-3  # 2 x 0.5 mm x 50 MPa = 50 N/mm
    assert_allclose(
        sandwich_use(core_use(stack, rules), strain, both_hands=True)["crimping"], 2 * 50 / 504.3, rtol=1e-2
    )
    detail = core_detail(core_use(stack, rules), strain, "crimping", both_hands=True)
    assert detail.unit == "N/m"
    assert_allclose(detail.demand, 50e3, rtol=1e-6)


def test_core_shear(rules):
    # thin stiff skins: tau = V / d; allowable 1.0 MPa x 0.8 untested / 2
    stack = sandwich()
    strain = np.zeros(8)
    strain[6] = 5e-3
    V = shear_stiffness(stack)[0, 0] * 5e-3
    detail = core_detail(core_use(stack, rules), strain, "core shear", both_hands=True)
    assert_allclose(detail.demand, V / 0.021, rtol=1e-3)
    assert_allclose(detail.allowable, 0.8e6 / 2, rtol=1e-9)
    use = sandwich_use(core_use(stack, rules), strain, both_hands=True)["core shear"]
    assert_allclose(use, detail.demand / detail.allowable, rtol=1e-9)


def test_every_detail_gives_back_its_use(rules):
    rng = np.random.default_rng(3)
    stack = sandwich()
    for strain in rng.normal(scale=1e-3, size=(20, 8)) * np.array([1, 1, 1, 50, 50, 50, 1, 1]):
        use = sandwich_use(core_use(stack, rules), strain, both_hands=True)
        for kind, value in use.items():
            detail = core_detail(core_use(stack, rules), strain, kind, both_hands=True)
            assert_allclose(detail.demand / detail.allowable, value, rtol=1e-9, err_msg=kind)


def test_a_solid_laminate_has_none(rules):
    stack = make_stack([(0.0, isotropic(70e9, 0.3, 2700.0, 2e-3))])
    assert core_use(stack, rules) is None


def test_agrees_with_the_laminates_margins_at_any_angle(rules):
    rng = np.random.default_rng(5)
    cloth = Ply("cloth", "woven", 20e9, 12e9, 4e9, 0.2, 4e9, 3e9, 0.7e-3, 1800.0)
    foam = CorePly("core", 70e6, 60e6, 30e6, 0.2, 40e6, 24e6, 0.015, 80.0, 90e6, shear_strength=1.1e6)
    stack = make_stack([(0.3, cloth), (-0.6, cloth), (0.4, foam), (0.9, cloth)], tool_z=-0.004)
    strain = rng.normal(scale=1e-3, size=(40, 8)) * np.array([1, 1, 1, 50, 50, 50, 1, 1])
    use = sandwich_use(core_use(stack, rules), strain, both_hands=False)
    assert_allclose(2 / (1 + wrinkling_margins(stack, strain).min(axis=-1)), use["wrinkling"], rtol=1e-9, atol=1e-12)
    assert_allclose(2 / (1 + crimping_margin(stack, strain)), use["crimping"], rtol=1e-9, atol=1e-12)
    assert_allclose(2 / (1 + core_shear_margins(stack, strain, 0.8).min(axis=-1)), use["core shear"], rtol=1e-9)
