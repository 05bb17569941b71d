"""What holds for every laminate."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from laminates import abd6, core, ud
from numpy.testing import assert_allclose

from tubfem.laminate.failure import ply_limits, ply_margins
from tubfem.laminate.ply import strain_rotation, vector_rotation
from tubfem.laminate.recovery import ply_strain, ply_stress, shear_stress
from tubfem.laminate.shear import shear_stiffness, stiffness8
from tubfem.laminate.stack import abd, make_stack, mass_moments

ANGLE = st.floats(-np.pi, np.pi)
LIMITS = (0.02, 0.015, 0.005, 0.015, 0.018)


@st.composite
def plies(draw):
    E2 = draw(st.floats(2e9, 15e9))
    E1 = E2 * draw(st.floats(1.0, 25.0))
    G = [draw(st.floats(1e9, 6e9)) for _ in range(3)]
    ply = ud(E1, E2, G[0], draw(st.floats(0.0, 0.35)), G13=G[1], G23=G[2], thickness=draw(st.floats(1e-4, 1e-3)))
    strengths = np.array([E1, E1, E2, E2, G[0]]) * LIMITS
    ply = ud(ply.E1, ply.E2, ply.G12, ply.nu12, G13=G[1], G23=G[2], thickness=ply.thickness, strengths=strengths)
    return replace(ply, rho=draw(st.floats(1200.0, 2000.0)))


@st.composite
def cores(draw):
    shear = st.floats(15e6, 150e6)
    return core(draw(shear), draw(shear), E=draw(st.floats(3e7, 2e8)), thickness=draw(st.floats(3e-3, 3e-2)), rho=80.0)


LAYER = st.tuples(ANGLE, st.one_of(plies(), plies(), cores()))
LAYERS = st.lists(LAYER, min_size=1, max_size=6)
CHECK = settings(max_examples=60, deadline=None, derandomize=True)


def size(matrix):
    return np.abs(matrix).max()


@CHECK
@given(LAYERS)
def test_symmetric_stack_has_no_coupling(layers):
    A, B, _ = abd(make_stack(layers + layers[::-1]))
    height = sum(p.thickness for _, p in layers)
    assert_allclose(B, 0, atol=1e-12 * size(A) * height)


@CHECK
@given(LAYERS)
def test_reversal_turns_coupling_round(layers):
    A, B, D = abd(make_stack(layers))
    A_r, B_r, D_r = abd(make_stack(layers[::-1]))
    height = sum(p.thickness for _, p in layers)
    assert_allclose(A_r, A, atol=1e-12 * size(A))
    assert_allclose(B_r, -B, atol=1e-12 * size(A) * height)
    assert_allclose(D_r, D, atol=1e-12 * size(D))


@CHECK
@given(LAYERS)
def test_half_a_turn_changes_nothing(layers):
    C = stiffness8(make_stack(layers))
    turned = stiffness8(make_stack([(a + np.pi, p) for a, p in layers]))
    for block in (slice(0, 3), slice(3, 6), slice(6, 8)):
        assert_allclose(turned[block, block], C[block, block], atol=1e-9 * size(C[block, block]))


@CHECK
@given(LAYERS)
def test_mirrored_angles_couple_oppositely(layers):
    """16, 26 and the shear's 45 change sign, everything else stays."""
    sign = np.array([1, 1, -1, 1, 1, -1, 1, -1])
    C = stiffness8(make_stack(layers))
    mirrored = stiffness8(make_stack([(-a, p) for a, p in layers]))
    for block in (slice(0, 3), slice(3, 6), slice(6, 8)):
        expected = (sign[:, None] * C * sign)[block, block]
        assert_allclose(mirrored[block, block], expected, atol=1e-9 * size(C[block, block]))


@CHECK
@given(LAYERS, LAYER, st.floats(-0.02, 0.02))
def test_every_ply_adds_stiffness_about_the_fixed_surface(layers, another, tool_z):
    """A B; B D about a frozen surface: the difference is positive semidefinite (curvature scaled by the height)."""
    height = sum(p.thickness for _, p in layers) + another[1].thickness
    scale = np.repeat([1.0, 1 / height], 3)
    before = abd6(make_stack(layers, tool_z=tool_z))
    after = abd6(make_stack([*layers, another], tool_z=tool_z))
    gain = scale[:, None] * (after - before) * scale
    assert np.linalg.eigvalsh(gain).min() >= -1e-10 * size(scale[:, None] * after * scale)


@CHECK
@given(LAYERS)
def test_stiffness_is_symmetric_and_positive(layers):
    C = stiffness8(make_stack(layers))
    assert_allclose(C, C.T, rtol=1e-15, atol=1e-250)  # to the last bit; denormals apart
    height = sum(p.thickness for _, p in layers)
    scale = np.array([1, 1, 1, 1 / height, 1 / height, 1 / height, 1, 1])
    assert np.linalg.eigvalsh(scale[:, None] * C * scale).min() > 0


