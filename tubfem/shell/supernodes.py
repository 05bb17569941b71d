"""Many right-hand sides at once through a sparse Cholesky factor L, in dense matrix products.

Neighbouring columns of L with the same rows below them are a supernode: a triangle and a rectangle, both dense. With
all right-hand sides side by side each of them costs one triangular solve and one product [Chen, Davis, Hager &
Rajamanickam, ACM Trans. Math. Softw. 35 (2008) 22], where one column at a time has to read the whole of L for each.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg.blas import dtrsm

from tubfem.arrays import Floats, Ints


@dataclass(frozen=True, eq=False, slots=True)
class Supernode:
    """Columns `first` to `stop` of L: `triangle` (w, w) in Fortran's order; transposed `below` (w, k) of its `rows`."""

    first: int
    stop: int
    triangle: Floats
    below: Floats
    rows: Ints


def supernodes(pointer: Ints, index: Ints, values: Floats) -> tuple[Supernode, ...]:
    """The supernodes of a lower triangular L (d, d) in compressed columns, rows in order, no zero on the diagonal."""
    count = np.diff(pointer)
    d = len(count)
    # The next column is of the same supernode if it is the first below, and has all the other rows.
    following = index[np.minimum(pointer[:-1] + 1, len(index) - 1)] == np.arange(1, d + 1)
    joined = following[:-1] & (count[1:] == count[:-1] - 1)
    firsts = np.flatnonzero(np.append(True, ~joined)).tolist()
    found = []
    for first, stop in zip(firsts, [*firsts[1:], d], strict=True):
        width, height = stop - first, count[first]
        block = np.zeros((width, height))
        block[np.arange(height) >= np.arange(width)[:, None]] = values[pointer[first] : pointer[stop]]
        rows = index[pointer[first] + width : pointer[first] + height].copy()
        found.append(Supernode(first, stop, np.ascontiguousarray(block[:, :width]).T, block[:, width:], rows))
    return tuple(found)


def substitute(nodes: tuple[Supernode, ...], x: Floats) -> None:
    """Put the solution of L Lᵀ x = b in the place of b, `x` (d, c) in C's order."""
    for node in nodes:
        own = x[node.first : node.stop]
        dtrsm(1.0, node.triangle, own.T, side=1, lower=1, trans_a=1, overwrite_b=1)
        if len(node.rows):
            x[node.rows] -= node.below.T @ own
    for node in reversed(nodes):
        own = x[node.first : node.stop]
        if len(node.rows):
            own -= node.below @ x[node.rows]
        dtrsm(1.0, node.triangle, own.T, side=1, lower=1, trans_a=0, overwrite_b=1)
