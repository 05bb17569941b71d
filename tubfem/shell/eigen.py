"""Buckling and natural vibration on the tied system u = T q, by Lanczos iteration on the stiffness already factorised.

ARPACK's implicitly restarted Lanczos method [R. B. Lehoucq, D. C. Sorensen & C. Yang, ARPACK Users' Guide, SIAM 1998]
wants no more than products with K⁻¹, so neither asks for a factorisation of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import ArpackError, LinearOperator, eigsh

from tubfem.arrays import Floats, frozen
from tubfem.errors import SolveError
from tubfem.shell.energies import beam_geometric_stiffness, geometric_stiffness, mass_matrix, membrane_forces
from tubfem.shell.factor import Solver
from tubfem.shell.model import ShellModel, Springs
from tubfem.shell.solve import Factored
from tubfem.shell.ties import rigid_motion

RESIDUAL = 1e-6  # of a mode, as a share of the forces that should cancel in it
NONE = 1e-9  # 1/λ below this: a load a thousand million times as large; nothing ripples
SOON = 40  # restarts of the iteration, some 650 solutions; a tub takes about 5
RELEASED = 1e-6  # stiffness left in rigid motion, as a share, when the supports of a free model are taken away


@dataclass(frozen=True, eq=False, slots=True)
class Buckling:
    """Load factors λ (k,) of one load case, lowest |λ| first, and shapes (k, p, 6), largest translation 1 m.

    λ times the load is critical; a negative λ means the load the other way round. `coarse` (k,) is |λ| with the slopes
    between the corners alone, as a multiple of |λ|: near 1 on a mesh that is fine for the ripple, 1.25 with eight
    quads along one and a half of its waves, far above where only rotations alternate from node to node.
    """

    factors: Floats
    coarse: Floats
    shapes: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Vibration:
    """Natural modes.

    Attributes
    ----------
    frequencies : (k,) [Hz], ascending
    shapes : (k, p, 6), with modal mass 1 kg
    """

    frequencies: Floats
    shapes: Floats


def buckling(model: ShellModel, factored: Factored, u: Floats, *, count: int = 4) -> Buckling:
    """Lowest critical factors of a load with the linear answer u (p, 6): (K + λ K_G) φ = 0.

    Parameters
    ----------
    factored
        From `solve_and_keep` of the same model.
    count
        Modes wanted of either sign of the load. Where one sign has none near, as a plate under plain compression has
        none the other way round, Lanczos cannot tell how far off they are: then twice as many lowest ones come back,
        whichever their sign.

    Raises
    ------
    SolveError
        The iteration does not converge, or a mode fails its residual check.
    """
    T, A = model.ties.T, factored.A
    forces = membrane_forces(model, u)
    of_beams = beam_geometric_stiffness(model, u)
    G, plain = (T.T @ (geometric_stiffness(model, forces, linked=way) + of_beams) @ T for way in (True, False))
    start = _start(A.shape[0])
    own = {"M": A, "Minv": _operator(factored.inverse, A.shape[0])}
    own = {"M": A, "Minv": _operator(factored.inverse, A.shape[0])}
    try:
        share, q = _lanczos(sparse.csc_array(-G), 2 * count, start, which="BE", maxiter=SOON, **own)
    except SolveError:
        share, q = _lanczos(sparse.csc_array(-G), 2 * count, start, which="LM", **own)
    keep = np.abs(share) > NONE
    share, q = share[keep], q[:, keep]
    factors = 1 / share
    Aq, Gq = A @ q, G @ q * factors
    _refuse_residuals("buckling", Aq + Gq, abs(A) @ np.abs(q))
    order = np.argsort(np.abs(factors))
    coarse = np.abs((q * Gq).sum(0) / factors / np.maximum(np.abs((q * (plain @ q)).sum(0)), 1e-300))
    return Buckling(frozen(factors[order]), frozen(coarse[order]), _shapes(T @ q[:, order], 1.0))


def vibration(
    model: ShellModel, factored: Factored, count: int, *, carried: Sequence[Springs] = (), free: bool = False
) -> Vibration:
    """Lowest natural modes: K φ = ω² M φ.

    A free model must be held by its supports determinately, which is what `free` takes away again: a load in balance
    with itself deforms it as if nothing held it, so K⁻¹ of the held model serves. The six rigid motions are projected
    out of every vector, and never found.

    Parameters
    ----------
    factored
        From `solve_and_keep` of the same model.
    carried
        Masses besides the shells', written like springs: row m has the kinetic energy ½ stiffness (Σ c·v)², its
        stiffness being a mass [kg].

    Raises
    ------
    SolveError
        The iteration does not converge, a mode fails its residual check, or `free` is asked of a model that its
        supports hold more than determinately.
    """
    shells = mass_matrix(model)
    if free:
        T, K, M, inverse = _released(model, factored, shells, carried)
    else:
        T, K, inverse = model.ties.T, factored.A, factored.inverse
        M = _mass(shells, carried, T)
    size = T.shape[1]
    start = inverse(M.times(_start(size)))
    square, q = _lanczos(
        K, count, start, sigma=0.0, which="LM", M=_operator(M.times, size), OPinv=_operator(inverse, size)
    )
    order = np.argsort(square)
    square, q = square[order], q[:, order]
    _refuse_residuals("vibration", K @ q - M.times(q) * square, abs(K) @ np.abs(q))
    q = q / np.sqrt((q * M.times(q)).sum(0))
    return Vibration(frozen(np.sqrt(square) / (2 * np.pi)), _shapes(T @ q))


def whole_vibration(model: ShellModel, factored: Factored, count: int, masses: Sequence[Springs]) -> Vibration:
    """Lowest modes of a free model whose whole mass is in a few `masses`, written as for `vibration`.

    Everything else follows as if it were slowly pulled along, so that no part vibrates by itself. One solution a row.
    Supports and errors as for `vibration` of a free model.
    """
    size = 6 * len(model.points)
    T, _, M, inverse = _released(model, factored, sparse.csc_array((size, size)), masses)
    pull = (M.rows.T * np.sqrt(M.weight)).toarray()
    pulled = inverse(pull)
    flexibility = pull.T @ pulled
    share, y = np.linalg.eigh(0.5 * (flexibility + flexibility.T))
    share, y = share[::-1][:count], y[:, ::-1][:, :count]
    keep = share > NONE * share[0]
    q = pulled @ (y[:, keep] / share[keep])
    return Vibration(frozen(1 / (2 * np.pi * np.sqrt(share[keep]))), _shapes(T @ q))


@dataclass(frozen=True, eq=False, slots=True)
class _Mass:
    """Mass on the coordinates of T: a sparse matrix, and carried masses as they are read, row by row."""

    shells: sparse.csc_array
    weight: Floats
    rows: sparse.csr_array

    def times(self, q: Floats) -> Floats:
        """M q of vectors (free,) or (free, k)."""
        return self.shells @ q + self.rows.T @ ((self.rows @ q).T * self.weight).T


def _mass(shells: sparse.csc_array, carried: Sequence[Springs], T: sparse.csc_array) -> _Mass:
    rows = [sparse.csr_array((0, T.shape[1]))]
    for each in carried:
        m, k = each.freedoms.shape
        where = (np.repeat(np.arange(m), k), each.freedoms.ravel())
        rows.append(sparse.csr_array((each.coefficients.ravel(), where), shape=(m, T.shape[0])) @ T)
    weight = np.concatenate([np.empty(0), *(each.stiffness for each in carried)])
    return _Mass(sparse.csc_array(T.T @ shells @ T), weight, sparse.csr_array(sparse.vstack(rows)))


def _released(
    model: ShellModel, factored: Factored, shells: sparse.csc_array, carried: Sequence[Springs]
) -> tuple[sparse.csc_array, sparse.csc_array, _Mass, Solver]:
    """Motion T, stiffness and mass without the supports, and the inverse of that stiffness on loads in balance.

    Points that nothing hangs on stay held.
    """
    K = sparse.csc_array(model.ties.links.T @ factored.K @ model.ties.links)
    stiff = np.flatnonzero(K.diagonal() > 0)
    T, independent = sparse.csc_array(model.ties.links[:, stiff]), model.ties.independent[stiff]
    K = sparse.csc_array(K[:, stiff][stiff])
    M = _mass(shells, carried, T)
    arm = model.points - model.points.mean(0)
    size = np.array([1.0, 1.0, 1.0, *[np.linalg.norm(arm, axis=1).max()] * 3])
    R = (rigid_motion(arm) / size).reshape(-1, 6)[independent]
    left = np.abs(K @ R).max() / (abs(K) @ np.abs(R)).max()
    if model.ties.T.shape[1] != len(independent) - 6 or left > RELEASED:
        raise SolveError("free modes are asked of a model that is held by more than six determinate supports")
    MR = M.times(R)
    modal = R.T @ MR
    back = sparse.csr_array(model.ties.T)[independent]

    def inverse(load: Floats) -> Floats:
        balanced = load - MR @ np.linalg.solve(modal, R.T @ load)
        q = back @ factored.inverse(back.T @ balanced)
        return q - R @ np.linalg.solve(modal, MR.T @ q)

    return T, K, M, inverse


def _operator(times: Solver, size: int) -> LinearOperator:
    return LinearOperator((size, size), matvec=times, dtype=float)


def _start(size: int) -> Floats:
    """A start that is the same every time."""
    return np.random.default_rng(0).standard_normal(size)


def _lanczos(
    A: sparse.csc_array, count: int, start: Floats, **how: str | float | sparse.csc_array | LinearOperator
) -> tuple[Floats, Floats]:
    """Eigenvalues (k,) and vectors (free, k); `how` as in `scipy.sparse.linalg.eigsh`."""
    size = len(start)
    count = min(count, size - 1)
    try:
        return eigsh(A, k=count, v0=start, ncv=min(size, max(3 * count, 24)), **how)
    except ArpackError as error:
        raise SolveError(f"the eigenvalues do not converge: {error}") from error


def _refuse_residuals(what: str, residual: Floats, size: Floats) -> None:
    error = np.abs(residual).max(0, initial=0.0) / size.max(0, initial=0.0)
    if not (error <= RESIDUAL).all():
        raise SolveError(f"residual check of the {what} modes failed: {error.max():.1e}, limit {RESIDUAL:.0e}")


def _shapes(columns: Floats, largest: float | None = None) -> Floats:
    """Columns (d, k) as (k, p, 6), each scaled to a largest translation if that is said."""
    shapes = columns.T.reshape(columns.shape[1], -1, 6)
    if largest is not None and shapes.size:
        shapes = shapes * (largest / np.linalg.norm(shapes[..., :3], axis=2).max(1))[:, None, None]
    return frozen(shapes)
