"""Constraints as one map: chains, cycles, doubled freedoms, supports on freedoms that links move."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.errors import SolveError
from tubfem.shell.ties import Rigid, Spread, Support, rigid_motion, spread_weights, tie

POINTS = np.random.default_rng(0).uniform(-1, 1, (8, 3))
PATCH = np.arange(5)


def test_chain_of_links_reproduces_every_rigid_motion():
    """7 is rigid on 6, 6 is spread over 0 to 4."""
    ties = tie(POINTS, 1, rigid=[Rigid(6, np.array([7]))], spread=[Spread(6, PATCH, np.arange(1.0, 6.0))])
    motion = rigid_motion(POINTS).reshape(-1, 6)
    assert ties.T.shape == (48, 36)
    assert_allclose(ties.links @ motion[ties.independent], motion, atol=1e-13)


def test_spread_force_keeps_its_resultant():
    r = POINTS[PATCH] - POINTS[6]
    S = spread_weights(r, np.arange(1.0, 6.0))
    load = np.array([1.0, -2.0, 0.5, 0.3, 0.7, -0.2])
    forces = np.einsum("i,inx->nx", load, S)
    assert_allclose(forces.sum(0), load[:3], atol=1e-13)
    assert_allclose(np.cross(r, forces).sum(0), load[3:], atol=1e-13)


def test_spread_weights_do_not_depend_on_units():
    r = POINTS[PATCH] - POINTS[6]
    S, scaled = spread_weights(r, np.ones(5)), spread_weights(1000 * r, np.full(5, 1e-6))
    assert_allclose(scaled[:3], S[:3], atol=1e-12)
    assert_allclose(1000 * scaled[3:], S[3:], atol=1e-12)


def test_support_on_a_linked_freedom_holds_it():
    supports = [Support(np.array([42, 43, 44]), 0.1), Support(np.array([30]), np.array([[1.0, 2.0]]))]
    ties = tie(POINTS, 2, rigid=[Rigid(6, np.array([7]))], spread=[Spread(6, PATCH, np.ones(5))], supports=supports)
    assert ties.T.shape == (48, 32)
    q = np.random.default_rng(1).standard_normal((32, 2))
    u = ties.T @ q + ties.u0
    assert_allclose(u[[42, 43, 44]], 0.1, atol=1e-13)
    assert_allclose(u[30], [1.0, 2.0])
    assert_allclose(u[42:], np.einsum("ij,jc->ic", rigid_motion(POINTS[7] - POINTS[6]), u[36:42]), atol=1e-12)


def test_supports_beyond_need_on_one_body_are_taken_when_they_agree():
    """Both ends of a rigid bar clamped: more supports than the bar has freedoms, none against another."""
    supports = [Support(np.arange(36, 48), 0.0)]
    ties = tie(POINTS, 1, rigid=[Rigid(6, np.array([7]))], supports=supports)
    assert ties.T.shape == (48, 36)
    with pytest.raises(SolveError, match="contradict"):
        tie(POINTS, 1, rigid=[Rigid(6, np.array([7]))], supports=[*supports[:0], Support(np.arange(36, 48), 0.1)])


@pytest.mark.parametrize(
    ("links", "match"),
    [
        ({"rigid": [Rigid(6, np.array([7])), Rigid(5, np.array([7]))]}, r"nodes \[7\] follow two links"),
        ({"rigid": [Rigid(6, np.array([7])), Rigid(7, np.array([6]))]}, r"nodes \[6, 7\] form a cycle"),
        ({"rigid": [Rigid(6, np.array([6]))]}, "cycle"),
        ({"spread": [Spread(6, np.array([0, 1, 6]), np.ones(3))]}, "cycle"),
        ({"supports": [Support(np.array([3])), Support(np.array([3, 4]))]}, r"nodes \[0\] are supported twice"),
    ],
)
def test_constraints_that_cannot_be(links, match):
    with pytest.raises(SolveError, match=match):
        tie(POINTS, 1, **links)


def test_patch_in_a_line_is_refused():
    line = np.column_stack([np.arange(8.0), np.zeros(8), np.zeros(8)])
    with pytest.raises(SolveError, match="in one line"):
        tie(line, 1, spread=[Spread(7, np.arange(4), np.ones(4))])
