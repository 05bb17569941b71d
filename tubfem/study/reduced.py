"""The reduced model of a tub under one torsion: its stiffness, twist curve and strains after any change, at once.

Vectors are the unchanged tub's motion u0, the motions K0⁻¹ dK u0 that changes of each group drive, and motions solved
with a change. They are made orthonormal in the unchanged stiffness, so that Galerkin's equations for a change are
(1 + dK) b = f, with dK the sum over the changed groups of dC_ij P_ij, P_ij the integral of E_iᵀ E_j. f·b, the work of
the load, is never more than the true one: the stiffness is never less. `bracket` gives the other side.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from threading import local

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotrs, strttp

from tubfem.arrays import Floats, Ints
from tubfem.study.basis import Cell, Stiff, Vectors, driven_modes, mode_products, strains
from tubfem.study.family import COMPONENTS, Change, Family, Group
from tubfem.study.threads import one_thread

MEMBRANE_BENDING = [(i, j) for i in range(6) for j in range(i, 6)]
PAIRS = (*MEMBRANE_BENDING, (6, 6), (6, 7), (7, 7), (8, 8))  # entries of dC that can be other than zero
PAIR_ROWS, PAIR_COLUMNS = (np.array(each) for each in zip(*PAIRS, strict=True))
_SCRATCH = local()
DROP = 1e-7  # of u0's energy: what of a vector lies outside the others and is not kept
CHUNK = 32  # elements at a time: their strains under all vectors are some 3 MB


@dataclass(frozen=True, eq=False, slots=True)
class Field:
    """A stress field of one vector in one group: `D` (n, n) times the strain of vector `source`, for `row` of α."""

    row: int
    D: Floats
    source: int


@dataclass(frozen=True, eq=False, slots=True)
class Projected:
    """One group in the basis of n vectors.

    `P` (pairs, n (n+1)/2) integrals of E_iᵀ E_j (+ transpose off the diagonal), lower triangles, single precision;
    `fields` of the vectors that are driven here; `mixed` (sources, c, c, n) integrals of E_i of every basis vector with
    E_j of the sources, `own` (sources, sources, c, c) of the sources with each other, `sources` their numbers; `before`
    is a compliance above that of every element as it was.
    """

    P: Floats
    fields: tuple[Field, ...]
    sources: tuple[int, ...]
    mixed: Floats
    own: Floats
    before: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Basis:
    """Motions V (d, n) that are orthonormal in the unchanged stiffness, and the amounts (r, n) of the vectors."""

    vectors: Vectors
    V: Floats
    amounts: Floats

    def strains(self, cell: Cell) -> Iterator[tuple[slice, Floats]]:
        """Strains (k, q 9, n) of the basis in a cell times the root of area, some elements at a time."""
        numbers, modes = driven_modes(self.vectors, cell)
        own, (count, freedoms) = self.amounts[numbers], cell.freedoms.shape
        root = np.repeat(np.sqrt(cell.dA), COMPONENTS, axis=1)[..., None]
        both = np.concatenate([cell.B, cell.M], axis=-1) * root
        moved = np.empty((min(CHUNK, count), both.shape[-1], self.V.shape[1]))
        for first in range(0, count, CHUNK):
            some = slice(first, min(first + CHUNK, count))
            here = moved[: some.stop - first]
            here[:, :freedoms] = self.V[cell.freedoms[some]]
            np.matmul(modes[some], own, out=here[:, freedoms:])
            yield some, both[some] @ here

    def at_points(self, cell: Cell) -> Floats:
        """Strains (e, q, 9, n) of the basis in a cell."""
        numbers, modes = driven_modes(self.vectors, cell)
        strain = cell.B @ self.V[cell.freedoms] + (cell.M @ modes) @ self.amounts[numbers]
        return strain.reshape(*cell.dA.shape, COMPONENTS, -1)


@dataclass(frozen=True, eq=False, slots=True)
class Reduced:
    """A tub in the basis of n vectors; r raw vectors were kept.

    Attributes
    ----------
    family : what can change
    groups : one for each of the family's
    load : (n,) f
    alpha : (r, n) amounts of the raw vectors in the basis
    loaded : (n,) sum of the amounts of those that are solutions under the load
    scale : stiffness [N·m/deg] times work [J]: stiffness = scale / (f·b)
    base_work : f·u0 [J]
    unchanged : (n, n) energy of all stress fields in the unchanged stiffness
    """

    family: Family
    groups: tuple[Projected, ...]
    load: Floats
    alpha: Floats
    loaded: Floats
    scale: float
    base_work: float
    unchanged: Floats

    @property
    def size(self) -> int:
        """Number of vectors in the basis."""
        return len(self.load)


@one_thread
def project(stiff: Stiff, vectors: Vectors, load: Floats, stiffness: float) -> tuple[Reduced, Basis]:
    """Orthonormalise vectors and project every group on them.

    Parameters
    ----------
    load : (d,) forces [N, N·m]
    stiffness : of the unchanged tub [N·m/deg]

    Returns
    -------
    Reduced, and the basis; of the vectors those that were kept are `Reduced.alpha`'s rows
    """
    kept, R = pivoted(_gram(stiff, vectors), DROP, vectors.drivers)
    inverse = np.linalg.inv(R)
    amounts = np.zeros((vectors.U.shape[1], len(kept)))
    amounts[kept] = inverse
    basis = Basis(vectors, vectors.U @ amounts, amounts)
    groups = tuple(_projected_groups(stiff, basis, kept))
    reduced = Reduced(
        family=stiff.family,
        groups=groups,
        load=load @ basis.V,
        alpha=inverse,
        loaded=np.array(vectors.loaded, dtype=float) @ amounts,
        scale=stiffness * float(load @ vectors.U[:, 0]),
        base_work=float(load @ vectors.U[:, 0]),
        unchanged=sum(fields_energy(inverse, group) for group in groups if group.fields),
    )
    return reduced, basis


@one_thread
def galerkin(reduced: Reduced, change: Change) -> Floats:
    """Amounts b (n,) of the basis after a change."""
    n = reduced.size
    K = unpacked(summed(reduced, {k: (dC,) for k, dC in change.items()}, 1)[0], n, out=scratch("K", (n, n)))
    K.flat[:: n + 1] += 1
    return solved(K, reduced.load)


def stiffness_above(reduced: Reduced, b: Floats) -> float:
    """Stiffness [N·m/deg] of Galerkin's answer, never less than the tub's own."""
    return reduced.scale / float(reduced.load @ b)


def solved(K: Floats, f: Floats) -> Floats:
    """Solution of K b = f; K (n, n) is overwritten.

    Raises
    ------
    numpy.linalg.LinAlgError
        K is not positive definite.
    """
    root, fault = dpotrf(K.T, lower=1, clean=0, overwrite_a=1)
    if fault:
        raise np.linalg.LinAlgError("the changed tub is not stiff")
    return dpotrs(root, f, lower=1)[0]


def summed(reduced: Reduced, C: Mapping[int, tuple[Floats, ...]], forms: int) -> Floats:
    """Lower triangles (forms, n (n+1)/2) of the sum over groups of the integral of Eᵀ C E, for each symmetric C.

    This is bound by memory: every group is read once, in single precision. The sum is `scratch`.
    """
    shape = forms, reduced.size * (reduced.size + 1) // 2
    total, own = scratch("total", shape), scratch("own", shape, np.float32)
    total[:] = 0.0
    for k, each in C.items():
        entries = np.array([coefficients(one) for one in each], dtype=np.float32)
        total += np.matmul(entries, reduced.groups[k].P, out=own)
    return total


def coefficients(C: Floats) -> Floats:
    """Entries of a symmetric C in the order of the pairs."""
    return C[0] if len(C) == 1 else C[PAIR_ROWS, PAIR_COLUMNS]


def unpacked(lower: Floats, n: int, out: Floats | None = None) -> Floats:
    """Symmetric matrix (n, n) from its lower triangle (n (n+1)/2,)."""
    return np.take(lower, _places(n), out=out, mode="clip")  # "raise" would copy


def scratch(name: str, shape: tuple[int, ...], dtype: type = float) -> Floats:
    """An array of this thread that each call overwrites: fresh pages cost more than what is done with them."""
    kept = _SCRATCH.__dict__
    if name not in kept or kept[name].shape != shape:
        kept[name] = np.empty(shape, dtype=dtype)
    return kept[name]


@cache
def _places(n: int) -> Ints:
    """Where in the lower triangle each entry (n, n) of a symmetric matrix is found."""
    row = np.arange(n)
    high, low = np.maximum(row[:, None], row), np.minimum(row[:, None], row)
    return high * (high + 1) // 2 + low


def compliance(group: Group, dC: Floats | None) -> Floats | None:
    """Matrix above the inverse stiffness of every element of a group; None where one is not stiff any more."""
    added = np.zeros_like(group.C) if dC is None else dC
    try:
        root = np.linalg.cholesky(group.C + added)
    except np.linalg.LinAlgError:
        return None
    half = np.linalg.inv(root)
    inverse = half.T @ half
    if len(group.corners) == 1:
        return inverse
    # The least ratio is a concave function of the stiffness, so that no mean of corners has less than the worst one.
    ratio = np.linalg.eigvalsh(half @ (group.corners + added) @ half.T)[:, 0].min()
    return inverse / ratio if ratio > 0 else None


def fields_energy(alpha: Floats, projected: Projected) -> Floats:
    """Energy (n, n) of a group's stress fields in its compliance before any change."""
    rows, D, at = stacked_fields(alpha, projected)
    return rows.T @ fields_core(projected, D, at, projected.before) @ rows


