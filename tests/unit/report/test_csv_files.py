import csv
from dataclasses import replace

import numpy as np
import report_builders

from tubfem.findings.joint_results import HardPoint, HardPointCheck
from tubfem.report.csv_files import (
    HARD_POINT_HEADINGS,
    JOINT_HEADINGS,
    REGION_HEADINGS,
    write_hard_points,
    write_joints,
    write_regions,
)


def rows_of(path):
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_regions(tmp_path):
    _, findings = report_builders.small_report(3)
    write_regions(tmp_path / "regions.csv", findings)
    rows = rows_of(tmp_path / "regions.csv")
    assert [row["region"] for row in rows] == list(findings.regions)
    assert tuple(rows[0]) == REGION_HEADINGS
    assert float(rows[0]["first_damage_margin"]) == 0.42
    assert rows[0]["core_ply"] == "foam80"
    assert rows[1]["core_margin"] == ""


def test_joints(tmp_path):
    _, findings = report_builders.small_report(3)
    write_joints(tmp_path / "joints.csv", findings)
    rows = rows_of(tmp_path / "joints.csv")
    assert tuple(rows[0]) == JOINT_HEADINGS
    assert len(rows) == len(findings.load_cases["torsion"].joints)
    assert {row["peak_peel_N_per_m"] for row in rows if row["kind"] == "continuous"} == {""}
    assert {row["peak_peel_N_per_m"] for row in rows if row["kind"] == "tabbed"} == {"321"}


def test_hard_points(tmp_path):
    _, findings = report_builders.small_report(3)
    check = HardPointCheck("bearing", 20e6, 50e6, "Pa", "from memory")
    point = HardPoint("low.right", "floor", np.zeros(6), 400.0, -300.0, 5.0, 0.01, 0.05, "M10", (check,), "pull it")
    load_case = replace(findings.load_cases["torsion"], hard_points={"low.right": point})
    write_hard_points(tmp_path / "hard_points.csv", report_builders.with_load_case(findings, load_case))
    (row,) = rows_of(tmp_path / "hard_points.csv")
    assert tuple(row) == HARD_POINT_HEADINGS
    assert (row["check"], row["margin"], row["unit"], row["pull_test"]) == ("bearing", "1.5", "Pa", "pull it")
