"""A plate with a rib and a cross of plates in compression, a free box beam in bending: handbook forms.

S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability, 2nd ed. 1961, section 9.11 (from memory): a simply
supported plate with a rib of bending stiffness EI and area A along its middle, by energy,
w = sin(πx/a) Σ a_m sin(mπy/b).
S. P. Timoshenko, Phil. Mag. 41 (1921) 744: beams with shear and rotary inertia; the shear coefficient of a thin square
tube is 20 (1 + ν) / (48 + 39 ν) (G. R. Cowper, J. Appl. Mech. 33 (1966) 335, from memory).
"""

import numpy as np
import pytest
from meshes import block, grid, held, isotropic, shell, welded
from scipy import sparse
from scipy.linalg import eigh
from scipy.optimize import brentq
from scipy.sparse.linalg import LinearOperator, eigsh

from tubfem.shell.eigen import vibration
from tubfem.shell.energies import geometric_stiffness, membrane_forces
from tubfem.shell.loads import edge_load
from tubfem.shell.solve import solve_and_keep
from tubfem.tub.modes import determinate_supports

E, NU = 200e9, 0.3
T, RIB = 5e-3, 5e-3  # m, plate 1 x 1 m and rib


def energy_coefficient(gamma, delta, terms=15):
    """k of N = k π² D / b² of a square plate with a rib in its middle: EI = gamma b D, area = delta b t."""
    m = np.arange(1, 2 * terms, 2)
    crest = np.sin(m * np.pi / 2)
    rib = np.outer(crest, crest)
    return eigh(np.diag((1 + m**2) ** 2) + 2 * gamma * rib, np.eye(terms) + 2 * delta * rib, eigvals_only=True)[0]


def lowest_factor(model, solution, factored):
    """Of the load case that was solved; one side alone, for nothing here ripples under a pull."""
    ties = model.ties.T
    G = sparse.csc_array(ties.T @ geometric_stiffness(model, membrane_forces(model, solution.u[0])) @ ties)
    start = np.random.default_rng(0).standard_normal(G.shape[0])
    inverse = LinearOperator(G.shape, matvec=factored.inverse, dtype=float)
    return 1 / eigsh(-G, k=1, M=factored.A, Minv=inverse, which="LA", v0=start, return_eigenvectors=False)[0]


@pytest.mark.parametrize("height", [0.02, 0.04])
def test_plate_with_a_rib(record, height):
    """A square plate with a rib on both faces along its middle, both pressed: one half-wave, the rib bends with it."""
    D = E * T**3 / 12 / (1 - NU**2)
    s, conn = grid(16, 16)
    r, up = grid(16, 4)
    flat = np.column_stack([s, np.zeros(len(s))])
    blade = np.column_stack([r[:, 0], np.full(len(r), 0.5), height * (r[:, 1] - 0.5)])
    points, (plate, rib) = welded([(flat, conn), (blade, up)])
    x, y, z = points.T
    on_plate = np.abs(z) < 1e-12
    edge = on_plate & ((x < 1e-9) | (x > 1 - 1e-9) | (y < 1e-9) | (y > 1 - 1e-9))
    w = 6 * np.flatnonzero(edge) + 2
    corner = np.flatnonzero(on_plate & (x < 1e-9) & (y < 1e-9))[0]
    other = np.flatnonzero(on_plate & (x > 1 - 1e-9) & (y < 1e-9))[0]
    load = np.zeros(6 * len(points))
    for end, sign in ((0.0, 1.0), (1.0, -1.0)):
        at = np.abs(x - end) < 1e-9
        for along, thickness, on in ((y, T, on_plate), (z, RIB, np.abs(y - 0.5) < 1e-9)):
            nodes = np.flatnonzero(at & on)
            nodes = nodes[np.argsort(along[nodes])]
            sides = np.stack([nodes[:-1], nodes[1:]], 1)
            load += edge_load(points, sides, np.array([sign * thickness, 0, 0, 0, 0, 0]))  # 1 Pa in both
    blocks = [block(plate), block(rib, stack=1)]
    C = np.concatenate([isotropic(E, NU, T).reshape(1, 8, 8), isotropic(E, NU, RIB).reshape(1, 8, 8)])
    free = held(w, np.array([6 * corner, 6 * corner + 1, 6 * other + 1]))
    model = shell(points, blocks, C, load, supports=[free])
    solution, factored = solve_and_keep(model)
    stress = lowest_factor(model, solution, factored)
    gamma, delta = RIB * height**3 / 12 * E / D, RIB * height / T
    expected = energy_coefficient(gamma, delta)
    assert expected < 15.9  # below that of the plate between its ribs, which would buckle first
    # 2 %: the rib is a beam in the energy, whose own torsion and shear are left out
    record(f"k of a ribbed plate, rib {1e3 * height:g} mm", stress * T / (np.pi**2 * D), expected, 2.0)