def fields_core(projected: Projected, D: Floats, at: Ints, W: Floats) -> Floats:
    """Energy (l, l) of a group's stress fields with each other in the compliance W."""
    DW, count = (D @ W).reshape(len(D), -1), D[0].size
    core = np.empty((len(D), len(D)))
    for one in range(len(projected.sources)):
        for other in range(len(projected.sources)):
            rows, columns = np.flatnonzero(at == one), np.flatnonzero(at == other)
            core[np.ix_(rows, columns)] = DW[rows] @ (projected.own[one, other] @ D[columns]).reshape(-1, count).T
    return core


def stacked_fields(alpha: Floats, projected: Projected) -> tuple[Floats, Floats, Ints]:
    """Rows of alpha (l, n), D (l, c, c) and the place of the source (l,) of every field of a group."""
    place = {source: k for k, source in enumerate(projected.sources)}
    rows = alpha[[field.row for field in projected.fields]]
    D = np.array([field.D for field in projected.fields])
    return rows, D, np.array([place[field.source] for field in projected.fields])


def pivoted(G: Floats, drop: float, drivers: Sequence[int] | None = None) -> tuple[list[int], Floats]:
    """Vectors kept, the first always and then the farthest from the others, and R (r, r) with G = Rᵀ R.

    Stops when what lies outside is less than `drop` of the first's own square. A vector waits for the one that
    `drivers` (n,) says drives it: its stress is told by that one's strain.
    """
    n = len(G)
    rest, rows, kept = np.diag(G).copy(), np.zeros((n, n)), []
    waits_for = np.zeros(n, dtype=np.int64) if drivers is None else np.array(drivers)
    limit = drop * G[0, 0]
    for step in range(n):
        pick = 0 if step == 0 else int(np.where(np.isin(waits_for, kept), rest, -np.inf).argmax())
        if step and rest[pick] <= limit:
            break
        row = (G[pick] - rows[:step, pick] @ rows[:step]) / np.sqrt(rest[pick])
        rows[step] = row
        rest = rest - row**2
        kept.append(pick)
        rest[kept] = -np.inf
    return kept, np.triu(rows[: len(kept)][:, kept])


