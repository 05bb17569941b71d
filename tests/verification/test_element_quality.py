"""Quality of both elements on hard meshes: slender, random, very thin, and whatever the drilling factor is.

References are closed forms: Timoshenko's beam, thin laminated plates (Navier's series; J. N. Reddy, Mechanics of
Laminated Composite Plates and Shells, 2004) and Bredt's tube; where a run is compared with another, that is said.
"""

from dataclasses import replace

import numpy as np
import pytest
from laminates import abd6, stack, ud
from meshes import block, edge_weights, freedoms, grid, held, isotropic, shell
from tub_runs import run_of
from tubes import torsional_stiffness, tube, twist_model
from verification.test_laminated_shells import plate
from verification.test_simplified_tub import tub

from tubfem.laminate.shear import stiffness8
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import solve

CARBON = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)
BOX = [(-0.1, -0.05), (0.1, -0.05), (0.1, 0.05), (-0.1, 0.05), (-0.1, -0.05)]
SLIT = [(0.0, -0.05), *BOX[1:], (-1e-4, -0.05)]
TUBES = {
    "closed box [45/-45]": (BOX, stiffness8(stack((45, -45), CARBON))),
    "closed box [15]4": (BOX, stiffness8(stack((15,) * 4, CARBON))),
    "slit aluminium box": (SLIT, isotropic(70e9, 0.3, 0.002)),
}


def work(model):
    """Work of the loads, the inverse of a stiffness."""
    return (solve(model).u[0] * model.loads[:, 0].reshape(-1, 6)).sum()


# The drilling stiffness is a device, not physics: from a tenth to ten times the usual factor nothing may show. Asked
# 0.2 %; reference is the usual 1e-3.
@pytest.mark.parametrize("factor", [1e-4, 1e-2])
@pytest.mark.parametrize("name", TUBES)
def test_drilling_factor_of_tubes(record, name, factor):
    """Ten times more or less drilling stiffness, against the usual factor: twisted tubes."""
    corners, C = TUBES[name]
    points, conns = tube([corners], 1.0, 0.05)
    ours, usual = (torsional_stiffness(*twist_model(points, conns, [C], drilling=f)) for f in (factor, 1e-3))
    record(f"{name}, drilling factor {factor:g}", ours, usual, 0.2, mesh="50 mm")


@pytest.mark.parametrize("factor", [pytest.param(1e-4, marks=pytest.mark.slow), 1e-2])
@pytest.mark.parametrize("name", ["simplified tub", "starter"])
def test_drilling_factor_of_tubs(record, name, factor):
    """Ten times more or less drilling stiffness, against the usual factor: whole tubs."""
    model = tub(0.05)[1] if name == "simplified tub" else run_of("starter", 0.08)[0].states[0].shell
    usual, ours = (1 / work(replace(model, drilling=f)) for f in (1e-3, factor))
    record(f"{name}, drilling factor {factor:g}", ours, usual, 0.2, mesh="50 mm" if name != "starter" else "80 mm")


STUBBY = "one quad through the depth shears evenly, without the 6/5 of a parabola"


# Asked 1 %. A single quad through the depth shears evenly, without the 6/5 of a parabola: 2.4 % on a beam of only two
# depths long.
@pytest.mark.parametrize("aspect", [0.2, 1.0, 5.0, 25.0])
@pytest.mark.parametrize("load", ["force", "couple"])
def test_slender_quads_bend_in_their_plane(record, aspect, load):
    """One row of ten quads, from stubby to 25 times as long as deep, bent in their plane: no locking (Timoshenko)."""
    depth, t, E, nu = 0.02, 1e-3, 70e9, 0.0
    L = 10 * aspect * depth
    s, conn = grid(10, 1)
    points = np.column_stack([L * s[:, 0], depth * s[:, 1], np.zeros(len(s))])
    tip = np.flatnonzero(s[:, 0] == 1)
    loads = np.zeros((len(points), 6))
    if load == "force":
        loads[tip, 1] = 0.5
    else:
        loads[tip, 0] = np.array([1.0, -1.0]) / depth
    clamped = [held(freedoms(s[:, 0] == 0, range(5)))]
    u = solve(shell(points, [block(conn)], isotropic(E, nu, t), loads, supports=clamped)).u[0, tip, 1].mean()
    EI, GA = E * t * depth**3 / 12, E / 2 * t * depth * 5 / 6
    exact = L**3 / 3 / EI + L / GA if load == "force" else L**2 / 2 / EI
    limit = 2.5 if (load, aspect) == ("force", 0.2) else 1.0
    why = STUBBY if limit > 1 else ""
    record(f"quads {aspect:g} times as long as deep, {load}", u, exact, limit, mesh="10 x 1", asked=limit, why=why)


