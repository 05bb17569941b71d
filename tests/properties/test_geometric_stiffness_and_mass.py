"""What holds of geometric stiffness and mass whatever the mesh: rigid motions, scale, axes, order, carried masses."""

from dataclasses import replace

import numpy as np
import pytest
from meshes import block, held, isotropic, shell
from numpy.testing import assert_allclose
from plates import SIMPLE, Plate, critical, determinate, frequencies

from tubfem.errors import SolveError
from tubfem.shell.eigen import buckling, vibration
from tubfem.shell.energies import geometric_stiffness, mass_matrix
from tubfem.shell.loads import edge_load, mass_and_centre, node_masses
from tubfem.shell.model import Springs
from tubfem.shell.recover import generalised_strains, material_frames
from tubfem.shell.solve import solve_and_keep
from tubfem.shell.ties import rigid_motion
from tubfem.tub.modes import determinate_supports

KINDS = ["quad4", "tria3"]
C = isotropic(70e9, 0.3, 2e-3)
MASS = np.array([5.4, 1e-3, 1.8e-6])


def curved(kind, n=6):
    """A warped, distorted panel of no symmetry."""
    plate = Plate(n, 1.3, 1.0, kind=kind, distort=0.15)
    x, y, _ = plate.points.T
    plate.points[:, 2] = 0.2 * x**2 + 0.15 * x * y - 0.1 * y**2
    return plate


def model_of(plate, mass=MASS):
    return plate.model(C, [determinate(plate)], mass)


def uniform(plate, N):
    points = {"quad4": 4, "tria3": 3}[plate.block.kind]
    return [np.broadcast_to(np.asarray(N, dtype=float), (len(plate.block.conn), points, 3))]


@pytest.mark.parametrize("kind", KINDS)
def test_moving_the_whole_stores_no_geometric_energy(kind):
    plate = curved(kind)
    G = geometric_stiffness(model_of(plate), uniform(plate, (-3.0, 2.0, 1.5)))
    shift = np.tile(np.eye(6)[:3], len(plate.points)).T
    assert np.abs(G @ shift).max() < 1e-12 * abs(G).max()


@pytest.mark.parametrize("kind", KINDS)
def test_turning_a_plate_in_pure_shear_about_its_normal_stores_none(kind):
    """The forces of pure shear at the edges, turned with the plate, do no work to second order."""
    plate = Plate(6, 1.3, 1.0, kind=kind, distort=0.2)
    turn = rigid_motion(plate.points).reshape(-1, 6)[:, 5]
    shear = geometric_stiffness(model_of(plate), uniform(plate, (0.0, 0.0, 1.0)))
    push = geometric_stiffness(model_of(plate), uniform(plate, (-1.0, 0.0, 0.0)))
    assert abs(turn @ shear @ turn) < 1e-12 * 1.3
    assert_allclose(turn @ push @ turn, -1.3, rtol=1e-12)  # N times area: dead loads that push fall over


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_turning_the_whole_turns_its_forces(kind, axis):
    """K_G (ω x) is ω x f, in work on every rigid turn: ∫ N over the surface decides alone, warped or not."""
    plate = curved(kind)
    model = model_of(plate)
    N = np.array([-3.0, 2.0, 1.5])
    G = geometric_stiffness(model, uniform(plate, N))
    turns = rigid_motion(plate.points).reshape(-1, 6)[:, 3:]

    frames, _ = material_frames(plate.points, plate.block)
    area = generalised_strains(model, np.zeros((1, len(plate.points), 6)))[0].area
    tensor = np.array([[N[0], N[2]], [N[2], N[1]]])
    stress = np.einsum("eqix,ij,eqjy,eq->xy", frames[:, :, :2], tensor, frames[:, :, :2], area)
    w = np.eye(3)[axis]
    W = np.cross(w, np.eye(3)).T  # W a = ω × a
    assert_allclose(turns[:, axis] @ G @ turns[:, axis], np.trace(W @ stress @ W.T), rtol=1e-10)


@pytest.mark.parametrize("kind", KINDS)
def test_mass_of_rigid_motions(kind):
    """Translation has the mass and, with its moment about the surface, the centre of the shell."""
    plate = curved(kind)
    model = model_of(plate)
    M = mass_matrix(model)
    R = rigid_motion(plate.points).reshape(-1, 6)
    modal = R.T @ M @ R
    total, centre = mass_and_centre(plate.points, model.blocks, model.mass)
    assert_allclose(modal[:3, :3], total * np.eye(3), atol=1e-12 * total)
    # ω × c of unit turns about x, y, z; normals of the corners are means of their neighbours', hence the tolerance
    assert_allclose(modal[0, 4:] / total, [centre[2], -centre[1]], rtol=2e-4)
    assert np.linalg.eigvalsh(M.toarray()).min() > -1e-12 * abs(M).max()


