"""Averages over a length, on fields whose average is known."""

import numpy as np
from numpy.testing import assert_allclose

from tubfem.findings.average import averaging, averaging_length, close_pairs, means_within


def row(count, width, panel=None):
    """Elements in a row along x, unit area each."""
    centre = np.zeros((count, 3))
    centre[:, 0] = width * np.arange(count)
    return centre, np.ones(count), np.zeros(count, dtype=int) if panel is None else np.asarray(panel)


def test_length_is_ten_millimetres_or_twice_the_thickness():
    assert_allclose(averaging_length(np.array([0.002, 0.005, 0.016])), [0.010, 0.010, 0.032])


def test_elements_larger_than_the_length_are_their_own_mean():
    W = averaging(*row(6, 0.025), np.full(6, 0.010))
    assert_allclose(W.toarray(), np.eye(6))


def test_a_linear_field_keeps_its_value_inside():
    W = averaging(*row(11, 0.005), np.full(11, 0.0101))
    field = 3e-4 * np.arange(11)
    assert_allclose((W @ field)[2:-2], field[2:-2], rtol=1e-12)


def test_a_peak_is_spread_over_the_five_elements_within_the_length():
    W = averaging(*row(11, 0.005), np.full(11, 0.0101))
    field = np.zeros(11)
    field[5] = 1.0
    assert_allclose(W @ field, [0, 0, 0, 0.2, 0.2, 0.2, 0.2, 0.2, 0, 0, 0], atol=1e-15)


def test_areas_weigh():
    centre, _, panel = row(2, 0.005)
    W = averaging(centre, np.array([1.0, 3.0]), panel, np.full(2, 0.01))
    assert_allclose(W @ np.array([1.0, 0.0]), [0.25, 0.25])


def test_other_panels_do_not_count_and_each_element_has_its_own_length():
    centre, area, panel = row(4, 0.005, panel=[1, 0, 1, 0])
    W = averaging(centre, area, panel, np.array([0.02, 0.02, 0.001, 0.02])).toarray()
    assert_allclose(W, [[0.5, 0, 0.5, 0], [0, 0.5, 0, 0.5], [0, 0, 1, 0], [0, 0.5, 0, 0.5]])


def test_pairs_kept_for_a_longer_length_give_every_shorter_mean():
    """Elements strewn over two panels: the chosen rows of the whole matrix, whichever length they are cut at."""
    rng = np.random.default_rng(4)
    centre, area, panel = rng.uniform(0, 0.1, (80, 3)), rng.uniform(1, 2, 80), rng.integers(0, 2, 80)
    chosen = np.isin(np.arange(80), [3, 17, 40, 79])
    pairs = close_pairs(centre, panel, np.full(80, 0.06), chosen)
    for length in (np.full(80, 0.06), rng.uniform(0.01, 0.06, 80)):
        whole = averaging(centre, area, panel, length).toarray()
        assert np.count_nonzero(whole[chosen]) > 4
        assert_allclose(means_within(pairs, area, length).toarray(), np.where(chosen[:, None], whole, 0), atol=1e-15)
