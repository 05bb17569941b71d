"""What is made of an opening's rim: margins, doublers, verdicts, words; openings that are not judged."""

import json
from dataclasses import replace

import pytest
from numpy.testing import assert_allclose
from open_plates import plate
from rich.console import Console

from tubfem.cli.app import doubts_of_run
from tubfem.findings.rims import opening_sentences
from tubfem.report.json_file import plain
from tubfem.report.openings_json import opening_entry
from tubfem.report.openings_table import print_openings
from tubfem.run import run_case

CLOTH = (
    'fibre = "e-glass", architecture = "plain", areal_weight = "600 g/m^2", process = "hand", '
    'resin = "epoxy, room-temperature cure"'
)


@pytest.fixture(scope="module")
def weak(tmp_path_factory):
    """A plate of four plies with a hole, pulled to three times what its rim bears."""
    case = plate(tmp_path_factory.mktemp("weak"), "circle = 80", CLOTH, plies=4, size=40, width=600, force=6e4)
    return run_case(case)


def test_both_criteria_and_kinds_lowest_first(weak):
    _, _, findings = weak
    opening = findings.load_cases["pull"].openings["plate.hole"]
    assert {(check.kind, check.criterion) for check in opening.checks} == {
        (kind, criterion)
        for kind in ("first damage", "fibre failure")
        for criterion in ("point stress", "average stress")
    }
    margins = [check.margin for check in opening.checks]
    assert margins == sorted(margins)
    assert opening.margin == margins[0] < 0
    for check in opening.checks:
        assert_allclose(check.demand / check.allowable, 1 / (1 + check.margin), rtol=1e-9)
        x, y, _ = check.position
        assert_allclose(((x - 0.3) ** 2 + (y - 0.3) ** 2) ** 0.5, 0.04, rtol=0.01)
        assert abs(y - 0.3) > 0.035  # beside the pull
    # the point nearer to the rim is worse than the mean: strains fall off
    by = {(check.kind, check.criterion): check.margin for check in opening.checks}
    assert by["fibre failure", "point stress"] < by["fibre failure", "average stress"]
    assert opening.strain_rim > 2.3 * opening.strain_round


def test_it_governs_and_is_told(weak):
    model, _, findings = weak
    case = findings.load_cases["pull"]
    opening = case.openings["plate.hole"]
    verdict = findings.verdicts[0]
    assert (verdict.region, verdict.kind, verdict.margin) == ("plate", "opening edge", opening.margin)
    assert verdict.raised is not None
    assert verdict.raised.margin > verdict.margin
    assert any("Opening plate.hole has a margin of -0.4" in text for text in findings.sentences)
    assert any("negative margin: opening plate.hole" in text for text in doubts_of_run(findings, model.mesh))
    entry = plain(opening_entry(opening))
    assert json.loads(json.dumps(entry))["checks"][0]["distance"] in (1.016e-3, 3.81e-3)
    console = Console(width=80, record=True)
    print_openings(console, case)
    assert "plate.hole" in console.export_text()


def test_a_doubler_does_no_less_in_the_tub_than_beside_the_rim(tmp_path):
    # a wide sheared plate a little too weak at its hole: what stands in the text is written into the case and run
    hole = "rectangle = [120, 100], corner_radius = 15"
    made = {"size": 40, "width": 900, "shear": True, "plies": 2, "force": 10.2e3}
    _, _, findings = run_case(plate(tmp_path, hole, CLOTH, **made))
    opening = findings.load_cases["pull"].openings["plate.hole"]
    assert -0.1 < opening.margin < 0
    assert opening.doubler.margin > opening.margin
    written = opening.doubler.text.removeprefix("[patches] ")
    _, _, findings = run_case(plate(tmp_path, hole, CLOTH, patch=written, **made))
    assert findings.load_cases["pull"].openings["plate.hole"].margin > opening.doubler.margin


def test_an_opening_that_bends_inwards_is_not_judged(tmp_path):
    arrow = "polygon = [[200, 200], [300, 240], [400, 200], [300, 400]]"
    _, _, findings = run_case(plate(tmp_path, arrow, CLOTH, plies=2, size=40, width=600))
    case = findings.load_cases["pull"]
    opening = case.openings["plate.hole"]
    assert (opening.checks, opening.margin, opening.doubler) == ((), None, None)
    assert "not judged" in opening.note
    assert opening_sentences(case) == ()
    assert opening_entry(opening)["margin"] is None
    console = Console(width=80, record=True)
    print_openings(console, replace(case, openings={"plate.hole": opening}))
    assert "not judged" in console.export_text()
