import csv

import report_builders

from tubfem.report.csv_files import JOINT_HEADINGS, REGION_HEADINGS, write_joints, write_regions


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
