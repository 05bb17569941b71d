"""Panels as rectangles: where they end, how large they are, what they bear by hand."""

from types import SimpleNamespace

import numpy as np
import pytest
import tub_builders
from meshes import isotropic
from numpy.testing import assert_allclose

from tubfem.findings.bays import bay_of_elements, check_bay, find_bays
from tubfem.geometry.mesh import areas, normals
from tubfem.laminate.ply import stress_rotation

E, NU, T = 70e9, 0.3, 1e-3
D = E * T**3 / 12 / (1 - NU**2)
STIFF = isotropic(E, NU, T, k=1e6)  # next to no flexibility in transverse shear
A, B = 0.6, 0.2


def flat(corners, cells, **kind):
    return tub_builders.tub_mesh([tub_builders.panel("floor", corners, cells, **kind)])


def rectangle(zero=(1.0, 0.0, 0.0), turn=None):
    turn = np.eye(3) if turn is None else turn
    corners = np.array([[0, 0, 0], [A, 0, 0], [A, B, 0], [0, B, 0]]) @ turn.T
    return flat(corners, (12, 4), zero=turn @ np.asarray(zero))


def elements_of(mesh):
    axis = np.concatenate([block.direction for block in mesh.blocks])
    axis = axis / np.linalg.norm(axis, axis=1)[:, None]
    return SimpleNamespace(area=areas(mesh), normal=normals(mesh), axis=axis, panel=mesh.element_panel)


def checked(mesh, N, C=STIFF):
    elements = elements_of(mesh)
    (bay,) = find_bays(mesh, elements)
    count = mesh.element_count
    return check_bay(bay, elements, np.tile(C, (count, 1, 1)), np.tile(N, (count, 1)))


def test_coefficients_of_an_isotropic_rectangle():
    """k = 5.35 + 4 (b/a)² in shear, 4 along, (1 + (b/a)²)² across, of π² D / b²."""
    found = checked(rectangle(), (0.0, 0.0, 1.0))
    unit = np.pi**2 * D / B**2
    assert_allclose((found.a, found.b, found.fill), (A, B, 1.0), rtol=1e-9)
    assert_allclose(found.shear_critical, (5.35 + 4 / 9) * unit, rtol=1e-4)
    assert_allclose(found.along_critical, 4 * unit, rtol=1e-4)
    assert_allclose(found.across_critical, (1 + 1 / 9) ** 2 * unit, rtol=1e-4)
    assert_allclose(found.factors, found.shear_critical, rtol=1e-9)


def test_compression_and_shear_together():
    found = checked(rectangle(), (-2.0, 0.0, 3.0))
    same, other = found.factors
    assert_allclose(same * 2 / found.along_critical + (same * 3 / found.shear_critical) ** 2, 1.0, rtol=1e-12)
    assert_allclose(other, found.shear_critical / 3, rtol=1e-12)  # the other way round it is pulled along
    assert checked(rectangle(), (2.0, 0.0, 0.0)).factors[0] is None


@pytest.mark.parametrize("degrees", [30.0, 90.0, -45.0])
def test_the_zero_direction_does_not_matter(degrees):
    """Forces are turned from the material's axes; on a tilted plane as on a level one."""
    turn = np.linalg.qr(np.random.default_rng(5).standard_normal((3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    angle = np.radians(degrees)
    mesh = rectangle((np.cos(angle), np.sin(angle), 0.0), turn)
    N = np.array([-2.0, -0.5, 3.0])
    found, level = checked(mesh, stress_rotation(np.array(angle)) @ N), checked(rectangle(), N)
    assert_allclose(found.factors, level.factors, rtol=1e-9)
    assert_allclose((found.along, found.across, abs(found.shear)), (-2.0, -0.5, 3.0), rtol=1e-9)


def test_an_orthotropic_panel_turned_by_a_right_angle_swaps_its_axes():
    C = STIFF.copy()
    C[3, 3] *= 4
    one, other = checked(rectangle(), (0, 0, 1.0), C), checked(rectangle((0, 1.0, 0)), (0, 0, 1.0), C)
    assert other.shear_critical / one.shear_critical == pytest.approx(4 ** (3 / 4) / 4**0.25, rel=1e-4)


def test_transverse_shear_limits_a_soft_core():
    """With S below all bending loads a panel crimps: near S alone."""
    C = STIFF.copy()
    C[6, 6] = C[7, 7] = 10.0
    assert checked(rectangle(), (0, 0, 1.0), C).shear_critical == pytest.approx(10.0, rel=0.01)


def test_bays_end_where_another_panel_joins():
    """A bulkhead across the floor makes two bays of it, of which the floor is one panel."""
    floor = tub_builders.panel("floor", [[0, 0, 0], [1, 0, 0], [1, 0.4, 0], [0, 0.4, 0]], (10, 4))
    wall = tub_builders.panel("wall", [[0.4, 0, 0], [0.4, 0.4, 0], [0.4, 0.4, 0.3], [0.4, 0, 0.3]], (4, 3))
    mesh = tub_builders.tub_mesh([floor, wall])
    assert len(set(bay_of_elements(mesh).tolist())) == 3
    found = {bay.name: (bay.a, bay.b) for bay in find_bays(mesh, elements_of(mesh))}
    assert set(found) == {"floor 1", "floor 2", "wall"}
    assert sorted(round(a * b, 9) for name, (a, b) in found.items() if name != "wall") == [0.16, 0.24]
