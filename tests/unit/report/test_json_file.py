"""results.json keeps its contract: keys are promises."""

import json
import math
from dataclasses import replace

import pytest
import report_builders

from tubfem.report.json_file import results, write_json

CONTRACT = {
    "": {"schema", "tubfem_version", "case", "mesh", "mass", "cautions", "load_cases", "timings"},
    "case": {"title", "path", "sha256"},
    "mesh": {"nodes", "elements", "freedoms", "size"},
    "mass": {"total", "centre_of_gravity", "regions", "frames", "joints"},
    "load_cases.torsion": {
        "kind",
        "torsion",
        "probes",
        "checks",
        "buckling",
        "regions",
        "joints",
        "hard_points",
        "twist_shares",
        "hot_spots",
    },
    "load_cases.torsion.torsion": {"torque", "twist_deg", "stiffness_Nm_per_deg", "stiffness", "band", "twist_curve"},
    "load_cases.torsion.torsion.stiffness": {"pickup_to_pickup", "between_stations", "hub_to_hub"},
    "load_cases.torsion.torsion.band": {"low", "high", "why"},
    "load_cases.torsion.regions.floor": {
        "mass",
        "strain_energy_share",
        "worst_first_damage",
        "worst_fibre",
        "worst_core",
        "worst",
    },
    "load_cases.torsion.regions.floor.worst": {
        "margin",
        "mode",
        "ply",
        "ply_index",
        "face",
        "position",
        "strain",
        "allowable",
        "sign",
    },
}
JOINT = {"kind", "length", "peak_shear_flow", "peak_peel", "peak_moment", "margin", "twist_share", "fixity", "strength"}
SPOT = {"position", "region", "joint", "strain_averaged", "strain_peak", "margin"}


@pytest.fixture(scope="module")
def written():
    model, findings = report_builders.small_report(3)
    return results(model, findings, {"mesh": 1.5}, "0.0", ("--add tunnel=biax600*2",))


@pytest.mark.parametrize("path", CONTRACT)
def test_keys_of_the_contract(path, written):
    table = written
    for key in path.split(".") if path else ():
        table = table[key]
    assert CONTRACT[path] <= set(table)


def test_joints_hot_spots_and_curve(written):
    load_case = written["load_cases"]["torsion"]
    assert all(set(joint) >= JOINT for joint in load_case["joints"].values())
    assert all(set(spot) >= SPOT for spot in load_case["hot_spots"])
    assert {"x", "twist_deg"} == set(load_case["torsion"]["twist_curve"][0])


def test_schema_is_an_integer_and_the_headline_is_pickup_to_pickup(written):
    torsion = written["load_cases"]["torsion"]["torsion"]
    assert type(written["schema"]) is int
    assert torsion["stiffness_Nm_per_deg"] == torsion["stiffness"]["pickup_to_pickup"] == 2425.123


def test_cautions_open_with_what_it_is_not(written):
    assert "licensed engineer" in written["cautions"][0]
    assert "crash" in written["cautions"][1]
    assert "Wet lay-up scatters: coupons win." in written["cautions"]


def test_changes_and_seconds_are_kept(written):
    assert written["case"]["changes"] == ["--add tunnel=biax600*2"]
    assert written["timings"] == {"mesh": 1.5}


def test_what_has_no_limit_is_null_and_the_file_is_strict_json(tmp_path):
    model, findings = report_builders.small_report(3)
    load_case = findings.load_cases["torsion"]
    endless = report_builders.worst("floor", math.inf)
    region = replace(load_case.regions["floor"], worst_fibre=endless)
    load_case = replace(load_case, regions={"floor": region})
    contents = results(model, replace(findings, load_cases={"torsion": load_case}), {}, "0.0")
    write_json(tmp_path / "r.json", contents)
    read = json.loads((tmp_path / "r.json").read_text(), parse_constant=lambda word: pytest.fail(word))
    assert read["load_cases"]["torsion"]["regions"]["floor"]["worst_fibre"]["margin"] is None


def test_a_list_of_numbers_is_one_line(tmp_path):
    contents = {"values": [1.5, 2, None], "rows": [{"x": 0.1, "names": ["a", "ü"]}], "none": [], "nothing": {}}
    write_json(tmp_path / "r.json", contents)
    text = (tmp_path / "r.json").read_text(encoding="utf-8")
    assert json.loads(text) == contents
    assert text.splitlines()[1] == ' "values": [1.5, 2, null],'
    assert '"ü"' in text
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_json(tmp_path / "r.json", {"values": [math.nan]})


def test_the_digest_is_that_of_the_file_and_what_it_includes(tmp_path):
    model, findings = report_builders.small_report(3)
    (tmp_path / "shelf.toml").write_text("b")
    path = tmp_path / "case.toml"
    path.write_text("a")
    case = model.case.model_copy(update={"path": str(path), "include": ("shelf.toml",)})
    digest = results(replace(model, case=case), findings, {}, "0.0")["case"]["sha256"]
    # sha256 of "ab"
    assert digest == "fb8e20fc2e4c3f248c60c39bd652f3c1347298bb977b8b4d5903b85055620603"


def test_the_hand_check_can_be_followed_wall_by_wall(written):
    check = written["load_cases"]["torsion"]["torsion"]["hand_check"]
    first, second = check["sections"]
    (cell,) = first["cells"]
    closed = [wall for wall in first["walls"] if wall["closed"]]
    assert set(cell["panels"]) == {wall["panel"] for wall in closed}
    assert {"length", "shear_stiffness", "twisting_stiffness"} < set(closed[0])
    assert second["cells"] == []
    assert check["ratio"] == pytest.approx(check["stiffness_Nm_per_deg"] / check["finite_element_Nm_per_deg"])
    assert check["openings"]
    assert check["reasons"]
    assert [place["twist_deg"] for place in check["twist_curve"]] == [0.0, 0.15, 0.35]


def test_the_mesh_band_is_kept(written):
    mesh = written["load_cases"]["torsion"]["mesh"]
    assert mesh["error"] < mesh["band"]
    assert sum(mesh["regions"].values()) == pytest.approx(mesh["error"])


def test_mass_of_joints_by_what_they_are_made_of(written):
    assert written["mass"]["joints"] == {"floor/sill": {"tabs": 0.412, "filler": 0.153, "adhesive": 0.0}}
