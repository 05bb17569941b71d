"""A mirrored tub: node for node in its geometry, its motion and its margins, whichever hand the torque has."""

import numpy as np
import pytest
from case_texts import read_tables, tables_of
from numpy.testing import assert_allclose, assert_array_equal
from tub_runs import MIRROR, run_of

from tubfem.geometry.mesh import centroids, normals
from tubfem.run import run_case
from tubfem.shell.ties import rigid_motion

TORQUE = 1000.0
AXIAL = np.array([-1.0, 1.0, -1.0])  # how a reflection in y turns rotations


@pytest.fixture(scope="module")
def even(tmp_path_factory):
    """The starter with layups that are their own mirror image on every panel, under both hands of a couple.

    A +-45 stitched cloth in one piece over the middle is not: its +45 layer lies under its -45 layer on both sides.
    A woven cloth at 0 and at 45 degrees is.
    """
    tables = tables_of("starter")
    tables["mesh"]["size"] = 80
    for region, stack in tables["layups"].items():
        if isinstance(stack, list):
            tables["layups"][region] = [entry.replace("biax600", "plain200 @ 45") for entry in stack]
    place = {name: table["at"] for name, table in tables["pickups"].items()}
    for name, hand in (("plus", 1.0), ("minus", -1.0)):
        forces = [
            {"on": f"{end}.{side}", "force": ["0 N", "0 N", f"{hand * sign * TORQUE / (2e-3 * place[end][1])!r} N"]}
            for end, side, sign in (
                ("front", "right", 1.0),
                ("front", "left", -1.0),
                ("rear", "right", -1.0),
                ("rear", "left", 1.0),
            )
        ]
        supports = [
            {"on": "rear.right", "fix": ["x", "y", "z"]},
            {"on": "rear.left", "fix": ["x", "z"]},
            {"on": "front.right", "fix": ["z"]},
        ]
        tables["load_cases"][name] = {"kind": "static", "supports": supports, "forces": forces}
    return run_case(read_tables(tables, tmp_path_factory.mktemp("even")))


def mirror_nodes(points):
    """Node (p,) at the mirror image of every point (p, 3), which must be there to the last bit."""
    order, other = np.lexsort(points.T), np.lexsort((points * MIRROR).T)
    assert_array_equal(points[order], (points * MIRROR)[other])
    image = np.empty(len(points), dtype=np.int64)
    image[other] = order
    return image


def mirror_elements(mesh):
    """Element (e,) at the mirror image of every element."""
    middle = np.concatenate([centroids(mesh.points, block.conn) for block in mesh.blocks])
    rounded, image = np.round(middle, 9), np.round(middle * MIRROR, 9)
    order, other = np.lexsort((rounded + 0.0).T), np.lexsort((image + 0.0).T)
    assert_allclose(middle[order], (middle * MIRROR)[other], atol=1e-9)
    found = np.empty(len(middle), dtype=np.int64)
    found[other] = order
    return found


def test_starter_is_its_mirror_image_node_for_node(even):
    mesh = even[0].mesh
    image = mirror_nodes(mesh.points)
    assert_array_equal(image[image], np.arange(len(image)))
    elements = {
        tuple(sorted(row)): panel for b in mesh.blocks for row, panel in zip(b.conn.tolist(), b.panel, strict=True)
    }
    names = [panel.name for panel in mesh.panels]
    other = {
        name: name.replace(".right", ".left*").replace(".left", ".right").replace(".right*", ".left") for name in names
    }
    for nodes, panel in elements.items():
        mate = elements[tuple(sorted(image[list(nodes)].tolist()))]
        assert names[mate] == other[names[panel]]


def test_normals_and_zero_directions_are_mirror_images(even):
    mesh = even[0].mesh
    image = mirror_elements(mesh)
    assert_allclose(normals(mesh)[image], normals(mesh) * MIRROR, atol=1e-9)
    direction = np.concatenate([block.direction for block in mesh.blocks])
    across = np.array([not panel.name.endswith((".left", ".right")) for panel in mesh.panels])[mesh.element_panel]
    assert_allclose(direction[image][~across], (direction * MIRROR)[~across], atol=1e-12)
    # One piece of cloth over the middle has one zero direction on both sides.
    assert_allclose(direction[image][across], direction[across], atol=1e-12)


