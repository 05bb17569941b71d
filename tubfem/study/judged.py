"""Everything that a run in full judges of a tub, by load case and place: what a change elsewhere must not spoil."""

import math
from collections.abc import Iterable

from tubfem.findings.gain import other_margins
from tubfem.findings.results import Findings
from tubfem.study.weakest import JOINT, joints_of
from tubfem.tub.model import TubModel, plain_joint

ONE = {"hard points": "hard point ", "tubes": "tube ", "openings": "opening "}
IN_SERVICE = "in service"  # in place of a load case
SAME = 1e-3  # of a margin: so much lower is no lower

Judged = dict[str, dict[str, float]]  # load case -> place -> margin


def judged(findings: Findings) -> Judged:
    """Margins of regions, joints, hard points, tubes, openings and buckling of every load case, and of the warm tub.

    A region goes by its name alone, a joint by that of both its sides; what nothing loads is left out.
    """
    found: Judged = {}
    for name, load_case in findings.load_cases.items():
        own = {region: each.worst.margin for region, each in load_case.regions.items() if each.worst is not None}
        others = other_margins(load_case)
        own |= {JOINT + joint: margin for joint, (margin, _) in joints_of(load_case).items()}
        own |= {word + each: margin for what, word in ONE.items() for each, margin in others[what].items()}
        first = None if load_case.buckling is None else load_case.buckling.first
        if first is not None:
            own["buckling"] = first.margin
        found[name] = {place: margin for place, margin in own.items() if math.isfinite(margin)}
    if findings.heat is not None:
        warm = {region.name: region.margin for region in findings.heat.regions}
        found[IN_SERVICE] = {name: margin for name, margin in warm.items() if margin is not None}
    return found


def followed(found: Judged, load_case: str) -> dict[str, float]:
    """Margins of the regions and joints of one load case, which are those that the search follows."""
    words = (*ONE.values(), "buckling")
    return {place: margin for place, margin in found[load_case].items() if not place.startswith(words)}


def weaker(before: Judged, now: Judged, load_case: str) -> dict[str, float]:
    """What is negative now and was higher before, regions and joints of the load case itself left out."""
    found = {}
    for name, margins in now.items():
        own = followed(now, name) if name == load_case else {}
        for place, margin in margins.items():
            then = before.get(name, {}).get(place, math.inf)
            if place not in own and margin < 0 and margin < then - SAME:
                found[f"{place}, {name if name == IN_SERVICE else f'load case {name}'}"] = margin
    return found


def regions_at(model: TubModel, places: Iterable[str]) -> set[str]:
    """Regions that places, as `weaker` names them, are on: their own, and those of a joint, hard point or opening."""
    panels: dict[str, str] = {plain_joint(panel.name): panel.region for panel in model.mesh.panels}
    for name, mount in model.case.mounts.items():
        panels[name] = panels.get(mount.on, mount.on)
    found: set[str] = set()
    for text in places:
        place = plain_joint(text.partition(", ")[0])
        for word in (JOINT, *ONE.values()):
            place = place.removeprefix(word)
        for part in place.split("/"):
            owner = max((name for name in panels if part == name or part.startswith(f"{name}.")), key=len, default=part)
            found.add(panels.get(owner, owner))
    return found
