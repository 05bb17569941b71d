"""What stands in the page's answer and the order of its tables: the weakest parts, the joints that give."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.results import JointFindings
from tubfem.report import chart

WEAKEST, HINGES = 4, 4  # shown at most
SIDES = r"\.(left|right)(?=/|\.\d+$|$)"  # of the parts of a joint's name


@dataclass(frozen=True, slots=True)
class Weak:
    """The lowest margin of a part in the load case where it is lowest; `region` the weakest one of that load case."""

    part: str
    margin: float
    what: str
    load_case: str
    region: "Weak | None" = None


def weakest(cases: Mapping[str, Any]) -> list[Weak]:
    """The lowest margins of regions, joints, hard points and tubes in all load cases, lowest first."""
    lowest: dict[tuple[str, str], Weak] = {}
    for one in _parts(cases):
        lowest.setdefault((re.sub(SIDES, "", one.part), one.what), one)  # of both sides the worse
    return list(lowest.values())[:WEAKEST]


def weakest_regions(cases: Mapping[str, Any]) -> list[Weak]:
    """Regions by their margin, every load case, lowest first."""
    found = [
        Weak(name, region["worst"]["margin"], region["worst"]["mode"], load_case)
        for load_case, case in cases.items()
        for name, region in case["regions"].items()
        if region["worst"]
    ]
    return sorted(found, key=lambda one: one.margin)


def by_case(cases: Mapping[str, Any]) -> list[Weak]:
    """The lowest margin of every load case, lowest first."""
    regions: dict[str, Weak] = {}
    for one in weakest_regions(cases):
        regions.setdefault(one.load_case, one)
    found: dict[str, Weak] = {}
    for one in _parts(cases):
        found.setdefault(one.load_case, replace(one, region=regions.get(one.load_case)))
    return list(found.values())


def ripples(cases: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    """(load case, buckling) where it was asked for and anything ripples, lowest factor first."""
    found = [(name, case["buckling"]) for name, case in cases.items() if case["buckling"]]
    return sorted((row for row in found if row[1]["factor"] is not None), key=lambda row: row[1]["factor"])


def giving(cases: Mapping[str, Any]) -> tuple[str, list[tuple[str, str, float]]]:
    """The first load case that twists the tub, or the first of all, and the joints that give way most in it."""
    name = next((name for name, case in cases.items() if case["torsion"]), next(iter(cases)))
    return name, hinges(cases[name]["joints"])


def _parts(cases: Mapping[str, Any]) -> list[Weak]:
    """Regions, joints, hard points and tubes of all load cases that have a margin, lowest first."""
    found = weakest_regions(cases)
    for load_case, case in cases.items():
        for kind, table in (("joint", case["joints"]), ("hard point", case.get("hard_points", {}))):
            found += [Weak(n, one["margin"], kind, load_case) for n, one in table.items() if one["margin"] is not None]
        for family, kind in (("subframes", "tube"), ("stiffeners", "stiffener")):
            for name, frame in case.get(family, {}).items():
                worst = frame["worst"]
                if worst["margin"] is not None:
                    what = f"{kind}, {worst['governs']}"
                    found.append(Weak(f"{name} {worst['tube']}", worst["margin"], what, load_case))
    return sorted(found, key=lambda one: one.margin)


def hinges(joints: Mapping[str, Any]) -> list[tuple[str, str, float]]:
    """Joints whose springs hold most strain energy, left and right together: (name, kind, share)."""
    shares: dict[tuple[str, str], float] = {}
    for name, found in joints.items():
        key = re.sub(SIDES, "", name), found["kind"]
        shares[key] = shares.get(key, 0.0) + (found["twist_share"] or 0.0)
    rows = sorted(((*key, share) for key, share in shares.items() if share > 0), key=lambda row: -row[2])
    return rows[:HINGES]


def by_share(joints: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Joints by the strain energy in their springs, most first, then the moulded ones."""
    return sorted(joints.items(), key=lambda row: -1.0 if row[1]["twist_share"] is None else row[1]["twist_share"])[
        ::-1
    ]


@dataclass(frozen=True, eq=False, slots=True)
class Flow:
    """Shear flow (m,) [N/m] along a joint against the way (m,) [m], and where it is greatest."""

    name: str
    joint: JointFindings
    way: Floats
    flow: Floats

    @property
    def most(self) -> int:
        """Index of the greatest, of either sign."""
        return int(np.abs(self.flow).argmax())


def flows(joints: Mapping[str, JointFindings]) -> list[Flow]:
    """Joints on springs that have a curve, greatest shear flow first."""
    rows = []
    for name, joint in joints.items():
        if joint.kind != "continuous" and len(joint.shear_flow) > 1:
            order = chart.in_line(joint.position)
            rows.append(Flow(name, joint, chart.way(joint.position[order]), joint.shear_flow[order]))
    return sorted(rows, key=lambda row: -abs(row.flow[row.most]))
