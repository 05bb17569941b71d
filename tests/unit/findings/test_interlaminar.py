"""Interlaminar shear against closed forms, NAFEMS R0031/1, and honeycomb: two shear directions, dimpling."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.errors import CaseError
from tubfem.findings.allowables import allowables
from tubfem.findings.interlaminar import interlaminar, interlaminar_use, sheared
from tubfem.findings.sandwich import core_detail, core_use, sandwich_use
from tubfem.laminate.shear import shear_stiffness
from tubfem.laminate.stack import make_stack
from tubfem.materials.cloth import Cloth, make_plies
from tubfem.materials.library import architecture, core, fibre, resin
from tubfem.materials.ply import CorePly, Ply, core_ply, isotropic


@pytest.fixture
def rules():
    return allowables(Margins())


def under(stack, force):
    """Generalised strain of a stack under the shear forces (2,) [N/m]."""
    return np.concatenate([np.zeros(6), np.linalg.solve(shear_stiffness(stack), force)])


def strong(E1, E2, thickness, angle=0.0, S13=20e6):
    return angle, Ply("tape", "unidirectional", E1, E2, 3e9, 0.3, 3e9, 2e9, thickness, 1600.0, S13=S13)


@pytest.mark.parametrize("plies", [2, 8])
def test_one_material_has_the_parabola(rules, plies):
    # 1.5 V / h in the middle, whichever way V points (closed form); 20 MPa x 0.8 untested / 1.5 first damage
    stack = make_stack([strong(50e9, 50e9, 4e-3 / plies)] * plies)
    force = 30e3 * np.array([0.6, 0.8])
    use = interlaminar(stack, rules)
    at = sheared(use, under(stack, force))
    assert_allclose(at.demand, 1.5 * 30e3 / 4e-3, rtol=1e-9)
    assert_allclose(at.allowable, 20e6 * 0.8 / 1.5, rtol=1e-12)
    assert (at.ply, at.face) in {(plies // 2 - 1, "top"), (plies // 2, "bottom")}
    assert_allclose(interlaminar_use(use, under(stack, force)), at.demand / at.allowable, rtol=1e-12)


def test_nafems_strip(rules):
    # NAFEMS R0031/1 (Composites Benchmarks, 1995): 4.1 MPa in the strip of width 10 mm under 10 N/mm over its span, at
    # the first 0/90 interface; V = 5 N/mm there. Closed form 4.110; the peak, in the middle, is larger.
    angles = [0, 90, 0, 90, 0, 90, 0]
    thickness = [0.1, 0.1, 0.1, 0.4, 0.1, 0.1, 0.1]
    layers = [
        (np.radians(a), Ply("t", "unidirectional", 100e9, 5e9, 3e9, 0.4, 2e9, 2e9, t * 1e-3, 1.0, S13=1e6))
        for a, t in zip(angles, thickness, strict=True)
    ]
    stack = make_stack(layers)
    use = interlaminar(stack, rules)
    stress = np.linalg.norm(np.tensordot(under(stack, [5e3, 0.0])[6:], use.shear, 1), axis=-1)
    first = stress[(use.ply == 0) & (use.level == 2)]
    # the narrow strip's 4.110 and the wide one's 4.106 MPa are closed forms of the same laminate: 0.2 %
    assert_allclose(first, 4.106e6, rtol=2e-3)


def test_skins_and_metal(rules):
    foam = CorePly("foam", 1e6, 1e6, 4e5, 0.3, 30e6, 30e6, 20e-3, 80.0, 60e6)
    stack = make_stack([strong(50e9, 10e9, 1e-3), (0.0, foam), strong(50e9, 10e9, 1e-3)])
    at = sheared(interlaminar(stack, rules), under(stack, [0.0, 1e4]))
    # nearly all of V / d where the skin meets the core, nothing at its free face; 0.2 %: the skins' own bending takes
    # (t / d)^2 / 3 = 0.08 % of the moment, d = 21 mm
    assert_allclose(at.demand, 1e4 / 21e-3, rtol=2e-3)
    assert (at.ply, at.face) in {(0, "top"), (2, "bottom")}
    steel = make_stack([(0.0, isotropic(210e9, 0.3, 7850.0, 2e-3, strength=250e6))])
    assert interlaminar_use(interlaminar(steel, rules), under(steel, [1e5, 0.0])) == 0.0


def test_own_factor_and_voids():
    stack = make_stack([strong(50e9, 50e9, 2e-3)])
    asked = allowables(Margins(required={"interlaminar shear": 3.0}, voids=0.02))
    at = sheared(interlaminar(stack, asked), under(stack, [1e3, 0.0]))
    assert_allclose(at.allowable, 20e6 * 0.8 * (1 - 7 * 0.02) / 3.0, rtol=1e-12)


def test_cloth_gets_its_strength_from_the_mass_fraction():
    # ISO 12215-5:2008 annex C, second-hand: 22.5 - 17.5 psi = 13.75 MPa at one half
    cloth = Cloth("biax", fibre("e-glass"), architecture("plain"), 0.3)
    laid = {"resin": resin("epoxy, room-temperature cure"), "fibre_fraction": 0.5}
    assert_allclose(make_plies(cloth, **laid)[0][1].S13, 13.75e6, rtol=1e-12)
    own = make_plies(cloth, **laid, coupons={"S13": 32e6})[0][1]
    assert own.S13 == 32e6
    assert dict(own.sources)["S13"] == "coupon"


def comb(skin, cell=6.35e-3, t=0.5e-3, **strengths):
    honeycomb = CorePly("comb", 1e6, 1e6, 4e5, 0.3, 40e6, 24e6, 20e-3, 50.0, 1e9, cell=cell, **strengths)
    return make_stack([(0.0, skin), (0.0, honeycomb), (0.0, skin)])


def isotropic_plane(E, nu, t):
    return isotropic(E, nu, 1800.0, t)


@pytest.mark.parametrize(("cell", "stress"), [(6.35e-3, 745.9e6), (4.76e-3, 1327e6), (3.18e-3, 2974e6)])
def test_dimpling_over_cells(rules, cell, stress):
    # 2 E / (1 - nu^2) (t / s)^2 with 60 GPa, 0.05, 0.5 mm (MIL-HDBK-23A's form, closed form)
    skin = isotropic_plane(60e9, 0.05, 0.5e-3)
    strain = np.array([-1e-3, 0.05e-3, 0, 0, 0, 0, 0, 0])  # free to widen: skins at -60 MPa
    core = core_use(comb(skin, cell), rules)
    detail = core_detail(core, strain, "dimpling", both_hands=False)
    assert_allclose([detail.demand, detail.allowable], [60e6, stress / 2.0], rtol=1e-3)
    assert_allclose(sandwich_use(core, strain, both_hands=False)["dimpling"], detail.demand / detail.allowable)
    assert detail.skin in ("tool skin", "far skin")


def test_dimpling_looks_along_the_compression(rules):
    # a skin turned by 30 degrees and pressed along its own axes is as strong as one that was not turned
    tape = Ply("tape", "unidirectional", 120e9, 8e9, 4e9, 0.3, 4e9, 3e9, 0.5e-3, 1600.0)
    foam = {"cell": 5e-3}
    found = []
    for angle in (0.0, np.pi / 6):
        honeycomb = CorePly("comb", 1.0, 1.0, 0.4, 0.3, 40e6, 24e6, 20e-3, 50.0, 1e9, **foam)
        stack = make_stack([(angle, tape), (0.0, honeycomb), (angle, tape)])
        skin = core_use(stack, rules).skins[0].stress[:3]
        c, s = np.cos(angle), np.sin(angle)
        pressed = np.linalg.solve(skin, -100e6 * np.array([c * c, s * s, c * s]))
        strain = np.concatenate([pressed, np.zeros(5)])
        found.append(core_detail(core_use(stack, rules), strain, "dimpling", both_hands=False).allowable)
    assert_allclose(found[1], found[0], rtol=1e-6)
    nu21 = 0.3 * 8 / 120
    assert_allclose(found[0], (120e9 * 8e9) ** 0.5 / (1 - 0.3 * nu21) * (0.5 / 5) ** 2, rtol=1e-6)  # 2 / factor 2


def test_foam_does_not_dimple(rules):
    stack = comb(isotropic_plane(60e9, 0.05, 0.5e-3), cell=None)
    assert "dimpling" not in sandwich_use(core_use(stack, rules), np.ones(8) * 1e-4, both_hands=True)


def test_core_shear_of_a_honeycomb_hangs_on_the_direction(rules):
    skin = isotropic_plane(60e9, 0.05, 0.5e-3)
    stack = comb(skin, shear_strength=2e6, shear_strength_across=1e6)
    uses = []
    for force in ([1e4, 0.0], [0.0, 1e4], [1e4, 1e4]):
        strain = under(stack, force)
        core = core_use(stack, rules)
        uses.append(float(sandwich_use(core, strain, both_hands=True)["core shear"]))
        detail = core_detail(core, strain, "core shear", both_hands=True)
        assert_allclose(detail.demand / detail.allowable, uses[-1], rtol=1e-12)
    assert_allclose(uses[0], 1e4 / 20.5e-3 / (2e6 * 0.8 / 2), rtol=2e-3)  # V / d
    assert_allclose(uses[1] / uses[0], 2.0, rtol=2e-3)
    assert_allclose(uses[2], np.hypot(uses[0], uses[1]), rtol=2e-3)


def test_library_honeycomb():
    comb = core_ply(core("aluminium honeycomb"), 0.01, 72.0)
    assert comb.G13 > comb.G23
    assert comb.shear_strengths[0] > comb.shear_strengths[1]
    assert comb.cell == 0.0032
    words = dict(comb.sources)
    assert all(words[field] for field in ("G13", "G23", "shear_strength", "shear_strength_across", "cell"))
    alike = core_ply(core("aramid honeycomb"), 0.01, 64.0, measured={"shear": 1.4e6, "G": 50e6})
    assert alike.shear_strengths == (1.4e6, 1.4e6)
    assert (alike.G13, alike.G23) == (50e6, 50e6)
    foam = core_ply(core("PVC foam"), 0.01, 80.0)
    assert foam.G13 == foam.G23
    assert foam.shear_strengths[0] == foam.shear_strengths[1]
    assert foam.cell is None
    with pytest.raises(CaseError, match="outside the table"):
        core_ply(core("aramid honeycomb"), 0.01, 200.0)
