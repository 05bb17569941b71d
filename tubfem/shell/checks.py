"""What every solution is held to.

Forces inside a shell cancel to leave the load; in a very thin one they are so much larger that their last digit shows.
That digit, which no double-precision solution can do better than, is granted on top of every limit.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.errors import SolveError

RESIDUAL = 1e-10
EQUILIBRIUM = 1e-6
ENERGY = 1e-6
DIGIT = 10 * np.finfo(float).eps  # of the forces that cancel


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


def equilibrium_check(points: Floats, loads: Floats, reactions: Floats, *, inside: Floats) -> Check:
    """Sum of forces and moments of loads and reactions about the middle of the model; all after points are (d, c).

    Forces count against the sum of their magnitudes, moments against that sum times the size of the model plus
    the sum of the moments' magnitudes. `reactions` include those of ground springs; `inside` are the magnitudes of
    the internal forces that cancel.
    """
    arm = points - points.mean(0)
    size = np.linalg.norm(arm, axis=1).max()
    total = (loads + reactions).reshape(len(points), 6, -1)
    force = total[:, :3].sum(0)
    moment = total[:, 3:].sum(0) + np.cross(arm[:, :, None], total[:, :3], axis=1).sum(0)
    acting, cancelling = (
        parts[:, :3].sum((0, 1)) * size + parts[:, 3:].sum((0, 1))
        for parts in (values.reshape(len(points), 6, -1) for values in (np.abs(loads) + np.abs(reactions), inside))
    )
    error = np.maximum(np.linalg.norm(force, axis=0) * size, np.linalg.norm(moment, axis=0))
    return Check("equilibrium", _ratio(error, acting + cancelling * DIGIT / EQUILIBRIUM), EQUILIBRIUM)


def energy_check(u: Floats, internal: Floats, loads: Floats, reactions: Floats, *, inside: Floats) -> Check:
    """Strain energy against the work of loads and of reactions on prescribed motion; all (d, c)."""
    energy, work = (u * internal).sum(0), (u * (loads + reactions)).sum(0)
    scale = np.maximum(np.abs(energy), np.abs(work)) + (np.abs(u) * inside).sum(0) * DIGIT / ENERGY
    return Check("energy", _ratio(np.abs(energy - work), scale), ENERGY)


def refuse_failed(checks: tuple[Check, ...]) -> None:
    """Raise `SolveError` naming every check that failed."""
    failed = [f"{c.name} check failed: {c.value:.1e}, limit {c.limit:.0e}" for c in checks if not c.ok]
    if failed:
        raise SolveError(failed)


def _ratio(error: Floats, size: Floats) -> float:
    """Worst error against its size; 0 where nothing acts, NaN and infinity kept."""
    ratio = np.divide(error, size, out=np.where(error > 0, np.inf, error), where=size > 0)
    return float(ratio.max(initial=0.0))
