"""What service temperatures leave: stiffness, the worst margin of every region, and what may not be counted on."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tubfem.findings.heat_results import HeatFindings, WarmRegion, WarmStiffness
from tubfem.findings.results import Findings
from tubfem.findings.strains import describe_elements
from tubfem.tub.heat import Service
from tubfem.tub.model import TubModel

WHOLE = 1 - 1e-9  # a share of area, summed


def add_heat(
    findings: Findings, model: TubModel, state: Service, warm: Findings, credited: Mapping[str, float] | None
) -> Findings:
    """Findings with the tub in service: `warm`, and its stiffness without what is not credited.

    `credited` [N·m/deg] by torsion load case is None if everything is.
    """
    area = describe_elements(model).area
    regions = [_region(findings, number, state, area, warm) for number in range(len(findings.regions))]
    regions.sort(key=lambda region: np.inf if region.limit is None else region.limit - region.celsius)
    stiffness = tuple(
        WarmStiffness(
            name,
            own.torsion.pickup_to_pickup,
            warm.load_cases[name].torsion.pickup_to_pickup,
            None if credited is None else credited[name],
        )
        for name, own in findings.load_cases.items()
        if own.torsion is not None
    )
    heat = HeatFindings(tuple(regions), stiffness)
    return replace(findings, heat=heat, sentences=(*findings.sentences, *heat_sentences(heat)))


def _region(findings: Findings, number: int, state: Service, area: np.ndarray, warm: Findings) -> WarmRegion:
    name, own = findings.regions[number], findings.element_region == number
    limit = float(state.limit[own].min())
    share = float(area[own & state.credited].sum() / area[own].sum())
    found = [(w, case) for case, each in warm.load_cases.items() if (w := each.regions[name].worst) is not None]
    worst, load_case = min(found, key=lambda pair: pair[0].margin, default=(None, None))
    return WarmRegion(
        name=name,
        celsius=float(state.celsius[own].max()),
        limit=None if np.isinf(limit) else limit,
        credited=1.0 if share > WHOLE else share,
        margin=None if worst is None else worst.margin,
        kind=None if worst is None else worst.kind,
        load_case=load_case,
    )


def heat_sentences(heat: HeatFindings) -> list[str]:
    """Stiffness in service, and the regions that are too hot, in words."""
    words = []
    for each in heat.stiffness:
        text = f"{each.load_case}, in service: {each.warm:.0f} N·m/deg, {100 * (each.warm / each.cold - 1):+.1f} %"
        if each.credited is not None:
            change = 100 * (each.credited / each.cold - 1)
            text += f"; without what is too hot to count: {each.credited:.0f}, {change:+.1f} %"
        words.append(text + ".")
    if heat.too_hot:
        names = ", ".join(
            f"{region.name} ({region.celsius:.0f} degC, limit {region.limit:.0f})" for region in heat.too_hot
        )
        words.append(f"Too hot to be credited: {names}. Post-cure, shield, or move the heat.")
    return words


def heat_doubts(findings: Findings) -> list[str]:
    """Regions that are too hot, or whose margin is negative once warm."""
    if findings.heat is None:
        return []
    found = [
        f"too hot to be credited: {region.name}, {region.celsius:.0f} degC, limit {region.limit:.0f} degC"
        for region in findings.heat.too_hot
    ]
    found += [
        f"negative margin in service: {region.name}, {region.margin:+.2f} {region.kind}, load case {region.load_case}"
        for region in findings.heat.regions
        if region.margin is not None and region.margin < 0
    ]
    return found
