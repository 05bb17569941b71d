"""Where a core ends: the skin's force square to the edge, crest or foot, and lines that are no edge of a core."""

import json

import numpy as np
import pytest
from numpy.testing import assert_allclose
from rich.console import Console

from tubfem.case.read import load_case
from tubfem.findings.core_edges import core_edge_sentences
from tubfem.laminate.adhesive import kink_peel
from tubfem.report.core_edges_files import core_edge_entry
from tubfem.report.json_file import plain
from tubfem.report.openings_table import print_core_edges
from tubfem.run import run_case

SKIN, WIDTH, FORCE = 1e-3, 0.4, 40e3  # m, m, N


def strip(folder, pull, *, second='["skin", "skin"]', joint='{ kind = "continuous" }', more=""):
    """A flat strip in two panels, 0.5 m each, the first a sandwich; all its edges are kept in the plane."""
    path = folder / "strip.toml"
    path.write_text(f"""
        [mesh]
        size = 25
        [defaults]
        {more}
        [points]
        A = [0, 0, 0]
        B = [500, 0, 0]
        C = [1000, 0, 0]
        D = [1000, 400, 0]
        E = [500, 400, 0]
        F = [0, 400, 0]
        [panels.cored]
        outline = ["A", "B", "E", "F"]
        tool = "down"
        measured = "middle"
        [panels.other]
        outline = ["B", "C", "D", "E"]
        tool = "down"
        measured = "middle"
        [plies]
        skin = {{ E = "50 GPa", nu = 0, thickness = 1, density = "1600 kg/m^3" }}
        [cores]
        foam = {{ material = "PVC foam", density = "80 kg/m^3" }}
        [layups]
        cored = ["skin", "foam 10 mm", "skin"]
        other = {second}
        [joint_kinds]
        seam = {joint}
        [joints]
        "cored/other" = "seam"
        [load_cases.pull]
        kind = "static"
        supports = [
          {{ on = ["A-B", "B-C", "C-D", "D-E", "E-F", "F-A"], fix = "z" }},
          {{ on = "A", fix = ["x", "y"] }}, {{ on = "C", fix = "y" }},
        ]
        forces = [
          {{ on = "C-D", force = ["{pull} N", 0, 0] }}, {{ on = "F-A", force = ["{-pull} N", 0, 0] }},
        ]
    """)
    return load_case(path)


def edges(case):
    return run_case(case)[2].load_cases["pull"].core_edges


def test_the_layer_gives_back_the_load():
    # the pressure under a line load is peak e^-bx (cos bx + sin bx), both ways; its sum is the load (closed form)
    load, D, k = 500.0, 4.0, 7.5e9
    b = (k / (4 * D)) ** 0.25
    x = np.linspace(0, 20 / b, 200001)
    peak = kink_peel(load, D, k)
    assert_allclose(2 * np.trapezoid(peak * np.exp(-b * x) * (np.cos(b * x) + np.sin(b * x)), x), load, rtol=1e-6)


@pytest.mark.parametrize(("sign", "where"), [(-1, "crest, off the core"), (1, "foot, off the laminate")])
def test_a_pressed_skin_lifts_at_the_crest_a_pulled_one_at_the_foot(tmp_path, sign, where):
    (edge,) = edges(strip(tmp_path, sign * FORCE)).values()
    assert (edge.joint, edge.region, edge.where) == ("cored/other", "cored", where)
    assert abs(edge.position[0] - 0.5) < 1e-9
    # half of the force in either skin; the foam takes 0.7 %
    assert_allclose(edge.force, sign * FORCE / WIDTH / 2, rtol=0.03)
    D = 50e9 * SKIN**3 / 12
    layer, strength, factor = (75e6 / 0.01, 1.4e6 * 0.8, 2.0) if sign < 0 else (2.8 * 1.1e9 / 0.2e-3, 10e6, 1.5)
    demand = 0.5 * (layer / (4 * D)) ** 0.25 * abs(edge.force) * 0.5  # sin 30 degrees
    assert_allclose([edge.demand, edge.allowable], [demand, strength / factor], rtol=1e-9)
    assert_allclose(edge.margin, edge.allowable / edge.demand - 1, rtol=1e-12)


def test_a_flatter_chamfer_peels_less_and_is_told(tmp_path):
    steep = edges(strip(tmp_path, -4 * FORCE, more="chamfer = 90"))["cored/other"]
    flat = edges(strip(tmp_path, -4 * FORCE, more="chamfer = 10"))["cored/other"]
    assert_allclose(flat.demand / steep.demand, np.sin(np.radians(10)), rtol=1e-9)
    assert steep.test_needed
    (text,) = core_edge_sentences({"cored/other": steep})
    assert "Test needed" in text
    assert "cored/other" in text
    assert core_edge_sentences({}) == ()


def test_it_stands_beside_the_margins(tmp_path):
    findings = run_case(strip(tmp_path, -4 * FORCE, more="chamfer = 90"))[2]
    case = findings.load_cases["pull"]
    assert case.core_edges["cored/other"].margin < min(verdict.margin for verdict in findings.verdicts)
    entry = json.loads(json.dumps(plain(core_edge_entry(case.core_edges["cored/other"]))))
    assert entry["weak_estimate"]
    assert entry["test_needed"]
    console = Console(width=80, record=True)
    print_core_edges(console, case)
    assert "test needed" in console.export_text().replace("\n", " ")


@pytest.mark.parametrize(
    "what",
    [
        {"second": '["skin", "foam 10 mm", "skin"]'},  # the core goes on
        {"joint": '{ kind = "tabbed", tab = ["skin"], width = 50 }'},  # a joint, judged as one
    ],
)
def test_no_edge_of_a_core(tmp_path, what):
    assert edges(strip(tmp_path, FORCE, **what)) == {}
