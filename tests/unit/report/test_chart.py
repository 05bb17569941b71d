"""Curves of the page: points that lie on a line in any order, ticks, numbers told in words."""

import numpy as np
import pytest

from tubfem.report.chart import draw, in_line, told, way


@pytest.mark.parametrize("seed", range(5))
def test_points_of_an_arc_are_found_in_order(seed):
    turn = np.linspace(0.0, 2.0, 23)
    arc = np.stack([np.cos(turn), np.sin(turn), 0.2 * turn], axis=1)
    shuffled = np.random.default_rng(seed).permutation(len(arc))
    order = shuffled[in_line(arc[shuffled])]
    assert order.tolist() in (list(range(23)), list(range(22, -1, -1)))
    assert way(arc[order])[-1] == pytest.approx(2.0 * np.hypot(1.0, 0.2), rel=1e-3)  # a helix; chords are shorter


def test_a_corner_node_that_comes_first_is_put_where_it_lies():
    x = np.array([0.0, 0.5, 0.1, 0.2, 0.3, 0.4])
    order = in_line(np.stack([x, 0 * x, 0 * x], axis=1))
    assert np.abs(np.diff(x[order])) == pytest.approx(0.1)


@pytest.mark.parametrize("top", [0.9, 1.0, 4.2, 37.0, 620.0])
@pytest.mark.parametrize("least", [2, 4])
def test_ticks_cover_the_data_with_round_steps(top, least):
    drawn = draw([(np.array([0.0, 1.0]), np.array([0.0, top]))], least=least)
    ticks = [value for _, value in drawn.y_ticks]
    assert ticks[0] == 0.0
    assert ticks[-1] >= top
    steps = np.diff(ticks)
    assert steps == pytest.approx(steps[0])
    assert float(f"{steps[0]:.0e}") == pytest.approx(steps[0])  # one digit
    assert least <= len(ticks) - 1 <= 2.5 * least + 1


def test_a_curve_is_told_by_its_ends_and_its_greatest():
    assert told(np.array([1000.0, -4000.0, 2000.0])) == "1.00 at one end, 2.00 at the other, 4.00 at most"
