"""Natural frequencies of flat plates, a cylinder and a free tube: A. W. Leissa, J. Sound Vib. 31 (1973) 257 (from
memory); NAFEMS, Selected Benchmarks for Natural Frequency Analysis, R0015, 1987; converged, computed independently.

λ = ω a² √(ρh/D), ν = 0.3: Leissa (Ritz values, 0.2 to 1 % high where edges are free), and converged, by a p-version
Reissner-Mindlin plate at h/a = 0.001, at 0.1 with rotary inertia and a shear factor of 5/6. Ours is held to the
converged ones.
"""

import numpy as np
import pytest
from laminates import stack, ud
from meshes import block, grid, held, isotropic, shell, welded
from plates import CLAMPED, FLAT, SIMPLE, Plate, frequencies, navier_frequencies, simply

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import mass_moments
from tubfem.shell.eigen import vibration, whole_vibration
from tubfem.shell.loads import node_masses
from tubfem.shell.model import Springs
from tubfem.shell.solve import solve_and_keep
from tubfem.tub.modes import determinate_supports

E, NU = 200e9, 0.3
CANTILEVER = {"x0": (2, 3, 4), "all": FLAT}
LEISSA = {
    "SSSS": [19.739, 49.348, 49.348, 78.957, 98.696],
    "CCCC": [35.992, 73.413, 73.413, 108.27, 131.64],
    "FFFF": [13.489, 19.789, 24.432, 35.024, 35.024, 61.526],
    "CFFF": [3.4917, 8.5246, 21.429, 27.331, 31.111],
    "SFSF": [9.6314, 16.135, 36.726],
}
CONVERGED = {
    "SSSS": [19.739, 49.348, 49.348, 78.956, 98.694],
    "CCCC": [35.985, 73.392, 73.392, 108.213, 131.576],
    "FFFF": [13.467, 19.596, 24.270, 34.799, 34.799, 61.092],
    "CFFF": [3.471, 8.506, 21.284, 27.198, 30.953],
    "SFSF": [9.631, 16.134, 36.724, 38.944],
}
HELD = {"SSSS": SIMPLE, "CCCC": CLAMPED, "CFFF": CANTILEVER, "SFSF": {"x0": (2, 3), "x1": (2, 3), "all": FLAT}}


def eigenvalues(edges, n, count, *, h=1e-3, kind="quad4"):
    """λ of a unit square."""
    mass = np.array([h, 0.0, h**3 / 12])
    D = E * h**3 / 12 / (1 - NU**2)
    plate = Plate(n, kind=kind)
    found = frequencies(plate, isotropic(E, NU, h), HELD.get(edges), mass, count, free=edges == "FFFF")
    return found * np.sqrt(h / D)


@pytest.mark.parametrize("edges", CONVERGED)
def test_square_plates(record, edges):
    """Square plates held in five ways; a free one without any support, its six rigid motions taken out."""
    ours = eigenvalues(edges, 24, len(CONVERGED[edges]))
    for number, (value, reference) in enumerate(zip(ours, CONVERGED[edges], strict=True), start=1):
        record(f"λ of {edges}, mode {number}", value, reference, 1.0)
    for value, book in zip(ours, LEISSA[edges], strict=False):
        assert abs(value / book - 1) < 0.015


@pytest.mark.parametrize("edges", ["SSSS", "FFFF"])
def test_triangles(record, edges):
    """Plates of triangles."""
    ours = eigenvalues(edges, 24, 4, kind="tria3")
    for number, (value, reference) in enumerate(zip(ours, CONVERGED[edges][:4], strict=True), start=1):
        record(f"λ of {edges}, triangles, mode {number}", value, reference, 1.0)


@pytest.mark.parametrize(
    ("edges", "expected"),
    [
        ("SSSS", [19.065, 45.483, 45.483, 69.794]),
        ("CCCC", [32.524, 62.039, 62.039, 86.949]),
        ("FFFF", [12.719, 18.943, 23.324, 31.922]),
    ],
)
def test_thick_plates(record, edges, expected):
    """Thick plates, h/a = 0.1: transverse shear and rotary inertia.

    Without rotary inertia the fourth simply supported mode would be 2 % higher.

    In a free plate modes in its own plane are far above these.
    """
    for number, (value, reference) in enumerate(zip(eigenvalues(edges, 24, 4, h=0.1), expected, strict=True), start=1):
        record(f"λ of {edges}, h/a 0.1, mode {number}", value, reference, 1.0)