def test_lumps_weigh_in_all_directions_and_resist_turning_about_the_origin():
    """Point masses beside the shell: statics, m and m (r² of the axis), nothing about themselves."""
    plate = curved(KINDS[0])
    model = model_of(plate)
    lumps = np.linspace(0.0, 2.0, len(plate.points))
    R = rigid_motion(plate.points).reshape(-1, 6)
    more = R.T @ (mass_matrix(replace(model, lumps=lumps)) - mass_matrix(model)) @ R
    scale = more[0, 0]
    assert_allclose(more[:3, :3] / scale, lumps.sum() / scale * np.eye(3), atol=1e-12)
    x, y, z = plate.points.T
    inertia = [lumps @ (y**2 + z**2), lumps @ (z**2 + x**2), lumps @ (x**2 + y**2)]
    assert_allclose(np.diag(more)[3:], inertia, rtol=1e-9)


@pytest.mark.parametrize("length", [0.025, 40.0])
def test_scale(length):
    """Factors of N go with stiffness over length, frequencies with 1 / length at one shape, whatever the units."""
    unit, scaled = Plate(8), Plate(8, length, length)
    thick = isotropic(70e9, 0.3, 2e-2 * length)
    thin = isotropic(70e9, 0.3, 2e-2)
    N = (-1.0, 0.3, 0.7)
    assert_allclose(critical(scaled, thick, SIMPLE, N), critical(unit, thin, SIMPLE, N) * length, rtol=1e-8)
    mass = np.array([2700 * 2e-2, 0.0, 2700 * 8e-6 / 12])
    ours = frequencies(scaled, thick, SIMPLE, mass * (length, 1, length**3), 4)
    assert_allclose(ours, frequencies(unit, thin, SIMPLE, mass, 4) / length, rtol=1e-8)


