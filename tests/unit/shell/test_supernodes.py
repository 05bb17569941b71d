"""Many right-hand sides through a Cholesky factor, against NumPy's dense solution of the same system."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import sparse

from tubfem.shell.factor import FEW, factorise
from tubfem.shell.supernodes import substitute, supernodes

RNG = np.random.default_rng(3)


def arrow():
    """Lower triangular L of an arrow matrix: blocks of 3, 1 and 4 columns that meet in the last 5."""
    L = np.zeros((13, 13))
    for first, stop in ((0, 3), (3, 4), (4, 8)):
        L[first:stop, first:stop] = np.tril(RNG.uniform(0.1, 1, (stop - first, stop - first)))
        L[8 + first // 3 :, first:stop] = RNG.uniform(0.1, 1, (5 - first // 3, stop - first))
    L[8:, 8:] = np.tril(RNG.uniform(0.1, 1, (5, 5)))
    return L + np.eye(13)


def test_columns_with_the_same_rows_are_found_and_solved_together():
    L = arrow()
    columns = sparse.csc_array(L)
    columns.sort_indices()
    nodes = supernodes(columns.indptr, columns.indices, columns.data)
    assert [(node.first, node.stop) for node in nodes] == [(0, 3), (3, 4), (4, 8), (8, 13)]
    assert [node.rows.tolist() for node in nodes[:3]] == [[*range(8, 13)], [*range(9, 13)], [*range(9, 13)]]
    b = RNG.normal(size=(13, 6))
    x = b.copy()
    substitute(nodes, x)
    assert_allclose(x, np.linalg.solve(L @ L.T, b), rtol=1e-9)


def test_neighbours_with_other_rows_are_not_of_one_supernode():
    """Column 1 has as many rows as column 0 has below itself, but not the same ones."""
    L = np.array([[2.0, 0, 0, 0], [0, 2, 0, 0], [1, 0, 2, 0], [0, 1, 0, 2]])
    columns = sparse.csc_array(L)
    nodes = supernodes(columns.indptr, columns.indices, columns.data)
    assert [(node.first, node.stop) for node in nodes] == [(0, 1), (1, 2), (2, 3), (3, 4)]
    x = np.eye(4)
    substitute(nodes, x)
    assert_allclose(L @ L.T @ x, np.eye(4), atol=1e-12)


@pytest.mark.parametrize("columns", [FEW + 1, 200])
def test_one_column_after_many_is_solved_by_what_was_taken_apart(columns):
    """A grid's Laplacian, which leaves supernodes of many sizes; 200 columns are more than go at once."""
    line = sparse.diags_array([2.1, -1.0, -1.0], offsets=[0, 1, -1], shape=(12, 12))
    A = sparse.csc_array(sparse.kron(line, sparse.eye_array(12)) + sparse.kron(sparse.eye_array(12), line))
    solve = factorise(A)
    b = RNG.normal(size=(144, columns))
    assert_allclose(solve(b[:, 0]), np.linalg.solve(A.toarray(), b[:, 0]), rtol=1e-9)
    x = solve(b)
    assert x.flags.c_contiguous
    assert_allclose(x, np.linalg.solve(A.toarray(), b), rtol=1e-8, atol=1e-12)
    assert_allclose(solve(b[:, 3]), x[:, 3], rtol=1e-12)
    assert_allclose(solve(b[:, 4:9]), x[:, 4:9], rtol=1e-12)
