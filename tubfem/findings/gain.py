"""What changes on the command line win or lose, against the case as written."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tubfem.findings.results import Findings, LoadCaseFindings


@dataclass(frozen=True, slots=True)
class Moved:
    """The lowest margin of all `what` ("joints", "hard points", ..) before and now, with their names.

    None and "" where nothing of that kind is judged.
    """

    what: str
    before: float | None
    name_before: str
    now: float | None
    name: str


@dataclass(frozen=True, slots=True)
class Gain:
    """What the changes of the command line do to one torsion load case; `before` is the case as written.

    Stiffness [N m/deg] between pickups, mass [kg], and the lowest margin of all regions with the region's name; None
    and "" where nothing is judged. `others` are the lowest margins of what is no region.
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
    others: tuple[Moved, ...] = ()

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
                others=_moved(then, now),
            )
        )
    return tuple(found)


def _lowest(load_case: "LoadCaseFindings") -> tuple[float | None, str]:
    worst = [region.worst for region in load_case.regions.values() if region.worst is not None]
    lowest = min(worst, key=lambda found: found.margin, default=None)
    return (None, "") if lowest is None else (lowest.margin, lowest.region)


def other_margins(load_case: "LoadCaseFindings") -> dict[str, dict[str, float]]:
    """Margins of joints, hard points, tubes and openings by name; what is not judged, or not loaded, is left out."""
    margins = {
        "joints": {name: joint.margin for name, joint in load_case.joints.items()},
        "hard points": {name: point.margin for name, point in load_case.hard_points.items()},
        "tubes": {f"{frame.name} {frame.worst.label}": frame.worst.margin for frame in load_case.frames.values()},
        "openings": {name: opening.margin for name, opening in load_case.openings.items()},
    }
    return {
        what: {name: m for name, m in own.items() if m is not None and math.isfinite(m)}
        for what, own in margins.items()
    }


def _moved(before: "LoadCaseFindings", now: "LoadCaseFindings") -> tuple[Moved, ...]:
    both = other_margins(before), other_margins(now)
    found = []
    for what in both[0]:
        told = [[(m, name) for name, m in each[what].items()] for each in both]
        lowest = [min(own, default=(None, "")) for own in told]
        if any(margin is not None for margin, _ in lowest):
            found.append(Moved(what, *lowest[0], *lowest[1]))
    return tuple(found)
