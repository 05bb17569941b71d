"""Buckling of flat plates: S. P. Timoshenko & J. M. Gere, Theory of Elastic Stability, 2nd ed. 1961, chapter 9 (from
memory); R. M. Jones, AIAA J. 11 (1973) 1626; converged, computed independently by a p-version Reissner-Mindlin plate.

Isotropic, N = k π² D / b², ν = 0.3. Each line has the coefficient of the book and a converged one, h/b = 0.001; ours is
held to the converged one. Thick plates: closed form of Navier's series. Meshes of 16 to 32 elements along the shorter
side.
"""

import numpy as np
import pytest
from laminates import core, stack, ud
from meshes import KIND, isotropic
from plates import CLAMPED, FLAT, SIMPLE, Plate, critical, navier_buckling, simply

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.shell.eigen import buckling
from tubfem.shell.loads import edge_load
from tubfem.shell.solve import solve_and_keep

E, NU = 200e9, 0.3
THIN = 1e-3
COMPRESSION, SHEAR, BIAXIAL = (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (-1.0, -1.0, 0.0)
ENDS_SIMPLE = {"x0": (2, 3), "x1": (2, 3), "all": FLAT}


def coefficient(n, held, forces, *, a=1.0, h=THIN, kind="quad4", distort=0.0):
    """k of a plate a x 1."""
    D = E * h**3 / 12 / (1 - NU**2)
    return critical(Plate(n, a, kind=kind, distort=distort), isotropic(E, NU, h), held, forces) / (np.pi**2 * D)


@pytest.mark.parametrize(
    ("name", "held", "a", "forces", "converged", "book", "percent"),
    [
        ("compression SSSS", SIMPLE, 1.0, COMPRESSION, 4.0, 4.0, 0.5),
        ("compression SSSS", SIMPLE, 2**0.5, COMPRESSION, 4.5, 4.5, 0.5),
        ("biaxial SSSS", SIMPLE, 1.0, BIAXIAL, 2.0, 2.0, 0.5),
        ("compression CCCC", CLAMPED, 1.0, COMPRESSION, 10.074, 10.07, 0.5),
        ("compression CCCC", CLAMPED, 2.0, COMPRESSION, 7.867, 7.88, 0.5),
        ("shear SSSS", SIMPLE, 1.0, SHEAR, 9.324, 9.34, 1.0),
        ("shear SSSS", SIMPLE, 1.5, SHEAR, 7.070, 7.1, 1.0),
        ("shear SSSS", SIMPLE, 2.0, SHEAR, 6.546, 6.6, 1.0),
        ("shear CCCC", CLAMPED, 1.0, SHEAR, 14.641, 14.71, 1.0),
        ("shear CCCC", CLAMPED, 2.0, SHEAR, 10.248, 10.33, 1.0),
        (
            "compression, sides clamped",
            {"x0": (2, 3), "x1": (2, 3), "y0": (2, 3, 4), "y1": (2, 3, 4), "all": FLAT},
            0.66,
            COMPRESSION,
            6.971,
            6.97,
            0.5,
        ),
        ("compression, one side free", ENDS_SIMPLE | {"y0": (2, 4)}, 1.0, COMPRESSION, 1.4015, 1.425, 0.5),
        ("compression, one side free", ENDS_SIMPLE | {"y0": (2, 4)}, 2.0, COMPRESSION, 0.6681, 0.675, 0.5),
        ("compression, one side free", ENDS_SIMPLE | {"y0": (2, 4)}, 4.0, COMPRESSION, 0.4860, 0.4875, 0.5),
        ("shear SSSS", SIMPLE, 3.0, SHEAR, 5.840, 5.9, 1.0),
    ],
)
def test_isotropic_plates(record, name, held, a, forces, converged, book, percent):
    """Plates compressed and sheared, held in every way: 24 elements along the shorter side.

    The book's rounded numbers within 2 % (thin plate, a free side 1.7 %).
    """
    k = coefficient(24, held, forces, a=a)
    record(f"k of {name} a/b = {a:.3g}", k, converged, percent)
    assert abs(k / book - 1) < 0.02


@pytest.mark.parametrize(("held", "forces", "converged"), [(SIMPLE, COMPRESSION, 4.0), (CLAMPED, SHEAR, 14.641)])
@pytest.mark.parametrize(("kind", "distort"), [("tria3", 0.0), ("quad4", 0.2), ("tria3", 0.2)])
def test_triangles_and_distorted_meshes(record, held, forces, converged, kind, distort):
    """Triangles, and meshes with nodes moved by up to a fifth of the spacing.

    32 along the side; twice the tolerance of regular quads.
    """
    name = f"k of {'compression SSSS' if held is SIMPLE else 'shear CCCC'}, {KIND[kind]}" + (
        ", distorted" if distort else ""
    )
    record(name, coefficient(32, held, forces, kind=kind, distort=distort), converged, 1.5)


@pytest.mark.parametrize(("a", "converged"), [(1.0, 25.53), (2 / 3, 23.88)])
def test_bending_in_its_plane(record, a, converged):
    """A plate bent in its plane, from compression at one edge to tension at the other.

    Nx = 1 - 2 y/b: k = 25.53 converged, 25.6 in the book, and 23.88, 23.9 of a plate two thirds as long.
    """
    n, rows = 24, round(24 / a)
    plate = Plate(n, a)
    gauss = 0.5 + np.array([-0.5, -0.5, 0.5, 0.5]) / 3**0.5
    y = (np.repeat(np.arange(rows), n)[:, None] + gauss) / rows
    N = np.zeros((n * rows, 4, 3))
    N[..., 0] = 2 * y - 1
    D = E * THIN**3 / 12 / (1 - NU**2)
    k = critical(plate, isotropic(E, NU, THIN), SIMPLE, N) / (np.pi**2 * D)
    record(f"k of bending in its plane SSSS a/b = {a:.3g}", k, converged, 1.0)


@pytest.mark.parametrize("h", [0.05, 0.1])
def test_thick_plates(record, h):
    """Thick plates, which give way in transverse shear.

    Compression: Navier's series in closed form (3.944 and 3.787). Shear 8.902 and 7.837: p-version, as above.
    """
    C = isotropic(E, NU, h)
    D = E * h**3 / 12 / (1 - NU**2)
    series = navier_buckling(C, 1.0, 1.0, COMPRESSION) / (np.pi**2 * D)
    assert abs(series / {0.05: 3.944, 0.1: 3.787}[h] - 1) < 0.0002
    record(f"k of compression h/b {h}", coefficient(24, SIMPLE, COMPRESSION, h=h), series, 0.5)
    record(f"k of shear h/b {h}", coefficient(24, SIMPLE, SHEAR, h=h), {0.05: 8.902, 0.1: 7.837}[h], 1.0)


@pytest.mark.parametrize(("held", "converged", "book"), [(SIMPLE, 9.324, 9.34), (CLAMPED, 14.641, 14.71)])
def test_shear_panel_at_three_meshes(record, held, converged, book):
    """A shear panel on 32 elements against the book; how small the error is on three meshes."""
    k = np.array([coefficient(n, held, SHEAR) for n in (8, 16, 32)])
    errors = np.abs(k / converged - 1)
    print(f"shear panel {book}: {k}, errors {100 * errors} %")
    assert (100 * errors < [0.4, 0.15, 0.05]).all()
    record(f"k of shear, {'SSSS' if held is SIMPLE else 'CCCC'}", k[-1], book, 1.0, mesh="32 x 32")


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_shear_panel_under_edge_loads(record, kind):
    """A shear panel from edge loads through the linear solution: the same number, and the same for either sign."""
    n, D = 24, E * THIN**3 / 12 / (1 - NU**2)
    plate = Plate(n, kind=kind)
    load = 0.0
    for edge, flow in (("y1", (1, 0)), ("y0", (-1, 0)), ("x1", (0, 1)), ("x0", (0, -1))):
        nodes = np.flatnonzero(plate.edges[edge])
        load = load + edge_load(plate.points, np.stack([nodes[:-1], nodes[1:]], 1), (*flow, 0, 0, 0, 0))
    corner = np.array([0, 1, 6 * n + 1])
    model = plate.model(isotropic(E, NU, THIN), [*plate.hold(**simply()), corner], loads=load)
    solution, factored = solve_and_keep(model)
    found = buckling(model, factored, solution.u[0], count=1)
    k = found.factors / (np.pi**2 * D)
    assert sorted(np.sign(k)) == [-1, 1]
    for value in np.abs(k):
        record(f"k of shear under edge loads, {KIND[kind]}", value, 9.324, 1.0)
    assert np.isclose(np.linalg.norm(found.shapes[0, :, :3], axis=1).max(), 1.0)


# 300 x 300 x 1 mm, 8 plies of 0.125 mm, 135/10/5 GPa, 0.3, G13 = 5, G23 = 3.5 GPa; N/mm, computed independently by a
# p-version shell. Positive shear compresses -45°, along which the quasi-isotropic laminate bends more easily.
PLY = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.125e-3)
QUASI, CROSS = (0, 45, -45, 90, 90, -45, 45, 0), (0, 90, 0, 90, 90, 0, 90, 0)


