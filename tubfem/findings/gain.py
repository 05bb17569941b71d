"""What changes on the command line win or lose, against the case as written."""

from tubfem.findings.results import Findings, Gain, LoadCaseFindings


def gains(before: Findings, after: Findings) -> tuple[Gain, ...]:
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


def _lowest(load_case: LoadCaseFindings) -> tuple[float, str]:
    worst = [region.worst for region in load_case.regions.values() if region.worst is not None]
    lowest = min(worst, key=lambda found: found.margin)
    return lowest.margin, lowest.region
