"""Warm resin and cores: Chamis's retention ratio, what it does to plies, limits.

C. C. Chamis, "Simplified composite micromechanics equations of hygral, thermal and mechanical properties", NASA
TM-83320 (1983): F = sqrt((Tgw - T) / (Tgd - T0)), Tgw = (0.005 M^2 - 0.10 M + 1) Tgd, degrees F, M in per cent; formula
from memory.
"""

from dataclasses import replace

import numpy as np
import pytest

from tubfem.materials import heat, library
from tubfem.materials.cloth import Cloth, make_plies
from tubfem.materials.ply import core_ply, isotropic

DRY = heat.Warmth({}, 0.0, 28.0)
RESIN = "epoxy, room-temperature cure"


def ply(architecture="unidirectional", fibre="e-glass"):
    cloth = Cloth("cloth", library.fibre(fibre), library.architecture(architecture), 0.3)
    return make_plies(cloth, resin=library.resin(RESIN), process="hand")[0][1]


def celsius(fahrenheit):
    return (fahrenheit - 32) * 5 / 9


def test_the_retention_ratio_by_hand():
    # dry transition 270 degF, 1 % moisture: moist 0.905 x 270 = 244.35 degF; at 170 degF sqrt(74.35 / 200) = 0.6097
    dry = celsius(270)
    assert heat.moist_transition(dry, 0.01) == pytest.approx(celsius(244.35))
    assert heat.retention(celsius(170), dry, 0.01) == pytest.approx(0.6097, abs=5e-5)
    # 2 %: 0.82 x 270 = 221.4
    assert heat.moist_transition(dry, 0.02) == pytest.approx(celsius(221.4))


def test_nothing_is_lost_at_room_temperature_and_next_to_all_at_the_transition():
    assert heat.retention(21.0, 60.0) == 1.0
    assert heat.retention(5.0, 60.0) == 1.0
    assert heat.retention(60.0, 60.0) == heat.retention(80.0, 60.0) == heat.LEAST
    at = [heat.retention(t, 60.0) for t in (25, 35, 45, 55)]
    assert np.all(np.diff(at) < 0)


def test_resin_dominated_constants_fall_and_the_fibres_own_hardly():
    cold = ply()
    warm = heat.warmed(cold, 40.0, DRY)
    left = heat.retention(40.0, library.resin(RESIN).Tg_celsius)
    assert 0.95 < warm.E1 / cold.E1 < 1
    assert left <= warm.G12 / cold.G12 < 0.75
    assert left <= warm.E2 / cold.E2 < 0.75
    # strengths that the resin carries fall by the same ratio; fibres in tension keep theirs as a strain
    for strain, modulus in (("e1c", "E1"), ("e2t", "E2"), ("e2c", "E2"), ("g12", "G12")):
        strength = [getattr(p, strain) * getattr(p, modulus) for p in (cold, warm)]
        assert strength[1] / strength[0] == pytest.approx(left, rel=1e-12), strain
    assert warm.e1t == cold.e1t
    assert warm.S13 == pytest.approx(left * cold.S13)
    assert (warm.thickness, warm.rho) == (cold.thickness, cold.rho)


def test_across_a_woven_layer_fibres_hold_in_tension():
    cold = ply("plain")
    warm = heat.warmed(cold, 40.0, DRY)
    assert warm.e2t == cold.e2t
    assert warm.e2c < cold.e2c
    assert warm.E1 == pytest.approx(warm.E2)


def test_at_room_temperature_a_ply_is_itself():
    cold = ply()
    warm = heat.warmed(cold, 20.0, DRY)
    assert warm == cold


def test_cores_soften_and_metals_do_not():
    foam = core_ply(library.core("PVC foam"), 0.015, 80)
    softens = library.core("PVC foam").softens_celsius
    assert heat.warmed(foam, softens, DRY).G13 == pytest.approx(0.5 * foam.G13)
    assert heat.limit_of(foam, DRY) == softens
    steel = isotropic(210e9, 0.3, 7850, 1e-3)
    assert heat.warmed(steel, 90.0, DRY) is steel
    assert heat.limit_of(steel, DRY) is None
    assert heat.warmed(replace(foam, softens_celsius=None), 90.0, DRY).G13 == foam.G13


def test_a_case_knows_its_resin_better_than_the_library():
    cold = ply()
    known = heat.Warmth({RESIN: 75.0}, 0.0, 28.0)
    assert heat.limit_of(cold, DRY) == pytest.approx(library.resin(RESIN).Tg_celsius - 28)
    assert heat.limit_of(cold, known) == pytest.approx(75 - 28)
    assert heat.warmed(cold, 45.0, known).G12 > heat.warmed(cold, 45.0, DRY).G12


def test_post_cure_raises_the_transition():
    # common practice, no source: 65 to 85 degC after 50 to 60 degC, 85 to 110 after 80 degC
    assert heat.post_cured(20.0) == 50
    assert 65 <= heat.post_cured(55.0) <= 85
    assert 85 <= heat.post_cured(80.0) <= 110
