"""Plies tried in the page: JavaScript against Python, and what a builder does with it, in a real browser."""

import json
import re
from dataclasses import replace

import pytest
from case_texts import CASES

from tubfem.case.read import load_case
from tubfem.findings.at_once import tables_of
from tubfem.findings.margins import margin_rules
from tubfem.findings.mass import whole_mass
from tubfem.findings.strains import describe_elements
from tubfem.report import html, json_file
from tubfem.report.what_if import what_if
from tubfem.run import change_case, model_case, run_case
from tubfem.study.bracket import bracket
from tubfem.study.cost import laid_cost
from tubfem.study.hot import lowest_margin
from tubfem.study.reduced import galerkin
from tubfem.study.relaid import relaid
from tubfem.study.shrink import shrink
from tubfem.study.store import ready

PHONE = {"width": 390, "height": 844, "has_touch": True, "is_mobile": True}
PATCHES = """
middle = { on = "floor", at = [700, 300], radius = 150, ply = "biax600" }
stepped = { on = "sill.top", from = "front", to = "rear", ply = ["2 x carbon @ 20", "plain200"], stagger = 60 }
twice = { on = "front_bulkhead", at = [70, 250], ply = ["plain200 @ 0", "carbon @ 30"], radius = 120, stagger = 15 }
"""  # the last lies over itself across the middle of the tub, and its left half turns the other way
CHANGED = (  # of the starter: laps over a tab, filler, a bolted joint, patches, prices, carbon
    ("sides = 1, fillet = 8 }", 'sides = 1, fillet = 8, filler = "epoxy with cotton flock" }'),
    ("size = 40", "size = 110"),
    ('"600 g/m^2" }', '"600 g/m^2", price = "13 EUR/m^2" }'),
    ('"2 x biax600", "foam80 15 mm"', '{ ply = "2 x biax600", laps = { tunnel = 60 } }, "foam80 15 mm"'),
    ('"rear_bulkhead/*" = "tab60"', '"rear_bulkhead/*" = "bolted"'),
    ("[joints]", 'bolted = { kind = "fastened", bolt = "M6", pitch = 50 }\n\n[joints]'),
    (
        "\n[cores]",
        'carbon = { fibre = "carbon, standard modulus", architecture = "plain", areal_weight = "200 g/m^2" }\n[cores]',
    ),
    ("[pickups]", f"[patches]{PATCHES}\n[pickups]"),
    ("at = [410, 330] }", 'at = [410, 330], patch = ["2 x plain200", "carbon @ 30"], patch_radius = [110, 90, 70] }'),
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
    (["patch:stepped=biax600*2", "patch:stepped=carbon@45"], []),
    (["patch:stepped=biax600"], ["patch:stepped=carbon"]),  # the plies behind it move one step out
    (["patch:twice=carbon@20*2", "front_bulkhead=carbon@10"], []),
    ([], ["patch:twice=plain200"]),
    (["patch:front_upper=carbon@30*2"], []),
    (["patch:front_upper=biax600*2"], ["patch:front_upper=plain200"]),
    (["floor=carbon:tool"], ["patch:front_upper=carbon", "patch:front_upper=plain200"]),
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
    small = shrink(tub, 6e5)
    (folder / "what_if.json").write_text(json.dumps(what_if(small, findings.mass.total, version="0.0")))
    contents = json_file.results(model, findings, {}, "0.0")
    html.write_report(folder / "report.html", model, contents, findings, beside=folder)
    return folder / "report.html", small, findings


def edit(text, sign):
    """A change of the command line as the page has it."""
    target, _, rest = text.partition("=")
    rest, _, face = rest.partition(":")
    rest, _, count = rest.partition("*")
    ply, _, angle = rest.partition("@")
    turned = float(angle) * 3.141592653589793 / 180 if angle else None
    return {"target": target, "ply": ply, "angle": turned, "count": sign * int(count or 1), "face": face or "far"}


@pytest.fixture(scope="module")
def said(tried, browser):
    """What the page answers to each of the changes."""
    page = browser.new_page()
    page.goto(tried[0].as_uri())
    edits = [[*(edit(text, 1) for text in add), *(edit(text, -1) for text in drop)] for add, drop in SEVERAL]
    script = "all => all.map(edits => { const a = WHAT_IF.answer(edits); return { ...a, margins: [...a.margins] }; })"
    answers = page.evaluate(script, edits)
    page.close()
    return answers


@pytest.mark.parametrize("number", range(len(SEVERAL)))
def test_the_page_answers_as_python_does(tried, said, number):
    """1e-6 as asked: both have the same single-precision arrays, and what is left is the order of summing."""
    _, small, findings = tried
    (add, drop), answer = SEVERAL[number], said[number]
    model, case = small.model, small.model.case
    changed = change_case(case, add=add, drop=drop)
    change = relaid(model, small.family, changed)
    change = {k: dC for k, dC in change.items() if small.family.groups[k].kind != "mount"}
    again = model_case(changed, base=case, mesh=model.mesh)
    low, high = bracket(small.reduced, change)
    assert answer["low"] == pytest.approx(low, rel=1e-6)
    assert answer["high"] == pytest.approx(high, rel=1e-6)
    rules = margin_rules(again.layup, small.hot.allowables)
    hot = replace(small.hot, model=again, rules=rules, tables=tables_of(rules))
    margin, region, kind = lowest_margin(hot, galerkin(small.reduced, change), {})
    least = min(answer["margins"], key=lambda row: row[1]["margin"])
    assert least[1]["margin"] == pytest.approx(margin, rel=1e-6)
    assert (least[0], least[1]["kind"]) == (region, kind)
    laid = whole_mass(again, describe_elements(again)).total - findings.mass.total
    assert answer["mass"] == pytest.approx(laid, rel=1e-6)
    assert answer["cost"]["EUR"] == pytest.approx(laid_cost(again).amounts["EUR"], rel=1e-6)


def test_a_builder_on_a_phone_tries_two_plies_and_finds_the_command(tried, visit):
    path, small, _ = tried
    one = visit(path, **PHONE)
    one.page.locator("nav").get_by_role("link", name="Try plies").tap()
    one.page.select_option("#try-where", "tunnel")
    one.page.select_option("#try-ply", "biax600")
    for _ in range(2):
        one.page.locator("#try-more").tap()
    command = f"tubfem run {small.model.case.path} --add 'tunnel=biax600*2'"
    assert one.text("#try-command") == command
    assert one.text("#try-case") == '[variants.tried] add = ["tunnel=biax600*2"]'
    stiffer = one.text("#try-stiffness")
    assert "+" in one.text("#try-short")
    one.page.select_option("#try-where", "floor")
    one.page.locator("#try-less").tap()
    assert one.text("#try-command") == f"{command} --drop 'floor=biax600'"
    one.page.locator("#try-undo").tap()
    assert one.text("#try-command") == command
    assert one.text("#try-stiffness") == stiffer
    one.page.get_by_role("button", name="one ply less: tunnel=biax600*2").tap()
    assert one.text("#try-command") == command.replace("*2", "")
    one.page.locator("#try-reset").tap()
    assert one.page.locator("#try-out").is_hidden()
    assert one.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_phone_walk_from_the_weakest_region_to_the_command(tried, visit):
    """Five taps: the weakest region, its plies, one ply, one more, copy; nothing but what is in sight is looked for."""
    path, small, _ = tried
    one = visit(path, **PHONE)
    in_sight = "e => { const r = e.getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; }"
    weakest = one.page.locator("#answer .weak a")
    name = weakest.inner_text()
    weakest.tap()
    one.page.wait_for_timeout(200)
    assert one.page.locator("#picked h3").evaluate(in_sight)
    one.page.get_by_role("link", name="Try plies here").tap()
    one.page.wait_for_timeout(200)
    assert one.page.locator("#try-where").input_value() == name
    assert one.page.locator("#try-more").evaluate(in_sight)
    for _ in range(2):
        one.page.locator("#try-more").tap()
    assert one.page.locator("#try-short").evaluate(in_sight)
    assert "lowest margin +" in one.text("#try-short")
    ply = one.page.locator("#try-ply").input_value()
    assert one.text("#try-command") == f"tubfem run {small.model.case.path} --add '{name}={ply}*2'"
    assert one.page.locator("#try-command").evaluate(in_sight)


def test_other_units_leave_none_of_the_old_ones(tried, visit):
    """Sentences, notes, sources and tables alike; what was typed and the record in base SI units stay as they are."""
    one = visit(tried[0])
    shown = """() => {
        for (const d of document.querySelectorAll('details')) d.open = true;
        for (const d of document.querySelectorAll('pre, code, .dense, script, style, select')) d.remove();
        return document.body.innerText;
    }"""
    one.page.get_by_role("button", name="lb · in").click()
    said = one.page.evaluate(shown)
    old = re.findall(
        r".{0,60}(?<![\w./-])\d[\d.]*\s(?:mm|cm²|m²|kg|g/m2|kg/m3|N|N/mm|N·m|MPa|GPa|m|l)(?![\w²/·]).{0,20}", said
    )
    assert old == []
    assert "lbf/in per in" in said
    assert "psi" not in said


def test_what_cannot_be_dropped_is_refused(tried, visit):
    one = visit(tried[0])
    one.page.select_option("#try-where", "sill")
    one.page.select_option("#try-ply", "carbon")
    one.page.locator("#try-less").click()
    assert "not so many" in one.text("#try-refused")
    assert one.page.locator("#try-out").is_hidden()
    one.page.select_option("#try-ply", "plain200")
    one.page.locator("#try-less").click()
    assert one.page.locator("#try-refused").is_hidden()


def test_a_builder_tries_the_patch_of_a_mount_and_a_stepped_one(tried, visit):
    path, small, _ = tried
    one = visit(path)
    one.page.select_option("#try-where", "patch:front_upper")
    one.page.select_option("#try-ply", "carbon")
    one.page.locator("#try-more").click()
    assert one.text("#try-command") == f"tubfem run {small.model.case.path} --add 'patch:front_upper=carbon'"
    assert "+" in one.text("#try-short")
    one.page.locator("#try-undo").click()
    assert one.page.locator("#try-out").is_hidden()
    one.page.select_option("#try-where", "patch:twice")
    for _ in range(5):  # steps of 15 mm leave room on 120 mm, but the page knows four more
        one.page.locator("#try-more").click()
    assert "no room for another ply" in one.text("#try-refused")
    assert one.text("#try-case") == '[variants.tried] add = ["patch:twice=carbon*4"]'
    one.page.locator("#try-less").click()
    assert one.page.locator("#try-refused").is_hidden()
    one.page.locator("#try-reset").click()
    assert one.page.locator("#try-out").is_hidden()


def test_picking_a_region_of_the_tub_chooses_it(tried, visit):
    one = visit(tried[0])
    one.page.select_option("#goto", label="front_bulkhead")
    assert one.page.locator("#try-where").input_value() == "front_bulkhead"
    one.page.get_by_role("button", name="lb · in").click()
    assert "lbf·ft/deg" in one.text("#try-stiffness")


def test_a_model_of_another_case_is_not_shown(tried, tmp_path, visit):
    path, small, findings = tried
    found = json.loads((path.parent / "what_if.json").read_text())
    found["case"]["changes"] = ["--add floor=biax600"]
    (tmp_path / "what_if.json").write_text(json.dumps(found))
    contents = json_file.results(small.model, findings, {}, "0.0")
    html.write_report(tmp_path / "report.html", small.model, contents, findings, beside=tmp_path)
    one = visit(tmp_path / "report.html")
    assert "--what-if" in one.text("#try")
    assert one.page.locator("#try-where").count() == 0
