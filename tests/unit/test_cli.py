"""The command: exit codes, messages without tracebacks, nothing written when it should not be."""

import json
import re
import subprocess
import sys
from io import StringIO

import case_texts
import pytest
from typer.testing import CliRunner

import tubfem
from tubfem import cli
from tubfem.cli.app import progress
from tubfem.errors import SolveError

BOX = {**case_texts.tables_of("closed_box"), "mesh": {"size": 100}}
PICTURES = {"regions.png", "twist-strain.png", "twist-margins.png", "twist-joints.png"}


def call(*arguments):
    return CliRunner().invoke(cli.app, [str(argument) for argument in arguments])


@pytest.fixture
def box(tmp_path):
    return written(BOX, tmp_path)


def written(tables, folder):
    path = folder / "box.toml"
    path.write_text(case_texts.toml_text(tables))
    return path


def test_help_and_version_come_without_heavy_imports():
    code = (
        "import sys; sys.argv = ['tubfem', '--help']\n"
        "from tubfem.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'gmsh', 'matplotlib', 'pydantic', 'pint', 'meshio'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert all(command in done.stdout for command in ("run", "look", "cloths", "schema"))
    assert call("--version").stdout == f"tubfem {tubfem.__version__}\n"


def test_run_ends_with_0_and_writes_everything(box, tmp_path):
    done = call("run", box, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    files = {path.name for path in (tmp_path / "out").iterdir()}
    tables = {"results.json", "drawing.json", "regions.csv", "joints.csv", "hard_points.csv", "fields.vtu"}
    assert files == {"report.html"} | tables | PICTURES
    results = json.loads((tmp_path / "out/results.json").read_text())
    # Bredt: 0.010719 rad, worked out in the case's own heading; 100 mm elements are coarse
    assert results["load_cases"]["twist"]["probes"]["front"]["displacement"][3] == pytest.approx(0.010719, rel=0.01)
    assert {"read", "geometry", "mesh", "layup", "model", "solve", "findings"} <= set(results["timings"])
    assert "licensed engineer" in done.stdout
    assert "mesh ...\n" in done.stderr


def test_a_negative_margin_ends_with_1_and_is_named(tmp_path):
    case = {**BOX["load_cases"]["twist"]}
    case["forces"] = [{"on": "rigid.front", "moment": ["100 kN*m", "0 N*m", "0 N*m"]}]
    done = call("run", written({**BOX, "load_cases": {"twist": case}}, tmp_path), "--out", tmp_path / "out")
    assert done.exit_code == 1
    assert "negative margin: box, -0." in done.stderr
    assert (tmp_path / "out/results.json").exists()


def test_changes_reach_the_model_and_the_report(box, tmp_path):
    for name, flags in (("plain", ()), ("more", ("--add", "box=tape@45*2"))):
        assert call("run", box, "--out", tmp_path / name, *flags).exit_code == 0
    plain, more = (json.loads((tmp_path / name / "results.json").read_text()) for name in ("plain", "more"))
    assert more["case"]["changes"] == ["--add box=tape@45*2"]
    # two plies of 0.25 mm on four: their middle runs 0.75 mm inside the meshed 200 x 100 ring, 8 x 0.75 mm shorter
    added = 0.5 * (1 - 8 * 0.75 / 600)
    assert more["mass"]["total"] == pytest.approx((1 + added) * plain["mass"]["total"], rel=1e-6)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("--add", "bix=tape"), "box"),
        (("--add", "box=tipe"), "tape"),
        (("--drop", "box=tape*9"), "tape"),
        (("--without", "box.tip"), "box.top"),
        (("--add", "nonsense"), "TARGET=PLY"),
    ],
)
def test_a_wrong_change_ends_with_2_and_the_nearest_spelling(change, says, box, tmp_path):
    done = call("run", box, "--out", tmp_path / "out", *change)
    assert done.exit_code == 2
    assert says in done.stderr
    assert "Traceback" not in done.output
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", ["run", "look"])
def test_wrong_input_ends_with_2_a_line_each_and_no_files(command, tmp_path):
    tables = {**BOX, "layups": {"box": ["tipe @ 45"]}, "mesh": {"size": -1}}
    done = call(command, written(tables, tmp_path), "--out", tmp_path / "out")
    assert done.exit_code == 2
    lines = [line for line in done.stderr.splitlines() if "box.toml:" in line]
    assert any("tipe" in line or "size" in line for line in lines)
    assert done.stdout == ""
    assert not (tmp_path / "out").exists()


def test_a_missing_file_ends_with_2(tmp_path):
    done = call("run", tmp_path / "none.toml")
    assert done.exit_code == 2
    assert "none.toml" in done.stderr
    assert "Traceback" not in done.output


