"""Frames of beams: A. Kleinlogel, Rahmenformeln; A. Kassimali, Matrix Analysis of Structures, example 8.4 (both from
memory); Castigliano.
"""

from dataclasses import replace
from math import pi

import numpy as np
from meshes import freedoms, held, shell
from numpy.testing import assert_allclose

from tubfem.shell.beam2 import Section, any_upright, beam_forces, node_beams, tube
from tubfem.shell.recover import spring_forces
from tubfem.shell.solve import solve

STIFF = 1e9  # shear area so large that shear does not count, as in the books


def frame(points, nodes, section, E, G, loads, fixed, *, upright=None):
    """Solution of a frame, and what its members carry."""
    points, nodes = np.asarray(points, dtype=float), np.asarray(nodes)
    ends = points[nodes]
    count = len(nodes)
    upright = any_upright(ends) if upright is None else np.asarray(upright, dtype=float)
    beams = node_beams(
        points, nodes, np.zeros((count, 2, 3)), upright, section, np.full(count, E), np.full(count, G), np.ones(count)
    )
    load = np.zeros((len(points), 6))
    for node, value in loads.items():
        load[node] = value
    supports = [held(freedoms(np.array(fixed), range(6)))]
    model = shell(points, [], np.zeros((0, 8, 8)), load, springs=[beams.springs], supports=supports)
    solution = solve(replace(model, beams=(beams,)))
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    return solution, beam_forces(spring_forces(beams.springs, solution.u), length)


def plain(count, area, second_2, second_3, torsion):
    values = [area, STIFF, STIFF, second_2, second_3, torsion, 1.0, 1.0, 1.0]
    return Section(*(np.full(count, value, dtype=float) for value in values), round=np.zeros(count, dtype=int))


def test_portal_frame_under_a_side_load(record):
    """A clamped portal pushed sideways: moments at foot and head, sway."""
    # Clamped portal, span l, height h, k = I_beam h / (I_column l): moments at head and foot F h/2 · 3k/(1 + 6k) and
    # F h/2 · (1 + 3k)/(1 + 6k) [A. Kleinlogel, Rahmenformeln, from memory; slope-deflection gives the same].
    # Members hardly stretch or shear: 1e-5.
    E, h, span, F = 1.0, 3.0, 5.0, 2.0
    I_c, I_b = 1.0, 2.5
    sections = replace(plain(3, 1e7, 1.0, 1.0, 1.0), second_2=np.array([I_c, I_b, I_c]))
    points = [(0, 0, 0), (0, 0, h), (span, 0, h), (span, 0, 0)]
    upright = [(1, 0, 0), (0, 0, 1), (1, 0, 0)]
    solution, found = frame(
        points, [(0, 1), (1, 2), (3, 2)], sections, E, E, {1: [F, 0, 0, 0, 0, 0]}, (0, 3), upright=upright
    )
    k = I_b * h / (I_c * span)
    head, foot = F * h / 2 * 3 * k / (1 + 6 * k), F * h / 2 * (1 + 3 * k) / (1 + 6 * k)
    for column in (0, 2):
        record.digits(np.abs(found.bending_2[0, column]), [foot, head], rtol=1e-5, of=f"column {column}")
    assert_allclose(np.abs(found.bending_2[0, 1]), head, rtol=1e-5)
    # Slope-deflection: foot + head = F h/2 and the column's chord turns by (2 foot - head) h / (6 E I_c) more than its
    # clamped foot.
    record.digits(solution.u[0, 1, 0], h**2 * (2 * foot - head) / (6 * E * I_c), rtol=1e-5, of="sway")