@pytest.mark.parametrize(
    ("test", "edges", "target", "converged"),
    [
        ("FV12", "FFFF", [1.622, 2.360, 2.922, 4.233, 4.233], [1.6196, 2.3592, 2.9219, 4.1848, 4.1848, 7.3535]),
        ("FV13", "SSSS", [2.377, 5.942, 5.942, 9.507], [2.3765, 5.9405, 5.9405, 9.5034, 11.8782]),
        ("FV16", "CFFF", [0.421, 1.029, 2.582, 3.306, 3.753], [0.4179, 1.0232, 2.5620, 3.2729, 3.7231, 6.5146]),
    ],
)
def test_nafems(record, test, edges, target, converged):
    """NAFEMS FV12, FV13, FV16: 10 m plates 50 mm thick, in Hz.

    Its targets (from memory) are of coarse meshes; converged as above.
    """
    h, plate = 0.05, Plate(24, 10.0, 10.0)
    mass = 8000 * np.array([h, 0.0, h**3 / 12])
    ours = frequencies(plate, isotropic(E, NU, h), HELD.get(edges), mass, len(converged), free=edges == "FFFF")
    for number, (value, reference) in enumerate(zip(ours / (2 * np.pi), converged, strict=True), start=1):
        record(f"{test} mode {number} [Hz]", value, reference, 1.0)
    for value, published in zip(ours / (2 * np.pi), target, strict=False):
        assert abs(value / published - 1) < 0.015


@pytest.mark.parametrize(
    ("test", "h", "target", "converged"),
    [
        ("FV15", 0.05, [7.938, 12.835, 17.941, 19.133, 24.009], [7.8995, 12.812, 17.839, 18.911, 23.661, 27.591]),
        ("FV22", 1.0, [133.95, 201.41, 265.81, 282.74, 334.45], [133.40, 201.91, 266.92, 280.79, 336.12]),
    ],
)
def test_nafems_rhombus(record, test, h, target, converged):
    """NAFEMS FV15, FV22: clamped rhombus of 45°, 10 m, thin and thick, in Hz; 32 elements a side."""
    plate = Plate(32)
    s, t, _ = plate.points.T
    plate.points = 10 * np.column_stack([s + t * np.cos(np.pi / 4), t * np.sin(np.pi / 4), 0 * s])
    mass = 8000 * np.array([h, 0.0, h**3 / 12])
    ours = frequencies(plate, isotropic(E, NU, h), CLAMPED, mass, len(converged)) / (2 * np.pi)
    for number, (value, reference) in enumerate(zip(ours, converged, strict=True), start=1):
        record(f"{test} mode {number} [Hz]", value, reference, 1.0)
    for value, published in zip(ours, target, strict=False):
        assert abs(value / published - 1) < 0.015


def test_nafems_fv21(record):
    """NAFEMS FV21: a simply supported plate a tenth as thick as wide, in Hz."""
    mass = 8000 * np.array([1.0, 0.0, 1 / 12])
    ours = frequencies(Plate(24, 10.0, 10.0), isotropic(E, NU, 1.0), SIMPLE, mass, 7) / (2 * np.pi)
    for number, (value, reference) in enumerate(
        zip(ours, [45.911, 109.53, 109.53, 168.07, 204.78, 204.78, 256.91], strict=True), start=1
    ):
        record(f"FV21 mode {number} [Hz]", value, reference, 1.0)


def sanders(m, n, R, L, t, rho):
    """Frequency [Hz] of m half waves along and n waves round a cylinder between diaphragms: Sanders's strains."""
    along = m * np.pi * R / L
    membrane = np.array([[-along, 0, 0], [0, n, 1.0], [-n, along, 0]])
    bending = np.array([[0, 0, along**2], [0, n, n**2], [n / 2, 1.5 * along, 2 * along * n]])
    Q = np.array([[1, NU, 0], [NU, 1, 0], [0, 0, (1 - NU) / 2]])
    K = membrane.T @ Q @ membrane + t**2 / 12 / R**2 * bending.T @ Q @ bending
    return np.sqrt(np.linalg.eigvalsh(K)[0] * E / (rho * (1 - NU**2))) / R / (2 * np.pi)


