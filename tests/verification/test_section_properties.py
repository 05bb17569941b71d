"""Torsion and warping constants of sections by `sectionproperties` (R. van Leeuwen; warping by finite elements).

That library solves Saint-Venant's problem in the plane of the real section, corners and edges included; here a shell
beam free to warp at both ends is twisted and J = T L / (G θ) is read. Walls have no corners in a shell: the square of
overlap in every corner and the edge layers of free edges are worth some tenths of t / b.
"""

import numpy as np
import pytest
from meshes import isotropic
from tubes import torsional_stiffness, tube, twist_model

pre = pytest.importorskip("sectionproperties.pre", reason="install the extra `test`")

L, NU, E = 1.0, 0.3, 70e9
G = E / 2 / (1 + NU)
GAP = 1e-4  # m, of a slit; it only has to be open


def section_constants(walls, thickness, cell=4.0):
    """J [m⁴] and warping constant [m⁶] of walls with mitred corners; meshed in mm, cells of `cell` t²."""
    from sectionproperties.analysis import Section
    from shapely import LineString, unary_union

    strips = [
        LineString([(1e3 * y, 1e3 * z) for y, z in wall]).buffer(500 * t, cap_style="flat", join_style="mitre")
        for wall, t in zip(walls, thickness, strict=True)
    ]
    geometry = pre.Geometry(unary_union(strips))
    geometry.create_mesh(mesh_sizes=[cell * (1e3 * min(thickness)) ** 2])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return 1e-12 * section.get_j(), 1e-18 * section.get_gamma()


def shell_constant(walls, thickness, size):
    points, conns = tube(walls, L, size)
    model, far = twist_model(points, conns, [isotropic(E, NU, t) for t in thickness])
    return torsional_stiffness(model, far) * L / G


def box(*webs):
    """The box with webs at these y, and nodes where they stand."""
    low = [(y, -0.05) for y in (-0.1, *webs, 0.1)]
    high = [(y, 0.05) for y in (0.1, *webs[::-1], -0.1)]
    return [[*low, *high, low[0]], *([(y, -0.05), (y, 0.05)] for y in webs)]


# Corners: t / b is 1 % for 1 mm on 100 mm, of which a third to a half shows; webs of 2 mm double that. In open sections
# folds and free edges, each an overlap or a layer as wide as the wall is thick, work against one another.
CASES = {
    "closed box": (box(), [1e-3], 0.5),
    "two cells, the web off the middle": (box(-0.04), [1e-3, 1e-3], 0.5),
    "three cells, three thicknesses": (box(-0.05, 0.03), [1e-3, 2e-3, 1.5e-3], 1.0),
    "tunnel on a wider floor": (
        [
            [(-0.15, 0.0), (-0.1, 0.18), (0.1, 0.18), (0.15, 0.0)],
            [(-0.3, 0.0), (-0.15, 0.0), (0.15, 0.0), (0.3, 0.0)],
        ],
        [1e-3, 1e-3],
        0.5,
    ),
    "slit box": ([[(GAP, -0.05), *box()[0][1:4], (-0.1, -0.05), (-GAP, -0.05)]], [1e-3], 0.5),
    "channel": ([[(0.05, -0.05), (0.0, -0.05), (0.0, 0.05), (0.05, 0.05)]], [1e-3], 1.0),
}


SLOW = ("three cells, three thicknesses", "closed box")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in SLOW else name for name in CASES]
)
def test_torsion_constant(record, name):
    """Torsion constants of closed, many-celled, slit and open sections, against the section's own warping problem."""
    walls, thickness, percent = CASES[name]
    reference, _ = section_constants(walls, thickness)
    record(f"J of {name} [m⁴]", shell_constant(walls, thickness, 0.05), reference, percent, mesh="50 mm")


FULLER = "solid walls are fuller where they meet; a shell has what its free edges lose, not what that gives back"
OPEN = {
    "I": ([[(-0.04, z), (0.0, z), (0.04, z)] for z in (0.06, -0.06)] + [[(0.0, -0.06), (0.0, 0.06)]], [2e-3] * 3),
    "uneven I": (
        [
            [(-0.03, 0.06), (0.0, 0.06), (0.03, 0.06)],
            [(-0.05, -0.06), (0.0, -0.06), (0.05, -0.06)],
            [(0.0, -0.06), (0.0, 0.06)],
        ],
        [2e-3, 3e-3, 1.5e-3],
    ),
    "zed": ([[(-0.05, 0.06), (0.0, 0.06), (0.0, -0.06), (0.05, -0.06)]], [2e-3]),
    "hat": (
        [[(-0.09, 0.0), (-0.05, 0.0), (-0.035, 0.06), (0.035, 0.06), (0.05, 0.0), (0.09, 0.0)]],
        [2e-3],
    ),
    "channel with lips": (
        [[(0.05, -0.03), (0.05, -0.05), (0.0, -0.05), (0.0, 0.05), (0.05, 0.05), (0.05, 0.03)]],
        [2e-3],
    ),
}


# V. Z. Vlasov: K = (G J / L) / (1 - tanh(kL) / kL), k² = G J / (E Iω). Its beam does not shear, of which a shell of a
# metre knows: the flanges' own shear is some tenths of a per cent of their bending here.
@pytest.mark.parametrize("name", OPEN)
def test_warping_held_at_one_end(record, name):
    """Open sections whose warping is held at one end: Vlasov, with the constants of the section's own problem."""
    walls, thickness = OPEN[name]
    J, warping = section_constants(walls, thickness, 1.0)
    k = (G * J / (E * warping)) ** 0.5 * L
    points, conns = tube(walls, L, 0.025)
    ours = torsional_stiffness(*twist_model(points, conns, [isotropic(E, NU, t) for t in thickness], ends="held free"))
    # Free edges are relieved, and what a solid has more where walls meet is in no shell: the uneven I is 1.17 % soft.
    value = G * J / L / (1 - np.tanh(k) / k)
    record(f"{name}, warping held [N·m/rad]", ours, value, 1.3, mesh="25 mm", asked=1.0, why=FULLER)
