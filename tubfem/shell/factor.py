"""Factorisation of the sparse, symmetric, positive definite stiffness.

With cvxopt installed CHOLMOD's supernodal Cholesky does the work [Chen, Davis, Hager & Rajamanickam, ACM Trans. Math.
Softw. 35 (2008) 22]; otherwise SciPy's SuperLU with a symmetric ordering and no pivoting, some five times slower.
"""

from collections.abc import Callable

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from tubfem.arrays import Floats

try:
    from cvxopt import cholmod
    from cvxopt import matrix as dense_matrix
    from cvxopt import sparse as sparse_of
    from cvxopt import spmatrix as sparse_matrix
except ImportError:
    cholmod = None

BLOCK = 64  # columns solved at once
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

    def solve(b: Floats) -> Floats:
        if b.ndim > 1 and b.shape[1] > 1:
            return np.concatenate([_together(factor, b[:, k : k + BLOCK]) for k in range(0, b.shape[1], BLOCK)], axis=1)
        x = dense_matrix(np.asfortranarray(b.reshape(len(b), -1)))
        cholmod.solve(factor, x)
        return np.array(x).reshape(b.shape)

    return solve


def _together(factor: object, b: Floats) -> Floats:
    """Solutions (d, c): cvxopt takes dense columns one by one, sparse ones four at a time, which is twice as fast."""
    x = cholmod.spsolve(factor, sparse_of(dense_matrix(np.asfortranarray(b))))
    columns, rows, values = (np.array(part).ravel() for part in x.CCS)  # zeros are left out
    return sparse.csc_array((values, rows, columns), shape=b.shape).toarray()
