"""The reduced model of a tub under one torsion: its stiffness, twist curve and strains after any change, at once.

Vectors are the unchanged tub's motion u0, the motions K0⁻¹ dK u0 that changes of each group drive, and motions solved
with a change. They are made orthonormal in the unchanged stiffness, so that Galerkin's equations for a change are
(1 + dK) b = f, with dK the sum over the changed groups of dC_ij P_ij, P_ij the integral of E_iᵀ E_j. f·b, the work of
the load, is never more than the true one: the stiffness is never less. `bracket` gives the other side.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from threading import local

import numpy as np
from scipy.linalg.blas import dsyrk, dtrmm
from scipy.linalg.lapack import dpotrf, dpotrs

from tubfem.arrays import Floats, Ints
from tubfem.study.basis import Stiff, Vectors, strains
from tubfem.study.family import COMPONENTS, Change, Family, Group

MEMBRANE_BENDING = [(i, j) for i in range(6) for j in range(i, 6)]
PAIRS = (*MEMBRANE_BENDING, (6, 6), (6, 7), (7, 7), (8, 8))  # entries of dC that can be other than zero
PAIR_ROWS, PAIR_COLUMNS = (np.array(each) for each in zip(*PAIRS, strict=True))
_SCRATCH = local()
DROP = 1e-7  # of u0's energy: what of a vector lies outside the others and is not kept


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


def project(stiff: Stiff, vectors: Vectors, load: Floats, stiffness: float) -> tuple[Reduced, Vectors]:
    """Orthonormalise vectors and project every group on them.

    Parameters
    ----------
    load : (d,) forces [N, N·m]
    stiffness : of the unchanged tub [N·m/deg]

    Returns
    -------
    Reduced, and the vectors that were kept: times `Reduced.alpha` they are the basis
    """
    G = _gram(stiff, vectors)
    kept, R = pivoted(G, DROP)
    chosen = Vectors(
        vectors.U[:, kept],
        tuple(vectors.fields[k] for k in kept),
        tuple(vectors.changes[k] for k in kept),
        tuple(vectors.loaded[k] for k in kept),
    )
    inverse = np.linalg.inv(R)
    work = load @ chosen.U
    f = inverse.T @ work
    groups = tuple(_projected_groups(stiff, chosen, inverse))
    reduced = Reduced(
        family=stiff.family,
        groups=groups,
        load=f,
        alpha=inverse,
        loaded=np.array(chosen.loaded, dtype=float) @ inverse,
        scale=stiffness * float(work[0]),
        base_work=float(work[0]),
        unchanged=sum(fields_energy(inverse, group) for group in groups if group.fields),
    )
    return reduced, chosen


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


def pivoted(G: Floats, drop: float) -> tuple[list[int], Floats]:
    """Vectors kept, the first always and then the farthest from the others, and R (r, r) with G = Rᵀ R.

    Stops when what lies outside is less than `drop` of the first's own square.
    """
    n = len(G)
    rest, rows, kept = np.diag(G).copy(), np.zeros((n, n)), []
    limit = drop * G[0, 0]
    for step in range(n):
        pick = 0 if step == 0 else int(rest.argmax())
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
    count = vectors.U.shape[1]
    G = np.zeros((count, count))
    for cell in stiff.cells:
        # Lower triangles alone, at half the cost: the root of the stiffness times the strain.
        root = np.linalg.cholesky(cell.C).transpose(0, 2, 1)[:, None]
        E = (root @ strains(vectors, cell)) * np.sqrt(cell.dA)[..., None, None]
        G += dsyrk(1.0, E.reshape(-1, count).T, lower=True)
    G = np.tril(G) + np.tril(G, -1).T
    elongation = stiff.springs @ vectors.U
    G += elongation.T @ elongation
    return G


def _projected_groups(stiff: Stiff, vectors: Vectors, inverse: Floats) -> list[Projected]:
    n = inverse.shape[1]
    lower = np.tril_indices(n)
    elongation = stiff.springs @ np.ascontiguousarray(vectors.U)
    found = []
    for number, group in enumerate(stiff.family.groups):
        fields = [Field(k, f[number], 0) for k, f in enumerate(vectors.fields) if number in f]
        fields += [Field(k, -c[number], k) for k, c in enumerate(vectors.changes) if number in c]
        sources = tuple(sorted({field.source for field in fields}))
        if group.kind == "region":
            E, raw = _scaled_strains(stiff, vectors, inverse, number, sources)
            P = np.empty((len(PAIRS), len(lower[0])), dtype=np.float32)
            single = [np.ascontiguousarray(E[:, i], dtype=np.float32) for i in range(COMPONENTS)]
            for row, (i, j) in enumerate(PAIRS):
                product = single[i].T @ single[j]
                P[row] = (product if i == j else product + product.T)[lower]
            across = E.reshape(len(E), -1).T @ np.concatenate(raw, axis=1) if raw else np.empty(0)
            mixed = across.reshape(COMPONENTS, n, len(raw), COMPONENTS).transpose(2, 0, 3, 1)
            own = np.array([[np.einsum("ri,rj->ij", a, b, optimize=True) for b in raw] for a in raw])
        else:
            e = elongation[group.members] @ inverse
            P = (e.T @ e)[lower].astype(np.float32)[None]
            raw = [elongation[group.members, s] for s in sources]
            mixed = np.array([(e.T @ s)[None, None] for s in raw])
            own = np.array([[[[a @ b]] for b in raw] for a in raw])
        found.append(Projected(P, tuple(fields), sources, np.ascontiguousarray(mixed), own, compliance(group, None)))
    return found


def _scaled_strains(
    stiff: Stiff, vectors: Vectors, inverse: Floats, number: int, sources: tuple[int, ...]
) -> tuple[Floats, list[Floats]]:
    """Strains (rows, 9, n) of the basis times the root of area, and of the source vectors (rows, 9)."""
    basis, raw = [], []
    for cell in stiff.cells:
        if cell.group == number:
            E = strains(vectors, cell) * np.sqrt(cell.dA)[..., None, None]
            E = E.reshape(-1, COMPONENTS, E.shape[-1])
            rows = E.reshape(-1, E.shape[-1]).T  # half the work of a full product: the basis is made one by one
            basis.append(dtrmm(1.0, inverse, rows, trans_a=1).T.reshape(E.shape))
            raw.append(E[..., list(sources)])
    both = np.concatenate(raw)
    return np.concatenate(basis), [np.ascontiguousarray(both[..., k]) for k in range(len(sources))]
