"""One factorisation, every load case, every solution checked."""

from dataclasses import dataclass
from time import perf_counter

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, frozen
from tubfem.shell.assemble import stiffness_matrix
from tubfem.shell.checks import Check, energy_check, equilibrium_check, refuse_failed, residual_check
from tubfem.shell.factor import NotDefiniteError, Solver, factorise
from tubfem.shell.floating import TINY, mechanism, refuse_floating, softest_share
from tubfem.shell.model import ShellModel
from tubfem.shell.recover import ground_forces
from tubfem.shell.ties import Ties


@dataclass(frozen=True, eq=False, slots=True)
class Solution:
    """Answer of a shell model.

    Attributes
    ----------
    u : (c, p, 6)
        Motion of every point [m, rad].
    reactions : (c, p, 6)
        Force and moment of the supports on the model, 0 where nothing is supported [N, N·m].
    checks
        Residual, equilibrium and energy, all kept.
    timings
        Seconds by stage.
    """

    u: Floats
    reactions: Floats
    checks: tuple[Check, ...]
    timings: dict[str, float]


@dataclass(frozen=True, eq=False, slots=True)
class Factored:
    """Stiffness K (d, d) before any tie, tied A (free, free), and the solver of A x = b: for what comes after."""

    K: sparse.csc_array
    A: sparse.csc_array
    inverse: Solver


def solve(model: ShellModel) -> Solution:
    """Solve all load cases; errors as `solve_and_keep`."""
    return solve_and_keep(model)[0]


def solve_and_keep(model: ShellModel) -> tuple[Solution, Factored]:
    """Solve all load cases, and hand on the factorised stiffness.

    Raises
    ------
    FloatingError
        A part is not held, or a mechanism moves without resistance; the error carries the points.
    SolveError
        A check of the solution fails.
    """
    ties, start = model.ties, perf_counter()
    refuse_floating(model)
    K = stiffness_matrix(model)
    assembled = perf_counter()
    A = (ties.T.T @ (K.T @ sparse.csr_array(ties.T))).T  # K and A are symmetric: no transpose costs a conversion
    b = ties.T.T @ (model.loads - K @ ties.u0)
    try:
        inverse = factorise(A)
    except NotDefiniteError as error:
        raise mechanism(model, A) from error
    factored = perf_counter()
    q, residual = _refined(model, A, b, inverse)
    u = ties.T @ q + ties.u0
    internal = K @ u
    reactions = support_forces(ties, internal - model.loads)
    motion, forces = _by_case(u), _by_case(reactions)
    grounded = np.moveaxis(ground_forces(model, motion), 0, -1).reshape(u.shape)
    inside = _cancelling(K, u)
    checks = (
        residual_check(residual, _cancelling(A, q) + np.abs(b)),
        equilibrium_check(model.points, model.loads, reactions + grounded, inside=inside),
        energy_check(u, internal, model.loads, reactions, inside=inside),
    )
    refuse_failed(checks)
    timings = {"assemble": assembled - start, "factorise": factored - assembled, "solve": perf_counter() - factored}
    return Solution(motion, forces, checks=checks, timings=timings), Factored(K, A, inverse)


def _cancelling(A: sparse.csc_array, x: Floats) -> Floats:
    """Sum of the magnitudes that A x is made of."""
    sizes = sparse.csc_array((np.abs(A.data), A.indices, A.indptr), shape=A.shape)  # abs(A) would copy indices too
    return sizes @ np.abs(x)


def _by_case(columns: Floats) -> Floats:
    """Columns (d, c) as (c, p, 6)."""
    return frozen(columns.T.reshape(columns.shape[1], len(columns) // 6, 6))


def _refined(model: ShellModel, A: sparse.csc_array, b: Floats, inverse: Solver) -> tuple[Floats, Floats]:
    """Solution and residual (free, c), improved once; a random column beside the loads looks for mechanisms."""
    probe = np.random.default_rng(0).standard_normal(A.shape[0])
    answer = inverse(np.column_stack([b, np.sqrt(A.diagonal()) * probe]))
    if len(probe) and softest_share(A, probe, answer[:, -1]) < TINY:
        raise mechanism(model, A)
    q = answer[:, :-1]
    q = q + inverse(b - A @ q)
    return q, b - A @ q


def support_forces(ties: Ties, unbalanced: Floats) -> Floats:
    """Forces (d, c) of the supports that balance K u - F (d, c).

    Links carry what arrives on a dependent freedom to the independent ones; there the supports must make the
    balance. Where more supports than needed hold one rigid body, the smallest forces are taken.
    """
    arriving = ties.links.T @ unbalanced
    rows = sparse.csr_array(ties.links)[ties.supported]
    single = np.diff(rows.indptr) == 1
    shared = np.unique(rows[~single].indices)
    column = rows.indices[rows.indptr[:-1]]
    twice = np.flatnonzero(np.bincount(column[single], minlength=rows.shape[1]) > 1)
    alone = single & ~np.isin(column, np.concatenate([shared, twice]))
    forces = np.empty((len(ties.supported), unbalanced.shape[1]))
    forces[alone] = arriving[column[alone]] / rows[alone].data[:, None]
    mixed = rows[~alone]
    touched = np.unique(mixed.indices)
    forces[~alone] = np.linalg.lstsq(mixed[:, touched].toarray().T, arriving[touched], rcond=1e-10)[0]
    reactions = np.zeros_like(unbalanced)
    reactions[ties.supported] = forces
    return reactions
