"""Use of plies by hand, and against the laminate room's own margins."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.errors import CaseError
from tubfem.findings.allowables import allowables
from tubfem.findings.plies import governing, greatest_use, ply_use, surface_strain
from tubfem.laminate.failure import ply_limits, ply_margins
from tubfem.laminate.recovery import ply_strain
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import Ply


def ply(kind="unidirectional", name="uni"):
    limits = {"e1t": 0.02, "e1c": 0.01, "e2t": 0.005, "e2c": 0.015, "g12": 0.018}
    return Ply(name, kind, 30e9, 6e9, 3e9, 0.3, 3e9, 2e9, 1e-3, 1800.0, **limits)


def strain8(**parts):
    names = ("ex", "ey", "gxy", "kx", "ky", "kxy", "gxz", "gyz")
    return np.array([parts.get(name, 0.0) for name in names])


def test_defaults_are_the_librarys_and_are_all_listed():
    rules = allowables(Margins())
    assert rules.required == {
        "first damage": 1.5,
        "fibre failure": 2.5,
        "core and stability": 2.0,
        "bonds and bolts": 3.0,
        "panel buckling": 1.5,
        "tube yield": 1.5,
        "tube buckling": 2.0,
    }
    assert rules.knock_down["fibre compression"] == 0.8  # untested
    assert [f.name for f in rules.factors][:4] == ["untested", "first damage", "fibre failure", "bonds and bolts"]
    assert all(factor.source and factor.why for factor in rules.factors)


def test_the_cases_factors_win():
    rules = allowables(Margins(first_damage_factor=1.2, knockdowns=("untested", "hot and wet, matrix")))
    assert rules.required["first damage"] == 1.2
    assert rules.knock_down["transverse tension"] == pytest.approx(0.8 * 0.75)
    assert allowables(Margins(knockdowns=())).knock_down["fibre tension"] == 1.0
    with pytest.raises(CaseError, match="untestd"):
        allowables(Margins(knockdowns=("untestd",)))


def test_one_ply_by_hand():
    # ey = 0.001 on a ply at 0: limit 0.005 x 0.8 / 1.5 = 0.0026667, margin 1.6667
    use = ply_use(make_stack([(0.0, ply())]), allowables(Margins()), "first damage")
    strain = strain8(ey=0.001)
    at, sign = governing(use, strain, both_hands=True)
    assert (use.ply[at], use.mode[at], sign) == (0, 2, 1)
    assert_allclose(use.allowable[at], 0.005 * 0.8 / 1.5, rtol=1e-14)
    assert_allclose(1 / greatest_use(use, strain, both_hands=True) - 1, 5 / 3, rtol=1e-12)


def test_the_other_hand_of_the_torque_governs_where_it_is_worse():
    # ey = -0.001: under +T transverse compression 0.015, under -T transverse tension 0.005, three times as near
    use = ply_use(make_stack([(0.0, ply())]), allowables(Margins()), "first damage")
    at, sign = governing(use, strain8(ey=-0.001), both_hands=True)
    assert (use.mode[at], sign) == (2, -1)
    at, sign = governing(use, strain8(ey=-0.001), both_hands=False)
    assert (use.mode[at], sign) == (3, 1)


def test_fibre_failure_knows_only_fibre_modes():
    rules = allowables(Margins())
    uni = ply_use(make_stack([(0.0, ply())]), rules, "fibre failure")
    assert set(uni.mode) == {0, 1}
    woven = ply_use(make_stack([(0.0, ply("woven"))]), rules, "fibre failure")
    assert set(woven.mode) == {0, 1, 2, 3}


def test_a_ply_without_limits_is_never_used():
    bare = Ply("bare", "woven", 30e9, 6e9, 3e9, 0.3, 3e9, 2e9, 1e-3, 1800.0)
    use = ply_use(make_stack([(0.0, bare)]), allowables(Margins()), "first damage")
    assert greatest_use(use, strain8(ex=0.01), both_hands=True) == 0.0


@pytest.mark.parametrize("kind", ["first damage", "fibre failure"])
def test_both_hands_are_the_worse_of_the_laminates_margins(kind):
    rng = np.random.default_rng(7)
    stack = make_stack([(0.3, ply()), (-0.9, ply("woven", "cloth")), (1.2, ply())], tool_z=-0.4e-3)
    rules = allowables(Margins())
    strain = rng.normal(scale=2e-3, size=(50, 8)) * np.array([1, 1, 1, 500, 500, 500, 1, 1])
    limits = ply_limits(stack, rules.knock_down) / rules.required[kind]
    which = 0 if kind == "first damage" else 1
    one, other = (ply_margins(stack, ply_strain(stack, hand), limits)[which] for hand in (strain, -strain))
    use = ply_use(stack, rules, kind)
    margin = 1 / greatest_use(use, strain, both_hands=True) - 1
    assert_allclose(margin, np.minimum(one.margin, other.margin), rtol=1e-10)
    assert_allclose(1 / greatest_use(use, strain, both_hands=False) - 1, one.margin, rtol=1e-10)
    for row in range(50):
        at, sign = governing(use, strain[row], both_hands=True)
        worse = one if sign > 0 else other
        assert margin[row] == pytest.approx(worse.margin[row])
        assert (use.ply[at], use.face[at], use.mode[at]) == (worse.ply[row], worse.face[row], worse.mode[row])


def test_surface_strain_is_the_greater_face():
    # ex = 0.001 and kx = 1 /m on faces at -2 and +4 mm: 0.001 + 0.004; pure shear of 0.003: principal 0.0015
    z = np.array([-0.002, 0.004])
    assert_allclose(surface_strain(strain8(ex=0.001, kx=1.0), z), 0.005)
    assert_allclose(surface_strain(strain8(gxy=0.003), z), 0.0015)
    assert_allclose(surface_strain(strain8(ex=-0.002), z), 0.002)
