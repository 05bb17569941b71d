"""Foam inside a section: volume and mass by hand on any mesh, on walls that look in or out."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import solved
from tub_builders import panel, tub_mesh

from tubfem.case.schema import Case
from tubfem.case.shapes import Section
from tubfem.findings.collect import find
from tubfem.findings.twist_shares import twist_shares
from tubfem.shell.brick8 import shapes
from tubfem.shell.recover import spring_energies
from tubfem.tub.fill import foam_springs, inner_volume
from tubfem.tub.foam_bricks import Grid, locate
from tubfem.tub.layup import lay_plies, layup_mass, panel_mass
from tubfem.tub.split import SplitMesh

WIDTH, HEIGHT, LENGTH, SKIN = 0.1, 0.08, 0.5, 4e-3
WALLS = ("floor", "outer", "roof", "inner")
CORNERS = {"a": [0, 0], "b": [100, 0], "c": [100, 80], "d": [0, 80]}
SECTION = {
    "walls": {"floor": ["a", "b"], "outer": ["b", "c"], "roof": ["c", "d"], "inner": ["d", "a"]},
    "regions": {name: name for name in WALLS},
    "at": {"s": CORNERS, "t": CORNERS},
}


def case(thickness=4.0, **more):
    return Case.model_validate(
        {
            "plies": {"sheet": {"E": "20 GPa", "nu": 0.3, "thickness": thickness, "density": "1800 kg/m^3"}},
            "cores": {"foam": {"density": "80 kg/m^3", "E": "50 MPa", "G": "25 MPa"}},
            "layups": {"post": ["sheet"]},
            "sections": {"post": {**SECTION, "regions": {}, **more}},
        }
    )


def post(cells, *, shift=0.0, outwards=True, regions=False):
    """A box along x; the mesh is its mid-line, or its tool face."""
    corner = [(0, 0), (WIDTH, 0), (WIDTH, HEIGHT), (0, HEIGHT)]
    walls = []
    for k, name in enumerate(WALLS):
        (y0, z0), (y1, z1) = corner[k], corner[(k + 1) % 4]
        outline = [(LENGTH, y0, z0), (0, y0, z0), (0, y1, z1), (LENGTH, y1, z1)]
        if not outwards:
            outline = outline[::-1]
        region = name if regions else "post"
        made = panel(f"post.{name}", outline, cells, region=region, zero=(1, 0, 0), shift=shift, section=True)
        walls.append(made)

    def along(y, z):
        return (0, y, z), (LENGTH, y, z)

    lines = [("h1-h2", *along(0, 0)), ("f1-f2", *along(WIDTH, 0)), ("r1-r2", *along(WIDTH, HEIGHT))]
    return tub_mesh(walls, lines=lines, points=[("r1", (0, WIDTH, HEIGHT))])


@pytest.mark.parametrize("cells", [(2, 2), (5, 3), (12, 12)])
@pytest.mark.parametrize("outwards", [True, False])
def test_foam_is_what_fits_between_the_walls(cells, outwards):
    mesh = post(cells, shift=SKIN / 2, outwards=outwards)
    filled, empty = (lay_plies(case(**more), mesh) for more in ({"fill": "foam"}, {}))
    # the mesh is the middle of 4 mm walls: 96 x 76 mm of foam, 500 mm long, 80 kg/m³ (hand sum)
    mass = 80 * (WIDTH - SKIN) * (HEIGHT - SKIN) * LENGTH
    added = sum(panel_mass(mesh, filled).values()) - sum(panel_mass(mesh, empty).values())
    assert_allclose(added, mass, rtol=1e-9)
    assert any(f"{mass:.3f} kg" in note for note in filled.notes)


def test_foam_lies_evenly_on_the_walls_and_leaves_their_stacks():
    mesh = post((5, 3), shift=SKIN / 2)
    filled, empty = (lay_plies(case(**more), mesh) for more in ({"fill": "foam"}, {}))
    extra = layup_mass(filled)[filled.mixture, 0] - layup_mass(empty)[empty.mixture, 0]
    assert_allclose(extra, extra[0], rtol=1e-12)
    assert np.all(np.array(filled.mixture_stacks)[filled.mixture] == np.array(empty.mixture_stacks)[empty.mixture])


THIN = 1e-6  # mm: foam that fills the box whole
RINGS = {"bricks": [(0, 0), (WIDTH, 0), (WIDTH, HEIGHT), (0, HEIGHT)], "slabs": [(0, 0), (WIDTH, 0), (0, HEIGHT)]}


def ring(kind, cells, thickness=THIN, end=1.0):
    """A box of four walls, or of three, as a mesh on their middle and a case; its far end is `end` times as wide."""
    corner = RINGS[kind]
    names = WALLS[: len(corner)]
    walls = []
    for k, name in enumerate(names):
        (y0, z0), (y1, z1) = corner[k], corner[(k + 1) % len(corner)]
        outline = [(LENGTH, end * y0, end * z0), (0, y0, z0), (0, y1, z1), (LENGTH, end * y1, end * z1)]
        made = panel(f"post.{name}", outline, cells, region="post", zero=(1, 0, 0), shift=thickness / 2e3, section=True)
        walls.append(made)
    letters = "abcd"[: len(corner)]
    at = {letter: [1e3 * y, 1e3 * z] for letter, (y, z) in zip(letters, corner, strict=True)}
    pairs = {name: [letters[k], letters[(k + 1) % len(corner)]] for k, name in enumerate(names)}
    table = case(thickness)
    section = {"walls": pairs, "at": {"s": at, "t": at}, "fill": "foam"}
    lines = [("h1-h2", (0, 0, 0), (LENGTH, 0, 0)), ("f1-f2", (0, WIDTH, 0), (LENGTH, end * WIDTH, 0))]
    mesh = tub_mesh(walls, lines=lines, points=[("r1", (0, 0, HEIGHT))])
    return mesh, table.model_copy(update={"sections": {"post": Section.model_validate(section)}})


def foam_of(kind, cells, **more):
    """Mesh and foam of a ring."""
    mesh, filled = ring(kind, cells, **more)
    layup = lay_plies(filled, mesh)
    split = SplitMesh(np.arange(len(mesh.points)), tuple(block.conn for block in mesh.blocks), (), ())
    (foam,) = foam_springs(filled, mesh, layup, split, len(mesh.points))
    return mesh, foam


def foam_energy(kind, cells, motion, turn=(0, 0, 0)):
    """Energy of the foam's springs when walls and bricks move by a field of places; nodes of walls turn by `turn`."""
    mesh, foam = foam_of(kind, cells)
    assert kind in foam.note
    points = np.concatenate([mesh.points, foam.points])
    u = np.zeros((1, len(points), 6))
    u[0, :, :3] = motion(points)
    u[0, : len(mesh.points), 3:] = turn
    return float(spring_energies(foam.springs, u).sum())


