"""The two array types that cross the rooms, and how an array is made read-only."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def frozen(array: np.ndarray) -> np.ndarray:
    """The same array, contiguous and read-only."""
    array = np.ascontiguousarray(array)
    array.flags.writeable = False
    return array
