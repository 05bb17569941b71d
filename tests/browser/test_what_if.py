"""Plies tried in the page: JavaScript against Python, and what a builder does with it, in a real browser."""

import json
from dataclasses import replace

import pytest
from case_texts import CASES

from tubfem.case.read import load_case
from tubfem.findings.margins import margin_rules
from tubfem.findings.mass import shell_mass
from tubfem.findings.strains import describe_elements
from tubfem.report import html, json_file
from tubfem.report.what_if import write_what_if
from tubfem.run import change_case, model_case, run_case
from tubfem.study.bracket import bracket
from tubfem.study.cost import laid_cost
from tubfem.study.hot import lowest_margin
from tubfem.study.reduced import galerkin
from tubfem.study.relaid import relaid
from tubfem.study.shrink import shrink
from tubfem.study.store import ready

PHONE = {"width": 390, "height": 844, "has_touch": True, "is_mobile": True}
CHANGED = (  # of the starter: laps over a tab, a bolted joint, a patch, prices, carbon
    ("size = 40", "size = 110"),
    ('"600 g/m^2" }', '"600 g/m^2", price = "13 EUR/m^2" }'),
    ('"2 x biax600", "foam80 15 mm"', '{ ply = "2 x biax600", laps = { tunnel = 60 } }, "foam80 15 mm"'),
    ('"rear_bulkhead/*" = "tab60"', '"rear_bulkhead/*" = "bolted"'),
    ("[joints]", 'bolted = { kind = "fastened", bolt = "M6", pitch = 50 }\n\n[joints]'),
    (
        "\n[cores]",
        'carbon = { fibre = "carbon, standard modulus", architecture = "plain", areal_weight = "200 g/m^2" }\n[cores]',
    ),
    ("[pickups]", '[patches]\nmiddle = { on = "floor", at = [700, 300], radius = 150, ply = "biax600" }\n\n[pickups]'),
)
SEVERAL = [
    (["floor=plain200"], []),
    (["tunnel=carbon@0*2:tool"], []),
    (["sill=carbon@45", "front_bulkhead=biax600*2:tool", "front_bulkhead=plain200"], []),
    (["joint:tab60=biax600*2", "floor=carbon"], []),
    (["joint:floor/tunnel.side=plain200"], []),
    (["patch:middle=carbon", "rear_bulkhead=biax600@0"], []),
    (["sill=carbon"], ["floor=biax600*3", "tunnel=biax600"]),  # the laps go with their plies
    ([], ["sill=plain200:tool"]),
]


@pytest.fixture(scope="module")
def tried(tmp_path_factory):
    """A run's page with the reduced model in it, and the same model in Python."""
    folder = tmp_path_factory.mktemp("tried")
    text = (CASES / "starter.toml").read_text()
    for old, new in CHANGED:
        assert old in text
        text = text.replace(old, new)
    (folder / "starter.toml").write_text(text)
    model, _, findings = run_case(load_case(folder / "starter.toml"))
    tub, _ = ready(model)
    write_what_if(folder, tub, findings.mass.total, version="0.0")
    contents = json_file.results(model, findings, {}, "0.0")
    html.write_report(folder / "report.html", model, contents, findings, beside=folder)
    found = json.loads((folder / "what_if.json").read_text())
    small = shrink(tub, 4.2e6)
    assert small.reduced.size == found["unknowns"]
    return folder / "report.html", small, findings


def edit(text, sign):
    """A change of the command line as the page has it."""
    target, _, rest = text.partition("=")
    rest, _, face = rest.partition(":")
    rest, _, count = rest.partition("*")
    ply, _, angle = rest.partition("@")
    turned = float(angle) * 3.141592653589793 / 180 if angle else None
    return {"target": target, "ply": ply, "angle": turned, "count": sign * int(count or 1), "face": face or "far"}


@pytest.mark.parametrize(("add", "drop"), SEVERAL)
def test_the_page_answers_as_python_does(tried, visit, add, drop):
    """1e-6 as asked: both have the same single-precision arrays, and what is left is the order of summing."""
    path, small, findings = tried
    one = visit(path)
    edits = [*(edit(text, 1) for text in add), *(edit(text, -1) for text in drop)]
    script = "edits => { const a = WHAT_IF.answer(edits); return { ...a, margins: [...a.margins] }; }"
    said = one.page.evaluate(script, edits)
    model, case = small.model, small.model.case
    changed = change_case(case, add=add, drop=drop)
    change = relaid(model, small.family, changed)
    change = {k: dC for k, dC in change.items() if small.family.groups[k].kind != "mount"}
    again = model_case(changed, base=case, mesh=model.mesh)
    low, high = bracket(small.reduced, change)
    assert said["low"] == pytest.approx(low, rel=1e-6)
    assert said["high"] == pytest.approx(high, rel=1e-6)
    hot = replace(small.hot, model=again, rules=margin_rules(again.layup, small.hot.allowables))
    margin, region, kind = lowest_margin(hot, galerkin(small.reduced, change), {})
    least = min(said["margins"], key=lambda row: row[1]["margin"])
    assert least[1]["margin"] == pytest.approx(margin, rel=1e-6)
    assert (least[0], least[1]["kind"]) == (region, kind)
    tabs = any(text.startswith("joint:") for text in add)
    if not tabs:  # tabs are not in the mass of the laminate
        laid = shell_mass(again.layup, describe_elements(again), again.folds).total - findings.mass.total
        assert said["mass"] == pytest.approx(laid, rel=1e-6)
        assert said["cost"]["EUR"] == pytest.approx(laid_cost(again).amounts["EUR"], rel=1e-6)