@pytest.mark.parametrize("cells", [(2, 2), (12, 6)])
@pytest.mark.parametrize(("kind", "part"), [("bricks", 1.0), ("slabs", 0.5)])
def test_uniform_strain_stores_what_a_block_of_foam_would(kind, part, cells):
    # a block of 100 x 80 x 500 mm, or half of it: 1/2 G gamma² V sheared, 1/2 E e² V crushed (closed form, E = 2 G)
    volume = part * WIDTH * HEIGHT * LENGTH
    sheared = foam_energy(kind, cells, lambda x: np.stack([0 * x[:, 0], 0.01 * x[:, 2], 0 * x[:, 0]], 1))
    assert_allclose(sheared, 0.5 * 25e6 * 0.01**2 * volume, rtol=1e-6)
    crushed = foam_energy(kind, cells, lambda x: np.stack([0 * x[:, 0], 0 * x[:, 0], -0.01 * x[:, 2]], 1))
    assert_allclose(crushed, 0.5 * 50e6 * 0.01**2 * volume, rtol=1e-6)


@pytest.mark.parametrize("kind", ["bricks", "slabs"])
def test_foam_does_not_mind_rigid_motion(kind):
    turn = np.array([0.3, -0.2, 0.5])
    assert foam_energy(kind, (12, 6), lambda x: 1.0 + np.cross(turn, x), turn) < 1e-10  # J, of 1e4 in the springs