# The flanges' own equation: w = Y(y) sin(πx/L), hinged where they meet, free at their outer edge (Timoshenko & Gere,
# section 9.4, from memory); a free edge costs 0.63 t/b of a flange's torsion, which a thin plate knows nothing of.
def test_cross_of_plates_turns(record):
    """A column of four flanges like a cross, which buckles by turning about its axis."""
    b, t, L, n = 0.1, 2e-3, 0.8, 8
    D, wave = E * t**3 / 12 / (1 - NU**2), np.pi / L

    def edge(N):
        root = wave * np.sqrt(N / D)
        grow, swing = np.sqrt(root + wave**2), np.sqrt(root - wave**2)
        return swing * (grow**2 - NU * wave**2) ** 2 * np.tanh(grow * b) - grow * (
            swing**2 + NU * wave**2
        ) ** 2 * np.tan(swing * b)

    about = 6 * (1 - NU) * D / b**2 + D * wave**2  # torsion alone, and the flanges' bending
    expected = brentq(edge, 0.95 * about, 1.05 * about)
    s, conn = grid(round(n * L / b), n)
    ways = [(1, 0), (0, 1), (-1, 0), (0, -1)]
    points, conns = welded(
        [(np.column_stack([s[:, 0] * L, b * s[:, 1] * dy, b * s[:, 1] * dz]), conn) for dy, dz in ways]
    )
    x, y, z = points.T
    load = np.zeros(6 * len(points))
    for flange in conns:
        for end, sign in ((0.0, 1.0), (L, -1.0)):
            nodes = np.unique(flange)
            nodes = nodes[np.isclose(x[nodes], end)]
            nodes = nodes[np.argsort(np.hypot(y, z)[nodes])]
            load += edge_load(points, np.stack([nodes[:-1], nodes[1:]], 1), np.array([sign * t, 0, 0, 0, 0, 0]))
    ends, axis = np.isclose(x, 0) | np.isclose(x, L), np.hypot(y, z) < 1e-9
    held_free = [6 * np.flatnonzero(ends & (np.abs(a) < 1e-9)) + c for a, c in ((z, 2), (y, 1))]  # free to swell
    supports = held(*held_free, 6 * np.flatnonzero(axis & np.isclose(x, L / 2)))
    model = shell(points, [block(np.concatenate(conns))], isotropic(E, NU, t), load, supports=[supports])
    solution, factored = solve_and_keep(model)
    record("cross of plates [N/m]", lowest_factor(model, solution, factored) * t, expected, 1.0, mesh="8 a flange")


def timoshenko_frequency(EI, GAk, mass, turning, length, elements=400):
    """First bending frequency [Hz] of a free beam: two-node elements, shear at their middles."""
    h = length / elements
    K, M = np.zeros((2 * elements + 2,) * 2), np.zeros((2 * elements + 2,) * 2)
    bend = EI / h * np.outer([0, -1, 0, 1], [0, -1, 0, 1])
    shear = GAk * h * np.outer([-1 / h, -0.5, 1 / h, -0.5], [-1 / h, -0.5, 1 / h, -0.5])
    part = h / 6 * np.array([[2.0, 1], [1, 2]])
    inertia = np.zeros((4, 4))
    inertia[np.ix_([0, 2], [0, 2])], inertia[np.ix_([1, 3], [1, 3])] = mass * part, turning * part
    for k in range(elements):
        at = np.ix_(np.arange(2 * k, 2 * k + 4), np.arange(2 * k, 2 * k + 4))
        K[at] += bend + shear
        M[at] += inertia
    return np.sqrt(eigh(K, M, eigvals_only=True, subset_by_index=(0, 3))[2]) / (2 * np.pi)


def test_bending_of_a_free_box_beam(record):
    """First bending of a free square tube of 100 x 100 x 10 mm, 1.5 m long, either way."""
    b, t, length, n, rho = 0.1, 0.01, 1.5, 6, 7800.0
    s, conn = grid(round(n * length / b), n)
    parts = []
    for (y, z), (dy, dz) in zip(
        [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)], [(1, 0), (0, 1), (-1, 0), (0, -1)], strict=True
    ):
        parts.append((np.stack([s[:, 0] * length, b * (y + s[:, 1] * dy), b * (z + s[:, 1] * dz)], 1), conn))
    points, conns = welded(parts)
    mass = rho * np.array([[t, 0.0, t**3 / 12]])
    model = shell(
        points,
        [block(np.concatenate(conns))],
        isotropic(E, NU, t),
        np.zeros(6 * len(points)),
        supports=[held(determinate_supports(points))],
        mass=mass,
    )
    found = vibration(model, solve_and_keep(model)[1], 4, free=True)
    second, G = 2 / 3 * b**3 * t, E / 2 / (1 + NU)
    shear = 20 * (1 + NU) / (48 + 39 * NU) * G * 4 * b * t
    expected = timoshenko_frequency(E * second, shear, rho * 4 * b * t, rho * second, length)
    slender = 4.7300407**2 / (2 * np.pi * length**2) * np.sqrt(E * second / (rho * 4 * b * t))
    assert 0.9 < expected / slender < 0.99  # shear and turning matter here, and only so much
    for number in (0, 1):
        record(f"first bending of a box beam, mode {number + 1} [Hz]", found.frequencies[number], expected, 1.0)
