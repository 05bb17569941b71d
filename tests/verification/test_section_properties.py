"""Torsion constants of cross-sections by `sectionproperties` (R. van Leeuwen; warping function by finite elements).

That library solves Saint-Venant's problem in the plane of the real section, corners and edges included; here a shell
beam free to warp at both ends is twisted and J = T L / (G θ) is read. Walls have no corners in a shell: the square of
overlap in every corner and the edge layers of free edges are worth some tenths of t / b.
"""

import pytest
from meshes import isotropic
from tubes import torsional_stiffness, tube, twist_model

pre = pytest.importorskip("sectionproperties.pre", reason="install the extra `test`")

L, NU, E = 1.0, 0.3, 70e9
G = E / 2 / (1 + NU)
GAP = 1e-4  # m, of a slit; it only has to be open


def torsion_constant(walls, thickness):
    """J [m⁴] of walls with mitred corners; the section is meshed in mm."""
    from sectionproperties.analysis import Section
    from shapely import LineString, unary_union

    strips = [
        LineString([(1e3 * y, 1e3 * z) for y, z in wall]).buffer(500 * t, cap_style="flat", join_style="mitre")
        for wall, t in zip(walls, thickness, strict=True)
    ]
    geometry = pre.Geometry(unary_union(strips))
    geometry.create_mesh(mesh_sizes=[4 * (1e3 * min(thickness)) ** 2])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return 1e-12 * section.get_j()


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
    reference = torsion_constant(walls, thickness)
    record(f"J of {name} [m⁴]", shell_constant(walls, thickness, 0.05), reference, percent, mesh="50 mm")
