"""What changes on the command line win or lose, against the case as written."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tubfem.findings.results import Findings, LoadCaseFindings


@dataclass(frozen=True, slots=True)
class Gain:
    """What the changes of the command line do to one torsion load case; `before` is the case as written.

    Stiffness [N m/deg] between pickups, mass [kg], and the lowest margin of all regions with the region's name; None
    and "" where nothing is judged.
    """

    load_case: str
    stiffness_before: float
    stiffness: float
    mass_before: float
    mass: float
    worst_margin_before: float | None
    worst_region_before: str
    worst_margin: float | None
    worst_region: str

    @property
    def gain_Nm_per_deg(self) -> float:
        """Stiffness won (negative: lost)."""
        return self.stiffness - self.stiffness_before

    @property
    def gain_percent(self) -> float:
        """The same in percent of the stiffness before."""
        return 100.0 * self.gain_Nm_per_deg / self.stiffness_before

    @property
    def gain_per_kg(self) -> float | None:
        """Stiffness won by each kilogram added; None where the changes add no mass."""
        added = self.mass - self.mass_before
        return self.gain_Nm_per_deg / added if added > 0 else None


def gains(before: "Findings", after: "Findings") -> tuple[Gain, ...]:
    """One `Gain` for every torsion load case of `after` that `before` has too."""
    found = []
    for name, now in after.load_cases.items():
        then = before.load_cases.get(name)
        if now.torsion is None or then is None or then.torsion is None:
            continue
        margin_before, region_before = _lowest(then)
        margin, region = _lowest(now)
        found.append(
            Gain(
                load_case=name,
                stiffness_before=then.torsion.pickup_to_pickup,
                stiffness=now.torsion.pickup_to_pickup,
                mass_before=before.mass.total,
                mass=after.mass.total,
                worst_margin_before=margin_before,
                worst_region_before=region_before,
                worst_margin=margin,
                worst_region=region,
            )
        )
    return tuple(found)


def _lowest(load_case: "LoadCaseFindings") -> tuple[float | None, str]:
    worst = [region.worst for region in load_case.regions.values() if region.worst is not None]
    lowest = min(worst, key=lambda found: found.margin, default=None)
    return (None, "") if lowest is None else (lowest.margin, lowest.region)
