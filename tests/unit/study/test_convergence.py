"""Order, extrapolated value and band of made-up rows of meshes whose answer is known."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.study.convergence import SAFETY, SAFETY_DOUBTFUL, converge


@pytest.mark.parametrize("order", [0.6, 1.0, 1.5, 2.0])
@pytest.mark.parametrize("sizes", [(1.0, 1.3, 2.1), (1.0, 1.25, 1.6, 2.0, 2.6)])
def test_a_power_law_is_found_whatever_the_ratios(order, sizes):
    h = np.array(sizes)
    found = converge(h, 7.0 + 0.4 * h**order)
    assert found.kind == "monotone"
    # the order comes from a search that stops at 1e-8; on noiseless values nothing else stands in the way
    assert_allclose((found.order, found.extrapolated), (order, 7.0), rtol=1e-5)
    assert_allclose(found.band, SAFETY * 0.4 * h**order / found.values, rtol=1e-4)
    size = found.size_for_one_percent
    assert_allclose(SAFETY * 0.4 * size**order, 0.01 * 7.0, rtol=1e-4)


def test_the_order_of_the_sizes_does_not_matter():
    h, values = np.array([2.0, 1.0, 1.4]), np.array([3.2, 3.05, 3.1])
    one, other = converge(h, values), converge(h[::-1], values[::-1])
    assert_allclose(one.sizes, [1.0, 1.4, 2.0])
    assert_allclose(one.values, [3.05, 3.1, 3.2])
    assert_allclose(one.band, other.band)


def test_an_order_above_the_formal_one_is_not_believed():
    h = np.array([1.0, 1.5, 2.0])
    found = converge(h, 10 + 0.1 * h**4)
    assert_allclose(found.order, 4.0, rtol=1e-4)
    assert found.order_used == 2.0
    # second order through the two finest meshes: error of the finest (10.50625 - 10.1) / (1.5^2 - 1)
    assert_allclose(10.1 - found.extrapolated, 0.40625 / 1.25, rtol=1e-9)


def test_values_that_come_and_go_get_three_times_the_band_and_a_warning():
    h = np.array([1.0, 1.5, 2.0])
    found = converge(h, np.array([10.0, 11.0, 10.2]))
    assert found.kind == "oscillating"
    assert found.doubtful
    assert (found.extrapolated, found.order_used) == (None, None)
    # first order through the range of 1.0 leaves 1.0 / (2 - 1) on the finest
    assert_allclose(found.band[0], SAFETY_DOUBTFUL * 1.0 / 10.0, rtol=1e-12)


def test_a_peak_that_grows_with_the_logarithm_of_the_size_is_slow():
    h = np.array([1.0, 1.4, 2.0, 2.8])
    found = converge(h, 5 - np.log(h))
    assert found.kind == "slow"
    assert found.doubtful
    assert found.extrapolated is None


def test_values_that_scatter_round_a_first_order_curve_are_taken_as_first_order():
    h = np.array([1.0, 1.25, 1.6, 2.0, 2.5])
    scatter = 0.02 * np.array([1, -1, 1, -1, 1])
    found = converge(h, 20 + h + scatter)
    assert not found.doubtful
    assert abs(20 - found.extrapolated) < found.band[0] * found.values[0]
    assert (found.band > SAFETY * (found.values - found.extrapolated) / found.values - 1e-3).all()


def test_scatter_too_small_to_matter_is_no_warning():
    found = converge(np.array([1.0, 1.5, 2.0]), np.array([100.0, 100.01, 100.0]))
    assert found.kind == "oscillating"
    assert not found.doubtful


def test_equal_values_need_no_mesh():
    found = converge(np.array([1.0, 1.5, 2.0]), np.array([3.0, 3.0, 3.0]))
    assert found.kind == "constant"
    assert_allclose(found.band, 0.0)
    assert found.extrapolated == 3.0


@pytest.mark.parametrize("sizes", [(1.0, 2.0), (1.0, 1.1, 2.0)])
def test_too_few_or_too_near_sizes_are_refused(sizes):
    with pytest.raises(ValueError, match="sizes or more"):
        converge(np.array(sizes), np.arange(len(sizes), dtype=float))