# Thin plate limits, 100 w E2 h³ / q a⁴: [0/90/90/0] 0.4312, [45/-45] 0.6547.
@pytest.mark.parametrize("ratio", [100, 1000, 10_000])
@pytest.mark.parametrize(
    ("angles", "held_on_x", "thin"), [((0, 90, 90, 0), [1, 2, 3], 0.43126), ((45, -45), [0, 2, 3], 0.65470)]
)
def test_laminates_do_not_lock(record, angles, held_on_x, thin, ratio):
    """Laminated plates, balanced and coupled, up to a span of ten thousand thicknesses."""
    ply = ud(25.0, 1.0, 0.5, 0.25, thickness=1 / len(angles))
    C = np.zeros((8, 8))
    C[:6, :6] = abd6(stack(angles, ply))
    C[6, 6] = C[7, 7] = 5 / 6 * 0.35
    # Shear of the core of a plate a / h = 100 is 0.5 % and 0.26 % of the deflection.
    reference = {100: {4: 0.43370, 2: 0.65640}[len(angles)]}.get(ratio, thin)
    ours = 100 * plate(C, float(ratio), held_on_x=held_on_x) / ratio**4
    record(f"plate {angles}, a/h {ratio}", ours, reference, 0.6, mesh="16 x 16")


# First-order theory, closed form: the twisting moment dies out at free edges over c = (D66 / S)^½, 0.32 t here, so that
# J = b t³/3 (1 - 2c/b tanh(b/2c)). Without the relief of free edges (Z.1) these meshes are 1 to 12 % stiff.
@pytest.mark.parametrize("across", [1, 2, 4])
@pytest.mark.parametrize("depth", [0.5, 0.25, 0.02])
def test_edge_layers_narrower_than_elements(record, depth, across):
    """A strip twisted, thick and thin, one to four elements wide: edge layers narrower than an element."""
    b, L, E, nu = 0.2, 2.0, 70e9, 0.3
    t = depth * b
    s, conn = grid(20, across)
    points = np.column_stack([L * s[:, 0], b * (s[:, 1] - 0.5), np.zeros(len(s))])
    K = torsional_stiffness(*twist_model(points, [conn], [isotropic(E, nu, t)]))
    c = t / np.sqrt(12 * 5 / 6)
    J = b * t**3 / 3 * (1 - 2 * c / b * np.tanh(b / 2 / c))
    record(f"twisted strip, t/b {depth}", K * L, E / 2 / (1 + nu) * J, 0.5, mesh=f"20 x {across}")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_random_mesh_of_a_box(record, seed):
    """Every node inside a wall moved at random by up to a third of the spacing: Bredt's tube stays."""
    points, conns = tube([BOX], 1.0, 0.025)
    x, y, z = points.T
    rng = np.random.default_rng(seed)
    free = (x > 0) & (x < 1)
    fold = np.isclose(np.abs(y), 0.1) & np.isclose(np.abs(z), 0.05)
    move = 0.33 * 0.025 * rng.uniform(-1, 1, points.shape)
    move[:, 1] *= np.isclose(np.abs(z), 0.05) & ~fold
    move[:, 2] *= np.isclose(np.abs(y), 0.1) & ~fold
    points = points + np.where(free[:, None], move, 0)
    C = stiffness8(stack((45, -45, -45, 45), CARBON))
    K = torsional_stiffness(*twist_model(points, conns, [C]))
    record(f"closed box [45/-45]s, random mesh {seed}, K [N·m/rad]", K, 93_301, 0.3, mesh="25 mm")


