import numpy as np
import pytest
from laminates import T300, core, stack
from numpy.testing import assert_allclose

from tubfem.laminate.recovery import ply_strain, shear_stress
from tubfem.laminate.shear import shear_stiffness, stiffness8
from tubfem.laminate.stack import abd, make_stack, mass_moments
from tubfem.materials.ply import isotropic


def test_positions_from_the_tool_face():
    plies = [(0.0, isotropic(1.0, 0.3, 1.0, t)) for t in (1.0, 2.0)]
    assert_allclose(make_stack(plies).z, [-1.5, -0.5, 1.5])
    some = make_stack(plies, tool_z=4.0)
    assert_allclose(some.z, [4, 5, 7])
    assert some.thickness == 3.0
    with pytest.raises(ValueError, match="read-only"):
        some.z[0] = 0.0


def test_key_tells_content_apart():
    same = stack([0, 90], T300).key()
    assert hash(same) == hash(stack([0, 90], T300).key())
    assert stack([0, 90], T300).key() == same
    assert stack([90, 0], T300).key() != same
    assert stack([0, 90], T300, tool_z=0.0).key() != same


def test_isotropic_plate():
    """Closed form: E t / (1 - nu^2), E t^3 / 12 (1 - nu^2), and 5/6 G t."""
    E, nu, t = 70e9, 0.33, 2e-3
    C = stiffness8(make_stack([(0.7, isotropic(E, nu, 2700.0, t))]))
    assert C[0, 0] == pytest.approx(E * t / (1 - nu**2))
    assert C[3, 3] == pytest.approx(E * t**3 / 12 / (1 - nu**2))
    assert C[5, 5] == pytest.approx(E / 2 / (1 + nu) * t**3 / 12)
    assert C[6, 6] == pytest.approx(5 / 6 * E / 2 / (1 + nu) * t)
    assert_allclose(C[:3, 3:6], 0, atol=1e-9 * C[0, 0] * t)


def test_offset_surface():
    """Closed form: about a surface off by d, B = d A and D grows by d^2 A; the mass likewise."""
    ply = isotropic(70e9, 0.33, 2700.0, 2e-3)
    A, B, D = abd(make_stack([(0.0, ply)], tool_z=4e-3))
    D0 = abd(make_stack([(0.0, ply)]))[2]
    assert_allclose(B, 5e-3 * A, rtol=1e-12)
    assert_allclose(D, D0 + 25e-6 * A, rtol=1e-12)
    assert_allclose(mass_moments(make_stack([(0.0, ply)], tool_z=4e-3)), 5.4 * np.array([1, 5e-3, 25e-6 + 4e-6 / 12]))


def test_trade_sandwich_bending_and_shear():
    """Skins of 0.73 mm E 14 GPa on 15 mm of foam, per width: 1.26e6 N mm; solid 1.46 mm 3631 N mm (closed forms)."""
    skin = isotropic(14e9, 0.0, 1.0, 0.73e-3)
    foam = core(31e6, 31e6, thickness=15e-3)
    assert abd(make_stack([(0.0, skin), (0.0, foam), (0.0, skin)]))[2][0, 0] / 1e-3 == pytest.approx(1.26e6, rel=5e-3)
    assert abd(make_stack([(0.0, skin), (0.0, skin)]))[2][0, 0] / 1e-3 == pytest.approx(3631, abs=0.6)


def test_strain_in_ply_axes():
    """Closed form: 1 along x is 1/2, 1/2, -1 at 45 degrees; faces follow the curvature."""
    some = make_stack([(np.pi / 4, isotropic(1.0, 0.0, 1.0, 2.0)), (0.0, isotropic(1.0, 0.0, 1.0, 1.0))], tool_z=-1.0)
    strain = np.zeros((5, 4, 8))
    strain[..., 0], strain[..., 3] = 1.0, 0.5
    got = ply_strain(some, strain)
    assert got.shape == (5, 4, 2, 2, 3)
    assert_allclose(got[0, 0, 0, 0], np.array([0.5, 0.5, -1.0]) * 0.5)  # z = -1
    assert_allclose(got[0, 0, 0, 1], np.array([0.5, 0.5, -1.0]) * 1.5)  # z = +1
    assert_allclose(got[2, 3, 1, 1], [2.0, 0, 0], atol=1e-15)  # z = +2


def test_shear_stress_in_ply_axes():
    """A core laid at 90 feels a force along x as its own t23; nearly all of V / d is in the core."""
    skin = isotropic(50e9, 0.3, 1.0, 1e-3)
    some = make_stack([(0.0, skin), (np.pi / 2, core(40e6, 24e6, E=1e6, thickness=20e-3)), (0.0, skin)])
    gamma = np.linalg.solve(shear_stiffness(some), [1e4, 0])
    strain = np.broadcast_to(np.concatenate([np.zeros(6), gamma]), (3, 8))
    stress = shear_stress(some, strain, np.array([0.5]))
    assert stress.shape == (3, 3, 1, 2)
    assert abs(stress[0, 1, 0, 1]) == pytest.approx(1e4 / 21e-3, rel=2e-3)
    assert abs(stress[0, 1, 0, 0]) < 1e-9 * abs(stress[0, 1, 0, 1])
    assert np.linalg.norm(shear_stress(some, strain, np.array([0.5]))[0, 1, 0]) == pytest.approx(1e4 / 21e-3, rel=2e-3)