# 64 elements round: the fourth pair has five waves, of six elements a half wave.
def test_cylinder(record):
    """A cylinder between diaphragms, 0.6 x 0.8 m, 3 mm: its lowest pairs (J. L. Sanders's theory, closed form)."""
    R, L, t, rho = 0.3, 0.8, 0.003, 7800.0
    s, conn = grid(16, 64)
    points = np.column_stack([L * s[:, 0], R * np.cos(2 * np.pi * s[:, 1]), R * np.sin(2 * np.pi * s[:, 1])])
    points, (conn,) = welded([(points, conn)])
    x = points[:, 0]
    diaphragms = 6 * np.flatnonzero(np.isclose(x, 0) | np.isclose(x, L))
    middle = 6 * np.flatnonzero(np.isclose(x, L / 2))[:1]
    support = held(diaphragms + 1, diaphragms + 2, middle)
    mass = rho * np.array([[t, 0.0, t**3 / 12]])
    model = shell(points, [block(conn)], isotropic(E, NU, t), np.zeros(6 * len(points)), supports=[support], mass=mass)
    ours = vibration(model, solve_and_keep(model)[1], 8).frequencies[::2]
    pairs = np.sort([sanders(m, n, R, L, t, rho) for m in range(1, 4) for n in range(1, 10)])[:4]
    for number, (value, reference) in enumerate(zip(ours, pairs, strict=True), start=1):
        record(f"cylinder, pair {number} [Hz]", value, reference, 1.0, mesh="16 x 64")


@pytest.mark.parametrize(
    ("angles", "thin", "book"),
    [
        ((0, 90), 10, 10.4731),
        ((0, 90, 90, 0), 10, 15.1426),
        ((0, 90, 90, 0), 100, 18.8362),
        ((45, -45), 10, 13.0439),
        ((45, -45) * 4, 10, 19.2895),
    ],
)
def test_laminated_plates(record, angles, thin, book):
    """Laminated plates, cross-ply and angle-ply, thick and thin.

    ω a²/h √(ρ/E2), E1/E2 = 40, G12 = G13 = 0.6, G23 = 0.5 E2, ν = 0.25, shear factor 5/6: A. A. Khdeir &
    J. N. Reddy (from memory), Navier's series in closed form.
    """
    h = 1 / thin
    layers = stack(angles, ud(40.0, 1.0, 0.6, 0.25, G13=0.6, G23=0.5, thickness=h / len(angles)))
    C = stiffness8(layers).copy()
    C[6:, 6:] = np.eye(2) * 5 / 6 * 0.55 * h
    mass = np.array([h, 0.0, h**3 / 12])
    angle_ply = angles[0] == 45
    series = navier_frequencies(C, 1.0, 1.0, mass, 1, angle_ply=angle_ply)[0] / h
    assert abs(series / book - 1) < 0.001
    supports = simply(across=(0,), along=(1,)) if angle_ply else simply(across=(1,), along=(0,))
    ours = frequencies(Plate(16), C, supports | {"all": (5,)}, mass, 1)[0] / h
    record(f"ω of {angles} a/h {thin}", ours, series, 0.5)


@pytest.mark.parametrize(
    ("angles", "free", "clamped"),
    [
        ((0, 45, -45, 90, 90, -45, 45, 0), [34.602, 45.340, 83.758, 88.066, 109.502], [13.742, 25.896, 61.492, 86.603]),
        ((0,) * 8, [20.764, 28.558, 51.136, 78.698], [16.531, 20.941, 41.518, 88.149]),
    ],
    ids=["quasi-isotropic", "unidirectional"],
)
def test_free_and_cantilever_laminates(record, angles, free, clamped):
    """Laminated plates free all round, and held at one edge.

    300 x 300 x 1 mm, plies of 0.125 mm, 135/10/5 GPa, 0.3, G13 = 5, G23 = 3.5, 1600 kg/m³; Hz, computed
    independently by a p-version shell.
    """
    layers = stack(angles, ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.125e-3, rho=1600.0))
    C, mass = stiffness8(layers), mass_moments(layers)
    plate = Plate(24, 0.3, 0.3)
    for name, supports, expected in (("free", None, free), ("cantilever", {"x0": range(6)}, clamped)):
        ours = frequencies(plate, C, supports, mass, len(expected), free=supports is None) / (2 * np.pi)
        for number, (value, reference) in enumerate(zip(ours, expected, strict=True), start=1):
            record(f"{name} {'quasi-isotropic' if 45 in angles else '[0]8'} mode {number} [Hz]", value, reference, 1.0)