def test_demo_is_its_mirror_image_where_it_exists_twice():
    """Panels in one piece may have one-sided openings; of the others every node has its mate."""
    mesh = run_of("two_seat_roadster", 0.05)[0].mesh
    names = [panel.name for panel in mesh.panels]
    for index, name in enumerate(names):
        if name.endswith(".right"):
            mate = names.index(name.removesuffix(".right") + ".left")
            right, left = (
                np.unique(np.concatenate([b.conn[b.panel == k].ravel() for b in mesh.blocks])) for k in (index, mate)
            )
            here, there = mesh.points[right], mesh.points[left] * MIRROR
            assert_array_equal(here[np.lexsort(here.T)], there[np.lexsort(there.T)])


def test_motion_under_the_couple_is_antisymmetric(even):
    """The couple's mirror image is minus itself: what motion and image have in common is a rigid motion.

    That rigid motion is what the supports, three on one side, choose. 1e-7 of the largest motion: the solution's own
    rounding in a mesh of 20 000 freedoms is some 1e-10.
    """
    model, solutions, _ = even
    state, solution = model.states[0], solutions[0]
    found = next(case for case in state.load_cases if case.torsion)
    u, points = solution.u[found.column], state.shell.points
    pair = mirror_shell_nodes(model)
    image = np.concatenate([u[pair, :3] * MIRROR, u[pair, 3:] * AXIAL], axis=1)
    common = (u + image) / 2
    modes = rigid_motion(points - points.mean(0))
    fit = np.linalg.lstsq(modes.reshape(-1, 6), common.ravel(), rcond=None)[0]
    left = common - modes @ fit
    size = np.abs(u[:, :3]).max()
    assert np.abs(left[:, :3]).max() < 1e-7 * size
    assert np.abs(u[:, :3] - image[:, :3]).max() > 0.5 * size  # the motion itself is far from symmetric


def mirror_shell_nodes(model):
    """Mate (P,) of every shell node: copies of a mesh node, made by joints, by the panels they belong to."""
    mesh, state = model.mesh, model.states[0]
    image, mates = mirror_nodes(mesh.points), mirror_elements(mesh)
    conn = np.concatenate([block.conn for block in state.shell.blocks])
    mesh_node = model.mesh_node
    pair = np.full(len(mesh_node), -1)
    for corner in range(4):
        there = conn[mates]
        same = mesh_node[there] == image[mesh_node[conn[:, corner]]][:, None]
        assert (same.sum(1) == 1).all()
        pair[conn[:, corner]] = there[same]
    for table in (model.mounts, model.pickups):
        for name, node in table.items():
            plain, _, side = name.rpartition(".")
            pair[node] = table[f"{plain}.{'left' if side == 'right' else 'right'}"]
    assert (pair >= 0).all()
    return pair


def test_margins_are_the_worse_of_both_hands(even):
    """Torsion takes the worse of +T and -T: the lower of two static cases that apply one hand each."""
    cases = even[2].load_cases
    torsion, plus, minus = (cases[name] for name in ("torsion", "plus", "minus"))
    hands = set()
    for region, found in torsion.regions.items():
        both = [plus.regions[region].worst, minus.regions[region].worst]
        assert_allclose(found.worst.margin, min(worst.margin for worst in both), rtol=1e-6)
        hands.add(found.worst.sign)
        assert_allclose(found.strain_energy_share, plus.regions[region].strain_energy_share, rtol=1e-6)
    assert_allclose(torsion.fields.margin, np.minimum(plus.fields.margin, minus.fields.margin), rtol=1e-6)
    assert np.abs(plus.fields.margin / minus.fields.margin - 1).max() > 0.1  # or the two hands would say the same
    assert hands <= {1, -1}


def test_margins_of_both_hands_are_the_same_left_and_right(even):
    """What +T does on the right, -T does on the left."""
    model, _, findings = even
    image = mirror_elements(model.mesh)
    torsion, plus, minus = (findings.load_cases[name].fields for name in ("torsion", "plus", "minus"))
    assert_allclose(plus.margin[image], minus.margin, rtol=1e-5)
    assert_allclose(torsion.margin[image], torsion.margin, rtol=1e-5)
