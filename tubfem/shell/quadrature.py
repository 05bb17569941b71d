"""Gauss points on the unit square [-1, 1]² and on the unit triangle."""

import numpy as np

from tubfem.arrays import Floats, frozen

_G = 1.0 / np.sqrt(3.0)

QUAD: Floats = frozen(np.array([[-_G, -_G], [_G, -_G], [_G, _G], [-_G, _G]]))
"""2 × 2 Gauss points (q, 2), in the order of the corners; every weight is 1."""

TRIANGLE: Floats = frozen(np.array([[1 / 6, 1 / 6], [2 / 3, 1 / 6], [1 / 6, 2 / 3]]))
"""Three interior points (q, 2), exact to second order; every weight is 1/6."""


def element_mean(values: Floats, dA: Floats) -> Floats:
    """Means (e, 1, ...) over each element of values (e, q, ...) at its integration points of areas dA (e, q)."""
    share = (dA / dA.sum(1, keepdims=True)).reshape(*dA.shape, *[1] * (values.ndim - 2))
    return (values * share).sum(1, keepdims=True)
