"""Variance shares against functions whose shares are known in closed form."""

import numpy as np
from numpy.testing import assert_allclose
from scipy.special import ndtr

from tubfem.study.sobol import Sampled, base_samples, exchanged, quantile_errors, shares


def found_shares(function, groups, count, variables):
    A, B = base_samples(count, variables, seed=3)
    fAB = np.array([function(exchanged(A, B, columns)) for columns in groups])
    first, total, *errors = shares(Sampled(A, B, groups, function(A), function(B), fAB), seed=3)
    return (first, total), errors


def ishigami(z):
    """T. Ishigami & T. Homma, Proc. ISUMA '90, p. 398: a = 7, b = 0.1, uniform in -pi to pi."""
    x = np.pi * (2 * ndtr(z) - 1)
    return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_ishigami_function():
    """Closed form of the same publication; tolerance 0.01 with 4096 samples, and within three standard errors."""
    a, b = 7.0, 0.1
    own = 0.5 * (1 + b * np.pi**4 / 5) ** 2
    V = a**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18 + 0.5
    joint = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    first_exact = np.array([own, a**2 / 8, 0.0]) / V
    total_exact = np.array([own + joint, a**2 / 8, joint]) / V
    assert_allclose(first_exact, [0.3139, 0.4424, 0.0], atol=5e-5)  # as usually printed
    (first, total), errors = found_shares(ishigami, [[0], [1], [2]], 4096, 3)
    assert_allclose(first, first_exact, atol=0.01)
    assert_allclose(total, total_exact, atol=0.01)
    assert (abs(first - first_exact) < 3 * errors[0] + 1e-12).all()
    assert (abs(total - total_exact) < 3 * errors[1] + 1e-12).all()


def test_a_sum_of_correlated_parts_has_the_shares_of_its_independent_ones():
    """y = 3 p1 + 4 p2 where p1 and p2 have half their variance in common: 49/2, 9/2, 16/2 (closed form)."""
    half = 0.5**0.5
    mix = np.array([[half, half, 0.0], [half, 0.0, half]])
    (first, total), _ = found_shares(lambda z: z @ mix.T @ [3.0, 4.0], [[0], [1], [2], [0, 1, 2]], 32, 3)
    exact = np.array([49, 9, 16, 74]) / 74
    assert_allclose(first, exact, atol=1e-9)  # a plane is found exactly, from however few draws
    assert_allclose(total, exact, atol=1e-9)


def test_an_output_that_never_changes_has_no_shares():
    (first, total), _ = found_shares(lambda z: np.ones(len(z)), [[0]], 8, 1)
    assert abs(first) < 1e-12
    assert abs(total) < 1e-12


def test_error_of_the_median_of_normal_values():
    """Standard error of the median of n normal values: sqrt(pi / 2 n), for large n; 200 resamples tell it to 10 %."""
    values = np.random.default_rng(1).normal(size=2000)
    assert_allclose(quantile_errors(values, [0.5], seed=2)[0], (np.pi / 4000) ** 0.5, rtol=0.25)
