"""`schedule` from a case to its files: the starter case on a coarse mesh."""

import json
import tomllib

import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from redrawn import assert_documented, assert_drawn_again
from typer.testing import CliRunner

from tubfem import cli
from tubfem.case.asking import with_asked
from tubfem.case.planning import Schedule
from tubfem.case.read import load_case
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.run import change_case, run_case
from tubfem.study.options import cloth_left, region_texts, single_texts
from tubfem.study.schedule import schedule

TEXT = (
    (CASES / "starter.toml")
    .read_text()
    .replace("size = 40", "size = 110")
    .replace('"600 g/m^2" }', '"600 g/m^2", price = "13 EUR/m^2", roll_width = "1.27 m" }')
)
PATCH = '[patches]\nseat = { on = "floor", at = [1100, 0], radius = 250, ply = "biax600" }\n\n'


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("schedule") / "starter.toml"
    path.write_text(TEXT)
    return path


def invoke(path, out, *words):
    return CliRunner().invoke(cli.app, ["schedule", str(path), "--out", str(out), *words])


@pytest.fixture(scope="module")
def done(path, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    return out, invoke(path, out, "--stiffness", "2200", "--ply", "biax600", "--most", "2")


def test_a_target_is_reached_and_what_is_pasted_reaches_it_too(path, done):
    out, result = done
    assert result.exit_code == 0, result.output
    found = json.loads((out / "schedule.json").read_text())
    assert {"schedule.json", "schedule.png", "reduced.npz"} == {file.name for file in out.iterdir()}
    assert_drawn_again(out, "schedule")
    assert_documented("schedule.json", found)
    assert found["reached"]
    assert found["stiffness_Nm_per_deg"] >= 2200 * (1 - 1e-4)
    assert 0.8 * found["worth"] < found["bound"] <= found["worth"] * (1 + 1e-6)
    assert_allclose(found["worth"], found["mass_added"], rtol=0.05)  # corners are not in it
    assert found["worst_margin"] >= 0
    case = load_case(path)
    _, _, findings = run_case(change_case(case, add=found["add"]), base=case)
    assert_allclose(findings.load_cases["torsion"].torsion.pickup_to_pickup, found["stiffness_Nm_per_deg"], rtol=1e-9)
    assert_allclose(findings.mass.total, found["base"]["mass"] + found["mass_added"], rtol=1e-9)
    pasted = result.stdout[result.stdout.index("[variants.scheduled]") :]
    pasted = pasted[: pasted.index("]\n", pasted.index("add =")) + 2]
    assert tomllib.loads(pasted)["variants"]["scheduled"]["add"] == found["add"]


def test_what_cannot_be_reached_says_what_holds_it(path, done):
    """The reduced model is there already, so this is quick; the blocks are those with the most twist left."""
    out, _ = done
    result = invoke(path, out, "--stiffness", "9000", "--ply", "biax600", "--most", "1")
    assert result.exit_code == 1
    assert "9000 N·m/deg is out of reach" in " ".join(result.stdout.split())
    assert "not reached" in result.stderr
    found = json.loads((out / "schedule.json").read_text())
    assert not found["reached"]
    shares = [block["twist_share"] for block in found["blocks"]]
    assert shares == sorted(shares, reverse=True)
    assert 0.5 < sum(shares) <= 1.001
    assert any(block["at_most_plies"] for block in found["blocks"])
    assert all(block["stiffness_if_ten_times_as_stiff"] > found["stiffness_Nm_per_deg"] for block in found["blocks"])


def test_so_many_metres_and_where(path, done):
    out, _ = done
    result = invoke(path, out, "--with", "biax600=3 m")
    assert result.exit_code == 0, result.output
    found = json.loads((out / "schedule.json").read_text())
    assert found["cloth"]["biax600"] * 1.15 <= 3 * 1.27 * (1 + 1e-9)
    assert set(found["cloth"]) == {"biax600"}
    assert found["stiffness_Nm_per_deg"] > 1.05 * found["base"]["stiffness_Nm_per_deg"]
    assert found["bound"] < 1.003 * found["stiffness_Nm_per_deg"]
    assert_allclose(found["price"], 13 * found["cloth"]["biax600"])


def test_a_tub_that_is_too_stiff_loses_plies(path, done, tmp_path):
    """What is left out is as --drop takes it, reaches the target with the same numbers, and is the same in processes.

    Without plies fewer the answer is the tub as it is, and every number of the file is one.
    """
    out, _ = done
    base = json.loads((out / "schedule.json").read_text())["base"]
    target = f"{0.93 * base['stiffness_Nm_per_deg']:.1f}"
    words = ("--stiffness", target, "--ply", "biax600", "--most", "1")
    result = invoke(path, out, *words)
    assert result.exit_code == 0, result.output
    text = (out / "schedule.json").read_text()
    assert "Infinity" not in text
    assert "NaN" not in text
    found = json.loads(text)
    assert_drawn_again(out, "schedule")
    assert_documented("schedule.json", found)
    assert found["reached"]
    assert found["drop"]
    assert found["mass_added"] < -0.5
    assert found["bound"] <= found["worth"] + 1e-6
    assert found["worst_margin"] >= 0
    assert found["weaker"] == {}
    case = load_case(path)
    _, _, findings = run_case(change_case(case, add=found["add"], drop=found["drop"]), base=case)
    assert_allclose(findings.load_cases["torsion"].torsion.pickup_to_pickup, found["stiffness_Nm_per_deg"], rtol=1e-9)
    assert_allclose(findings.mass.total, base["mass"] + found["mass_added"], rtol=1e-9)
    pasted = result.stdout[result.stdout.index("[variants.scheduled]") :]
    pasted = pasted[: pasted.index("]\n", pasted.index("drop =")) + 2]
    assert tomllib.loads(pasted)["variants"]["scheduled"]["drop"] == found["drop"]
    assert "Feet, seats, belts, jacks" in " ".join(result.stdout.split())
    more = invoke(path, tmp_path, *words, "--jobs", "2")
    assert more.exit_code == 0, more.output
    again = json.loads((tmp_path / "schedule.json").read_text())
    assert (again["add"], again["drop"]) == (found["add"], found["drop"])
    assert_allclose(again["stiffness_Nm_per_deg"], found["stiffness_Nm_per_deg"], rtol=1e-9)
    assert not (tmp_path / "finished").exists()
    kept = invoke(path, out, *words, "--fewer", "0")
    assert kept.exit_code == 0, kept.output
    whole = json.loads((out / "schedule.json").read_text())
    assert whole["add"] == whole["drop"] == []
    assert whole["bound"] == whole["mass_added"] == 0


def test_nothing_asked_or_no_price_is_told(path):
    case = load_case(path)
    with pytest.raises(CaseError, match="what for"):
        schedule(case)
    with pytest.raises(CaseError, match="plain200"):
        schedule(with_asked(case, (), {"stiffness": "2000 N*m/deg", "least": "price"}))
    with pytest.raises(CaseError, match="how wide"):
        cloth_left(with_asked(load_case(CASES / "starter.toml"), ["plain200=2 m"], {}), Schedule())


def test_prices_in_two_currencies_are_not_added_up(tmp_path):
    path = tmp_path / "both.toml"
    path.write_text(TEXT.replace('"200 g/m^2" }', '"200 g/m^2", price = "4 USD/m^2" }'))
    wanted = {"stiffness": "2000 N*m/deg", "least": "price", "candidates": "biax600"}  # the other may be left out
    with pytest.raises(CaseError, match="EUR and USD"):
        schedule(with_asked(load_case(path), (), wanted))


def test_choices_of_a_region(path):
    """One candidate up to two plies: three choices; under the covering; on both faces; limits by region."""
    case = load_case(path)

    def choices(region, **wanted):
        return list(region_texts(case, Schedule.model_validate({"candidates": "biax600", "most": 2, **wanted}), region))

    assert choices("floor") == [(), ("floor=biax600",), ("floor=biax600*2",)]
    assert choices("floor", covering="plain200")[1] == ("floor=biax600:under",)
    assert choices("tunnel", covering="plain200")[1] == ("tunnel=biax600",)  # its covering is on the tool face
    assert choices("floor", symmetric=True) == [(), ("floor=biax600", "floor=biax600:tool")]
    both = choices("floor", symmetric=True, covering="plain200")
    assert both[1] == ("floor=biax600:under", "floor=biax600:over")
    assert choices("floor", regions={"floor": {"min": 1}}) == [("floor=biax600",), ("floor=biax600*2",)]
    assert choices("floor", regions={"floor": 0}) == [()]
    assert len(choices("floor", candidates=["biax600", "plain200"])) == 6
    with pytest.raises(CaseError, match="choices"):
        choices("floor", candidates=["biax600", "plain200", "biax600@0", "plain200:tool"], most=9)
    with pytest.raises(CaseError, match="symmetric"):
        choices("floor", symmetric=True, regions={"floor": {"min": 2, "max": 3}}, candidates="biax600:core")


def test_choices_of_a_tab_and_of_a_patch(path):
    """One candidate at a time, the faces that they have, and no more steps than find room: 120 mm takes three of 40."""
    case = load_case(path)
    patch = {"on": "floor", "at": [900, 0], "radius": 120, "stagger": 40, "ply": "biax600"}
    case = case.model_copy(update={"patches": Case.model_validate({"patches": {"seat": patch}}).patches})

    def choices(place, **wanted):
        return list(single_texts(case, Schedule.model_validate({"candidates": "biax600", "most": 3, **wanted}), place))

    tab = "joint:floor/tunnel.side"
    assert choices(tab, most=2) == [(), (f"{tab}=biax600",), (f"{tab}=biax600*2",)]
    assert choices(tab, candidates=["plain200@45", "biax600:tool"], most=1) == [(), (f"{tab}=plain200@45",)]
    assert choices(tab, regions={tab: {"min": 2}}) == [(f"{tab}=biax600*2",), (f"{tab}=biax600*3",)]
    assert choices("patch:seat") == [(), ("patch:seat=biax600",), ("patch:seat=biax600*2",)]
    with pytest.raises(CaseError, match="patch:seat: at least 4"):
        choices("patch:seat", regions={"patch:seat": {"min": 4, "max": 5}})


def test_tabs_and_patches_come_into_files_and_table(tmp_path):
    """Regions are to stay as they are, so that the tabs and the patch must do it; a joint that is not there is told."""
    text = TEXT.replace("[joint_kinds]", PATCH + "[joint_kinds]", 1)
    names = list(load_case(CASES / "starter.toml").layups)
    kept = "".join(f"regions.{name} = 0\n" for name in names)
    path, out = tmp_path / "starter.toml", tmp_path / "out"
    limits = f'candidates = "biax600"\n{kept}regions."joint:floor/tunnel.side" = {{ min = 1 }}\n'
    path.write_text(f"{text}\n[schedule]\n{limits}")
    base = run_case(load_case(path))[2].load_cases["torsion"].torsion.pickup_to_pickup
    result = invoke(path, out, "--stiffness", f"{1.002 * base:.1f}")
    assert result.exit_code == 0, result.output
    found = json.loads((out / "schedule.json").read_text())
    assert_drawn_again(out, "schedule")
    assert_documented("schedule.json", found)
    assert found["reached"]
    assert "joint:floor/tunnel.side" in found["regions"]
    assert not set(names) & set(found["regions"])
    laid = {each["region"]: (each["plies_before"], each["plies"]) for each in found["laid"]}
    assert laid["joint:floor/tunnel.side"] == (1, 1 + found["regions"]["joint:floor/tunnel.side"])
    case = load_case(path)
    _, _, findings = run_case(change_case(case, add=found["add"]), base=case)
    assert_allclose(findings.load_cases["torsion"].torsion.pickup_to_pickup, found["stiffness_Nm_per_deg"], rtol=1e-9)
    assert "joint:floor/tunnel.side" in result.stdout
    path.write_text(path.read_text().replace('"joint:floor/tunnel.side"', '"joint:floor/sill"'))
    wrong = invoke(path, out, "--stiffness", f"{1.002 * base:.1f}")
    assert wrong.exit_code == 2
    assert 'no joint "floor/sill" with a tab' in " ".join(wrong.stderr.split())
