"""Loads and mass in closed form."""

import numpy as np
import pytest
from meshes import block, grid
from numpy.testing import assert_allclose

from tubfem.shell.loads import (
    body_force,
    edge_load,
    element_areas,
    mass_and_centre,
    node_areas,
    point_load,
    pressure,
)

S, CONN = grid(5, 4)
SHEET = np.column_stack([2 * S[:, 0] + 0.3 * S[:, 1], 3 * S[:, 1], np.zeros(len(S))])
KINDS = pytest.mark.parametrize("kind", ["quad4", "tria3"])


@KINDS
def test_pressure_pushes_along_the_normal(kind):
    F = pressure(SHEET, block(CONN, kind=kind), 5.0).reshape(-1, 6)
    assert_allclose(F.sum(0), [0, 0, 5.0 * 6.0, 0, 0, 0], atol=1e-12)
    assert_allclose(np.cross(SHEET, F[:, :3]).sum(0), 30.0 * np.cross([1.15, 1.5, 0], [0, 0, 1]), atol=1e-12)


def test_pressure_in_a_closed_vessel_balances():
    s, conn = grid(6, 24)
    angle = 2 * np.pi * s[:, 1]
    points = np.column_stack([s[:, 0], np.cos(angle), np.sin(angle)])
    F = pressure(points, block(conn), 1.0).reshape(-1, 6)
    assert_allclose(F.sum(0), 0, atol=1e-12)
    assert F[3, 1] < 0  # e3 of these elements points inwards


@KINDS
def test_weight_acts_at_the_height_of_the_mass(kind):
    elements = block(CONN, kind=kind)
    mass = np.array([[8.0, 0.8, 0.1]])  # m1/m0 = 0.1 m above the surface
    total, centre = mass_and_centre(SHEET, (elements,), mass)
    assert_allclose(total, 48.0)
    assert_allclose(centre, [1.15, 1.5, 0.1])
    g = np.array([1.0, -2.0, -9.81])
    F = body_force(SHEET, (elements,), mass, g).reshape(-1, 6)
    assert_allclose(F[:, :3].sum(0), 48.0 * g)
    moment = F[:, 3:].sum(0) + np.cross(SHEET, F[:, :3]).sum(0)
    assert_allclose(moment, np.cross(centre, 48.0 * g))


def test_mass_does_not_depend_on_the_mesh():
    sizes = [grid(3, 2), grid(7, 5)]
    found = []
    for (s, conn), kind in zip(sizes, ("quad4", "tria3"), strict=True):
        points = np.column_stack([s[:, 0], s[:, 1], 0.4 * s[:, 0]])
        found.append(mass_and_centre(points, (block(conn, kind=kind),), np.array([[3.0, 0.2, 0.0]])))
    assert_allclose(found[0][0], found[1][0])
    assert_allclose(found[0][1], found[1][1])


@KINDS
def test_areas(kind):
    elements = block(CONN, kind=kind)
    assert_allclose(element_areas(SHEET, elements).sum(), 6.0)
    assert_allclose(node_areas(SHEET, (elements,)).sum(), 6.0)


def test_edge_and_point_loads():
    edges = np.stack([np.arange(5), np.arange(1, 6)], 1)
    F = edge_load(SHEET, edges, np.array([0, 0, 3.0, 0, 1.0, 0])).reshape(-1, 6)
    assert_allclose(F.sum(0), [0, 0, 6.0, 0, 2.0, 0])
    assert_allclose(F[[0, 1, 5], 2], [0.6, 1.2, 0.6])
    assert_allclose(np.flatnonzero(point_load(SHEET, 7, np.arange(1.0, 7.0))), np.arange(42, 48))


# A plate bent to w = x (a - x): between nodes its deflection bulges over the chords by the tilts' difference.
def test_even_load_works_on_the_deflection_between_the_nodes():
    n, a, b, p = 5, 2.0, 3.0, 7.0
    s, conn = grid(n, 4)
    x = a * s[:, 0]
    points = np.column_stack([x, b * s[:, 1], np.zeros(len(s))])
    u = np.zeros((len(points), 6))
    u[:, 2], u[:, 4] = x * (a - x), -(a - 2 * x)
    work = pressure(points, block(conn), p) @ u.ravel()
    assert_allclose(work, p * b * a**3 / 6)
    weight = body_force(points, (block(conn),), np.array([[p, 0.0, 0.0]]), np.array([0.3, 0.2, 1.0]))
    assert_allclose(weight @ u.ravel(), work)


def test_moments_on_a_curved_uneven_mesh_are_balanced():
    """Those of each side are a couple and its opposite, whatever is left of them: only forces have a resultant."""
    s, conn = grid(8, 8)
    angle = 1.5 * s[:, 0] ** 1.4
    points = np.column_stack([np.sin(angle), s[:, 1] ** 1.3, np.cos(angle)])
    load = pressure(points, block(conn), 1.0).reshape(-1, 6)
    assert np.abs(load[:, 3:]).max() > 1e-5
    assert_allclose(load[:, 3:].sum(0), 0, atol=1e-15)
