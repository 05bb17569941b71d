"""Supports, rigid links and spread attachments as one sparse map u = T q + u0."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg import qr, solve_triangular
from scipy.sparse import csgraph

from tubfem.arrays import Floats, Ints, frozen
from tubfem.errors import SolveError
from tubfem.shell.frames import cross_matrix


@dataclass(frozen=True, eq=False, slots=True)
class Support:
    """Freedoms (m,) held at `values` [m, rad]: one number, (m,), or (m, c) for a value per load case."""

    freedoms: Ints
    values: Floats | float = 0.0


@dataclass(frozen=True, eq=False, slots=True)
class Rigid:
    """The nodes `slaves` (n,) follow the node `master` as a rigid body, in the freedoms `components` of each."""

    master: int
    slaves: Ints
    components: tuple[int, ...] = (0, 1, 2, 3, 4, 5)


@dataclass(frozen=True, eq=False, slots=True)
class Spread:
    """The six freedoms of node `master` follow the mean motion of the nodes `patch` (n,), adding no stiffness.

    The mean is the weighted least-squares rigid motion of the patch's translations; `weights` (n,) > 0, usually
    tributary areas. A force on the master goes into the patch as forces, moments as couples of forces.
    """

    master: int
    patch: Ints
    weights: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Ties:
    """Motion that the constraints allow: u = T q + u0.

    Attributes
    ----------
    T : (d, free)
        Sparse, CSC.
    u0 : (d, c)
        Motion that prescribed supports force [m, rad].
    links : (d, independent)
        The map of rigid links and spreading alone, before any support.
    independent : (independent,)
        Freedom of each column of `links`.
    supported : (m,)
        Freedoms held by supports.
    """

    T: sparse.csc_array
    u0: Floats
    links: sparse.csc_array
    independent: Ints
    supported: Ints


def tie(
    points: Floats,
    cases: int,
    *,
    supports: Sequence[Support] = (),
    rigid: Sequence[Rigid] = (),
    spread: Sequence[Spread] = (),
) -> Ties:
    """Map of all constraints together; chains (a pickup rigid on a mount that is spread over a patch) may be long.

    Parameters
    ----------
    points : (p, 3)
        [m].
    cases
        Number of load cases, columns of u0.
    supports, rigid, spread
        The constraints. A support may also hold a freedom that a link or a patch moves.

    Raises
    ------
    SolveError
        A freedom depends on two links, or on itself through a cycle, or supports contradict each other, or a
        patch cannot carry a moment because its nodes lie in one line.
    """
    freedoms = 6 * len(points)
    rows, columns, values = _link_entries(points, rigid, spread)
    links, independent = _resolve_chains(freedoms, rows, columns, values)
    held, prescribed = _gather_supports(supports, freedoms, cases)
    T, u0 = _hold(links, held, prescribed)
    return Ties(T=T, u0=frozen(u0), links=links, independent=frozen(independent), supported=frozen(held))


def rigid_motion(r: Floats) -> Floats:
    """Motion (..., 6, 6) at offset r (..., 3) [m] of a rigid body, per unit of its six freedoms."""
    G = np.zeros((*r.shape[:-1], 6, 6))
    G[...] = np.eye(6)
    G[..., :3, 3:] = -cross_matrix(r)
    return G


def spread_weights(r: Floats, weights: Floats) -> Floats:
    """Least-squares rigid motion (6, n, 3) at the origin, per unit translation of n nodes at r (n, 3) [m].

    With G_i the rigid motion at node i, it is (Σ w Gᵀ G)⁻¹ Gᵀ w: the transposed map sends a force and moment at
    the origin into nodal forces of the same resultant.
    """
    G = rigid_motion(r)[:, :3]
    scale = np.sqrt(np.average((r**2).sum(-1), weights=weights))
    normal = np.einsum("n,nij,nik->jk", weights / weights.sum(), G, G, optimize=True)
    size = np.array([1.0, 1.0, 1.0, scale, scale, scale])
    normal = normal / np.outer(size, size)
    if not np.isfinite(normal).all() or np.linalg.cond(normal) > 1e10:
        raise SolveError("a load is spread over nodes that lie in one line; take a wider patch")
    scaled = np.linalg.solve(
        normal, np.moveaxis(G * (weights / weights.sum())[:, None, None] / size, 2, 0).reshape(6, -1)
    )
    return (scaled / size[:, None]).reshape(6, len(r), 3)


def _link_entries(points: Floats, rigid: Sequence[Rigid], spread: Sequence[Spread]) -> tuple[Ints, Ints, Floats]:
    """Entries of the one-step dependence u[row] = Σ value u[column]."""
    rows, columns, values = [np.empty(0, np.int64)], [np.empty(0, np.int64)], [np.empty(0)]
    component = np.arange(6)
    for link in rigid:
        slaves, moved = np.asarray(link.slaves, dtype=np.int64), np.array(link.components)
        G = rigid_motion(points[slaves] - points[link.master])[:, moved]
        shape = G.shape
        rows.append(np.broadcast_to((6 * slaves[:, None] + moved)[:, :, None], shape).ravel())
        columns.append(np.broadcast_to(6 * link.master + component, shape).ravel())
        values.append(G.ravel())
    for link in spread:
        patch = np.asarray(link.patch, dtype=np.int64)
        S = spread_weights(points[patch] - points[link.master], np.asarray(link.weights, dtype=float))
        rows.append(np.broadcast_to((6 * link.master + component)[:, None, None], S.shape).ravel())
        columns.append(np.broadcast_to(6 * patch[:, None] + component[:3], S.shape).ravel())
        values.append(S.ravel())
    row, column, value = np.concatenate(rows), np.concatenate(columns), np.concatenate(values)
    dependents = [(6 * np.asarray(link.slaves)[:, None] + link.components).ravel() for link in rigid]
    dependents += [6 * link.master + component for link in spread]
    freedom, count = np.unique(np.concatenate([np.empty(0, np.int64), *dependents]), return_counts=True)
    if (count > 1).any():
        raise SolveError(f"nodes {np.unique(freedom[count > 1] // 6).tolist()} follow two links at once")
    keep = value != 0.0
    return row[keep], column[keep], value[keep]


def _resolve_chains(freedoms: int, rows: Ints, columns: Ints, values: Floats) -> tuple[sparse.csc_array, Ints]:
    """Map (d, k) of all freedoms on those that depend on nothing, and the latter's ids (k,)."""
    step = sparse.csr_array((values, (rows, columns)), shape=(freedoms, freedoms))
    nodes = sparse.csr_array((np.ones(len(rows)), (rows // 6, columns // 6)), shape=(freedoms // 6, freedoms // 6))
    _, part = csgraph.connected_components(nodes, connection="strong")
    looped = np.flatnonzero((np.bincount(part)[part] > 1) | (nodes.diagonal() != 0))
    if len(looped):
        raise SolveError(f"the links between nodes {looped.tolist()} form a cycle: each waits for another to move")
    alone = np.ones(freedoms, dtype=bool)
    alone[rows] = False
    independent = np.flatnonzero(alone)
    total = last = _columns(freedoms, independent)
    while (last := step @ last).nnz:
        total = total + last
    return sparse.csc_array(total), independent


def _columns(size: int, chosen: Ints) -> sparse.csr_array:
    """Columns `chosen` (k,) of the identity of the given size."""
    shape = (size, len(chosen))
    return sparse.csr_array((np.ones(len(chosen)), (chosen, np.arange(len(chosen)))), shape=shape)


def _gather_supports(supports: Sequence[Support], freedoms: int, cases: int) -> tuple[Ints, Floats]:
    """Held freedoms (m,), ascending, and their values (m, c)."""
    held, prescribed = [np.empty(0, np.int64)], [np.empty((0, cases))]
    for support in supports:
        ids = np.asarray(support.freedoms, dtype=np.int64).ravel()
        value = np.asarray(support.values, dtype=float)
        if value.ndim == 1:
            value = value[:, None]
        held.append(ids)
        prescribed.append(np.broadcast_to(value, (len(ids), cases)))
    ids, values = np.concatenate(held), np.concatenate(prescribed)
    order = np.argsort(ids, kind="stable")
    twice = np.unique(ids[order][1:][np.diff(ids[order]) == 0])
    if len(twice):
        raise SolveError(f"nodes {np.unique(twice // 6).tolist()} are supported twice in the same freedom")
    return ids[order], values[order]


def _hold(links: sparse.csc_array, held: Ints, prescribed: Floats) -> tuple[sparse.csc_array, Floats]:
    """T and u0 once the rows `held` of u = links q are given: some q are fixed, a few others expressed by the rest."""
    rows = sparse.csr_array(links)[held]
    single = np.diff(rows.indptr) == 1  # the usual case: a support on a freedom that nothing else moves
    independent = links.shape[1]
    fixed, value = np.zeros(independent, dtype=bool), np.zeros((independent, prescribed.shape[1]))
    column, factor = rows[single].indices, rows[single].data
    fixed[column] = True
    value[column] = prescribed[single] / factor[:, None]
    mixed = rows[~single]
    rest = prescribed[~single] - mixed @ value
    columns = np.unique(mixed.indices)
    columns = columns[~fixed[columns]]
    R = mixed[:, columns].toarray()
    pivots, others, solved, constant = _reduce(R, rest)
    chosen = columns[pivots]
    value[chosen] = constant
    fixed[chosen] = True
    free = np.flatnonzero(~fixed)
    T = _columns(independent, free)
    if len(chosen):
        where = np.searchsorted(free, columns[others])
        row, column = np.repeat(chosen, len(where)), np.tile(where, len(chosen))
        T = T + sparse.csr_array((solved.ravel(), (row, column)), shape=T.shape)
    T = sparse.csc_array(links @ T)
    u0 = links @ value
    if np.abs(u0[held] - prescribed).max(initial=0.0) > 1e-9 * max(np.abs(prescribed).max(initial=0.0), 1e-30):
        raise SolveError("supports contradict each other: linked nodes are held at motions that no rigid body can have")
    return T, u0


def _reduce(R: Floats, rest: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Solve R q = rest for as many q as R has rank: q[pivots] = solved q[others] + constant."""
    if R.size == 0:
        empty = np.empty(0, np.int64)
        return empty, np.arange(R.shape[1]), np.empty((0, R.shape[1])), np.empty((0, rest.shape[1]))
    Q, U, order = qr(R, mode="economic", pivoting=True)
    diagonal = np.abs(np.diag(U))
    rank = int((diagonal > 1e-10 * diagonal[0]).sum())
    right = Q.T[:rank] @ rest
    solved = -solve_triangular(U[:rank, :rank], U[:rank, rank:])
    return order[:rank], order[rank:], solved, solve_triangular(U[:rank, :rank], right)
