"""Which elements stay one body along a joint, and which bodies meet."""

from itertools import combinations

import numpy as np
import pytest
from tub_builders import nearest, panel, tub_mesh

from tubfem.errors import CaseError
from tubfem.tub.split import split_mesh


def kinds(mesh, **named):
    """Kinds by "A_B" in any order, the same on every line; what is not named is continuous."""
    found = {}
    for i, j in combinations(range(len(mesh.panels)), 2):
        a, b = mesh.panels[i].name, mesh.panels[j].name
        found[i, j] = named.get(f"{a}_{b}", named.get(f"{b}_{a}"))
    return [found] * len(mesh.joints)


def floor(name="floor", x=(0, 1), cells=(4, 4), **more):
    return panel(name, [(x[0], 0, 0), (x[1], 0, 0), (x[1], 1, 0), (x[0], 1, 0)], cells, **more)


def wall(name="wall", x=0.5, z=(0, 1), y=(0, 1), cells=(4, 4), **more):
    return panel(name, [(x, y[0], z[0]), (x, y[1], z[0]), (x, y[1], z[1]), (x, y[0], z[1])], cells, **more)


def test_continuous_joint_changes_nothing():
    mesh = tub_mesh([floor(), wall()])
    split = split_mesh(mesh, kinds(mesh))
    assert len(split.mesh_node) == len(mesh.points)
    np.testing.assert_array_equal(split.conn[0], mesh.blocks[0].conn)
    assert not split.seams


def test_tee_gives_the_wall_nodes_of_its_own_and_leaves_the_floor_whole():
    mesh = tub_mesh([floor(), wall()])
    split = split_mesh(mesh, kinds(mesh, floor_wall="tab"))
    assert len(split.mesh_node) == len(mesh.points) + 5
    np.testing.assert_array_equal(split.conn[0][:16], mesh.blocks[0].conn[:16])
    (seam,) = split.seams
    assert (seam.panels, seam.kind, len(seam.edges)) == ((0, 1), "tab", 4)
    np.testing.assert_array_equal(split.mesh_node[seam.a], seam.edges)
    np.testing.assert_array_equal(split.mesh_node[seam.b], seam.edges)
    assert (seam.a != seam.b).all()


def test_joint_that_ends_inside_a_line_keeps_its_last_node():
    # The wall is moulded on the front floor and tabbed to the rear one; both floors are one mould.
    mesh = tub_mesh(
        [
            panel("front", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (4, 4)),
            panel("rear", [(1, 0, 0), (2, 0, 0), (2, 1, 0), (1, 1, 0)], (4, 4)),
            panel("wall", [(0, 0.5, 0), (2, 0.5, 0), (2, 0.5, 1), (0, 0.5, 1)], (8, 4)),
        ]
    )
    split = split_mesh(mesh, kinds(mesh, rear_wall="tab"))
    assert len(split.mesh_node) == len(mesh.points) + 4
    end = nearest(mesh.points, (1, 0.5, 0))
    (seam,) = split.seams
    shared = seam.a == seam.b
    assert shared.sum() == 1
    assert seam.edges[shared] == end


def test_section_wall_goes_through_a_crossing_and_the_other_is_in_two_pieces():
    crossing = [
        panel("dash", [(0, 0, -1), (0, 1, -1), (0, 1, 1), (0, 0, 1)], (4, 8)),
        panel("top", [(-1, 0, 0), (1, 0, 0), (1, 1, 0), (-1, 1, 0)], (8, 4), section=True),
    ]
    mesh = tub_mesh(crossing)
    split = split_mesh(mesh, kinds(mesh, dash_top="tab"))
    assert not split.through
    (seam,) = split.seams
    assert len(seam.edges) == 8  # both pieces on each of 4 edges
    assert len(np.unique(seam.b)) == 5  # one wall
    assert len(np.unique(seam.a)) == 10  # two pieces of dash
    assert len(split.mesh_node) == len(mesh.points) + 10


def test_crossing_of_two_free_panels_is_decided_by_size_and_reported():
    """The larger goes through, whichever the file has first."""
    small = panel("a", [(0, 0, -1), (0, 1, -1), (0, 1, 1), (0, 0, 1)], (2, 4))
    large = panel("b", [(-1.5, 0, 0), (1.5, 0, 0), (1.5, 1, 0), (-1.5, 1, 0)], (4, 2))
    for panels, through in (([small, large], (0, 1)), ([large, small], (1, 0))):
        mesh = tub_mesh(panels)
        assert split_mesh(mesh, kinds(mesh, a_b="tab")).through == (through,)


def test_moulded_pair_on_a_line_is_one_body_for_the_bolts():
    mesh = tub_mesh(
        [
            floor("left", x=(0, 0.5), cells=(2, 4)),
            wall("wall"),
            floor("closing", x=(0.5, 1), cells=(2, 4)),
        ]
    )
    split = split_mesh(mesh, kinds(mesh, left_closing="bolt", wall_closing="bolt"))
    assert len(split.seams) == 1  # bolted once, to floor and wall together
    assert split.seams[0].pairs == ((0, 2), (1, 2))
    assert len(split.mesh_node) == len(mesh.points) + 5
    two = split_mesh(mesh, kinds(mesh, left_wall="tab", left_closing="bolt", wall_closing="bolt"))
    assert len(two.seams) == 3
    assert len(two.mesh_node) == len(mesh.points) + 10


def test_moulded_and_bolted_to_the_same_body_is_refused():
    mesh = tub_mesh([floor("left", x=(0, 0.5), cells=(2, 4)), wall("wall"), floor("closing", x=(0.5, 1), cells=(2, 4))])
    with pytest.raises(CaseError, match=r"left/closing is bolt, but .* hang together through wall by"):
        split_mesh(mesh, kinds(mesh, left_closing="bolt"))


def test_corner_of_three_tabbed_panels_comes_apart_completely():
    mesh = tub_mesh(
        [
            panel("floor", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (2, 2)),
            panel("side", [(0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1)], (2, 2)),
            panel("front", [(0, 0, 0), (0, 1, 0), (0, 1, 1), (0, 0, 1)], (2, 2)),
        ]
    )
    split = split_mesh(mesh, kinds(mesh, floor_side="tab", floor_front="tab", side_front="tab"))
    corner = nearest(mesh.points, (0, 0, 0))
    assert (split.mesh_node == corner).sum() == 3
