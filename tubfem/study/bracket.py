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
from tubfem.study.reduced import (
    Projected,
    Reduced,
    change_matrix,
    compliance,
    contracted,
    fields_energy,
    stacked_fields,
    unpacked,
)

DAMPING = 1e-13  # of the mean diagonal


def bracket(reduced: Reduced, change: Change) -> tuple[float, float]:
    """Stiffness [N·m/deg] that the changed family of groups is never below, and never above.

    The lower one is 0 where a group would not be stiff any more.
    """
    n = reduced.size
    dK = change_matrix(reduced, change)
    b = cho_solve(cho_factor(np.eye(n) + dK, lower=True, check_finite=False), reduced.load, check_finite=False)
    above = reduced.scale / float(reduced.load @ b)
    Y = residual_energy(reduced, change)
    if Y is None:
        return 0.0, above
    f, d = reduced.load, reduced.loaded
    L = np.eye(n) - np.outer(f, d)
    H = np.eye(n) - dK - L - L.T + Y
    a = _least(H, d)
    energy = float(2 * f @ a - a @ (a + dK @ a) + a @ Y @ a)
    return min(reduced.scale / energy, above), above


def residual_energy(reduced: Reduced, change: Change) -> Floats | None:
    """The integral of t C⁻¹ t as a form (n, n) of a; None where a group has lost its stiffness."""
    total = reduced.unchanged.copy()
    for k, dC in change.items():
        projected = reduced.groups[k]
        before = compliance(reduced.family.groups[k], None)
        if projected.fields:
            total -= fields_energy(reduced.alpha, projected, before)
        W = compliance(reduced.family.groups[k], dC)
        if W is None:
            return None
        total += unpacked(contracted(projected, dC @ W @ dC), reduced.size)
        if projected.fields:
            total += fields_energy(reduced.alpha, projected, W) + _crossed(reduced, projected, dC @ W)
    return total


def _crossed(reduced: Reduced, projected: Projected, dCW: Floats) -> Floats:
    """Changed stiffness on the fields, both ways."""
    rows, D, at = stacked_fields(reduced.alpha, projected)
    one = np.einsum("ip,lpj,lijn->nl", dCW, D, projected.mixed[at], optimize=True) @ rows
    return one + one.T


def _least(H: Floats, d: Floats) -> Floats:
    """The a with d·a = 1 where a H a is least; any other would be a wider bracket, so rounding may be damped."""
    damped = H + DAMPING * np.trace(H) / len(H) * np.eye(len(H))
    x = np.linalg.solve(0.5 * (damped + damped.T), d)
    return x / (d @ x)
