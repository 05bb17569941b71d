"""The other side: a stiffness that the tub is never below, from complementary energy (Prager and Synge, 1947).

Every vector brings a stress: C0 E - S is balanced, against the load if the vector is a solution under it, against
nothing if it is driven by S. A sum whose solutions' amounts add up to one balances the load, and the work of the load
is never more than its complementary energy in the changed stiffness C. With t = dC E a + S a the stress is C E a - t,
and the energy is 2 f·a - a (1 + dK) a + the integral of t C⁻¹ t: the same matrices again. C⁻¹ is taken from the group's
mean stiffness over the least ratio that any of its elements has to it, which only widens the bracket.
"""

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from tubfem.arrays import Floats
from tubfem.study.family import Change
from tubfem.study.reduced import Reduced, compliance, contracted, fields_core, stacked_fields, unpacked

DAMPING = 1e-13  # of the mean diagonal


def bracket(reduced: Reduced, change: Change) -> tuple[float, float]:
    """Stiffness [N·m/deg] that the changed family of groups is never below, and never above.

    The lower one is 0 where a group would not be stiff any more, and the upper one without limit where the tub is not.
    """
    K, rest = _forms(reduced, change)
    try:
        b = cho_solve(cho_factor(K, lower=True, check_finite=False), reduced.load, check_finite=False)
    except np.linalg.LinAlgError:
        return 0.0, np.inf
    above = reduced.scale / float(reduced.load @ b)
    if rest is None:
        return 0.0, above
    f, a = reduced.load, _balanced(reduced, K, rest)
    energy = float(2 * f @ a - a @ (K @ a) + a @ rest @ a)
    return min(reduced.scale / energy, above), above


def balanced(reduced: Reduced, change: Change) -> Floats | None:
    """Amounts a (n,) whose stress balances the load at the least energy; None where a group would not be stiff."""
    K, rest = _forms(reduced, change)
    return None if rest is None else _balanced(reduced, K, rest)


def _forms(reduced: Reduced, change: Change) -> tuple[Floats, Floats | None]:
    """1 + dK (n, n), and the integral of t C⁻¹ t as a form (n, n) of a; None where a group has lost its stiffness."""
    n = reduced.size
    W = {k: compliance(reduced.family.groups[k], dC) for k, dC in change.items()}
    soft = any(each is None for each in W.values())
    lower = np.zeros((2, n * (n + 1) // 2))
    for k, dC in change.items():
        lower += contracted(reduced.groups[k], dC, dC if soft else dC @ W[k] @ dC)
    dK, Y = unpacked(lower, n)
    dK.flat[:: n + 1] += 1
    return dK, None if soft else reduced.unchanged + Y + _on_fields(reduced, change, W)


def _balanced(reduced: Reduced, K: Floats, rest: Floats) -> Floats:
    f, d = reduced.load, reduced.loaded
    return _least(rest - K + np.outer(f, d) + np.outer(d, f), d)  # 2 f·a is a form of a where d·a = 1


def _on_fields(reduced: Reduced, change: Change, W: dict[int, Floats]) -> Floats:
    """What the change does to the energy of the stress fields, in the new compliance and crossed with dC E.

    A form (n, n) of a; not symmetric, only its quadratic values count.
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
    if not left:
        return np.zeros((reduced.size, reduced.size))
    return 2 * np.concatenate(left).T @ np.concatenate(right)


def _least(H: Floats, d: Floats) -> Floats:
    """The a with d·a = 1 where a H a is least; any other would be a wider bracket, so rounding may be damped."""
    both = H + H.T
    both.flat[:: len(d) + 1] += DAMPING * np.trace(both) / len(d)
    x = np.linalg.solve(both, d)
    return x / (d @ x)
