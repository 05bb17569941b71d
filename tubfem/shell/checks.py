"""What every solution is held to.

Limits on balance rise with the rounding that no double-precision solution of the model can avoid: in a very thin shell
huge membrane forces cancel to leave the load, and what the last digit of those forces weighs against the load
is the resolution. Beyond 1 % nothing is accepted.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.errors import SolveError

RESIDUAL = 1e-10
BALANCE = 1e-6
WORST = 1e-2


@dataclass(frozen=True, slots=True)
class Check:
    """A relative error of the solution, worst over the load cases, and the limit it must keep."""

    name: str
    value: float
    limit: float

    @property
    def ok(self) -> bool:
        """Whether the value is finite and within the limit."""
        return bool(self.value <= self.limit)


def residual_check(residual: Floats, size: Floats) -> Check:
    """Unbalanced force (free, c) against the sum of the magnitudes that should cancel in it (free, c)."""
    return Check("residual", _ratio(np.abs(residual).max(0, initial=0.0), size.max(0, initial=0.0)), RESIDUAL)


def resolution(size: Floats, b: Floats) -> float:
    """Rounding of forces that cancel, of magnitudes `size` (free, c), as a share of the loads b (free, c)."""
    return float(np.finfo(float).eps * _ratio(size.sum(0), np.abs(b).sum(0)))


def balance_limit(rounding: float) -> float:
    """Limit of the checks on balance at a given resolution."""
    return min(max(BALANCE, 10 * rounding), WORST)


def equilibrium_check(points: Floats, loads: Floats, reactions: Floats, *, rounding: float) -> Check:
    """Sum of forces and moments of loads and reactions (d, c), of ground springs too, about the middle of the model.

    Forces count against the sum of their magnitudes, moments against that sum times the size of the model plus
    the sum of the moments' magnitudes.
    """
    arm = points - points.mean(0)
    size = np.linalg.norm(arm, axis=1).max()
    total = (loads + reactions).reshape(len(points), 6, -1)
    force = total[:, :3].sum(0)
    moment = total[:, 3:].sum(0) + np.cross(arm[:, :, None], total[:, :3], axis=1).sum(0)
    parts = (np.abs(loads) + np.abs(reactions)).reshape(len(points), 6, -1)
    forces, moments = parts[:, :3].sum((0, 1)), parts[:, 3:].sum((0, 1))
    errors = [np.linalg.norm(force, axis=0) * max(size, 1e-30), np.linalg.norm(moment, axis=0)]
    return Check("equilibrium", _ratio(np.maximum(*errors), forces * size + moments), balance_limit(rounding))


def energy_check(u: Floats, internal: Floats, loads: Floats, reactions: Floats, *, rounding: float) -> Check:
    """Strain energy against the work of loads and of reactions on prescribed motion; all (d, c)."""
    energy = (u * internal).sum(0)
    work = (u * (loads + reactions)).sum(0)
    return Check(
        "energy", _ratio(np.abs(energy - work), np.maximum(np.abs(energy), np.abs(work))), balance_limit(rounding)
    )


def refuse_failed(checks: tuple[Check, ...]) -> None:
    """Raise `SolveError` naming every check that failed."""
    failed = [f"{c.name} check failed: {c.value:.1e}, limit {c.limit:.0e}" for c in checks if not c.ok]
    if failed:
        raise SolveError(failed)


def _ratio(error: Floats, size: Floats) -> float:
    """Worst error against its size; 0 where nothing acts, NaN and infinity kept."""
    ratio = np.divide(error, size, out=np.where(error > 0, np.inf, error), where=size > 0)
    return float(ratio.max(initial=0.0))