def _gram(stiff: Stiff, vectors: Vectors) -> Floats:
    """Energy products (r, r) of all vectors, enhanced parts and springs included."""
    G = vectors.products.copy()
    for cell in stiff.cells:
        numbers, own = mode_products(vectors, cell)
        G[np.ix_(numbers, numbers)] += own
    return G


def _projected_groups(stiff: Stiff, basis: Basis, kept: list[int]) -> list[Projected]:
    vectors, place = basis.vectors, {k: row for row, k in enumerate(kept)}
    elongation = stiff.springs @ basis.V
    pulled = {k: stiff.springs @ vectors.U[:, k] for k in kept if vectors.loaded[k]}
    found = []
    for number, group in enumerate(stiff.family.groups):
        fields = [
            Field(row, vectors.fields[k][number], place[vectors.drivers[k]])
            for row, k in enumerate(kept)
            if number in vectors.fields[k]
        ]
        fields += [
            Field(row, -vectors.changes[k][number], row) for row, k in enumerate(kept) if number in vectors.changes[k]
        ]
        sources = tuple(sorted({field.source for field in fields}))
        raw = [kept[source] for source in sources]
        if group.kind == "region":
            cells = [cell for cell in stiff.cells if cell.group == number]
            P, mixed, own = _projected_region(basis, cells, group.C, raw)
        else:
            e = elongation[group.members]
            P = _triangle(e.T @ e)[None]
            source = np.array([pulled[k][group.members] for k in raw]).reshape(len(raw), len(group.members))
            mixed = (source @ e)[:, None, None]
            own = (source @ source.T)[:, :, None, None]
        found.append(Projected(P, tuple(fields), sources, mixed, own, compliance(group, None)))
    return found