def test_space_frame_of_a_textbook(record):
    """A space frame of three members, Kassimali's example 8.4: motion of its joint."""
    # A. Kassimali, Matrix Analysis of Structures, example 8.4 (from memory): three members of 240 in to one joint,
    # rolls of 0, 90 and 30 degrees, joint loads less fixed-end forces 0, -30 kip, 0, -1800, 0, 3000 kip in. Joint
    # motion as printed, five digits (the third four), in inches and radians; shear is not counted.
    s, c = np.sin(pi / 6), np.cos(pi / 6)
    sections = plain(3, 32.9, 236.0, 716.0, 15.1)
    points = [(0, 0, 0), (-240, 0, 0), (0, -240, 0), (0, 0, -240)]
    upright = [(0, 0, 1), (1, 0, 0), (-c, -s, 0)]
    solution, _ = frame(
        points,
        [(1, 0), (2, 0), (3, 0)],
        sections,
        29000.0,
        11500.0,
        {0: [0, -30, 0, -1800, 0, 3000]},
        (1, 2, 3),
        upright=upright,
    )
    printed = 1e-3 * np.array([-1.3522, -2.7965, -1.812, -3.0021, 1.0569, 6.4986])
    record.digits(solution.u[0, 0], printed, rtol=3e-4)


def bow(pieces, R=1.0, P=1.0):
    """Deflection of a quarter-circle cantilever of tube under a load square to its plane at the tip."""
    at = np.linspace(0, pi / 2, pieces + 1)
    points = R * np.stack([np.sin(at), np.cos(at), np.zeros(pieces + 1)], 1)
    nodes = np.stack([np.arange(pieces), np.arange(1, pieces + 1)], 1)
    section = tube(np.full(pieces, 0.03), np.full(pieces, 0.002), np.full(pieces, 0.3))
    solution, _ = frame(points, nodes, section, 210e9, 80.8e9, {pieces: [0, 0, P, 0, 0, 0]}, (0,))
    return solution.u[0, -1, 2], section


def test_curved_bar_of_straight_pieces_converges(record):
    """A quarter circle of 32 straight tubes loaded out of its plane."""
    # Quarter circle out of plane: w = P R³ (pi / (4 E I) + (3 pi / 4 - 2) / (G J)) + P R pi / (2 G As), by Castigliano
    # [Timoshenko, Strength of Materials II, bow girders]. Chords of an arc: second order.
    error = []
    for pieces in (4, 8, 16, 32):
        found, section = bow(pieces)
        second, J, As = section.second_2[0], section.torsion[0], section.shear_2[0]
        exact = pi / 4 / (210e9 * second) + (3 * pi / 4 - 2) / (80.8e9 * J) + pi / 2 / (80.8e9 * As)
        error.append(abs(found / exact - 1))
    record("deflection of a quarter circle", found, exact, 0.05, mesh="32 pieces")
    order = np.log2(np.array(error[:-1]) / error[1:])
    assert_allclose(order, 2.0, atol=0.1)


def test_bracket_out_of_its_plane(record):
    """A bracket of two tubes loaded out of its plane."""
    # Two legs a and b at a right angle, load square to both: P (a³ + b³) / 3EI + P a² b / GJ + P (a + b) / G As, a the
    # loaded leg. Castigliano, exact with one beam a leg.
    a, b, P = 0.3, 0.5, 100.0
    section = tube(np.full(2, 0.025), np.full(2, 0.002), np.full(2, 0.3))
    E, G = 210e9, 80.8e9
    load = {2: [0, 0, P, 0, 0, 0]}
    solution, found = frame([(0, 0, 0), (b, 0, 0), (b, a, 0)], [(0, 1), (1, 2)], section, E, G, load, (0,))
    second, J, As = section.second_2[0], section.torsion[0], section.shear_2[0]
    exact = P * (a**3 + b**3) / (3 * E * second) + P * a**2 * b / (G * J) + P * (a + b) / (G * As)
    record.digits(solution.u[0, 2, 2], exact, rtol=1e-9)
    assert_allclose(np.abs(found.torque[0]), [P * a, 0], atol=1e-9)
    assert_allclose(solution.reactions[0, 0], [0, 0, -P, -P * a, P * b, 0], atol=1e-7)
