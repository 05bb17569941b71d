"""Stiffness of the whole model, element blocks summed node by node."""

from collections.abc import Callable, Iterable

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.shell import quad4, tria3
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.normals import refuse_bad_elements, smooth_normals

KINDS = {"quad4": quad4, "tria3": tria3}
CHUNK = 256  # elements at a time: some 3 MB of strain matrices, about what a cache holds


def padded_stiffness(stiffness: Floats, drilling: float) -> Floats:
    """Stiffness (s, 9, 9) with the drilling strain as ninth row, `drilling`·A66 [N/m]."""
    C = np.zeros((len(stiffness), 9, 9))
    C[:, :8, :8] = stiffness
    C[:, 8, 8] = drilling * stiffness[:, 2, 2]
    return C


def element_stiffness(B: Floats, M: Floats, dA: Floats, C: Floats) -> Floats:
    """Stiffness (e, d, d) of elements with enhanced modes condensed.

    Parameters
    ----------
    B : (e, q, 9, d)
    M : (e, q, 9, m)
    dA : (e, q)
        [m²].
    C : (e, 9, 9)
        Padded stiffness of each element's stack.
    """
    count, _, _, d = B.shape
    m = M.shape[-1]
    both = np.concatenate([B, M], -1)
    stress = (C[:, None] @ both) * dA[..., None, None]
    K = both.reshape(count, -1, d + m).transpose(0, 2, 1) @ stress.reshape(count, -1, d + m)
    if m:
        K = K[:, :d, :d] - K[:, :d, d:] @ np.linalg.solve(K[:, d:, d:], K[:, d:, :d])
    return 0.5 * (K + K.transpose(0, 2, 1))


def strain_matrix(points: Floats, block: Block, part: slice, normals: Floats) -> tuple[Floats, Floats, Floats]:
    """B, M and dA of the elements `part` of a block, as of its kind (`quad4.strain_matrix`), fitted at its edges.

    `points` (p, 3) [m]; `normals` (k, n, 3) are the directors at the corners of those elements.
    """
    bulge = () if block.bulge is None else (block.bulge[part],)
    B, M, dA = KINDS[block.kind].strain_matrix(points[block.conn[part]], normals, block.direction[part], *bulge)
    if block.relief is not None:
        first, last = np.searchsorted(block.relief.elements, [part.start, part.stop])
        own, turn = block.relief.elements[first:last] - part.start, block.relief.turn[first:last, None]
        for rows in (B, M):
            rows[own, :, 3:6] = turn @ rows[own, :, 3:6]
    return B, M, dA


def chunks(block: Block) -> list[slice]:
    """Slices of at most `CHUNK` elements that cover the block."""
    return [slice(k, min(k + CHUNK, len(block.conn))) for k in range(0, len(block.conn), CHUNK)]


def stiffness_matrix(model: ShellModel) -> sparse.csc_array:
    """Stiffness (d, d) of elements and springs, before any tie [N/m, N, N·m]."""
    C = padded_stiffness(model.stiffness, model.drilling)
    for block in model.blocks:
        refuse_bad_elements(model.points, block.conn, block.direction)

    def stiffness(index: int, part: slice, normals: Floats) -> Floats:
        block = model.blocks[index]
        B, M, dA = strain_matrix(model.points, block, part, normals)
        return element_stiffness(B, M, dA, C[block.stack[part]])

    return assemble(model, stiffness, spring_matrix(model))


def assemble(
    model: ShellModel,
    element_matrix: Callable[[int, slice, Floats], Floats],
    more: sparse.csc_array | None = None,
) -> sparse.csc_array:
    """Sum (d, d) of symmetric matrices of all elements, and of `more` (d, d), symmetric too.

    Parameters
    ----------
    element_matrix
        Matrices (k, 6n, 6n) of some elements, from the number of the block in `model.blocks`, the elements' slice of
        it, and the directors (k, n, 3) at their corners.
    """
    points = len(model.points)
    rows, columns, beside = _blocks(more, points)
    size = sum(block.conn.size * block.conn.shape[1] for block in model.blocks)
    values = np.empty((size + len(beside), 6, 6))
    values[size:] = beside
    normals = smooth_normals(model.points, [block.conn for block in model.blocks])
    first, pairs = 0, [np.empty(0, np.int64)]
    for index, (block, normal) in enumerate(zip(model.blocks, normals, strict=True)):
        n = block.conn.shape[1]
        for part in chunks(block):
            K = element_matrix(index, part, normal[part])
            last = first + len(K) * n * n
            into = values[first:last].reshape(len(K), n, n, 6, 6)
            into[...] = K.reshape(len(K), n, 6, n, 6).transpose(0, 1, 3, 2, 4)
            first = last
        pairs.append((block.conn[:, :, None] * points + block.conn[:, None]).ravel())
    return _sum_blocks(np.concatenate([*pairs, rows * points + columns]), values, points)


def _blocks(matrix: sparse.csc_array | None, points: int) -> tuple[Ints, Ints, Floats]:
    """Block row (b,), block column (b,) and values (b, 6, 6) of a symmetric matrix."""
    if matrix is None:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty((0, 6, 6))
    blocks = matrix.T.tobsr(blocksize=(6, 6))
    return np.repeat(np.arange(points), np.diff(blocks.indptr)), blocks.indices.astype(np.int64), blocks.data


def _sum_blocks(key: Ints, values: Floats, points: int) -> sparse.csc_array:
    """Sum 6×6 node blocks `values` (b, 6, 6) that meet in the same place; `key` is row · points + column."""
    order = np.argsort(key, kind="stable")
    key = key[order]
    first = np.flatnonzero(np.diff(key, prepend=-1))
    # As the product with a matrix of ones: no sorted copy of all the blocks.
    total = sparse.csr_array((np.ones(len(order)), order, np.append(first, len(order))), shape=(len(first), len(order)))
    data = (total @ values.reshape(-1, 36)).reshape(-1, 6, 6)
    pointer = np.searchsorted(key[first] // points, np.arange(points + 1))
    index, pointer = (key[first] % points).astype(np.int32), pointer.astype(np.int32)  # halves what products must read
    K = sparse.bsr_array((data, index, pointer), shape=(6 * points, 6 * points))
    # Symmetric, so the transpose of the row form is the column form at no cost.
    return K.tocsr().T


def spring_matrix(model: ShellModel) -> sparse.csc_array:
    """Stiffness (d, d) of all springs."""
    return spring_rows(model.springs, 6 * len(model.points))


def spring_rows(sets: Iterable[Springs], freedoms: int) -> sparse.csc_array:
    """Sum (d, d) of what all rows of some sets store, as twice the matrix of that energy."""
    total = sparse.csc_array((freedoms, freedoms))
    for spring in sets:
        rows, k = spring.freedoms.shape
        pointer = np.arange(0, rows * k + 1, k, dtype=np.int32)
        c = sparse.csr_array((spring.coefficients.ravel(), spring.freedoms.ravel().astype(np.int32), pointer))
        c.resize(rows, freedoms)
        total = total + sparse.csc_array(c.T @ (sparse.diags_array(spring.stiffness) @ c))
    return total