@CHECK
@given(LAYERS, ANGLE)
def test_transverse_shear_turns_as_a_tensor(layers, turn):
    S = shear_stiffness(make_stack(layers))
    R = vector_rotation(turn)
    turned = shear_stiffness(make_stack([(a + turn, p) for a, p in layers]))
    assert_allclose(turned, R.T @ S @ R, atol=1e-8 * size(S))


@CHECK
@given(LAYERS, st.floats(-1.0, 1.0))
def test_transverse_shear_ignores_the_reference_surface(layers, tool_z):
    S = shear_stiffness(make_stack(layers))
    assert_allclose(shear_stiffness(make_stack(layers, tool_z=tool_z)), S, atol=1e-9 * size(S))


@CHECK
@given(LAYERS, ANGLE)
def test_membrane_turns_as_a_tensor(layers, turn):
    A = abd(make_stack(layers))[0]
    T = strain_rotation(np.array(-turn))  # from the turned laminate's own axes to x, y
    turned = abd(make_stack([(a + turn, p) for a, p in layers]))[0]
    T = np.linalg.inv(T)
    assert_allclose(turned, T.T @ A @ T, atol=1e-11 * size(A))


@CHECK
@given(LAYERS, st.lists(st.floats(-1e-3, 1e-3), min_size=6, max_size=6))
def test_ply_energy_is_the_laminates(layers, values):
    """Simpson over each ply's faces and middle is exact for the quadratic energy density."""
    some = make_stack(layers, tool_z=-1e-3)
    strain = np.array([*values[:3], *(50 * v for v in values[3:]), 0, 0])
    local = ply_strain(some, strain)
    whole = np.stack([local[:, 0], local.mean(axis=1), local[:, 1]], axis=1)
    density = (ply_stress(some, whole) * whole).sum(-1)
    energy = (np.diff(some.z)[:, None] * density * np.array([1, 4, 1]) / 6).sum()
    expected = strain[:6] @ abd6(some) @ strain[:6]
    assert_allclose(energy, expected, rtol=1e-9, atol=1e-12 * size(abd6(some)) * (strain @ strain))


@CHECK
@given(LAYERS, ANGLE)
def test_shear_energy_in_ply_axes_is_the_laminates(layers, direction):
    """Three Gauss points a ply are exact for the quartic energy density."""
    some = make_stack(layers)
    gamma = 1e-3 * np.array([np.cos(direction), np.sin(direction)])
    points, weights = np.polynomial.legendre.leggauss(3)
    stress = shear_stress(some, np.concatenate([np.zeros(6), gamma]), 0.5 * (1 + points))
    G = np.array([(p.G13, p.G23) for p in some.plies])[:, None]
    energy = (np.diff(some.z)[:, None] * 0.5 * weights * (stress**2 / G).sum(-1)).sum()
    assert_allclose(energy, gamma @ shear_stiffness(some) @ gamma, rtol=1e-7)


@CHECK
@given(LAYERS, st.floats(-0.05, 0.05))
def test_mass_moments_follow_the_reference_surface(layers, shift):
    m0, m1, m2 = mass_moments(make_stack(layers, tool_z=0.0))
    n0, n1, n2 = mass_moments(make_stack(layers, tool_z=shift))
    assert_allclose(n0, m0, rtol=1e-12)
    assert_allclose(n0, sum(p.areal_mass for _, p in layers), rtol=1e-12)
    assert_allclose(n1, m1 + shift * m0, rtol=1e-9, atol=1e-12 * m0)
    assert_allclose(n2, m2 + 2 * shift * m1 + shift**2 * m0, rtol=1e-9, atol=1e-14 * m0)


@CHECK
@given(LAYERS, st.lists(st.floats(-1e-2, 1e-2), min_size=6, max_size=6), st.floats(0.1, 10.0))
def test_margins_scale_with_the_load(layers, values, factor):
    some = make_stack(layers)
    limits = ply_limits(some)
    strain = np.array([*values, 0, 0])
    for a, b in zip(
        ply_margins(some, ply_strain(some, strain), limits),
        ply_margins(some, ply_strain(some, factor * strain), limits),
        strict=True,
    ):
        assert_allclose((a.margin + 1) / factor, b.margin + 1, rtol=1e-9)


@CHECK
@given(LAYERS, st.lists(st.floats(-1e-2, 1e-2), min_size=6, max_size=6))
def test_first_damage_never_comes_after_fibre_failure(layers, values):
    some = make_stack(layers)
    damage, fibre = ply_margins(some, ply_strain(some, np.array([*values, 0, 0])), ply_limits(some))
    assert damage.margin <= fibre.margin