def _projected_region(basis: Basis, cells: list[Cell], C: Floats, raw: list[int]) -> tuple[Floats, Floats, Floats]:
    """`P`, `mixed` and `own` of a group of elements; `raw` are the numbers of its sources among the vectors.

    `C` (9, 9) is the group's stiffness: components are added up in its measure, so that none drowns in another.
    """
    n, rows = basis.V.shape[1], sum(cell.dA.size for cell in cells)
    E = scratch("E", (COMPONENTS * rows * n,), np.float32).reshape(COMPONENTS, rows, n)
    size = np.sqrt(np.diag(C))[:, None]
    mixed = np.zeros((COMPONENTS * n, len(raw) * COMPONENTS))
    own = np.zeros((len(raw) * COMPONENTS, len(raw) * COMPONENTS))
    row = 0
    for cell in cells:
        root = np.sqrt(cell.dA).reshape(-1, 1, 1)
        source = strains(basis.vectors, cell, raw).reshape(-1, COMPONENTS, len(raw)).transpose(0, 2, 1) * root
        source = source.reshape(len(source), -1)
        own += source.T @ source
        first = 0
        for _, strain in basis.strains(cell):
            strain = strain.reshape(-1, COMPONENTS, n)
            last, count = first + len(strain), row + len(strain)
            mixed += strain.reshape(len(strain), -1).T @ source[first:last]
            np.multiply(strain, size, out=E[:, row:count].transpose(1, 0, 2), casting="same_kind")
            row, first = count, last
    mixed = mixed.reshape(COMPONENTS, n, len(raw), COMPONENTS).transpose(2, 0, 3, 1)
    own = own.reshape(len(raw), COMPONENTS, len(raw), COMPONENTS).transpose(0, 2, 1, 3)
    return _pair_products(E, size[:, 0]), np.ascontiguousarray(mixed), np.ascontiguousarray(own)


def _pair_products(E: Floats, size: Floats) -> Floats:
    """Integrals P (pairs, n (n+1)/2) from strains E (9, rows, n) times sizes (9,).

    The product of two with its transpose is the square of their sum less the square of each: symmetric products alone,
    at half the cost of others.
    """
    n = E.shape[2]
    P = np.empty((len(PAIRS), n * (n + 1) // 2), dtype=np.float32)
    squares, both = [_triangle(each.T @ each) for each in E], np.empty_like(E[0])
    for (i, j), found in zip(PAIRS, P, strict=True):
        if i == j:
            np.divide(squares[i], np.float32(size[i] ** 2), out=found)
            continue
        np.add(E[i], E[j], out=both)
        product = _triangle(both.T @ both)
        product -= squares[i]
        product -= squares[j]
        np.divide(product, np.float32(size[i] * size[j]), out=found)
    return P


def _triangle(matrix: Floats) -> Floats:
    """Lower triangle (n (n+1)/2,) of a symmetric matrix (n, n), in single precision."""
    return strttp(matrix.astype(np.float32, copy=False).T, uplo="U")[0]
