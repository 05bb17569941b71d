"""Shares of a variance: which groups of independent variables make an output scatter.

First-order share: what is gone from the variance, on average, once the group is known; total share: what is left of it
when all others are known (Sobol 1993; Homma and Saltelli 1996). Estimated from two independent samples A and B and, for
every group, A with the group's columns from B (S.3): the first order as Saltelli et al. give it [Comput. Phys. Commun.
181 (2010) 259, table 2 (b)], the total as Jansen does [Comput. Phys. Commun. 117 (1999) 35].
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from tubfem.arrays import Floats, Ints

RESAMPLES = 200
EDGE = 1e-9  # of the unit interval: no normal number is infinite


@dataclass(frozen=True, eq=False, slots=True)
class Sampled:
    """Samples A and B (n, v) of standard normal variables, columns of every group, and outputs.

    `one`, `other` (n,) of the samples, `crossed` (g, n) of A with one group's columns from B.
    """

    A: Floats
    B: Floats
    groups: Sequence[Sequence[int]]
    one: Floats
    other: Floats
    crossed: Floats


def base_samples(count: int, variables: int, seed: int) -> tuple[Floats, Floats]:
    """A and B (count, variables), standard normal, from one scrambled Sobol sequence; `count` is a power of two."""
    sequence = qmc.Sobol(2 * variables, scramble=True, rng=np.random.default_rng(seed))
    both = ndtri(np.clip(sequence.random(count), EDGE, 1 - EDGE))
    return both[:, :variables], both[:, variables:]


def exchanged(A: Floats, B: Floats, columns: Sequence[int]) -> Floats:
    """A with some columns from B."""
    mixed = A.copy()
    mixed[:, columns] = B[:, columns]
    return mixed


def plane_slopes(A: Floats, B: Floats, fA: Floats, fB: Floats) -> Floats:
    """Slopes (v,) of the plane through all outputs by least squares; nought where there are too few for that."""
    Z = np.concatenate([A, B])
    if len(Z) < 2 * (Z.shape[1] + 1):
        return np.zeros(Z.shape[1])
    slopes, *_ = np.linalg.lstsq(np.column_stack([np.ones(len(Z)), Z]), np.concatenate([fA, fB]), rcond=None)
    return slopes[1:]


def shares(sampled: Sampled, seed: int) -> tuple[Floats, Floats, Floats, Floats]:
    """First-order and total shares (g,) of each group, and the standard errors of both from rows drawn again.

    What the plane through the outputs gives is known exactly; the samples tell the rest alone (a control variate).
    """
    slopes = plane_slopes(sampled.A, sampled.B, sampled.one, sampled.other)
    plane = _on_plane(sampled, slopes)
    exact = np.array([slopes[columns] @ slopes[columns] for columns in sampled.groups])
    whole = float(slopes @ slopes)
    outputs = sampled.one, sampled.other, sampled.crossed
    every = np.arange(len(sampled.one))
    first, total = _shares(outputs, plane, exact, whole, every)
    again = np.array([_shares(outputs, plane, exact, whole, rows) for rows in _drawn(len(every), seed)])
    return first, total, *again.std(axis=0)


def _on_plane(sampled: Sampled, slopes: Floats) -> tuple[Floats, Floats, Floats]:
    """The plane's own outputs for the same samples."""
    A, B = sampled.A @ slopes, sampled.B @ slopes
    change = [(sampled.B - sampled.A)[:, columns] @ slopes[columns] for columns in sampled.groups]
    return A, B, A + np.array(change)


def _shares(
    outputs: tuple[Floats, Floats, Floats],
    plane: tuple[Floats, Floats, Floats],
    exact: Floats,
    whole: float,
    rows: Ints,
) -> tuple[Floats, Floats]:
    variance, first, total = (
        found - own for found, own in zip(_moments(outputs, rows), _moments(plane, rows), strict=True)
    )
    variance = variance + whole
    if np.ptp(outputs[0]) == np.ptp(outputs[1]) == 0:
        return np.zeros(len(exact)), np.zeros(len(exact))
    return (first + exact) / variance, (total + exact) / variance


def _moments(outputs: tuple[Floats, Floats, Floats], rows: Ints) -> tuple[float, Floats, Floats]:
    """Variance, and first-order and total parts (g,) of it."""
    fA, fB, fAB = outputs[0][rows], outputs[1][rows], outputs[2][:, rows]
    middle = 0.5 * (fA.mean() + fB.mean())
    first = ((fB - middle) * (fAB - fA)).mean(axis=-1)
    total = 0.5 * ((fA - fAB) ** 2).mean(axis=-1)
    return float(np.concatenate([fA, fB]).var()), first, total


def quantile_errors(values: Floats, at: Sequence[float], seed: int) -> Floats:
    """Standard errors of quantiles of values (n,), from values drawn again with replacement."""
    return np.array([np.quantile(values[rows], at) for rows in _drawn(len(values), seed)]).std(axis=0)


def _drawn(count: int, seed: int) -> Ints:
    return np.random.default_rng(seed).integers(count, size=(RESAMPLES, count))
