"""The band of a run, taken from spread.json beside its results when both come from the same case text."""

import json

import pytest
from case_texts import CASES
from report_builders import small_report

from tubfem.case.digest import case_digest
from tubfem.case.read import load_case
from tubfem.findings.band import drawn_band, with_spread
from tubfem.report.spread_earlier import SCHEMA, read_spread

TEXT = """title = "two plates"
"""


def spread(stiffness):
    drivers = [
        {"cause": "joints", "first": 0.64, "total": 0.65},
        {"cause": "mesh", "first": 0.1, "total": 0.1},
        {"cause": "strength", "first": 2e-3, "total": -1e-3},
    ]
    causes = [
        {"key": "joints", "name": "stiffness of joints", "scatter": 0.45, "source": "practice"},
        {"key": "strength", "name": "strength", "scatter": 0.1, "source": "practice"},
        {"key": "mesh", "name": "mesh", "scatter": None, "source": "run"},
    ]
    mesh = {"low": 0.98, "high": 1.0, "words": "2 % too stiff"}
    found = {
        "low": 900.0,
        "middle": 1000.0,
        "high": 1100.0,
        "standard_deviation": 50.0,
        "mesh": mesh,
        "drivers": drivers,
    }
    base = {"stiffness_Nm_per_deg": stiffness}
    return {"load_case": "torsion", "base": base, "stiffness": found, "causes": causes, "evaluations": 1280}


def test_ends_are_the_quantiles_and_reasons_go_alone():
    """A driver with 64 % of a variance of 50²: 0.8 times 50 by itself, times 1.645 (90 % of a normal number)."""
    band = drawn_band(spread(1000.0))
    assert (band.low, band.high) == (900, 1100)
    joints, mesh = band.why
    assert joints.high_percent == -joints.low_percent == pytest.approx(1.645 * 0.8 * 50 / 1000 * 100)
    assert (mesh.low_percent, mesh.high_percent) == (pytest.approx(-2), 0)
    assert "1280 draws" in band.meaning


def test_only_the_stiffness_that_was_spread_gets_the_band():
    _, found = small_report()[:2]
    (name,) = (name for name, case in found.load_cases.items() if case.torsion is not None)
    stiffness = found.load_cases[name].torsion.pickup_to_pickup
    own = {**spread(stiffness), "load_case": name}
    assert with_spread(found, own).load_cases[name].torsion.band.low == 900
    assert with_spread(found, {**spread(1.01 * stiffness), "load_case": name}) is found
    assert with_spread(found, {**own, "load_case": "another"}) is found


def test_a_spread_of_another_text_is_not_read(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text((CASES / "starter.toml").read_text())
    case = load_case(path)
    assert read_spread(tmp_path, case) is None
    contents = {"schema": SCHEMA, "case": {"sha256": case_digest(case)}}
    (tmp_path / "spread.json").write_text(json.dumps(contents))
    assert read_spread(tmp_path, case) == contents
    path.write_text(path.read_text() + "\n# changed\n")
    assert read_spread(tmp_path, load_case(path)) is None
    (tmp_path / "spread.json").write_text("{broken")
    assert read_spread(tmp_path, case) is None