@pytest.mark.parametrize("kind", KINDS)
def test_axes_and_order_do_not_matter(kind):
    """Free modes of a panel that is turned, moved, and numbered the other way round."""
    plate = curved(kind)
    model = model_of(plate)
    turn = np.linalg.qr(np.random.default_rng(1).standard_normal((3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    back = np.argsort(np.random.default_rng(2).permutation(len(plate.points)))
    points = np.empty_like(plate.points)
    points[back] = plate.points @ turn.T + [3.0, -2.0, 1.0]
    elements = block(back[plate.block.conn][::-1], turn @ [1.0, 0.0, 0.0], kind=kind)
    supports = held(determinate_supports(points))
    other = shell(points, [elements], C, np.zeros(6 * len(points)), supports=[supports], mass=MASS[None])
    found = [vibration(m, solve_and_keep(m)[1], 6, free=True).frequencies for m in (model, other)]
    assert_allclose(found[0], found[1], rtol=1e-7)


def test_free_modes_do_not_depend_on_the_supports_and_have_no_momentum():
    plate = curved("quad4")
    first = model_of(plate)
    other = plate.model(C, [np.array([6 * 20, 6 * 20 + 1, 6 * 20 + 2, 6 * 40 + 1, 6 * 40 + 2, 6 * 33 + 2])], MASS)
    found = [vibration(m, solve_and_keep(m)[1], 5, free=True) for m in (first, other)]
    assert_allclose(found[0].frequencies, found[1].frequencies, rtol=1e-7)
    M = mass_matrix(first)
    R = rigid_motion(plate.points).reshape(-1, 6)
    flat = found[0].shapes.reshape(5, -1)
    assert np.abs(flat @ M @ R).max() < 1e-6
    assert_allclose(flat @ M @ flat.T, np.eye(5), atol=1e-8)


def test_free_modes_of_a_model_that_is_held_more_are_refused():
    plate = curved("quad4")
    model = plate.model(C, plate.hold(x0=(0, 1, 2)), MASS)
    with pytest.raises(SolveError, match="determinate"):
        vibration(model, solve_and_keep(model)[1], 3, free=True)


def test_a_mass_carried_everywhere_is_a_heavier_shell():
    """As much again, spread as the shell's own: bending frequencies fall by √2 but for the rotary inertia of 0.01 %."""
    plate = Plate(8)
    model = plate.model(C, plate.hold(**SIMPLE), [5.4, 0.0, 1.8e-6])
    _, factored = solve_and_keep(model)
    spread = node_masses(plate.points, model.blocks, model.mass)
    freedoms = np.arange(6 * len(plate.points)).reshape(-1, 6)[:, :3].reshape(-1, 1)
    carried = Springs(freedoms, np.ones(freedoms.shape), np.repeat(spread, 3))
    bare, heavy = (vibration(model, factored, 3, carried=c).frequencies for c in ([], [carried]))
    # lumped at the nodes the added half counts a little more than the shell's consistent own
    assert_allclose(heavy / bare, np.sqrt(0.5), rtol=0.02)


def test_a_mass_at_the_tip_of_a_cantilever():
    """M = 100 times the beam's: ω² = 3 E I / L³ M, closed form; a strip 20 x 1 without Poisson's ratio."""
    E, t, b, length = 70e9, 5e-3, 0.05, 1.0
    plate = Plate(2, length, b)
    strip = isotropic(E, 0.0, t)
    own = 2700 * t
    model = plate.model(strip, plate.hold(x0=range(6)), [own, 0.0, own * t**2 / 12])
    tip = np.flatnonzero(plate.edges["x1"])
    heavy = 100 * own * b * length
    rows = np.zeros((3, len(tip), 3))
    for k in range(3):
        rows[k, :, k] = 1 / len(tip)
    freedoms = np.tile((6 * tip[:, None] + np.arange(3)).ravel(), (3, 1))
    carried = Springs(freedoms, rows.reshape(3, -1), np.full(3, heavy))
    found = vibration(model, solve_and_keep(model)[1], 1, carried=[carried])
    expected = np.sqrt(3 * E * b * t**3 / 12 / length**3 / (heavy + 33 / 140 * own * b * length)) / (2 * np.pi)
    assert_allclose(found.frequencies[0], expected, rtol=2e-3)


def test_both_signs_of_a_load_in_one_run():
    """The factors of minus the load are minus the factors of the load."""
    plate = Plate(8)
    tip = np.flatnonzero(plate.edges["x1"])
    load = np.zeros((len(plate.points), 6))
    load[tip, 1], load[tip, 0] = 3.0, -10.0
    found = []
    for sign in (1, -1):
        model = plate.model(C, plate.hold(x0=range(6)), loads=sign * load.ravel())
        solution, factored = solve_and_keep(model)
        found.append(np.sort(buckling(model, factored, solution.u[0]).factors))
    assert len(found[0]) == 8
    assert_allclose(found[0], -found[1][::-1], rtol=1e-8)


@pytest.mark.parametrize(("n", "low", "high"), [(4, 1.9, 1e3), (8, 1.15, 1.35), (24, 1.0, 1.04)])
def test_a_coarse_mesh_is_told(n, low, high):
    """Shear of a square plate: how far the two ways to read slopes lie apart falls with the square of the spacing."""
    plate = Plate(n)
    total = np.zeros(6 * len(plate.points))
    for edge, flow in (("y1", (1, 0)), ("y0", (-1, 0)), ("x1", (0, 1)), ("x0", (0, -1))):
        nodes = np.flatnonzero(plate.edges[edge])
        total = total + edge_load(plate.points, np.stack([nodes[:-1], nodes[1:]], 1), (*flow, 0, 0, 0, 0))
    held_sets = plate.hold(**{edge: parts for edge, parts in SIMPLE.items() if edge != "all"})
    model = plate.model(C, [*held_sets, np.array([0, 1, 6 * n + 1])], loads=total)
    solution, factored = solve_and_keep(model)
    found = buckling(model, factored, solution.u[0], count=1)
    assert low < found.coarse[0] < high


def test_plain_compression_ripples_one_way_round_only():
    """A square plate pushed evenly along x: k = 4, 6.25 and 11.11 for one, two and three half waves (closed form).

    Pulled it never ripples, and looking for when it does must end. A 16 x 16 mesh is within 4 % in its third mode.
    """
    plate, h = Plate(16), 2e-3
    edges = [np.flatnonzero(plate.edges[name]) for name in ("x0", "x1")]
    total = np.zeros(6 * len(plate.points))
    for nodes, push in zip(edges, (1.0, -1.0), strict=True):
        total = total + edge_load(plate.points, np.stack([nodes[:-1], nodes[1:]], 1), (push, 0, 0, 0, 0, 0))
    held_sets = plate.hold(**{edge: parts for edge, parts in SIMPLE.items() if edge != "all"})
    model = plate.model(C, [*held_sets, np.array([0, 1, 6 * 16 + 1])], loads=total)
    solution, factored = solve_and_keep(model)
    found = buckling(model, factored, solution.u[0], count=2).factors
    assert (found > 0).all()
    k = found[:3] * 12 * (1 - 0.3**2) / (np.pi**2 * 70e9 * h**3)
    assert_allclose(k, [4.0, 6.25, 11.11], rtol=0.04)
