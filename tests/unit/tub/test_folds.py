"""What lies off the meshed surface at folds, against solid counts."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.tub.folds import folds

L = 0.8


def ring(corners, *, cells=3, closed=True, flip=()):
    """Walls round a section in (y, z) along x, normals outwards of one that runs anticlockwise; some turned over."""
    walls = []
    for k in range(len(corners) - (not closed)):
        (y0, z0), (y1, z1) = corners[k], corners[(k + 1) % len(corners)]
        outline = [(L, y0, z0), (0, y0, z0), (0, y1, z1), (L, y1, z1)]
        walls.append(panel(f"w{k}", outline[::-1] if k in flip else outline, (cells, 2)))
    return tub_mesh(walls)


def joined(mesh, kind="continuous"):
    return {"/".join(mesh.panels[p].name for p in line.panels): kind for line in mesh.joints}


@pytest.mark.parametrize("sides", [3, 4, 6, 24])
def test_layers_outside_a_polygon_are_as_long_as_their_own_polygon(sides):
    # a layer z outside a regular polygon of inradius r has the perimeter of one of inradius r + z: 2 n tan(π/n) z more
    angle = 2 * np.pi * np.arange(sides) / sides
    mesh = ring(np.column_stack([np.cos(angle), np.sin(angle)]))
    found = folds(mesh, joined(mesh))
    assert_allclose(found.gain.sum(), 2 * sides * np.tan(np.pi / sides) * L, rtol=1e-12)
    if sides == 4:  # every wall has two right corners: z more at each end
        assert_allclose(np.bincount(mesh.element_panel[found.element], found.gain), 2 * L, rtol=1e-12)


def test_the_sign_follows_the_wall_s_own_normal_and_the_side_that_is_convex():
    # a Z: right corner, then left corner; nothing in all. One wall turned over has its inside outside.
    mesh = ring([(0, 0), (1, 0), (1, 1), (2, 1)], closed=False)
    found = folds(mesh, joined(mesh))
    by_wall = np.bincount(mesh.element_panel[found.element], found.gain, minlength=3)
    assert_allclose(by_wall, [L, 0.0, -L], atol=1e-12)
    turned = ring([(0, 0), (1, 0), (1, 1), (2, 1)], closed=False, flip=(2,))
    found = folds(turned, joined(turned))
    assert_allclose(np.bincount(turned.element_panel[found.element], found.gain)[2], L, rtol=1e-12)


@pytest.mark.parametrize(("kind", "total"), [("tabbed", 8 * L), ("bonded", 0), ("fastened", 0), ("hinged", 0)])
def test_only_moulded_walls_run_on_into_each_other(kind, total):
    mesh = ring([(0, 0), (1, 0), (1, 1), (0, 1)])
    found = folds(mesh, joined(mesh, kind)).gain
    assert_allclose(found.sum(), total, atol=1e-12)


def test_three_walls_on_a_line_and_a_wall_in_one_plane_gain_nothing():
    floor = [(0, 0, 0), (1, 0, 0), (1, 0.5, 0), (0, 0.5, 0)]
    other = [(0, 0.5, 0), (1, 0.5, 0), (1, 1, 0), (0, 1, 0)]
    web = [(0, 0.5, 0), (1, 0.5, 0), (1, 0.5, 0.3), (0, 0.5, 0.3)]
    walls = [panel("a", floor, (4, 2)), panel("b", other, (4, 2)), panel("web", web, (4, 2))]
    mesh = tub_mesh(walls)
    kinds = {f"{a}/{b}": "continuous" for a, b in (("a", "b"), ("a", "web"), ("b", "web"))}
    assert_allclose(folds(mesh, kinds).gain, 0.0, atol=1e-12)


@pytest.mark.parametrize("cells", [(6, 6), (24, 24)])
def test_a_warped_panel_has_no_mean_curvature(cells):
    # a hyperbolic paraboloid: its folds cancel, whatever the mesh
    corners = [(0, 0, 0), (1, 0, 0.1), (1, 1, 0), (0, 1, 0.1)]
    found = folds(tub_mesh([panel("floor", corners, cells)]), {})
    assert abs(found.gain.sum()) < 1e-3
