"""How much sides of quads bulge, where they stay straight, and what is read in elements whose sides do (Z.6, Z.8)."""

from dataclasses import replace

import numpy as np
import pytest
from laminates import ud
from meshes import block, freedoms, grid, held, isotropic, shell, sines
from numpy.testing import assert_allclose

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.shell.bulges import bulging
from tubfem.shell.loads import pressure
from tubfem.shell.quad4 import SHAPE
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import solve

THIN = isotropic(70e9, 0.3, 2e-3)


def wings(*degrees, shuffle=False):
    """Plates 0.1 x 0.1 m that meet in the x axis, each turned up by an angle, and their connectivity."""
    along = np.array([[0, 0, 0], [0.1, 0, 0]])
    tips = [along + 0.1 * np.array([0, np.cos(a), np.sin(a)]) for a in np.radians(degrees)]
    points = np.concatenate([along, *tips])
    conn = np.array([[0, 1, 3 + 2 * k, 2 + 2 * k] for k in range(len(degrees))])
    return points, conn[::-1] if shuffle else conn


def at_the_axis(degrees, **kwargs):
    points, conn = wings(*degrees, **kwargs)
    (found,) = bulging(points, (block(conn),), THIN[None])
    return found.bulge[:, 0]


def test_a_side_bulges_by_what_bends_and_what_shears_there():
    """D/S of an isotropic sheet by hand: t² / (5 (1 - ν))."""
    t, L = 0.02, 0.1
    (found,) = bulging(wings(0)[0], (block(wings(0)[1]),), isotropic(70e9, 0.3, t)[None])
    share = 1 / (1 + 12 * t**2 / (5 * 0.7) / L**2)
    assert_allclose(found.bulge, 1 - np.sqrt(1 - share), rtol=1e-12)


@pytest.mark.parametrize(
    ("degrees", "straight"),
    [((0,), False), ((0, 180), False), ((10, 180), False), ((30, 180), True), ((0, 180, 90), True)],
)
def test_a_side_is_straight_where_another_wall_holds_it(degrees, straight):
    assert ((at_the_axis(degrees) == 0) == straight).all()


def test_a_junction_of_flat_angles_is_one_whatever_the_order():
    """Three walls at 0, 15 and 195 degrees: no pair is a fold against all others."""
    for shuffle in (False, True):
        assert (at_the_axis((0, 165, 195), shuffle=shuffle) == 0).all()


def test_a_side_beside_a_triangle_is_straight():
    points, conn = wings(0, 180)
    quad, fin = block(conn[:1]), block(conn[1:, :3], kind="tria3")
    found = bulging(points, (quad, fin), THIN[None])
    assert found[0].bulge[0, 0] == 0
    assert (found[0].bulge[0, 1:] > 0.9).all()
    assert found[1].bulge is None


def sine_plate(C, n, direction=(1.0, 0.0, 0.0)):
    """Strains (e, q, 8) of a square metre, simply supported, under sin(πx) sin(πy), and the places of its points."""
    s, conn = grid(n, n)
    points = np.column_stack([s, np.zeros(len(s))])
    x_edge, y_edge = ((s[:, k] == 0) | (s[:, k] == 1) for k in (0, 1))
    elements = block(conn, direction)
    model = shell(
        points,
        [elements],
        C,
        pressure(points, elements, sines(points, elements, 1.0, 1.0)),
        supports=[held(freedoms(x_edge, [1, 2, 3]), freedoms(y_edge, [0, 2, 4]))],
    )
    found = generalised_strains(model, solve(model).u)[0]
    return found, np.einsum("qn,enx->eqx", SHAPE, points[conn])


def off(found, exact):
    """Difference over the amplitude, in percent."""
    return 100 * np.abs(found - exact).max() / np.abs(exact).max()


