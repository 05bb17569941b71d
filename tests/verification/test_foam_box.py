"""A box with foam inside, pushed out of shape: shells with slabs of foam against bricks in three dimensions."""

import numpy as np
from solids import Solid, brick_mesh, tensor
from tub_box import solved
from tub_builders import panel, tub_mesh

from tubfem.case.schema import Case

WIDTH, HEIGHT, LENGTH, SKIN = 0.1, 0.08, 0.12, 2e-3  # of the mid-line; walls 2 mm
WALL, FOAM, SHEAR = 20e9, 60e6, 25e6  # Pa
PUSH = 100.0
NAMES = ("floor", "outer", "roof", "inner")


def shells(filled):
    """Motion of the roof's edge when it is pushed sideways, the floor's two edges held."""
    corner = [(0, 0), (WIDTH, 0), (WIDTH, HEIGHT), (0, HEIGHT)]
    walls = []
    for k, name in enumerate(NAMES):
        (y0, z0), (y1, z1) = corner[k], corner[(k + 1) % 4]
        outline = [(LENGTH, y0, z0), (0, y0, z0), (0, y1, z1), (LENGTH, y1, z1)]
        made = {"region": "post", "zero": (1, 0, 0), "shift": SKIN / 2, "section": True}
        walls.append(panel(f"post.{name}", outline, (6, 10), **made))
    places = {"h": (0, 0), "f": (WIDTH, 0), "r": (WIDTH, HEIGHT)}
    lines = [(f"{n}1-{n}2", (0, y, z), (LENGTH, y, z)) for n, (y, z) in places.items()]
    mesh = tub_mesh(walls, lines=lines, points=[("r1", (0, WIDTH, HEIGHT)), ("r2", (LENGTH, WIDTH, HEIGHT))])
    corners = {"a": [0, 0], "b": [100, 0], "c": [100, 80], "d": [0, 80]}
    section = {
        "walls": {"floor": ["a", "b"], "outer": ["b", "c"], "roof": ["c", "d"], "inner": ["d", "a"]},
        "at": {"s": corners, "t": corners},
    }
    held = [{"on": "h1-h2", "fix": ["x", "y", "z"]}, {"on": "f1-f2", "fix": ["y", "z"]}]
    case = Case.model_validate(
        {
            "plies": {"sheet": {"E": f"{WALL} Pa", "nu": 0.0, "thickness": 2.0, "density": "1800 kg/m^3"}},
            "cores": {"foam": {"density": "80 kg/m^3", "E": f"{FOAM} Pa", "G": f"{SHEAR} Pa"}},
            "layups": {"post": ["sheet"]},
            "points": {f"{n}{k}": [0, 0, 0] for n in places for k in (1, 2)},
            "sections": {"post": section | ({"fill": "foam"} if filled else {})},
            "load_cases": {
                "static": {
                    "kind": "static",
                    "supports": held,
                    "forces": [{"on": "r1-r2", "force": [0, f"{PUSH} N", 0]}],
                    "probes": {"roof": "r1"},
                }
            },
        }
    )
    model, solution = solved(case, mesh)
    return solution.u[0][model.probes["static"]["roof"], 1]


def bricks(filled):
    """The same in three dimensions: walls of two bricks, foam of four by four, no Poisson's ratio."""

    def line(size):
        half = SKIN / 2
        return np.array([-half, 0, half, *np.linspace(half, size - half, 5)[1:], size, size + half])

    y, z, x = line(WIDTH), line(HEIGHT), np.linspace(0, LENGTH, 4)
    points, conn, cells = brick_mesh(3, 8, 8, lambda g: np.stack([x[g[:, 0]], y[g[:, 1]], z[g[:, 2]]], 1))
    inside = ((cells[:, 1:] > 1) & (cells[:, 1:] < 6)).all(axis=1)
    keep = np.ones(len(cells), dtype=bool) if filled else ~inside
    used, back = np.unique(conn[keep], return_inverse=True)
    frame, none = np.eye(3), (0.0, 0.0, 0.0)
    stiff = [tensor((WALL,) * 3, (WALL / 2,) * 3, none, frame), tensor((FOAM,) * 3, (SHEAR,) * 3, none, frame)]
    solid = Solid(points[used], back.reshape(-1, 8), inside[keep].astype(int), stiff[: 2 if filled else 1])

    def edge(w, y, z):
        return (np.abs(w[1] - y) < 1e-9) & (np.abs(w[2] - z) < 1e-9)

    held = [solid.at(lambda w, y=y: edge(w, y, 0.0)) for y in (0.0, WIDTH)]
    fixed = np.concatenate([held[0][0], *(each for two in held for each in two[1:])])
    pushed = solid.at(lambda w: edge(w, WIDTH, HEIGHT))[1]
    load = np.zeros(solid.basis.N)
    load[pushed] = PUSH / len(pushed)
    u, _ = solid.solve(fixed, np.zeros(len(fixed)), load)
    return float(u[pushed].mean())


def test_foam_stiffens_the_box_as_in_three_dimensions(record):
    """A box pushed out of square: walls alone, and what foam inside adds."""
    empty, full = (PUSH / shells(filled) for filled in (False, True))
    hollow, solid = (PUSH / bricks(filled) for filled in (False, True))
    # independently computed: quadratic bricks; 33.6 against 36.7 N/mm empty: shells bend over the mid-line, bricks over
    # what is free between the walls (78 of 80 mm, cubed: 8 %)
    record("hollow box pushed out of square [N/m]", empty, hollow, 10.0, mesh="17 mm")
    # foam makes it a hundred times as stiff: 3.38 against 3.76 kN/mm. Slabs of uniform strain reach from mid-line to
    # mid-line (5 % soft) and leave the walls' rippling against the foam out (another 5 %): on the soft side, 15 %
    assert full > 50 * empty
    record("foam in that box [N/m]", full - empty, solid - hollow, 15.0, mesh="17 mm")
    assert full - empty < solid - hollow
