"""compare.json: every variant's stiffness, mass, cost and margins against the first case."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tubfem.report.compare_figures import overlaid_twist
from tubfem.report.json_file import plain
from tubfem.report.schemas import SCHEMAS
from tubfem.report.study_files import write_study
from tubfem.study.compare import Compared, Lowest, Told, gain_per_price


def write_comparison(out: Path, compared: Sequence[Compared], *, version: str) -> tuple[str, ...]:
    """Write compare.json and compare.png into `out`, both or neither; returns their names."""
    found = comparison(compared, version)
    return write_study(out, "compare", found, overlaid_twist(found))


def comparison(compared: Sequence[Compared], version: str) -> dict[str, Any]:
    """The comparison ready for JSON: SI units, stiffness in N·m/deg where the key says."""
    base = compared[0]
    return plain(
        {
            "schema": SCHEMAS["compare"],
            "tubfem_version": version,
            "case": {"title": base.variant.case.title, "path": base.variant.case.path},
            "variants": [_variant(base, each) for each in compared],
        }
    )


def _variant(base: Compared, each: Compared) -> dict[str, Any]:
    by_case = {gain.load_case: gain for gain in each.gains}
    found = {}
    for name, load_case in each.load_cases.items():
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
        "mass": each.mass,
        "cost": each.cost.amounts,
        "unpriced": list(each.cost.unpriced),
        "load_cases": found,
    }


def _load_case(told: Told) -> dict[str, Any]:
    other = told.lowest_other
    curve = zip(told.x, told.twist_deg, strict=True)
    return {
        "stiffness_Nm_per_deg": told.stiffness,
        "torque": told.torque,
        "twist_curve": [{"x": x, "twist_deg": twist} for x, twist in curve],
        "worst": _worst(told.lowest),
        "worst_other": None if other is None else {"margin": other[0], "name": other[1]},
        "regions": {name: _worst(worst) for name, worst in told.regions.items()},
        "others": told.others,
    }


def _worst(worst: Lowest | None) -> dict[str, Any] | None:
    if worst is None:
        return None
    names = ("margin", "kind", "mode", "ply", "region", "position")
    return {name: getattr(worst, name) for name in names}