def test_what_cannot_be_solved_ends_with_3_and_leaves_old_results(box, tmp_path, monkeypatch):
    assert call("run", box, "--out", tmp_path / "out").exit_code == 0
    before = (tmp_path / "out/results.json").read_bytes()

    def fail(*_, **__):
        raise SolveError(["load case twist: it floats", "what moves: box.top"])

    monkeypatch.setattr("tubfem.run.run_case", fail)
    done = call("run", box, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert done.stderr.splitlines()[-2:] == ["load case twist: it floats", "what moves: box.top"]
    assert (tmp_path / "out/results.json").read_bytes() == before


def test_a_folder_that_cannot_be_written_ends_with_2(box, tmp_path):
    (tmp_path / "file").write_text("")
    for command in ("run", "look", "refine", "next-ply", "spread"):
        done = call(command, box, "--out", tmp_path / "file" / "out")
        assert done.exit_code == 2
        (line,) = done.stderr.splitlines()  # before anything is worked out
        assert line.startswith(f"{tmp_path / 'file'} is a file, so that nothing can be written into ")


def test_look_draws_and_tells_without_solving(box, tmp_path, monkeypatch):
    monkeypatch.setattr("tubfem.shell.solve.solve_and_keep", lambda *_: pytest.fail("look must not solve"))
    done = call("look", box, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert "box: ring; closed in itself, cell of 200 cm²" in done.stdout
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"look.png", "look.html"}


def test_cloths(box):
    assert "e-glass" in call("cloths").stdout
    assert "73.1 GPa" in call("cloths", "e-glass").stdout
    assert "tape" in call("cloths", "--case", box).stdout
    assert "135 GPa" in call("cloths", "tape", "--case", box).stdout
    wrong = call("cloths", "e-glas")
    assert wrong.exit_code == 2
    assert 'nearest: "e-glass"' in wrong.stderr


def test_schema_is_json():
    assert json.loads(call("schema").stdout)["properties"]["panels"]


def test_public_names_are_there():
    assert all(hasattr(tubfem, name) for name in tubfem.__all__)
    assert set(tubfem.__all__) <= set(dir(tubfem))
    with pytest.raises(AttributeError, match="nothing"):
        _ = tubfem.nothing


def test_refine_ends_with_0_and_writes_its_files(box, tmp_path):
    result = call("refine", box, "--out", tmp_path / "out", "--sizes", "100,70,50")
    assert result.exit_code == 0, result.output
    assert "strain energy" in result.output
    assert {file.name for file in (tmp_path / "out").iterdir()} == {"refine.json", "refine.png"}


def test_a_wide_mesh_band_ends_with_1(box, tmp_path, monkeypatch):
    monkeypatch.setattr("tubfem.study.refine.LIMIT", -1.0)
    result = call("refine", box, "--out", tmp_path / "out", "--sizes", "100,70,50")
    assert result.exit_code == 1
    assert "band" in result.stderr
    monkeypatch.setattr("tubfem.findings.mesh_error.LIMIT", -1.0)
    result = call("run", box, "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert "too stiff on this mesh" in result.stderr


@pytest.mark.parametrize(("sizes", "says"), [("100,70", "2 given"), ("40,3O,20", "no list of millimetres")])
def test_sizes_that_cannot_be_used_end_with_2(sizes, says, box, tmp_path):
    result = call("refine", box, "--out", tmp_path / "out", "--sizes", sizes)
    assert result.exit_code == 2
    assert says in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("refine", "--jobs", "two"), "two is no whole number from 1 on"),
        (("compare", "--jobs", "0"), "0 is no whole number from 1 on"),
        (("spread", "--seed", "-1"), "-1 is no whole number from 0 on"),
        (("spread", "--samples", "1e2"), "1e2 is no whole number"),
        (("schedule", "--most", "0"), "0 is no whole number from 1 on"),
        (("schedule", "--stiffness", "3000 N*m"), "3000 N*m is no number; N·m/deg is meant"),
        (("schedule", "--stiffness", "-5"), "--stiffness: -5.0 N*m/deg is negative"),
        (("schedule", "--springs", "450,350,2"), "--springs keep: 2 is not a fraction"),
        (("schedule", "--stiffness", "9", "--least", "cost"), '--least: "cost" is not one of them; choose "mass"'),
        (("schedule", "--stiffness", "9", "--ply", "biax60"), "--ply: no ply biax60; nearest: biax600"),
        (("schedule", "--with", "biax600=-6 m"), "--with biax600=-6 m: '-6 m' is less than nothing"),
        (("schedule", "--with", "biax600=6 m"), 'roll_width = "1270 mm", or write an area, "5 m^2"'),
        (("next-ply", "--ply", "biax600@45"), "--ply biax600@45: write the ply's name alone, biax600"),
        (("next-ply", "--ply", "biax60"), "--ply biax60: no ply biax60; nearest: biax600"),
    ],
)
def test_wrong_wishes_of_studies_end_with_2(arguments, says, tmp_path):
    command, *flags = arguments
    done = call(command, case_texts.CASES / "starter.toml", "--out", tmp_path / "out", *flags)
    assert done.exit_code == 2
    assert says in done.stderr
    assert "mesh" not in done.stderr  # nothing was worked out before


@pytest.mark.parametrize("command", ["next-ply", "spread", "schedule"])
def test_a_case_without_a_torsion_ends_with_2_before_anything_is_worked_out(command, box):
    done = call(command, box, *(("--stiffness", "9") if command == "schedule" else ()))
    assert done.exit_code == 2
    told = r".*box\.toml:\d+: load_cases: none of them is a torsion; write torsion = .*\n"
    assert re.fullmatch(told, done.stderr)


def test_on_a_terminal_what_is_noted_stays_on_a_line_of_its_own(monkeypatch):
    class Screen(StringIO):
        def isatty(self):
            return True

    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", Screen())
    with progress() as tell:
        tell("mesh")
        tell.note("item [2]: its worker died")
        tell("solve")
        shown = sys.stderr.getvalue()
    lines = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", shown).replace("\r", "\n").splitlines()
    assert "item [2]: its worker died" in lines
