"""Tubes in tables and files: every tube once, both sides of a frame together on the terminal."""

import csv
import json
from types import SimpleNamespace

import numpy as np
import pytest
from rich.console import Console

from tubfem.findings.tube_results import FrameFindings, TubeFinding
from tubfem.report.csv_files import write_tubes
from tubfem.report.json_file import plain
from tubfem.report.tubes_files import TUBE_HEADINGS, frame_entries, tube_rows
from tubfem.report.tubes_table import frame_masses, print_tubes


def tube(label, margin, *, column=None, size="tube 25 x 2"):
    return TubeFinding(
        label=label,
        size=size,
        material="steel",
        length=0.5,
        mass=0.6,
        energy_share=0.01,
        normal=-900.0,
        torque=3.0,
        bending=12.0,
        shear=40.0,
        stress=2e7,
        allowable=1.5e8,
        strength_margin=margin,
        column=None if column is None else 900.0 * (1 + column),
        column_margin=column,
    )


FRAME = FrameFindings(
    "subframes.front", 1.8, 0.2, (tube("a-b.left", 0.4), tube("a-b.right", 0.2), tube("a across", 3.0, column=-0.1))
)
RIBS = [
    FrameFindings(f"stiffeners.rib.{side}", 0.3, 0.001, (tube("piece 1 of 1", margin, size="strip 30 x 3"),))
    for side, margin in (("left", float("inf")), ("right", 5.0))
]


CASE = SimpleNamespace(name="torsion", frames={frame.name: frame for frame in (FRAME, *RIBS)})
ALL = SimpleNamespace(load_cases={"torsion": CASE})


def test_the_terminal_shows_the_worse_side():
    console = Console(width=80, record=True, highlight=False)
    print_tubes(console, CASE)
    text = console.export_text()
    assert "+0.20" in text
    assert "+0.40" not in text
    assert text.index("a across") < text.index("a-b")  # -0.10 as a column comes first
    assert text.count("rib") == 1
    assert "strip 30 x 3" in text


def test_both_sides_weigh_together():
    masses = {"subframes.front": 1.8, "stiffeners.rib.left": 0.3, "stiffeners.rib.right": 0.3}
    assert frame_masses(masses) == "subframes.front 1.80 kg, stiffeners.rib 0.600 kg"


def test_entries_are_by_family_and_can_be_json():
    found = plain({family: frame_entries(CASE.frames, family) for family in ("subframes", "stiffeners")})
    assert set(found["subframes"]) == {"front"}
    assert set(found["stiffeners"]) == {"rib.left", "rib.right"}
    worst = found["subframes"]["front"]["worst"]
    assert (worst["tube"], worst["governs"], worst["margin"]) == ("a across", "column", -0.1)
    assert found["stiffeners"]["rib.left"]["tubes"][0]["strength_margin"] is None  # no limit
    json.dumps(found, allow_nan=False)


def test_the_csv_has_every_tube(tmp_path):
    write_tubes(tmp_path / "tubes.csv", ALL)
    with (tmp_path / "tubes.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(tube_rows(ALL)) == 5
    assert tuple(rows[0]) == TUBE_HEADINGS
    assert [row["tube"] for row in rows[:3]] == ["a-b.left", "a-b.right", "a across"]
    assert float(rows[2]["column_margin"]) == pytest.approx(-0.1)
    assert np.isclose(float(rows[0]["stress_Pa"]), 2e7)
