"""regions.csv, joints.csv, hard_points.csv, tubes.csv: a line for each in every load case, SI units in the headings."""

import csv
from pathlib import Path

from tubfem.findings.results import Findings, JointFindings, Verdict, Worst
from tubfem.report.tubes_files import TUBE_HEADINGS, tube_rows

REGION_HEADINGS = (
    "load_case",
    "region",
    "mass_kg",
    "area_m2",
    "strain_energy_share",
    *(
        f"{kind}_{field}"
        for kind in ("first_damage", "fibre", "core", "interlaminar")
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
    "fixity",
    "width_m",
    "width_needed_m",
    "mean_shear_Pa",
    "peak_shear_Pa",
    "peak_peel_Pa",
    "ply_use",
    "bolt_shear_N",
    "bolt_pull_N",
    "margin_bond_shear",
    "margin_bond_shear_peak",
    "margin_tab_plies",
    "margin_bolt_bearing",
    "margin_bolt_pull_through",
    "margin_peel",
)
KINDS = ("bond shear", "bond shear, peak", "tab plies", "bolt bearing", "bolt pull-through")
HARD_POINT_HEADINGS = (
    "load_case",
    "mount",
    "panel",
    "construction",
    "shear_N",
    "axial_N",
    "tipping_Nm",
    "hole_m",
    "edge_m",
    "check",
    "demand",
    "allowable",
    "unit",
    "margin",
    "source",
    "pull_test",
)


def write_tubes(path: Path, findings: Findings) -> None:
    """Loads, stress and margins of every tube and stiffener by load case."""
    _write(path, TUBE_HEADINGS, tube_rows(findings))


def write_regions(path: Path, findings: Findings) -> None:
    """Mass, energy share and lowest margins of every region by load case; behind them, what governs it over all."""
    rows = []
    governing = {verdict.region: _verdict(verdict) for verdict in findings.verdicts}
    for load_case in findings.load_cases.values():
        for region in load_case.regions.values():
            worst = (region.worst_first_damage, region.worst_fibre, region.worst_core, region.worst_interlaminar)
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
            *_strength(joint),
        )
        for load_case in findings.load_cases.values()
        for joint in load_case.joints.values()
    ]
    _write(path, JOINT_HEADINGS, rows)


def write_hard_points(path: Path, findings: Findings) -> None:
    """Every check of every mount in every load case, lowest margin of a mount first."""
    rows = []
    for load_case in findings.load_cases.values():
        for point in load_case.hard_points.values():
            start = (load_case.name, point.name, point.panel, point.construction, point.shear, point.axial)
            start = (*start, point.tipping, point.diameter, point.edge)
            for check in point.checks:
                judged = (check.what, check.demand, check.allowable, check.unit, check.margin, check.source)
                rows.append((*start, *judged, point.pull_test))
    _write(path, HARD_POINT_HEADINGS, rows)


def _strength(joint: JointFindings) -> tuple[object, ...]:
    """From fixity on; empty where there is nothing of the kind."""
    fixity = None if joint.fixity is None else joint.fixity.share
    strength = joint.strength
    if strength is None:
        return (fixity, *(None,) * 14)
    bonds = (strength.width, strength.width_needed, strength.mean_shear, strength.peak_shear, strength.peak_peel)
    bolts = (strength.ply_use, strength.bolt_shear, strength.bolt_pull)
    return (fixity, *bonds, *bolts, *(strength.margins.get(kind) for kind in KINDS), strength.peel)


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
