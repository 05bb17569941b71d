"""A refinement in its table, its file and its picture."""

import json
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from redrawn import assert_documented, assert_drawn_again
from report_builders import small_report
from rich.console import Console

from tubfem.findings.results import MeshSize
from tubfem.report.refine_table import print_refinement
from tubfem.report.refinement import refinement_contents, refinement_figure, write_refinement
from tubfem.study.convergence import converge
from tubfem.study.refine import STIFFNESS, USE, Quantity, Refinement, sized

SIZES = np.array([0.02, 0.025, 0.032, 0.04])


@pytest.fixture
def refinement():
    case = sized(small_report()[0].case, 0.032)
    quantities = (
        Quantity("torsion", STIFFNESS, None, converge(SIZES, 2000 + 4000 * SIZES)),
        Quantity("torsion", USE, "floor", converge(SIZES, 0.5 + SIZES**2), ("first damage",) * 4),
        Quantity("torsion", USE, "sill", converge(SIZES, np.array([0.4, 0.5, 0.3, 0.45])), ("first damage",) * 4),
    )
    meshes = tuple(MeshSize(100 * k, 90 * k, 600 * k, size) for k, size in zip((8, 5, 3, 2), SIZES, strict=True))
    return Refinement(case, meshes, 2, quantities, {"torsion": (0.01, 0.02, 0.03, 0.04)}, (4.0, 3.0, 2.0, 1.0), ("80",))


def printed(refinement):
    console = Console(record=True, width=100, file=StringIO())
    print_refinement(console, refinement)
    return console.export_text()


def test_the_table_says_order_limit_band_and_what_does_not_converge(refinement):
    text = printed(refinement)
    row = next(line for line in text.splitlines() if line.strip().startswith("stiffness"))
    # band on the own mesh of 32 mm: 1.25 * 128 / 2128
    assert row.split() == ["stiffness", "2080", "2100", "2130", "2160", "1.0", "2000", "7.5", "%", "4"]
    assert "32*" in text
    assert "* the case's own mesh" in text
    row = next(line for line in text.splitlines() if line.strip().startswith("floor"))
    # 0.5 + h²: 1 % of it at sqrt(0.005 / 1.25) = 63 mm, beyond the coarsest mesh
    assert row.split()[-2:] == [">", "40"]
    assert text.index("floor") < text.index("sill")  # the most used first
    row = next(line for line in text.splitlines() if line.strip().startswith("sill "))
    # 3 * (0.2 / 0.02) * 0.032 / 0.3 = 3.2: nothing is known of it, nor of a mesh that would do
    assert row.split()[-6:] == ["-", "-", ">", "100", "%", "-"]
    other = replace(refinement, case=sized(refinement.case, 0.03), own=0)
    assert "* the finest mesh (the case's own, 30 mm, is not among them)" in " ".join(printed(other).split())
    assert "sill: the lowest margin comes and goes" in text
    assert "1.0 %, 2.0 %, 3.0 %, 4.0 %" in text


def test_files(refinement, tmp_path):
    names = write_refinement(tmp_path, refinement, version="0")
    assert names == ("refine.json", "refine.png")
    assert_drawn_again(tmp_path, "refine")
    found = json.loads((tmp_path / "refine.json").read_text())
    assert [mesh["size"] for mesh in found["meshes"]] == SIZES.tolist()
    assert_documented("refine.json", found)
    stiffness, floor, sill = found["quantities"]
    assert stiffness["extrapolated"] == pytest.approx(2000.0)
    assert floor["order"] == pytest.approx(2.0, abs=1e-3)
    assert sill["extrapolated"] is None
    assert found["band"] == pytest.approx(0.0752, abs=1e-4)
    assert found["own"] == 2


def test_the_picture_draws_values_and_limit(refinement):
    left, right = refinement_figure(refinement_contents(refinement, "0")).axes
    fitted = left.lines[-1]
    assert fitted.get_xdata()[0] == 0.0
    assert fitted.get_ydata()[0] == pytest.approx(2000.0, rel=1e-6)
    assert fitted.get_ydata()[-1] == pytest.approx(2160.0, rel=1e-6)
    assert [line.get_label() for line in right.lines] == ["floor", "sill"]