# Walls so thick [mm] that little foam or hardly any is left, on meshes from one element a wall, straight and tapered:
# the foam's own volume says nothing about how finely its walls are meshed.
THICK = [
    (kind, cells, thickness, end)
    for kind, walls in (
        ("bricks", ((20.0, 1.0), (78.0, 1.0), (20.0, 0.4), (30.0, 0.3))),
        ("slabs", ((20.0, 1.0), (50.0, 1.0), (20.0, 0.4), (30.0, 0.3))),
    )
    for cells in ((1, 1), (3, 1), (2, 2), (8, 3))
    for thickness, end in walls
]


@pytest.mark.parametrize(("kind", "cells", "thickness", "end"), THICK)
def test_foam_between_thick_walls_is_in_balance(kind, cells, thickness, end):
    # Newton's first law: no energy in a rigid motion, and whatever the motion, forces and moments of the foam cancel
    mesh, foam = foam_of(kind, cells, thickness=thickness, end=end)
    assert kind in foam.note
    assert (foam.springs.stiffness > 0).all()
    points = np.concatenate([mesh.points, foam.points])
    shell = np.arange(len(points)) < len(mesh.points)  # points of bricks have no rotations
    moving = np.random.default_rng(3).standard_normal((len(points), 6)) * 0.1
    moving[~shell, 3:] = 0
    turn = np.array([0.3, -0.2, 0.5])
    rigid = np.concatenate([1.0 + np.cross(turn, points), shell[:, None] * turn], axis=1)
    stored = [float(spring_energies(foam.springs, u[None]).sum()) for u in (rigid, moving)]
    assert stored[0] < 1e-12 * stored[1]
    row = foam.springs
    stretch = np.einsum("rc,rc->r", row.coefficients, moving.ravel()[row.freedoms])
    force = np.zeros(moving.size)
    np.add.at(force, row.freedoms, row.coefficients * (row.stiffness * stretch)[:, None])
    force, moment = np.split(force.reshape(-1, 6), 2, axis=1)
    about = np.cross(points, force) + moment
    assert_allclose(force.sum(0), 0, atol=1e-9 * np.abs(force).sum())
    assert_allclose(about.sum(0), 0, atol=1e-9 * np.abs(about).sum())


def slanted(corner, thicknesses, *, outwards=True):
    """Volume of foam [m³] in a straight ring through corners (y, z) [m] of walls as thick each [mm] as told."""
    walls = []
    for k, thickness in enumerate(thicknesses):
        (y0, z0), (y1, z1) = corner[k], corner[(k + 1) % len(corner)]
        outline = [(LENGTH, y0, z0), (0, y0, z0), (0, y1, z1), (LENGTH, y1, z1)]
        shape = outline if outwards else outline[::-1]
        more = {"zero": (1, 0, 0), "shift": thickness / 2e3, "section": True}
        walls.append(panel(f"post.w{k}", shape, (3, 2), region=f"w{k}", **more))
    sheet = {"E": "20 GPa", "nu": 0.3, "density": "1800 kg/m^3"}
    table = Case.model_validate(
        {
            "plies": {f"p{k}": sheet | {"thickness": t} for k, t in enumerate(thicknesses)},
            "layups": {f"w{k}": [f"p{k}"] for k in range(len(thicknesses))},
        }
    )
    mesh = tub_mesh(walls)
    return inner_volume(mesh, lay_plies(table, mesh), np.arange(len(mesh.element_panel)))[0]