@pytest.mark.parametrize("kind", ["quad4", "tria3"])
def test_unbalanced_strip_stretches_and_twists(record, kind):
    """A pulled strip [0/30] free to bend and twist: the whole of A, B, D at once (closed form, its full inverse)."""
    s, conn = grid(12, 4)
    points = np.column_stack([0.3 * s[:, 0], 0.1 * s[:, 1], np.zeros(len(s))])
    C = stiffness8(stack((0, 30), CARBON))
    N = 100.0
    strain = np.linalg.solve(C[:6, :6], [N, 0, 0, 0, 0, 0])
    loads = np.zeros((len(points), 6))
    for at, sign in ((0.0, -1.0), (1.0, 1.0)):
        edge = np.flatnonzero(s[:, 0] == at)
        loads[edge, 0] = sign * N * edge_weights(points, edge)
    corner, other, third = (np.flatnonzero((s == at).all(1))[0] for at in ([0, 0], [1, 0], [0, 1]))
    support = held(freedoms([corner], [0, 1, 2]), freedoms([other], [1, 2]), freedoms([third], [2]))
    elements = block(conn, kind=kind)
    model = shell(points, [elements], C, loads, supports=[support])
    state = generalised_strains(model, solve(model).u)[0]
    middle = np.abs(points[elements.conn].mean(1)[:, 0] - 0.15) < 0.05
    mean = np.average(state.mean[0, middle], axis=0, weights=state.area[middle].sum(1))
    # Triangles have true drilling rotations, and forces at the nodes alone are not what an even pull along an edge asks
    # of them: a disturbance about the ends, which dies out towards the middle.
    percent = 0.1 if kind == "quad4" else 1.5
    for k, name in ((0, "stretch"), (5, "twist")):
        record(f"strip [0/30], {name}, {kind}", mean[k], strain[k], percent, mesh="12 x 4")


WAVED = (
    "a slope of curvature that is even across a free edge is weighted as if it waved, the more the wider the element"
)


def skew_strip(k, kind):
    """A cantilever 8 x 3 m skewed by 45°, a force on its end."""
    s, conn = grid(8 * k, 4 * k)
    y = 3.0 * (s[:, 1] - 0.5)
    return pushed_at_the_end(s, np.column_stack([8.0 * s[:, 0] + y, y, 0 * y]), conn, kind)


def wide_arc(k, kind):
    """An arc of 120°, 4 m in radius and 3 m wide, a force out of its plane on its end."""
    s, conn = grid(48 * k, 4 * k)
    r, angle = 2.5 + 3.0 * s[:, 1], np.radians(120) * s[:, 0]
    return pushed_at_the_end(s, np.column_stack([r * np.sin(angle), r * np.cos(angle), 0 * r]), conn, kind)


def pushed_at_the_end(s, points, conn, kind):
    """Mean deflection of the end under an even force of 1 N, the other end held; 20 mm of 10 MPa."""
    end = np.flatnonzero(s[:, 0] == 1)
    loads = np.zeros((len(points), 6))
    loads[end, 2] = edge_weights(points, end) / edge_weights(points, end).sum()
    C, clamped = isotropic(1e7, 0.3, 0.02), held(freedoms(s[:, 0] == 0, range(6)))
    u = solve(shell(points, [block(conn, kind=kind)], C, loads, supports=[clamped])).u[0]
    return (u * loads).sum()


@pytest.mark.parametrize(("strip", "mesh", "limit"), [(skew_strip, "8 x 4", 5.0), (wide_arc, "48 x 4", 2.5)])
def test_wide_elements_at_free_edges(record, strip, mesh, limit):
    """Skew and wide elements along free edges, against triangles on two finer meshes (Richardson's extrapolation)."""
    coarse, fine = (strip(k, "tria3") for k in (4, 8))
    reference = fine + (fine - coarse) / 3
    name = strip.__name__.replace("_", " ")
    record(f"{name}, force on its end", strip(1, "quad4"), reference, limit, mesh=mesh, asked=1.0, why=WAVED)
    record(f"{name}, force on its end", strip(4, "quad4"), reference, 1.0, mesh="four times as fine")


COUPLES = (
    "corners of triangles carry couples about the normal that those of quads do not; a tub is meshed in quads alone"
)


def test_quads_and_triangles_in_one_mesh(record):
    """A sheet of quads, half of them cut into two triangles, pulled (closed form)."""
    s, conn = grid(8, 8)
    points, C = np.column_stack([s, 0 * s[:, 0]]), isotropic(70e9, 0.0, 0.002)
    cut = np.random.default_rng(0).permutation(len(conn)) < 32
    end = np.flatnonzero(s[:, 0] == 1)
    loads = np.zeros((len(points), 6))
    loads[end, 0] = edge_weights(points, end)
    parts = [block(conn[~cut]), block(conn[cut], kind="tria3")]
    sides = held(freedoms(s[:, 0] == 0, [0]), freedoms(s[:, 1] == 0, [1]), freedoms(np.ones(len(s), bool), [2, 3, 4]))
    u = solve(shell(points, parts, C, loads, supports=[sides])).u[0]
    name = "sheet of quads and triangles, stretch of its end"
    record(name, u[end, 0].mean(), 1 / (70e9 * 0.002), 22.0, asked=1.0, mesh="8 x 8, half cut", why=COUPLES)
