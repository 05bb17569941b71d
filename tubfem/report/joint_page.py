"""What the page's part on joints and hard points asks of results.json."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from tubfem.report.joints_table import SIDES


def judged(joints: Mapping[str, Any]) -> list[tuple[str, Any, str]]:
    """(name, joint, what its margin is in), lowest margin first, of both sides the worse."""
    rows = [(n, j) for n, j in joints.items() if j["strength"] is not None and j["margin"] is not None]
    lowest: dict[str, tuple[str, Any, str]] = {}
    for name, joint in sorted(rows, key=lambda row: row[1]["margin"]):
        margins = {kind: margin for kind, margin in joint["strength"]["margins"].items() if margin is not None}
        lowest.setdefault(re.sub(SIDES, "", name), (name, joint, min(margins, key=margins.get)))
    return list(lowest.values())


def main_axis(connection: Mapping[str, Any]) -> int:
    """The axis (0 to 2) that a connection is turned about most."""
    return max(range(3), key=lambda k: abs(connection["moment"][k]))


def pull_tests(points: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """(why, mounts) of which a sample has to be pulled, left and right together."""
    found: dict[str, dict[str, None]] = {}
    for name, point in points.items():
        if point["pull_test"]:
            found.setdefault(point["pull_test"], {})[re.sub(SIDES, "", name)] = None
    return [(why, list(names)) for why, names in found.items()]


def twist_parts(shares: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, float]]:
    """(kind, part, share), left and right together, largest first."""
    total: dict[tuple[str, str], float] = {}
    for one in shares:
        key = one["kind"], re.sub(SIDES, "", one["name"])
        total[key] = total.get(key, 0.0) + one["share"]
    return sorted(((*key, share) for key, share in total.items()), key=lambda row: -row[2])
