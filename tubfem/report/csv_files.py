"""regions.csv and joints.csv: one line a load case and region or joint, SI units named in the headings."""

import csv
from pathlib import Path

from tubfem.findings.results import Findings, Verdict, Worst

REGION_HEADINGS = (
    "load_case",
    "region",
    "mass_kg",
    "area_m2",
    "strain_energy_share",
    *(
        f"{kind}_{field}"
        for kind in ("first_damage", "fibre", "core")
        for field in ("margin", "mode", "ply", "face", "sign", "x_m", "y_m", "z_m", "demand", "allowable", "unit")
    ),
    *("governing_margin", "governing_kind", "governing_mode", "governing_load_case", "raised_by", "raised_margin"),
)
JOINT_HEADINGS = (
    "load_case",
    "joint",
    "kind",
    "length_m",
    "peak_shear_flow_N_per_m",
    "peak_normal_N_per_m",
    "peak_peel_N_per_m",
    "peak_moment_N",
    "margin",
    "energy_share",
)


def write_regions(path: Path, findings: Findings) -> None:
    """Mass, energy share and lowest margins of every region by load case; behind them, what governs it over all."""
    rows = []
    governing = {verdict.region: _verdict(verdict) for verdict in findings.verdicts}
    for load_case in findings.load_cases.values():
        for region in load_case.regions.values():
            worst = (region.worst_first_damage, region.worst_fibre, region.worst_core)
            start = (load_case.name, region.name, region.mass, region.area, region.strain_energy_share)
            row = (*start, *(value for one in worst for value in _worst(one)))
            rows.append((*row, *governing.get(region.name, (None,) * 6)))
    _write(path, REGION_HEADINGS, rows)


def write_joints(path: Path, findings: Findings) -> None:
    """Length and peak line loads of every joint in every load case; empty where a moulded line has no such load."""
    rows = [
        (
            load_case.name,
            joint.name,
            joint.kind,
            joint.length,
            joint.peak_shear_flow,
            joint.peak_normal,
            joint.peak_peel,
            joint.peak_moment,
            joint.margin,
            joint.twist_share,
        )
        for load_case in findings.load_cases.values()
        for joint in load_case.joints.values()
    ]
    _write(path, JOINT_HEADINGS, rows)


def _verdict(verdict: Verdict) -> tuple[object, ...]:
    raised = verdict.raised
    own = (verdict.margin, verdict.kind, verdict.mode, verdict.load_case)
    return (*own, None, None) if raised is None else (*own, raised.change, raised.margin)


def _worst(worst: Worst | None) -> tuple[object, ...]:
    if worst is None:
        return (None,) * 11
    return (
        worst.margin,
        worst.mode,
        worst.ply,
        worst.face,
        worst.sign,
        *worst.position,
        worst.demand,
        worst.allowable,
        worst.unit,
    )


def _write(path: Path, headings: tuple[str, ...], rows: list[tuple[object, ...]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        writer.writerows(tuple(f"{v:.7g}" if isinstance(v, float) else v for v in row) for row in rows)
