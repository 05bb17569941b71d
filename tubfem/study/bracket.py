"""The other side: a stiffness that the tub is never below, from complementary energy (Prager and Synge, 1947).

Every vector brings a stress: C0 E - S is balanced, against the load if the vector is a solution under it, against
nothing if it is driven by S. A sum whose solutions' amounts add up to one balances the load, and the work of the load
is never more than its complementary energy in the changed stiffness C. With t = dC E a + S a the stress is C E a - t,
and the energy is 2 f·a - a (1 + dK) a + the integral of t C⁻¹ t: the same matrices again. C⁻¹ is taken from the group's
mean stiffness over the least ratio that any of its elements has to it, which only widens the bracket.
"""

import numpy as np
from scipy.linalg.blas import dsymv, dsyr2k
from scipy.linalg.lapack import dpotrf, dpotrs

from tubfem.arrays import Floats
from tubfem.study.family import Change
from tubfem.study.reduced import Reduced, compliance, fields_core, scratch, solved, stacked_fields, summed, unpacked
from tubfem.study.threads import one_thread

DAMPING = 1e-13  # of the mean diagonal


def bracket(reduced: Reduced, change: Change) -> tuple[float, float]:
    """Stiffness [N·m/deg] that the changed family of groups is never below, and never above.

    The lower one is 0 where a group would not be stiff any more, and the upper one without limit where the tub is not.
    """
    try:
        return evaluated(reduced, change)[:2]
    except np.linalg.LinAlgError:
        return 0.0, np.inf


@one_thread
def evaluated(reduced: Reduced, change: Change) -> tuple[float, float, Floats]:
    """The bracket, and Galerkin's amounts b (n,) of the basis.

    Raises
    ------
    numpy.linalg.LinAlgError
        The tub is not stiff any more.
    """
    K, H = _forms(reduced, change)
    b = solved(K, reduced.load)
    above = reduced.scale / float(reduced.load @ b)
    if H is None:
        return 0.0, above, b
    energy = _least(H, reduced.loaded)[1]
    return min(reduced.scale / energy, above), above, b


@one_thread
def balanced(reduced: Reduced, change: Change) -> Floats | None:
    """Amounts a (n,) whose stress balances the load at the least energy; None where a group would not be stiff."""
    H = _forms(reduced, change)[1]
    return None if H is None else _least(H, reduced.loaded)[0]


def _forms(reduced: Reduced, change: Change) -> tuple[Floats, Floats | None]:
    """1 + dK (n, n), and the energy as a form (n, n) of the a with d·a = 1; None where a group has lost its stiffness.

    Of the latter the lower triangle counts (in Fortran's order). Both are `scratch`.
    """
    n = reduced.size
    W = {k: compliance(reduced.family.groups[k], dC) for k, dC in change.items()}
    soft = any(each is None for each in W.values())
    sums = summed(reduced, {k: (dC,) if soft else (dC, dC @ W[k] @ dC) for k, dC in change.items()}, 1 if soft else 2)
    K = unpacked(sums[0], n, out=scratch("K", (n, n)))
    K.flat[:: n + 1] += 1
    if soft:
        return K, None
    sums[1] -= sums[0]
    H = unpacked(sums[1], n, out=scratch("H", (n, n)))
    H += reduced.unchanged
    H.flat[:: n + 1] -= 1
    left, right = _on_fields(reduced, change, W)
    left.append(reduced.load[None])  # 2 f·a is a form of a where d·a = 1
    right.append(reduced.loaded[None])
    A, B = np.concatenate(left).T, np.concatenate(right).T
    return K, dsyr2k(1.0, A, B, beta=1.0, c=H.T, lower=1, overwrite_c=1)


def _on_fields(reduced: Reduced, change: Change, W: dict[int, Floats]) -> tuple[list[Floats], list[Floats]]:
    """What the change does to the energy of the stress fields, in the new compliance and crossed with dC E.

    Rows l (., n) and r (., n), group by group: lᵀ r + rᵀ l is the form of a.
    """
    left, right = [], []
    for k, dC in change.items():
        projected = reduced.groups[k]
        if not projected.fields:
            continue
        rows, D, at = stacked_fields(reduced.alpha, projected)
        across, count = np.empty(rows.shape), D[0].size
        for s in range(len(projected.sources)):
            own = np.flatnonzero(at == s)
            across[own] = (dC @ W[k] @ D[own]).reshape(-1, count) @ projected.mixed[s].reshape(count, -1)
        left.append(rows)
        right.append(0.5 * fields_core(projected, D, at, W[k] - projected.before) @ rows + across)
    return left, right


def _least(H: Floats, d: Floats) -> tuple[Floats, float]:
    """The a with d·a = 1 where a H a is least, and a H a.

    Any other a would be a wider bracket, so that rounding may be damped.
    """
    root = scratch("root", H.shape).T
    root[:] = H
    root.flat[:: len(d) + 1] += DAMPING * np.trace(H) / len(d)
    root, fault = dpotrf(root, lower=1, clean=0, overwrite_a=1)
    if fault:  # energy is never negative, but its rounding may be
        x = np.linalg.solve(np.tril(H) + np.tril(H, -1).T, d)
    else:
        x, _ = dpotrs(root, d, lower=1)
    a = x / (d @ x)
    return a, float(a @ dsymv(1.0, H, a, lower=1))