@pytest.mark.parametrize(
    ("angles", "held", "expected"),
    [
        (QUASI, SIMPLE, (1.9758, 3.8340, 5.3191)),
        (QUASI, CLAMPED, (5.4123, 6.2451, 8.4665)),
        (CROSS, SIMPLE, (1.5716, 3.7464, 3.7464)),
        (CROSS, CLAMPED, (5.5151, 6.9898, 6.9898)),
    ],
    ids=["quasi SSSS", "quasi CCCC", "cross SSSS", "cross CCCC"],
)
def test_laminates_and_the_sign_of_shear(record, angles, held, expected):
    """Laminated plates in compression and in shear of either sign."""
    plate, C = Plate(24, 0.3, 0.3), stiffness8(stack(angles, PLY))
    found = [critical(plate, C, held, N) / 1e3 for N in (COMPRESSION, SHEAR, (0.0, 0.0, -1.0))]
    for name, ours, reference in zip(("Nx", "Nxy > 0", "Nxy < 0"), found, expected, strict=True):
        record(f"{'CCCC' if held is CLAMPED else 'SSSS'} {angles}, {name} [N/mm]", ours, reference, 1.0)
    if angles == QUASI:
        assert 1.3 < found[2] / found[1] < 1.7


def bookish(angles, ply, h):
    """Stack of total thickness h with a shear factor of 5/6, no energy equivalence."""
    layers = stack(angles, ud(*ply, thickness=h / len(angles)))
    C = stiffness8(layers).copy()
    G = np.array([[p.G13, p.G23] if a == 0 else [p.G23, p.G13] for p, a in zip(layers.plies, angles, strict=True)])
    if set(np.abs(angles)) == {45}:
        G[:] = G.mean(1, keepdims=True)
    C[6:, 6:] = np.diag(5 / 6 * G.mean(0) * h)
    return C


