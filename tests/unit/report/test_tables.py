"""What a run says on the terminal: order, units, width, honest digits."""

import io
import re
from dataclasses import replace

import pytest
import report_builders
from rich.console import Console

from tubfem.materials.catalogue import catalogue, describe
from tubfem.materials.library import resin
from tubfem.report.tables import print_catalogue, print_ending, print_findings, print_look, print_sheet


def said(printer, *arguments, width=80):
    console = Console(file=io.StringIO(), width=width, highlight=False)
    printer(console, *arguments)
    return console.file.getvalue()


@pytest.fixture(scope="module")
def report():
    return report_builders.small_report(2)


@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_terminal(report, width):
    text = said(print_findings, *report, ("--add tunnel=biax600*2",), width=width)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width


def test_cautions_come_before_any_number(report):
    text = said(print_findings, *report)
    assert text.index("licensed engineer") < text.index("certifies no crash") < text.index("N·m/deg")
    assert "local codes prevail" in text


def test_the_answer_has_band_and_three_digits(report):
    text = said(print_findings, *report)
    assert "2430 N·m/deg  between pickups; band 2290 to 2560" in text
    assert "2710 N·m/deg read on the tub itself, x = 50 to 1400 mm" in text
    assert "2425" not in text
    assert re.search(r"dash\s+seat_back\s+500 to 1000\s+0.200\s+0.400\s+█+ softest", text)


def test_margins_have_ply_face_place_and_hand(report):
    text = " ".join(said(print_findings, *report, width=200).split())
    assert "floor 2a biax600 +45, far side; floor.right at 712, 451, 2 mm; torque -" in text
    assert "first damage, matrix tension; 0.123 % of 0.235 %" in text


def test_a_negative_margin_is_seen_without_colour():
    text = said(print_findings, *report_builders.small_report(2, margin=-0.21))
    assert "-0.21" in text


def test_joints_of_both_sides_are_one_line(report):
    text = said(print_findings, *report, width=160)
    line = next(line for line in text.splitlines() if "floor/tunnel.side (fastened)" in line)
    assert "1.00" in line  # two lines of half a metre
    assert ".left/" not in text[text.index("Joints on line springs") : text.index("Between a material")]


def test_tabs_and_filler_stand_beside_the_mass_and_in_its_table():
    model, findings = report_builders.small_report(2)
    load_case = findings.load_cases["torsion"]
    energy = replace(load_case.energy, joints={"floor/sill": 0.2})
    findings = replace(findings, load_cases={"torsion": replace(load_case, energy=energy)})
    text = said(print_findings, model, findings, width=160)
    assert "In that, of the joints: tabs 0.412 kg, filler 0.153 kg." in text
    assert re.search(r"joints\s+0\.565\s+20 %", text)


def test_a_failed_check_says_so(report):
    model, findings = report
    load_case = report_builders.failing(findings.load_cases["torsion"])
    text = said(print_findings, model, report_builders.with_load_case(findings, load_case))
    assert re.search(r"residual\s+1.0e-03\s+1e-08\s+FAILED", text)


def test_probes_in_millimetres_and_degrees(report):
    model, findings = report
    static = report_builders.without_torsion(findings.load_cases["torsion"])
    text = said(print_findings, model, report_builders.with_load_case(findings, static))
    assert re.search(r"tip\s+1\s+0\s+0\s+0\s+0.573\s+0", text)


def test_ending_names_stages_and_folder(report):
    text = said(print_ending, report[1], {"mesh": 1.24, "solve": 3.0}, "results/small")
    assert "mesh 1.2, solve 3.0" in text
    assert "results/small" in text


def test_look_skips_empty_headings(report):
    text = said(print_look, report[0], {"Sections": ["sill: ring"], "Tabs": []}, ())
    assert "sill: ring" in text
    assert "Tabs" not in text


def test_catalogue_and_sheet_name_everything():
    text = said(print_catalogue, catalogue())
    assert all(entry.name in text for entry in catalogue())
    sheet = describe("e-glass", resin=resin("epoxy, room-temperature cure"))
    text = said(print_sheet, sheet, width=120)
    assert all(row.quantity in text for row in sheet.rows)


def test_the_hand_check_stands_beside_the_finite_elements_with_reasons(report):
    text = said(print_findings, *report, width=120)
    assert "2860 N·m/deg by hand from station to station, 2710 by finite elements: +5 %" in text
    assert re.search(r"50 to 725 +floor\+tunnel +400 ", text)
    assert re.search(r"725 to 1400 +none", text)
    assert "hold 9 % of the strain energy" in text


def test_the_mesh_has_its_estimate_and_band(report):
    assert "0.8 % too stiff by estimate, 1.0 % with a margin" in said(print_findings, *report, width=120)
