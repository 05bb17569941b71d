"""Ply criteria in the page: JavaScript against Python, each on a case that asks for it."""

import json
from dataclasses import replace

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose

from tubfem.case.read import load_case
from tubfem.findings.allowables import allowables
from tubfem.findings.at_once import tables_of
from tubfem.findings.average import Pairs
from tubfem.findings.criteria import CRITERIA, greatest, use_of_plies
from tubfem.findings.margins import PLY_KINDS, margin_rules
from tubfem.findings.sandwich import SHEAR
from tubfem.report import html, json_file
from tubfem.report.what_if import what_if
from tubfem.run import change_case, model_case, run_case
from tubfem.study.hot import lowest_margin
from tubfem.study.reduced import galerkin
from tubfem.study.relaid import relaid
from tubfem.study.shrink import shrink
from tubfem.study.store import ready

PLIES = """
uni = { fibre = "carbon, standard modulus", architecture = "unidirectional", areal_weight = "300 g/m^2" }
sheet = { E = "70 GPa", nu = 0.33, thickness = 0.5, density = "2700 kg/m^3" }
"""  # layers along one direction for Hashin, a sheet that is given no strength
CHANGED = (  # of the starter
    ("size = 40", "size = 150"),
    ("\n[cores]", f"{PLIES}\n[cores]"),
    ('"foam80 20 mm"', '"foam80 30 mm"'),
    ('"M10", radius = 50', '"M10", radius = 50, insert = { diameter = 60, material = "aluminium" }'),
    ('floor = ["plain200", "2 x biax600"', 'floor = ["plain200", "uni @ 30", "sheet", "2 x biax600"'),
)
ADDED = "tunnel=uni@20"
SCRIPT = """strains => {
  const w = PAGE.data.what_if;
  return w.stacks.map(([z, all]) => {
    const layers = all.filter(([ply]) => ply >= 0);
    const stack = LAMINATE.stack(layers.map((layer) => w.plies[layer[0]]), layers.map((layer) => layer[1]), z);
    return strains.map((strain) => {
      const found = {};
      USES.used(USES.rules(stack, w.rules), strain, found);
      return found;
    });
  });
}"""


@pytest.fixture(scope="module", params=CRITERIA)
def judged(request, tmp_path_factory, browser):
    """The tub in Python and its open page, by a criterion; reserves let plies govern, and the core beside an insert."""
    folder = tmp_path_factory.mktemp("judged")
    text = (CASES / "starter.toml").read_text()
    for old, new in CHANGED:
        assert old in text
        text = text.replace(old, new)
    factors = 'first_damage_factor = 60\nfibre_factor = 70\nrequired = { "core shear" = 120 }'
    (folder / "starter.toml").write_text(f'{text}\n[margins]\ncriterion = "{request.param}"\n{factors}\n')
    model, _, findings = run_case(load_case(folder / "starter.toml"))
    small = shrink(ready(model)[0], 6e5)
    (folder / "what_if.json").write_text(json.dumps(what_if(small, findings.mass.total, version="0.0")))
    contents = json_file.results(model, findings, {}, "0.0")
    html.write_report(folder / "report.html", model, contents, findings, beside=folder)
    page = browser.new_page()
    page.goto((folder / "report.html").as_uri())
    yield small, page
    page.close()


def test_uses_of_any_strain_are_python_s(judged):
    """Random strains of every size on every stack, both kinds of failure, either hand; 1e-9: the same formulas."""
    small, page = judged
    strains = np.random.default_rng(3).normal(size=(60, 8)) * 10.0 ** np.array([-3.0] * 3 + [-1.0] * 3 + [-3.0] * 2)
    said, factors = page.evaluate(SCRIPT, strains.tolist()), allowables(small.model.case.margins)
    checked = 0
    for stack, found in zip(small.model.layup.stacks, said, strict=True):
        for kind in PLY_KINDS:
            wanted = greatest(use_of_plies(stack, factors, kind), strains, both_hands=True)
            assert_allclose([each.get(kind, 0.0) for each in found], wanted, rtol=1e-9, atol=1e-12)
            checked += np.count_nonzero(wanted > 0.1)
    assert checked > 500


@pytest.mark.parametrize("add", [[], [ADDED]])
def test_margins_of_every_region_are_python_s(judged, add):
    """1e-6 as asked of the page; one region laid more in the second run."""
    small, page = judged
    edits = [{"target": "tunnel", "ply": "uni", "angle": np.radians(20), "count": 1, "face": "far"}] if add else []
    said = dict(page.evaluate("edits => [...WHAT_IF.answer(edits).margins]", edits))
    model, hot = small.model, small.hot
    changed = change_case(model.case, add=add)
    again = model_case(changed, base=model.case, mesh=model.mesh)
    change = relaid(model, small.family, changed)
    b = galerkin(small.reduced, {k: dC for k, dC in change.items() if small.family.groups[k].kind != "mount"})
    kinds = set()
    for number, region in enumerate(hot.elements.regions):
        here = hot.elements.region[hot.around.row] == number
        if not here.any():
            continue
        around = Pairs(hot.around.row[here], hot.around.column[here], hot.around.distance[here])
        rules = margin_rules(again.layup, hot.allowables)
        margin, _, kind = lowest_margin(
            replace(hot, model=again, rules=rules, tables=tables_of(rules), around=around), b, {}
        )
        assert said[region]["margin"] == pytest.approx(margin, rel=1e-6)
        assert said[region]["kind"] == kind
        kinds.add(kind)
    assert kinds & set(PLY_KINDS)
    assert said["front_bulkhead"]["kind"] == SHEAR
