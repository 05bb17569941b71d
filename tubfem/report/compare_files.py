"""compare.json: every variant's stiffness, mass, cost and margins against the first case."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tubfem.findings.results import LoadCaseFindings, Worst
from tubfem.report.compare_figures import overlaid_twist
from tubfem.report.json_file import plain
from tubfem.report.study_files import write_study
from tubfem.study.compare import Compared, gain_per_price

SCHEMA = 1


def write_comparison(out: Path, compared: Sequence[Compared], *, version: str) -> tuple[str, ...]:
    """Write compare.json and compare.png into `out`, both or neither; returns their names."""
    found = comparison(compared, version)
    return write_study(out, "compare", found, overlaid_twist(found))


def comparison(compared: Sequence[Compared], version: str) -> dict[str, Any]:
    """The comparison ready for JSON: SI units, stiffness in N·m/deg where the key says."""
    base = compared[0]
    return plain(
        {
            "schema": SCHEMA,
            "tubfem_version": version,
            "case": {"title": base.variant.case.title, "path": base.variant.case.path},
            "variants": [_variant(base, each) for each in compared],
        }
    )


def _variant(base: Compared, each: Compared) -> dict[str, Any]:
    by_case = {gain.load_case: gain for gain in each.gains}
    found = {}
    for name, load_case in each.findings.load_cases.items():
        gain = by_case.get(name)
        found[name] = _load_case(load_case) | {
            "gain_Nm_per_deg": None if gain is None else gain.gain_Nm_per_deg,
            "gain_percent": None if gain is None else gain.gain_percent,
            "gain_per_kg": None if gain is None else gain.gain_per_kg,
            "gain_per_price": None if gain is None else gain_per_price(base, each, gain),
        }
    return {
        "name": each.variant.name,
        "changes": each.variant.changes,
        "path": each.variant.case.path,
        "own_mesh": each.own_mesh,
        "mass": each.findings.mass.total,
        "cost": each.cost.amounts,
        "unpriced": each.cost.unpriced,
        "load_cases": found,
    }


def _load_case(load_case: LoadCaseFindings) -> dict[str, Any]:
    torsion = load_case.torsion
    curve = [] if torsion is None else zip(torsion.x.tolist(), torsion.curve_deg.tolist(), strict=True)
    return {
        "stiffness_Nm_per_deg": None if torsion is None else torsion.stiffness_Nm_per_deg,
        "torque": None if torsion is None else torsion.torque,
        "twist_curve": [{"x": x, "twist_deg": twist} for x, twist in curve],
        "worst": _worst(lowest(load_case)),
        "regions": {name: _worst(region.worst) for name, region in load_case.regions.items()},
    }


def lowest(load_case: LoadCaseFindings) -> Worst | None:
    """The lowest margin of all regions."""
    found = [region.worst for region in load_case.regions.values() if region.worst is not None]
    return min(found, key=lambda worst: worst.margin, default=None)


def _worst(worst: Worst | None) -> dict[str, Any] | None:
    if worst is None:
        return None
    names = ("margin", "kind", "mode", "ply", "region", "position")
    return {name: getattr(worst, name) for name in names}
