"""Which edges are free, and what their elements feel of a twist (theory.md, Z.1 to Z.3)."""

import numpy as np
import pytest
from laminates import stack, ud
from meshes import block, freedoms, grid, held, isotropic, shell, welded
from numpy.testing import assert_allclose

from tubfem.laminate.shear import stiffness8
from tubfem.shell.assemble import stiffness_matrix
from tubfem.shell.edges import share_relieved
from tubfem.shell.ties import Rigid

SKEW = np.array([[0.3, 0.0, 0.0], [0.1, 0.2, 0.0], [0.0, 0.0, 1.0]])
UNEVEN = stiffness8(stack((0, 30, 70), ud(40e9, 9e9, 4e9, 0.3, thickness=2e-3)))


def plate(n=3, *, supports=(), direction=(1.0, 0.0, 0.0), C=UNEVEN, corners=SKEW):
    s, conn = grid(n, n)
    points = np.column_stack([s, np.zeros(len(s))]) @ corners
    return shell(points, [block(conn, direction)], C, np.zeros((len(points), 6)), supports=supports)


def relieved_elements(model):
    relief = model.blocks[0].relief
    return [] if relief is None else relief.elements.tolist()


def test_elements_along_the_rim_of_a_plate_are_relieved():
    assert relieved_elements(plate()) == [0, 1, 2, 3, 5, 6, 7, 8]


def test_an_edge_that_a_triangle_shares_is_not_free():
    points = 0.03 * np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [2, 0.5, 0]])
    quad, fin = block(np.array([[0, 1, 2, 3]])), block(np.array([[1, 4, 2]]), kind="tria3")
    alone, beside = (
        shell(points, blocks, UNEVEN, np.zeros((5, 6))).blocks[0].relief.turn[0, 2, 2]
        for blocks in ([quad], [quad, fin])
    )
    assert alone < beside - 0.01


def test_a_closed_tube_is_relieved_at_its_ends_alone():
    s, conn = grid(4, 12)
    angle = 2 * np.pi * s[:, 1]
    points, (conn,) = welded([(np.column_stack([2 * s[:, 0], np.cos(angle), np.sin(angle)]), conn)])
    model = shell(points, [block(conn)], UNEVEN, np.zeros((len(points), 6)))
    middle = points[conn[relieved_elements(model)]].mean(1)[:, 0]
    assert len(middle) == 24
    assert set(middle.round(3)) == {0.25, 1.75}


# Along an edge that runs with x the twist turns the surface about y.
@pytest.mark.parametrize(
    ("components", "free"), [([3, 4, 5], False), ([0, 1, 2, 4], False), ([0, 1, 2, 3, 5], True), ([2], True)]
)
def test_an_edge_whose_twist_is_held_is_not_free(components, free):
    s, conn = grid(3, 3)
    low = s[:, 1] == 0
    model = plate(supports=[held(freedoms(low, components))], corners=np.diag([0.3, 0.2, 1.0]))
    under = np.flatnonzero((s[conn].mean(1).round(3) == [0.5, 0.167]).all(1))[0]
    assert (under in relieved_elements(model)) == free


@pytest.mark.parametrize(("components", "free"), [((3,), False), ((0, 1, 2), True)])
def test_an_edge_that_turns_with_a_rigid_body_is_not_free(components, free):
    """Along an edge that runs with y the twist turns the surface about x, which all its nodes then do alike."""
    s, conn = grid(3, 3)
    at_end = np.flatnonzero(s[:, 0] == 1)
    points = np.vstack([np.column_stack([0.3 * s[:, 0], 0.2 * s[:, 1], np.zeros(len(s))]), [0.3, 0.1, 0.0]])
    link = Rigid(len(s), at_end, components)
    turn = held(6 * len(s) + np.array([] if 3 in components else [3, 4, 5], dtype=np.int64))
    model = shell(points, [block(conn)], UNEVEN, np.zeros((len(points), 6)), rigid=[link], supports=[turn])
    beside = np.flatnonzero((s[conn].mean(1).round(3) == [0.833, 0.5]).all(1))[0]
    assert (beside in relieved_elements(model)) == free


def test_what_is_relieved_does_not_hang_on_the_direction_of_0_degrees():
    C = isotropic(70e9, 0.3, 0.02)
    K = [stiffness_matrix(plate(direction=d, C=C)).toarray() for d in ((1.0, 0, 0), (0.3, 1.0, 0))]
    assert_allclose(K[0], K[1], atol=1e-9 * np.abs(K[0]).max())


def test_only_a_twist_along_the_edge_is_relieved():
    model = plate()
    relief = model.blocks[0].relief
    side = relief.elements.tolist().index(1)  # its free edge runs along x, where the 0° is
    assert_allclose(relief.turn[side], np.diag([1, 1, relief.turn[side, 2, 2]]), atol=1e-12)
    assert 0.5 < relief.turn[side, 2, 2] < 0.99


# First-order theory of a row of elements, solved node by node: exact where the energy of the layer is c / 2.
@pytest.mark.parametrize("x", [0.7, 1.0, 3.0, 30.0])
@pytest.mark.parametrize("count", [1, 60])
def test_a_row_of_elements_saves_what_its_layers_do(x, count):
    n = count + 1
    share = share_relieved(np.array([x]), both=np.array([count == 1]))[0]
    left = np.ones(count)
    left[[0, -1]] -= share if count > 1 else 2 * share
    K, F = np.zeros((n, n)), np.zeros(n)
    for e, part in enumerate(left):
        K[e : e + 2, e : e + 2] += part / x * np.array([[1, -1], [-1, 1]]) + x / 12 * np.array([[5, 1], [1, 5]])
        F[e : e + 2] += part * np.array([1, -1])
    saved = x * (count - left.sum()) / 2 + F @ np.linalg.solve(K, F) / 2
    assert_allclose(saved, np.tanh(count * x / 2), rtol=0.01 if x < 1 else 1e-3)
