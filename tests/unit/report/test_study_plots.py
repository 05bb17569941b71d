"""What the page draws of the studies beside it."""

import json

import pytest
import report_builders

from tubfem.report import html, json_file
from tubfem.report.study_plots import plots

CURVE = [{"x": 0.0, "twist_deg": 0.0}, {"x": 1.4, "twist_deg": 0.4}]


def variant(name, torque):
    found = {
        "torque": torque,
        "twist_curve": CURVE,
        "stiffness_Nm_per_deg": 2500.0,
        "gain_percent": 4.0,
        "gain_per_kg": 80.0,
        "worst": {"margin": 0.5, "ply": "sill 1a cloth"},
        "others": {"joint floor/sill": -0.1, "joint a/b": 0.3, "hard point bolt": 0.2},
    }
    nothing = dict.fromkeys(found) | {"twist_curve": [], "others": {}}
    return {"name": name, "mass": 30.0, "cost": {"EUR": 90.0}, "load_cases": {"torsion": found, "gravity": nothing}}


def weakest(margin, place):
    return {"worst_margin": margin, "worst_place": place}


STUDIES = {
    "compare": {"variants": [variant("base", 1000.0), variant("<b>thick</b>", 2000.0)]},
    "next_ply": {
        "goal": "stiffness",
        "base": {"worst_margin": 0.25, "worst_place": "joint floor/sill"},
        "rows": [
            {"change": "floor=biax600", "no_gain": False, "gain_percent": 4.0, **weakest(1.0, "tail")},
            {"change": "sill=biax600", "no_gain": False, "gain_percent": 1.0, **weakest(-0.5, "joint floor/sill")},
            {"change": "tail=biax600", "no_gain": True, "gain_percent": 0.0, **weakest(None, "")},
        ],
    },
    "refine": {
        "meshes": [{"size": 0.02}, {"size": 0.04}],
        "quantities": [
            {"what": "stiffness", "load_case": "torsion", "values": [2100.0, 2200.0], "extrapolated": 2000.0}
        ],
    },
    "schedule": {
        "laid": [
            {"region": "tunnel", "plies_before": 2, "plies": 3, "lay": "biax600"},
            {"region": "floor", "plies_before": 2, "plies": 4, "lay": "biax600*2:under"},
        ]
    },
    "spread": {
        "base": {"stiffness_Nm_per_deg": 2000.0},
        "stiffness": {
            "drivers": [{"name": "fibre content", "total": 0.2}, {"name": "tabs", "total": 0.7}],
            "values": [1510.0, 1550.0, 1710.0, 1810.0, 2310.0, 2490.0],
            "low": 1523.0,
            "high": 2400.0,
        },
        "regions": {
            "sill": {"margin": {"low": 3.0, "middle": 4.0, "high": 5.0}},
            "floor": {"margin": {"low": -0.2, "middle": 0.5, "high": 1.0}},
        },
        "joints": {"floor/sill": {"margin": {"low": 1.0, "middle": 2.0, "high": 3.0}}},
    },
}


def test_curves_are_under_one_torque():
    table, drawn, less, gravity = plots("compare", STUDIES["compare"])
    assert (table.title, gravity.title) == ("Load case torsion", "Load case gravity")
    margins = 0.5, "sill 1a cloth", -0.1, "floor/sill", 0.2, "bolt"
    assert table.cells[1] == ("<b>thick</b>", 2500.0, 4.0, 30.0, 80.0, "90.0 EUR", *margins)
    assert gravity.keys == ("variant", "mass", "cost")
    base, thick = drawn.drawing.curves
    rise = [curve.marks[0][1] - curve.marks[-1][1] for curve in (base, thick)]
    assert rise[1] == pytest.approx(0.5 * rise[0], abs=0.1)  # half the twist at half the torque; a tenth of a pixel
    assert drawn.names[0] == "base: 2500 N·m/deg"
    base, thick = less.drawing.curves
    assert base.marks[0][1] == base.marks[-1][1]
    assert thick.marks[-1][1] < thick.marks[0][1] == base.marks[0][1]  # up the page: less twist


def test_bars_are_shares_of_the_best():
    (drawn,) = plots("next_ply", STUDIES["next_ply"])
    assert drawn.rows == (("floor=biax600", 1.0, "+4.00 %"), ("sill=biax600", 0.25, "+1.00 %"))


def test_the_lowest_margin_is_drawn_where_it_was_asked_for():
    (drawn,) = plots("next_ply", {**STUDIES["next_ply"], "goal": "margin"})
    assert drawn.rows == (("floor=biax600", 0.5, "+1.00 tail"), ("sill=biax600", 1.0, "-0.50 joint floor/sill"))
    assert drawn.words == "Now +0.25, joint floor/sill."


def test_a_spread_tells_its_band_where_tubs_lie_and_the_lowest_margins():
    tubs, drivers, margins, joints = plots("spread", STUDIES["spread"])
    assert tubs.words.startswith("1520 to 2400 N·m/deg holds nine tubs of ten")
    assert [row[0] for row in tubs.rows] == [f"{low} to {low + 100} N·m/deg" for low in range(1500, 2500, 100)]
    assert [row[1] for row in tubs.rows] == [1.0, 0.0, 0.5, 0.5, 0.0, 0.0, 0.0, 0.0, 0.5, 0.5]
    assert tubs.rows[0][2] == "33 %"
    assert [row[0] for row in drivers.rows] == ["tabs", "fibre content"]
    assert joints.rows == (("floor/sill", 0.5, "+1.00, middle +2.00"),)
    assert len(plots("spread", {**STUDIES["spread"], "joints": {}})) == 3
    assert margins.rows == (("floor", 1.0, "-0.20, middle +0.50"), ("sill", 0.25, "+3.00, middle +4.00"))


def test_plies_stand_on_those_that_were_there():
    (drawn,) = plots("schedule", STUDIES["schedule"])
    assert drawn.rows == (("floor", 1.0, "2 + 2: biax600*2:under"), ("tunnel", 0.75, "2 + 1: biax600"))
    assert drawn.before == (0.5, 0.5)
    assert plots("schedule", {"laid": []}) == []


def test_meshes_lead_to_size_nought():
    (drawn,) = plots("refine", STUDIES["refine"])
    (limit, finest, coarse) = (mark[1] for mark in drawn.drawing.curves[0].marks)
    assert limit - finest == pytest.approx(finest - coarse, abs=0.2)  # 100 N·m/deg less and more; pixels
    assert drawn.names == ("finest: 2100 N·m/deg; at size nought: 2000 N·m/deg",)


def test_a_file_of_another_version_draws_nothing():
    assert plots("next_ply", {"rows": [{"change": "floor"}]}) == []
    assert plots("schedule", {}) == []


def test_all_come_into_the_page_as_text(tmp_path):
    model, findings = report_builders.small_report(2)
    for name, found in STUDIES.items():
        (tmp_path / f"{name}.json").write_text(json.dumps(found))
    contents = json_file.results(model, findings, {}, "0.0")
    html.write_report(tmp_path / "page.html", model, contents, findings, beside=tmp_path)
    text = (tmp_path / "page.html").read_text()
    assert "Twist, load case torsion" in text
    assert "<td>joint floor/sill</td>" in text
    assert "<td>-0.10</td>" in text
    assert "What drives the stiffness" in text
    assert "Plies of every place that gets more" in text
    assert 'aria-label="2 + 2: biax600*2:under"' in text
    assert '<rect class="was" x="0" y="2" width="50.0" height="6"/>' in text
    assert "&lt;b&gt;thick" in text
    assert "<b>thick" not in text
