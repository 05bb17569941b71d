"""Factorisation of the sparse, symmetric, positive definite stiffness.

With cvxopt installed CHOLMOD's supernodal Cholesky does the work [Chen, Davis, Hager & Rajamanickam, ACM Trans. Math.
Softw. 35 (2008) 22]; otherwise SciPy's SuperLU with a symmetric ordering and no pivoting, some five times slower.
"""

from collections.abc import Callable

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from tubfem.arrays import Floats
from tubfem.shell.supernodes import substitute, supernodes

try:
    from cvxopt import cholmod
    from cvxopt import matrix as dense_matrix
    from cvxopt import spmatrix as sparse_matrix
except ImportError:
    cholmod = None

PERMUTE = 7  # cvxopt's word for x = P b
FEW = 32  # columns at once: more are worth a copy of the factor
LARGE = 400_000  # freedoms: such a factor takes too much memory to be copied
BLOCK = 128  # columns solved at once
Solver = Callable[[Floats], Floats]


class NotDefiniteError(ArithmeticError):
    """The matrix is singular to working precision, or not positive definite."""


def factorise(A: sparse.csc_array) -> Solver:
    """Solver of A x = b for right-hand sides (d, c).

    Raises
    ------
    NotDefiniteError
        A pivot is zero or negative.
    """
    if A.shape[0] == 0:
        return lambda b: np.zeros_like(b)
    return _superlu(A) if cholmod is None else _cholmod(A)


def _superlu(A: sparse.csc_array) -> Solver:
    try:
        factor = splu(A, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    except RuntimeError as error:
        raise NotDefiniteError(str(error)) from error
    if not (factor.U.diagonal() > 0.0).all():
        raise NotDefiniteError("a pivot is not positive")
    return factor.solve


def _cholmod(A: sparse.csc_array) -> Solver:
    A.sort_indices()  # sorted triplets are what cvxopt takes in fastest
    row, column = A.indices, np.repeat(np.arange(A.shape[1]), np.diff(A.indptr))
    lower = row >= column
    row, column = (dense_matrix(index[lower].astype(np.int64)) for index in (row, column))
    matrix = sparse_matrix(dense_matrix(A.data[lower]), row, column, A.shape)
    cholmod.options["supernodal"] = 2
    factor = cholmod.symbolic(matrix)
    try:
        cholmod.numeric(matrix, factor)
    except ArithmeticError as error:
        raise NotDefiniteError("a pivot is not positive") from error
    return _Cholesky(factor, A.shape[0])


class _Cholesky:
    """Solver by cvxopt's factor, which goes through it column by column; by its supernodes once many are asked for."""

    def __init__(self, factor: object, size: int) -> None:
        self.factor, self.size = factor, size
        self.nodes, self.order = None, None

    def __call__(self, b: Floats) -> Floats:
        columns = b.reshape(len(b), -1)
        if self.nodes is None and columns.shape[1] > FEW and self.size <= LARGE:
            self._take_apart()
        if self.nodes is None:
            x = dense_matrix(np.asfortranarray(columns))
            cholmod.solve(self.factor, x)
            return np.array(x).reshape(b.shape)
        x = np.empty_like(columns, order="C")
        for first in range(0, columns.shape[1], BLOCK):
            own = np.ascontiguousarray(columns[:, first : first + BLOCK][self.order])
            substitute(self.nodes, own)
            x[self.order, first : first + BLOCK] = own
        return x.reshape(b.shape)

    def _take_apart(self) -> None:
        """What cvxopt hands out of its factor is all there is of it afterwards."""
        order = dense_matrix(np.arange(self.size, dtype=float))
        cholmod.solve(self.factor, order, sys=PERMUTE)
        self.order = np.array(order).ravel().astype(np.int64)
        parts = cholmod.getfactor(self.factor).CCS
        self.nodes = supernodes(*(np.asarray(memoryview(part)).ravel() for part in parts))
        self.factor = None