def square_tube(b, t, length, n):
    """A tube of square section in its middle surface, axis x, and its stack of steel."""
    s, conn = grid(round(n * length / b), n)
    sides = []
    for (y, z), (along_y, along_z) in zip(
        [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)], [(1, 0), (0, 1), (-1, 0), (0, -1)], strict=True
    ):
        points = np.stack([s[:, 0] * length, b * (y + s[:, 1] * along_y), b * (z + s[:, 1] * along_z)], 1)
        sides.append((points, conn))
    points, conns = welded(sides)
    rho = 7800.0
    return points, block(np.concatenate(conns)), isotropic(E, NU, t), rho * np.array([[t, 0.0, t**3 / 12]])


@pytest.mark.parametrize("way", ["all mass", "mass of sections"])
def test_torsion_of_a_free_tube(record, way):
    """First torsion of a free square tube, with all its mass and with that of its sections.

    ω = (π/L) √(GJ/ρIp): R. Bredt's GJ of a square tube is G b³ t, St Venant's share of the walls 4/3 G b t³ (1.3 %
    here), Ip of the thin square 4/3 b³ t and of its walls about themselves b t³ / 3. Length 15 times the side, side ten
    times the wall: thin enough for a shell, thick enough that walls do not swing by themselves.

    In a square tube turning walls push nothing out of shape, so the section keeps its own.
    """
    b, t, length = 0.1, 0.01, 1.5
    points, elements, C, mass = square_tube(b, t, length, 6)
    supports = held(determinate_supports(points))
    model = shell(points, [elements], C, np.zeros(6 * len(points)), supports=[supports], mass=mass)
    _, factored = solve_and_keep(model)
    rho, G = 7800.0, E / 2 / (1 + NU)
    J, polar = b**3 * t + 4 * b * t**3 / 3, 4 * b**3 * t / 3 + b * t**3 / 3
    bredt = 1 / (2 * length) * np.sqrt(G * J / (rho * polar))
    if way == "all mass":
        found = vibration(model, factored, 12, free=True)
    else:
        found = whole_vibration(model, factored, 8, sections(model))
    twisting = [turning(points, shape) for shape in found.shapes]
    number = next(k for k, share in enumerate(twisting) if share > 0.9)
    record(f"first torsion of a tube, {way} [Hz]", found.frequencies[number], bredt, 1.0)


def turning(points, shape):
    """Share of the motion that turns about the axis."""
    arm = points[:, 1:]
    tangent = np.stack([-arm[:, 1], arm[:, 0]], 1) / np.linalg.norm(arm, axis=1, keepdims=True)
    return ((shape[:, 1:3] * tangent).sum(1) ** 2).sum() / (shape[:, :3] ** 2).sum()


def sections(model):
    """Every row of nodes across the tube as a rigid section."""
    mass = node_masses(model.points, model.blocks, model.mass)
    found = []
    for x in np.unique(model.points[:, 0].round(9)):
        nodes = np.flatnonzero(np.isclose(model.points[:, 0], x))
        own, arm = mass[nodes], model.points[nodes]
        inertia = own @ (arm[:, 1] ** 2 + arm[:, 2] ** 2)
        rows = np.zeros((4, len(nodes), 3))
        for k in range(3):
            rows[k, :, k] = own / own.sum()
        rows[3, :, 1], rows[3, :, 2] = -own * arm[:, 2] / inertia, own * arm[:, 1] / inertia
        freedoms = np.tile((6 * nodes[:, None] + np.arange(3)).ravel(), (4, 1))
        found.append(Springs(freedoms, rows.reshape(4, -1), np.array([*[own.sum()] * 3, inertia])))
    return found