# Closed form of an isotropic plate: M = q (1 + ν) / 4π² and Q = q / 2π times sines and cosines, whatever its thickness.
@pytest.mark.parametrize("thickness", [1e-4, 1e-2, 0.03, 0.1])
@pytest.mark.parametrize("direction", [(1.0, 0.0, 0.0), (0.6, 0.8, 0.0)])
def test_shear_force_and_moments_of_a_plate(thickness, direction):
    """Nothing of the shear force is lost with the twist that bulging sides carry."""
    C = isotropic(70e9, 0.3, thickness)
    found, at = sine_plate(C, 16, direction)
    x, y = np.pi * np.moveaxis(at[..., :2], -1, 0)
    c, s = direction[:2]
    shear = found.mean[0, :, 6:] @ C[6:, 6:]
    Q = np.stack([np.cos(x) * np.sin(y), np.sin(x) * np.cos(y)], -1).mean(1) / (2 * np.pi)
    assert off(shear, Q @ np.array([[c, -s], [s, c]])) < 0.8
    if s == 0:
        moment = found.strain[0][..., 3:6] @ C[3:6, 3:6]
        even, odd = np.sin(x) * np.sin(y), np.cos(x) * np.cos(y)
        assert off(moment[..., 0], 1.3 * even / (4 * np.pi**2)) < 4
        assert off(moment[..., 2], -0.7 * odd / (4 * np.pi**2)) < 1


def test_shear_force_of_a_sandwich():
    """By statics: both faces alike in x and y, so that Q is that of an isotropic plate."""
    ply = ud(50e9, 50e9, 50e9 / 2.6, 0.3, thickness=1e-3)
    core = ud(1e6, 1e6, 0.4e6, 0.3, G13=30e6, G23=30e6, thickness=15e-3)
    C = stiffness8(make_stack([(0.0, ply), (0.0, core), (0.0, ply)]))
    found, at = sine_plate(C, 16)
    x, y = np.pi * np.moveaxis(at[..., :2], -1, 0)
    Q = np.stack([np.cos(x) * np.sin(y), np.sin(x) * np.cos(y)], -1).mean(1) / (2 * np.pi)
    assert off(found.mean[0, :, 6:] @ C[6:, 6:], Q) < 1


def test_pressure_on_a_thin_cap_of_uneven_elements():
    """A clamped cap of 30°, R/t 1000: inside, the membrane's p R² (1 - ν) / 2 E t outwards, and hardly any turning.

    Moments of the load that even elements would cancel turned these by 57 times the deflection over the radius.
    """
    n, E, nu, t = 16, 70e9, 0.3, 1e-3
    s, conn = grid(n, n)
    inner = ((s > 0) & (s < 1)).all(1)
    p = 2 * (s + inner[:, None] * np.random.default_rng(2).uniform(-0.08, 0.08, s.shape) / n) - 1
    flat = p * np.sqrt(1 - p[:, ::-1] ** 2 / 2)  # of a square, the disc
    rise, way = np.radians(30) * np.linalg.norm(flat, axis=1), np.arctan2(flat[:, 1], flat[:, 0])
    points = np.column_stack([np.sin(rise) * np.cos(way), np.sin(rise) * np.sin(way), np.cos(rise)])
    elements = block(conn)
    clamped = held(freedoms(~inner, range(6)))
    model = shell(points, [elements], isotropic(E, nu, t), pressure(points, elements, 1e3), supports=[clamped])
    u = solve(model).u[0]
    membrane = 1e3 * (1 - nu) / (2 * E * t)
    deep = rise < np.radians(12)
    assert_allclose((u[deep, :3] * points[deep]).sum(1).mean(), membrane, rtol=0.08)
    assert np.abs(u[deep, 3:]).max() < 6 * membrane


def test_bulges_of_blocks_with_nothing_in_them():
    assert bulging(np.zeros((0, 3)), (), np.zeros((0, 8, 8))) == ()
    model = shell(*[wings(0)[0]], [block(wings(0)[1])], THIN, np.zeros(24))
    again = bulging(model.points, tuple(replace(b, bulge=None) for b in model.blocks), model.stiffness)
    assert_allclose(again[0].bulge, model.blocks[0].bulge)


def test_straight_sides_are_read_alike_said_or_not():
    """Slopes of curvature are weighted for them too."""
    points, conn = wings(0, 180)
    model = shell(points, [block(conn)], THIN, np.zeros(36))
    u = np.random.default_rng(1).normal(size=(1, 6, 6))
    said, unsaid = (
        generalised_strains(replace(model, blocks=(replace(block(conn), bulge=bulge),)), u)[0]
        for bulge in (np.zeros((2, 4)), None)
    )
    assert_allclose(unsaid.strain, said.strain, rtol=1e-12)