@pytest.mark.parametrize("outwards", [True, False])
def test_foam_between_walls_at_any_angle(outwards):
    # a triangle moved in by h is smaller by 1 - h / r (r its inscribed circle's radius, 2 area / perimeter)
    radius = WIDTH * HEIGHT / (WIDTH + HEIGHT + np.hypot(WIDTH, HEIGHT))
    for thickness in (4.0, 20.0, 36.0, 50.0):
        part = (1 - thickness / 2e3 / radius) ** 2
        found = slanted(RINGS["slabs"], [thickness] * 3, outwards=outwards)
        assert_allclose(found, 0.5 * WIDTH * HEIGHT * LENGTH * part, rtol=1e-9)
    assert slanted(RINGS["slabs"], [54.0] * 3, outwards=outwards) == 0
    # a parallelogram at 60 degrees of walls 6, 30, 10, 20 mm thick: what is left square to each pair of them
    sine = np.sqrt(0.75)
    corner = [(0, 0), (0.1, 0), (0.1 + 0.08 / np.tan(np.pi / 3), 0.08), (0.08 / np.tan(np.pi / 3), 0.08)]
    left = (0.08 - 0.008) * (0.1 - 0.025 / sine) * LENGTH
    assert_allclose(slanted(corner, [6.0, 30.0, 10.0, 20.0], outwards=outwards), left, rtol=1e-9)
    # an L of 100 x 80 mm, its inner corner in the middle, walls of 10 mm: the outer square less what the inner corner
    # takes of it, both moved in
    corner = [(0, 0), (0.1, 0), (0.1, 0.04), (0.05, 0.04), (0.05, 0.08), (0, 0.08)]
    left = (0.09 * 0.07 - 0.05 * 0.04) * LENGTH
    assert_allclose(slanted(corner, [10.0] * 6, outwards=outwards), left, rtol=1e-9)


def test_bricks_stay_where_walls_grow_until_they_meet():
    # 100 x 80 mm on the walls' middle, at the far end 40 x 32 mm: 30 mm leave 2 mm of foam there, 34 mm cross by 2 mm
    for thickness, end, room in ((30.0, 1.0, True), (30.0, 0.4, True), (34.0, 0.4, False), (78.0, 1.0, True)):
        foam = foam_of("bricks", (12, 6), thickness=thickness, end=end)[1]
        assert foam.note == "foam inside post: 12 x 6 x 6 bricks"
        assert (foam.caution == "") is room
    foam = foam_of("bricks", (12, 6), thickness=34.0, end=0.4)[1]
    for words in ("sections.post", "x 500", "32 mm wide", "take 34 mm", "fewer plies in post", "foam there is drawn"):
        assert words in foam.caution


@pytest.mark.parametrize(
    ("kind", "thickness"), [("bricks", 85.0), ("bricks", 95.0), ("bricks", 120.0), ("slabs", 90.0)]
)
def test_walls_that_meet_all_over_leave_no_foam(kind, thickness):
    # at 95 and 120 mm both 100 and 80 mm are overdrawn: their product is positive again
    mesh, filled = ring(kind, (4, 2), thickness)
    layup = lay_plies(filled, mesh)
    assert layup.inside["post"][0] == 0
    assert layup.filling[-1] == 0
    _, foam = foam_of(kind, (4, 2), thickness=thickness)
    assert not len(foam.springs.stiffness)
    assert not len(foam.points)
    assert "no foam is counted" in foam.caution
    assert "leave no room" in foam.note


@pytest.mark.parametrize(
    ("kind", "thickness", "end"), [("slabs", 50.0, 1.0), ("bricks", 34.0, 0.4), ("bricks", 120.0, 1.0)]
)
def test_box_with_thick_walls_round_foam_is_solved(kind, thickness, end):
    # every solution checks its own equilibrium
    mesh, filled = ring(kind, (4, 2), thickness, end)
    load = {
        "kind": "static",
        "supports": [{"on": "h1-h2", "fix": ["x", "y", "z"]}, {"on": "f1-f2", "fix": ["x", "z"]}],
        "forces": [{"on": "r1", "force": ["0 N", "100 N", "0 N"]}],
        "probes": {"roof": "r1"},
    }
    points = {name: [0, 0, 0] for name in ("h1", "h2", "f1", "f2", "r1")}
    loaded = Case.model_validate({"points": points, "load_cases": {"static": load}})
    model, solution = solved(filled.model_copy(update={"points": loaded.points, "load_cases": loaded.load_cases}), mesh)
    assert solution.u[0][model.probes["static"]["roof"], 1] > 0
    assert any("walls meet inside" in text for text in model.cautions) is (kind == "bricks")


