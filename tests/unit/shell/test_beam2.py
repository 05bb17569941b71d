"""Beams: closed forms of cantilevers, offset ends, columns and free vibration, wherever they stand in space."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from meshes import freedoms, held, shell
from numpy.testing import assert_allclose
from scipy.linalg import eigh

from tubfem.shell.assemble import spring_matrix
from tubfem.shell.beam2 import (
    Section,
    any_upright,
    axes,
    axis_motion,
    beam_forces,
    node_beams,
    peak_stresses,
    rectangle,
    shear_parameters,
    tube,
)
from tubfem.shell.energies import beam_geometric_stiffness, mass_matrix
from tubfem.shell.recover import spring_energies, spring_forces
from tubfem.shell.solve import solve
from tubfem.shell.ties import rigid_motion

E, G, RHO = 70e9, 27e9, 2700.0
TURN = np.linalg.qr(np.random.default_rng(5).standard_normal((3, 3)))[0]
TURN *= np.sign(np.linalg.det(TURN))


def general(count, *, shear=2e-4):
    """Sections that differ in every direction."""
    values = [8e-4, shear, 1.5 * shear, 3e-8, 7e-8, 2e-8, 1e-6, 0.02, 0.03]
    return Section(*(np.full(count, value) for value in values), round=np.zeros(count, dtype=int))


def row(points, section, loads, *, offset=0.0, fixed=(0,), upright=(0, 0, 1.0), turn=None):
    """Beams from each point to the next, those in `fixed` held; the model and its solution."""
    turn = np.eye(3) if turn is None else turn
    points = np.asarray(points, dtype=float)
    nodes = np.stack([np.arange(len(points) - 1), np.arange(1, len(points))], 1)
    count = len(nodes)
    arm = np.broadcast_to(np.asarray(offset, dtype=float), (count, 2, 3)) @ turn.T
    up = np.tile(turn @ np.asarray(upright, dtype=float), (count, 1))
    constants = (np.full(count, value) for value in (E, G, RHO))
    beams = node_beams(points @ turn.T, nodes, arm, up, section, *constants)
    load = np.zeros((len(points), 6))
    for node, value in loads.items():
        load[node] = np.concatenate([turn @ value[:3], turn @ value[3:]])
    supports = [held(freedoms(np.array(fixed), range(6)))] if len(fixed) else []
    model = shell(points @ turn.T, [], np.zeros((0, 8, 8)), load, springs=[beams.springs], supports=supports)
    return replace(model, beams=(beams,))


def tip(model, node=-1, turn=None):
    """Motion (6,) of a node, in the axes before the turn."""
    turn = np.eye(3) if turn is None else turn
    u = solve(model).u[0, node]
    return np.concatenate([turn.T @ u[:3], turn.T @ u[3:]])


@pytest.mark.parametrize("turn", [np.eye(3), TURN])
@pytest.mark.parametrize("count", [1, 5])
def test_cantilever_under_every_load_at_its_tip(turn, count):
    # Closed forms of Timoshenko's beam; exact with any number of elements, so 1e-9.
    L, P = 0.7, 100.0
    section = general(count)
    points = np.outer(np.linspace(0, L, count + 1), [1, 0, 0])
    u = [tip(row(points, section, {count: P * np.eye(6)[k]}, turn=turn), turn=turn) for k in range(6)]
    A, A2, A3, I2, I3, J = (getattr(section, s)[0] for s in section.__slots__[:6])
    assert_allclose(u[0][0], P * L / (E * A), rtol=1e-9)
    assert_allclose(u[1][1], P * L**3 / (3 * E * I3) + P * L / (G * A2), rtol=1e-9)
    assert_allclose(u[2][2], P * L**3 / (3 * E * I2) + P * L / (G * A3), rtol=1e-9)
    assert_allclose(u[3][3], P * L / (G * J), rtol=1e-9)
    assert_allclose([u[4][4], u[4][2]], [P * L / (E * I2), -P * L**2 / (2 * E * I2)], rtol=1e-9)
    assert_allclose([u[5][5], u[5][1]], [P * L / (E * I3), P * L**2 / (2 * E * I3)], rtol=1e-9)


def test_six_rigid_motions_and_no_more():
    model = row([[0, 0, 0], [0.3, 0.1, -0.2]], general(1), {}, offset=[[[0, 0.1, 0], [0, 0.05, 0.02]]], fixed=())
    K = spring_matrix(model).toarray()
    assert_allclose(K, K.T, rtol=1e-12, atol=1e-6)
    size = np.abs(K).max()
    assert np.abs(K @ rigid_motion(model.points).reshape(-1, 6)).max() < 1e-12 * size
    scaled = np.linalg.eigvalsh(K / size)
    assert (np.abs(scaled) < 1e-12).sum() == 6


@pytest.mark.parametrize("turn", [np.eye(3), TURN])
def test_offset_cantilever_bends_when_its_nodes_are_pulled(turn):
    # Pulled by P at the nodes, the axis e above: N = P, M = P e about y. Closed form, exact.
    L, P, e = 0.7, 1000.0, 0.04
    section = general(2)
    points = np.outer([0, 0.3, L], [1, 0, 0])
    model = row(points, section, {2: P * np.eye(6)[0]}, offset=[0, 0, e], turn=turn)
    A, I2 = section.area[0], section.second_2[0]
    u = tip(model, turn=turn)
    assert_allclose(u[0], P * L / (E * A) + P * e**2 * L / (E * I2), rtol=1e-9)
    assert_allclose(u[2], P * e * L**2 / (2 * E * I2), rtol=1e-9)
    forces = beam_forces(spring_forces(model.springs[0], solve(model).u), np.array([0.3, 0.4]))
    assert_allclose(forces.normal, P)
    assert_allclose(np.abs(forces.bending_2), P * e)
    assert_allclose(forces.bending_3, 0, atol=1e-9)


def test_moments_and_shear_along_a_cantilever():
    # Force P along +z at the tip: M = P (L - x), the fibres at -z pulled... at +z pressed; shear P.
    P, L = 50.0, np.array([0.3, 0.4])
    model = row(np.outer([0, 0.3, 0.7], [1, 0, 0]), general(2), {2: P * np.eye(6)[2]})
    found = beam_forces(spring_forces(model.springs[0], solve(model).u), L)
    assert_allclose(found.bending_2[0], [[P * 0.7, P * 0.4], [P * 0.4, 0]], atol=1e-9)
    assert_allclose(found.shear_3[0], P)
    energy = spring_energies(model.springs[0], solve(model).u).sum()
    assert_allclose(energy, 0.5 * P * tip(model)[2], rtol=1e-9)


def test_peak_stress_of_a_tube():
    # N/A + M r / I with M of both planes as vectors, T r / J: closed form.
    section = tube(0.025, 0.002, 0.3)
    model = row([[0, 0, 0], [0.5, 0, 0]], section, {1: np.array([1000, 30.0, 40.0, 60.0, 0, 0])})
    found = beam_forces(spring_forces(model.springs[0], solve(model).u), np.array([0.5]))
    pull, push, shear = (values[0, 0] for values in peak_stresses(found, section))
    area = pi / 4 * (0.025**2 - 0.021**2)
    second = pi / 64 * (0.025**4 - 0.021**4)
    bending = 50.0 * 0.5 * 0.0125 / second
    assert_allclose([pull, push], [1000 / area + bending, 1000 / area - bending], rtol=1e-9)
    assert_allclose(shear, 60.0 * 0.0125 / (2 * second), rtol=1e-9)


def test_rectangle():
    # 0.2 x 0.1: K = 4.57363e-5 m4 by Saint-Venant's series; greatest shear 0.246 T / (a b²) inverse, Timoshenko &
    # Goodier, table of art. 109 (2:1: k1 = 0.229, k2 = 0.246, printed to three digits).
    for width, height in ((0.2, 0.1), (0.1, 0.2)):
        found = rectangle(width, height, 0.3)
        assert_allclose(found.torsion, 4.57363e-5, rtol=1e-5)
        assert_allclose(found.torsion_modulus, 0.246 * 0.2 * 0.1**2, rtol=2e-3)
        assert_allclose(found.second_2, width * height**3 / 12)
    strip = rectangle(0.03, 0.0003, 0.3)
    assert_allclose(strip.torsion, 0.03 * 0.0003**3 / 3, rtol=0.01)  # a thin strip: 1 - 0.63 b/a


def test_shear_area_of_tubes():
    # Cowper (1966), table: thin round tube 2 (1 + nu) / (4 + 3 nu), solid rod 6 (1 + nu) / (7 + 6 nu).
    thin, rod = tube(0.1, 1e-6, 0.3), tube(0.1, 0.05, 0.3)
    assert_allclose(thin.shear_2 / thin.area, 2.6 / 4.9, rtol=1e-4)
    assert_allclose(rod.shear_2 / rod.area, 7.8 / 8.8, rtol=1e-9)


def test_frames():
    ends = np.array([[[0, 0, 0], [0, 0, 1.0]], [[0, 0, 0], [2.0, 0, 0]]])
    assert_allclose(axes(ends, any_upright(ends))[1], np.eye(3), atol=1e-15)
    frame = axes(ends, any_upright(ends))[0]
    assert_allclose(frame @ frame.T, np.eye(3), atol=1e-15)
    assert_allclose(np.linalg.det(frame), 1)


def bars(count, L, section, **kwargs):
    return row(np.outer(np.linspace(0, L, count + 1), [1, 0, 0]), section, {}, **kwargs)


def test_mass_is_that_of_the_axis():
    model = bars(3, 1.2, general(3), fixed=(), offset=[0, 0.1, 0.2], turn=TURN)
    M = mass_matrix(model)
    U = rigid_motion(model.points).reshape(-1, 6)
    inertia = U.T @ M @ U
    mass = RHO * 8e-4 * 1.2
    assert_allclose(inertia[:3, :3], mass * np.eye(3), atol=1e-12 * mass)
    centre = TURN @ np.array([0.6, 0.1, 0.2])
    assert_allclose(np.array([inertia[1, 5], inertia[2, 3], inertia[0, 4]]) / mass, centre, rtol=1e-10)
    # About its own middle, across the axis: m L²/12 and the section's own inertia.
    along = TURN @ np.array([0, 0, 1.0])
    about = np.concatenate([np.cross(centre, along), along])  # turns about an axis through the centre of mass
    assert_allclose(about @ inertia @ about, mass * 1.2**2 / 12 + RHO * 7e-8 * 1.2, rtol=1e-9)


def test_free_beam_rings_as_in_the_books():
    # (beta L)² = 22.3733, 61.6728 of a free-free beam [Blevins, Formulas for Natural Frequency and Mode Shape, table
    # 8-1]; so slender (L / r = 1200) that rotary inertia and shear take 1e-4 off the second; 12 elements: 3e-4.
    L, count = 2.0, 12
    section = tube(np.full(count, 0.005), np.full(count, 0.0003), np.full(count, 0.3))
    model = bars(count, L, section, fixed=(), turn=TURN)
    square = eigh(spring_matrix(model).toarray(), mass_matrix(model).toarray(), eigvals_only=True)
    unit = np.sqrt(E * section.second_2[0] / (RHO * section.area[0] * L**4))
    found = np.sqrt(np.abs(square[6:10])) / unit
    assert_allclose(found, [22.3733, 22.3733, 61.6728, 61.6728], rtol=3e-4)
    assert np.abs(square[:6]).max() < 1e-6 * square[6]


def test_column_buckles_at_eulers_load():
    # Pinned column, P = pi² E I / L² / (1 + P / G As) by Engesser; 12 elements with cubic slopes: 1e-4.
    L, count, P = 1.0, 12, 1000.0
    section = tube(np.full(count, 0.03), np.full(count, 0.002), np.full(count, 0.3))
    model = bars(count, L, section, fixed=(0,))
    load = np.zeros((count + 1, 6))
    load[count, 0] = -P
    u = solve(replace(model, loads=load.reshape(-1, 1))).u[0]
    K, KG = spring_matrix(model).toarray(), beam_geometric_stiffness(model, u).toarray()
    free = np.setdiff1d(np.arange(6 * (count + 1)), [0, 1, 2, 3, 6 * count + 1, 6 * count + 2])
    factor = 1 / eigh(-KG[np.ix_(free, free)], K[np.ix_(free, free)], eigvals_only=True)[-1]
    euler = pi**2 * E * section.second_2[0] / L**2
    assert_allclose(factor * P, euler / (1 + euler / (G * section.shear_2[0])), rtol=1e-4)


def test_shear_parameter_of_a_short_beam():
    section = rectangle(0.01, 0.02, 0.0)
    phi = shear_parameters(np.array([0.02]), np.array([2.0]), np.array([1.0]), section)
    # 12 E I / (G As L²) with I = b h³/12, As = 10/12 b h: E/G h² / (10/12 L²)
    assert_allclose([p[0] for p in phi], [2 * 0.01**2 / (10 / 12 * 0.02**2), 2 / (10 / 12)])


def test_drawn_ends_move_with_their_nodes():
    model = bars(2, 0.7, general(2), fixed=(0,), turn=TURN)
    load = np.zeros((3, 6))
    load[2] = [0, 3.0, 4.0, 1.0, 0, 0]
    u = solve(replace(model, loads=load.reshape(-1, 1))).u[0]
    drawn = axis_motion(model.beams[0], u)
    assert_allclose(drawn, u[[[0, 1], [1, 2]], :3], atol=1e-10 * np.abs(u).max())