@pytest.mark.parametrize("layers", [2, 4, 6])
@pytest.mark.parametrize("family", ["cross", "angle"])
def test_antisymmetric_laminates(record, family, layers):
    """Antisymmetric laminates, whose stretching and bending are coupled.

    a/h = 300, E1/E2 = 40, G = 0.5 E2, ν = 0.25; R. M. Jones, AIAA J. 11 (1973) 1626 and J. M. Whitney &
    A. W. Leissa, J. Appl. Mech. 36 (1969) 261 (from memory: angle-ply 21.709, 56.088, 62.455 of thin plates);
    reference is the series in closed form.
    """
    h = 1 / 300
    ply = (40.0, 1.0, 0.5, 0.25)
    angles = ((0, 90) if family == "cross" else (45, -45)) * (layers // 2)
    C = bookish(angles, ply, h)
    angle_ply = family == "angle"
    series = navier_buckling(C, 1.0, 1.0, COMPRESSION, angle_ply=angle_ply) / h**3
    book = {"cross": {2: 12.63, 4: 30.02, 6: 33.24}, "angle": {2: 21.70, 4: 56.05, 6: 62.40}}[family][layers]
    assert abs(series / book - 1) < 0.001
    held = simply(across=(0,), along=(1,)) if angle_ply else simply(across=(1,), along=(0,))
    ours = critical(Plate(20), C, held | {"all": (5,)}, COMPRESSION) / h**3
    record(f"antisymmetric {family}-ply of {layers}", ours, series, 0.5)


@pytest.mark.parametrize(("ratio", "book"), [(3, 5.399), (10, 9.965), (20, 15.351), (40, 23.453)])
def test_thick_symmetric_cross_ply(record, ratio, book):
    """A thick cross-ply laminate, weakly to strongly orthotropic.

    [0/90/90/0], a/h = 10, G12 = 0.6 E2; A. A. Khdeir & J. N. Reddy (from memory), the series in closed form.
    """
    h = 0.1
    layers = stack((0, 90, 90, 0), ud(ratio, 1.0, 0.6, 0.25, G13=0.6, G23=0.5, thickness=h / 4))
    C = stiffness8(layers).copy()
    C[6:, 6:] = np.eye(2) * 5 / 6 * 0.55 * h
    series = navier_buckling(C, 1.0, 1.0, COMPRESSION) / h**3
    assert abs(series / book - 1) < 0.001
    record(f"[0/90/90/0], E1/E2 {ratio}", critical(Plate(20), C, SIMPLE, COMPRESSION) / h**3, series, 0.5)


@pytest.mark.parametrize(
    ("side", "G23", "expected"), [(0.5, 40e6, 805.6), (0.5, 24e6, 747.8), (1.0, 40e6, 376.5), (1.0, 24e6, 352.2)]
)
def test_sandwich_panels(record, side, G23, expected):
    """Sandwich panels such as a tub has, half a metre and a metre wide.

    Faces 1 mm of 50 GPa, 0.3, core 20 mm: series of first-order theory with S = G d²/c [N/mm].
    """
    face = ud(50e9, 50e9, 50e9 / 2.6, 0.3, thickness=1e-3)
    layers = make_stack([(0.0, face), (0.0, core(40e6, G23, thickness=20e-3)), (0.0, face)])
    C = stiffness8(layers)
    series = navier_buckling(C, side, side, COMPRESSION) / 1e3
    assert abs(series / expected - 1) < 0.005
    record(
        f"sandwich {side} m, G23 {G23 / 1e6:g} MPa [N/mm]",
        critical(Plate(24, side, side), C, SIMPLE, COMPRESSION) / 1e3,
        series,
        1.0,
    )