def test_bricks_hang_on_the_inner_faces_and_follow_their_turning():
    # walls of 4 mm: a rigid turn of nodes and bricks leaves the glue between them slack
    filled, mesh = case(fill="foam"), post((12, 6), shift=SKIN / 2)
    split = SplitMesh(np.arange(len(mesh.points)), tuple(block.conn for block in mesh.blocks), (), ())
    (foam,) = foam_springs(filled, mesh, lay_plies(filled, mesh), split, len(mesh.points))
    assert_allclose(foam.points.min(0), [0, SKIN / 2, SKIN / 2], atol=1e-12)
    assert_allclose(foam.points.max(0), [LENGTH, WIDTH - SKIN / 2, HEIGHT - SKIN / 2], atol=1e-12)
    turn, points = np.array([0.3, -0.2, 0.5]), np.concatenate([mesh.points, foam.points])
    u = np.zeros((1, len(points), 6))
    u[0, :, :3] = np.cross(turn, points)
    u[0, : len(mesh.points), 3:] = turn
    assert spring_energies(foam.springs, u).sum() < 1e-10


def test_places_are_found_in_crooked_bricks():
    # a twisted, tapered grid that leans; natural coordinates come back as they were put in
    z, y, x = np.meshgrid(np.linspace(0, 1, 5), np.linspace(0, 1, 4), np.linspace(0, 1, 3), indexing="ij")
    shrunk = 1 - 0.3 * z
    points = np.stack([0.1 * x * shrunk + 0.05 * z, 0.08 * y * shrunk + 0.02 * z * x, 0.6 * z + 0.03 * x], -1)
    grid = Grid(points)
    rng = np.random.default_rng(5)
    brick, natural = rng.integers(0, 24, 50), rng.uniform(-1, 1, (50, 3))
    corners = points.reshape(-1, 3)[grid.conn()[brick]]
    places = np.einsum("mn,mnx->mx", shapes(natural), corners)
    found, back = locate(grid, places, np.array([0.0, 0.0, 1.0]))
    assert (found == brick).all()
    assert_allclose(back, natural, atol=1e-6)


def test_foam_keeps_a_hinged_box_in_shape():
    # four stiff walls on hinges are a mechanism; foam holds it: shear stiffness G V / height (closed form)
    hinges = {"joint_kinds": {"hinge": {"kind": "hinged"}}, "joints": {"*/*": "hinge"}}
    load = {
        "kind": "static",
        "supports": [{"on": "h1-h2", "fix": ["x", "y", "z"]}, {"on": "f1-f2", "fix": ["x", "z"]}],
        "forces": [{"on": "r1-r2", "force": ["0 N", "100 N", "0 N"]}],
        "probes": {"roof": "r1"},
    }
    table = Case.model_validate(
        {
            "plies": {"sheet": {"E": "2e8 GPa", "nu": 0.0, "thickness": 0.04, "density": "1800 kg/m^3"}},
            "cores": {"foam": {"density": "80 kg/m^3", "E": "60 MPa", "G": "25 MPa"}},
            "layups": {name: ["sheet"] for name in WALLS},
            "points": {name: [0, 0, 0] for name in ("h1", "h2", "f1", "f2", "r1", "r2")},
            "sections": {"post": SECTION | {"fill": "foam"}},
            "load_cases": {"static": load},
            **hinges,
        }
    )
    mesh = post((6, 2), shift=2e-5, regions=True)
    model, solution = solved(table, mesh)
    moved = solution.u[0][model.probes["static"]["roof"], 1]
    volume = WIDTH * HEIGHT * LENGTH
    assert_allclose(100 / moved, 25e6 * volume / HEIGHT**2, rtol=0.02)  # the walls give a little
    found = find(model, (solution,)).load_cases["static"].energy
    assert found.foams["post"] > 0.9
    assert_allclose(sum(twist_shares(found).values()), 1.0, rtol=1e-9)
