"""Pictures and page drawn again from the JSON files of a folder are those of the run."""

import json

import pytest
import report_builders
from typer.testing import CliRunner

from tubfem import cli
from tubfem.errors import CaseError
from tubfem.report.drawing import FILE, read_drawing
from tubfem.report.files import write_results
from tubfem.report.next_ply_figure import best_places
from tubfem.report.redraw import redraw
from tubfem.report.study_files import write_study

RANKED = {
    "goal": "stiffness",
    "case": {"title": "Tub"},
    "base": {"stiffness_Nm_per_deg": 2000.0},
    "rows": [{"change": "floor=biax600", "no_gain": False, "gain_percent": 3.0, "gain_per_kg": None}],
}


@pytest.fixture
def run(tmp_path):
    """A folder as a run leaves it."""
    model, findings = report_builders.small_report(2)
    write_results(tmp_path / "out", model, findings, {"solve": 1.0}, version="0.0", changes=("--add floor=cloth",))
    return tmp_path / "out"


def test_everything_comes_out_the_same(run):
    before = {file.name: file.read_bytes() for file in run.iterdir()}
    drawn = [name for name in before if name.endswith((".png", ".html"))]
    for name in drawn:
        (run / name).unlink()
    assert sorted(redraw(run)) == sorted(drawn)
    assert {file.name: file.read_bytes() for file in run.iterdir()} == before


def test_a_study_beside_it_is_drawn_and_comes_into_the_page(run):
    (run / "next_ply.json").write_text(json.dumps(RANKED))
    assert "next_ply.png" in redraw(run)
    assert "Where the next ply gains most" in (run / "report.html").read_text()


def test_a_study_comes_into_the_page_of_the_run_beside_it(run):
    assert write_study(run, "next_ply", RANKED, best_places(RANKED)) == ("next_ply.json", "next_ply.png", "report.html")
    page = (run / "report.html").read_bytes()
    assert b"Where the next ply gains most" in page
    redraw(run)
    assert (run / "report.html").read_bytes() == page
    (run / FILE).write_text("{}")  # of another version: the page stays as it is
    assert write_study(run, "next_ply", RANKED | {"rows": []}, best_places(RANKED)) == ("next_ply.json", "next_ply.png")
    assert (run / "report.html").read_bytes() == page


def test_a_study_of_another_form_stays_out_of_the_page(run):
    """As an earlier version wrote it, without keys that the page reads: the run beside it is told all the same."""
    model, findings = report_builders.small_report(2)

    def page():
        write_results(run, model, findings, {"solve": 1.0}, version="0.0")
        return (run / "report.html").read_bytes()

    page()  # says what has changed since the run before
    alone = page()
    (run / "next_ply.json").write_text(json.dumps({"schema": 1, "rows": [{"change": "floor=biax600"}]}))
    (run / "spread.json").write_text("[]")
    assert page() == alone


def test_a_study_alone_is_drawn(tmp_path):
    (tmp_path / "next_ply.json").write_text(json.dumps(RANKED))
    assert redraw(tmp_path) == ("next_ply.png",)


def test_an_empty_folder_and_broken_files_are_told(run, tmp_path):
    done = CliRunner().invoke(cli.app, ["redraw", str(tmp_path / "nothing")])
    assert done.exit_code == 2
    assert "no results.json and no study in it" in done.stderr
    (run / "compare.json").write_text(json.dumps({"variants": [{}]}))
    with pytest.raises(CaseError, match=r"compare\.json: cannot be read by this version"):
        redraw(run)
    (run / "compare.json").write_text("{")
    with pytest.raises(CaseError, match=r"compare\.json: not JSON"):
        redraw(run)
    (run / "compare.json").unlink()
    (run / FILE).unlink()
    with pytest.raises(CaseError, match="not there"):
        redraw(run)


@pytest.mark.parametrize(
    "record",
    ["os:system", "tubfem.cli:app", "tubfem.nowhere:Thing", "tubfem.errors:CaseError", "tubfem.laminate.stack:Stack"],
)
def test_a_file_makes_nothing_but_records_of_tubfem(tmp_path, record):
    harm = {"record": record, "fields": {}}
    (tmp_path / FILE).write_text(json.dumps({"schema": 1, "objects": [harm], "model": 0, "findings": 0, "files": 0}))
    with pytest.raises(CaseError, match="cannot be read"):
        read_drawing(tmp_path / FILE)
