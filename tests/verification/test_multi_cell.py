"""Boxes of more than one cell and thin open sections in torsion.

Two equal cells: R. Bredt (1896) and S. B. Batho (1916), the web between two equal cells carries nothing; converged
values in N·m/rad computed independently by a p-version Reissner-Mindlin shell. Channel and tube: T. H. G. Megson,
Aircraft Structures for Engineering Students (from memory, recomputed): J = 316.7 mm⁴, and 2 π R³ t.
"""

import numpy as np
import pytest
from meshes import isotropic
from tubes import torsional_stiffness, tube, twist_model

E, NU = 70e9, 0.3
G = E / 2 / (1 + NU)
CELLS = [
    [(-0.1, -0.05), (0.0, -0.05), (0.1, -0.05), (0.1, 0.05), (0.0, 0.05), (-0.1, 0.05), (-0.1, -0.05)],
    [(0.0, -0.05), (0.0, 0.05)],
]


@pytest.mark.parametrize(("ends", "reference"), [("free free", 143_649), ("held free", 143_958)])
def test_two_equal_cells(record, ends, reference):
    """A web between two cells that twist alike: it carries no shear and adds only its own torsion."""
    points, conns = tube(CELLS, 1.0, 0.05)
    ours = torsional_stiffness(*twist_model(points, conns, [isotropic(E, NU, 0.002)], ends=ends))
    record(f"two equal cells, {ends}, K [N·m/rad]", ours, reference, 0.3, mesh="50 mm", asked=1.0)


def batho(areas, outer, webs, thickness, web):
    """J [m⁴] of cells side by side: areas (k), outer wall length of each (k), lengths of the webs between (k-1)."""
    n = len(areas)
    flow = np.diag([length / thickness for length in outer])
    for k, length in enumerate(webs):
        flow[[k, k + 1], [k, k + 1]] += length / web
        flow[[k, k + 1], [k + 1, k]] -= length / web
    return 4 * np.dot(areas, np.linalg.solve(flow, areas)) if n else 0.0


def test_three_unequal_cells(record):
    """Bredt-Batho flows in three unequal cells with webs of another thickness (closed form)."""
    at = (-0.04, 0.06)
    low, high = [(y, -0.05) for y in (-0.1, *at, 0.1)], [(y, 0.05) for y in (0.1, *at[::-1], -0.1)]
    walls = [[*low, *high, low[0]], *([(y, -0.05), (y, 0.05)] for y in at)]
    points, conns = tube(walls, 1.0, 0.02)
    C = [isotropic(E, NU, t) for t in (1e-3, 2e-3, 2e-3)]
    widths = np.diff([-0.1, *at, 0.1])
    outer = 2 * widths + [0.1, 0.0, 0.1]
    J = batho(0.1 * widths, outer, [0.1, 0.1], 1e-3, 2e-3)
    record(
        "three cells, G J / L [N·m/rad]", torsional_stiffness(*twist_model(points, conns, C)), G * J, 0.3, mesh="20 mm"
    )


# 24 flat sides have the area and the length of a polygon: J = 4 A² t / s of it, 2 % below the circle's.
def test_round_tube(record):
    """A polygon of 24 sides standing for a round tube."""
    angle = np.linspace(0, 2 * np.pi, 25)
    R, t = 0.1, 0.0027
    walls = [[(R * np.cos(a), R * np.sin(a)) for a in angle[:-1]] + [(R, 0.0)]]
    points, conns = tube(walls, 1.0, 2 * R * np.sin(np.pi / 24) * 1.001)
    side, area = 2 * R * np.sin(np.pi / 24), 12 * R**2 * np.sin(np.pi / 12)
    J = 4 * area**2 * t / (24 * side)
    ours = torsional_stiffness(*twist_model(points, conns, [isotropic(E, NU, t)]))
    record("tube of 24 sides, G J / L [N·m/rad]", ours, G * J, 0.3, mesh="26 mm")


# Flanges 25 x 1.5, web 50 x 2.5 mm. Every free edge costs 0.3 t⁴ of J in a shell as in a solid, of which the sum of
# b t³ / 3 does not know: 2 x 0.3 x 1.5⁴ is 1 % of 316.7, a part of it seen by elements of 12.5 mm.
def test_megson_channel(record):
    """A channel of two thicknesses, open, free to warp."""
    walls = [
        [(0.025, -0.025), (0.0, -0.025)],
        [(0.0, -0.025), (0.0, 0.025)],
        [(0.0, 0.025), (0.025, 0.025)],
    ]
    points, conns = tube(walls, 1.0, 0.0125)
    C = [isotropic(E, NU, t) for t in (1.5e-3, 2.5e-3, 1.5e-3)]
    ours = torsional_stiffness(*twist_model(points, conns, C)) / G
    record("Megson's channel, J [m⁴]", ours, 316.67e-12, 1.0, mesh="12.5 mm")
