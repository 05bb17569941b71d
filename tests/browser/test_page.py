"""The page in a real browser: what is drawn, what a tap tells, other units, sizes, print."""

from dataclasses import replace

import numpy as np
import pytest
import report_builders
from pages import PHONE, write

from tubfem.laminate.recovery import ply_strain
from tubfem.report.numbers import three

A4_WIDTH = 695  # CSS pixels between the margins of the page's own A4 sheet: (210 - 26) mm at 96 to the inch
HOSTILE = """</script><script>alert(1)</script><img src=x onerror="alert('2')">"""


def on_screen(one, point):
    """Where a point of the tub is drawn, in pixels of the window."""
    script = """point => {
        const r = document.getElementById('stage').getBoundingClientRect();
        VIEW.camera.updateMatrixWorld();
        const p = new THREE.Vector3(...point).project(VIEW.camera);
        return [r.left + r.width * (p.x + 1) / 2, r.top + r.height * (1 - p.y) / 2];
    }"""
    return one.page.evaluate(script, [float(c) for c in point])


def to_view(one):
    one.page.evaluate("document.getElementById('tub').scrollIntoView()")
    one.page.wait_for_timeout(100)


def test_it_opens_with_the_answer_and_draws(report, visit):
    one = visit(report)
    assert "2430 N·m/deg" in one.text("#answer")
    assert one.page.evaluate("VIEW.drawn")
    assert one.page.locator("#no-view").is_hidden()


@pytest.mark.parametrize("act", ["drag", "wheel", "keys", "button"])
def test_turning_and_zooming_change_the_drawing(report, visit, act):
    one = visit(report)
    to_view(one)
    before, box = one.picture(), one.page.locator("#stage").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if act == "drag":
        one.page.mouse.move(x, y)
        one.page.mouse.down()
        one.page.mouse.move(x + 120, y + 20, steps=4)
        one.page.mouse.up()
    elif act == "wheel":
        one.page.mouse.move(x, y)
        one.page.mouse.wheel(0, -300)
    elif act == "keys":
        one.page.locator("#stage").focus()
        one.page.keyboard.press("ArrowLeft")
    else:
        one.page.get_by_role("button", name="Top").click()
    assert one.picture() != before


def test_every_field_is_drawn_and_told_as_numbers(report, small, visit):
    one = visit(report)
    fields = one.page.locator("#field option").evaluate_all("all => all.map(o => [o.value, o.textContent])")
    assert [value for value, _ in fields] == [
        "region",
        "thickness",
        "margin",
        "kind",
        "strain",
        "ply",
        "energy",
        "flow",
    ]
    pictures = set()
    for value, title in fields:
        one.page.select_option("#field", value)
        assert one.text("#legend").startswith(title)
        assert one.page.locator("#field-table *").count() > 0
        pictures.add(one.picture())
    assert len(pictures) >= len(fields) - 1  # the small tub has the same thickness everywhere
    _, findings = small
    one.page.select_option("#field", "strain")
    one.page.locator("#tub details summary").last.click()
    strain = findings.load_cases["torsion"].fields.strain[findings.element_region == findings.regions.index("floor")]
    row = one.page.locator("#field-table tr", has_text="floor").inner_text().split()
    assert [float(text) for text in row[1:]] == pytest.approx(
        [100 * strain.min(), 100 * strain.mean(), 100 * strain.max()], rel=5e-3
    )  # three digits


def test_ply_strains_are_those_of_python(report, small, visit):
    model, findings = small
    one = visit(report)
    own = findings.load_cases["torsion"].fields.generalised
    expected = ply_strain(model.layup.stacks[0], own)  # (e, ply, face, 3)
    script = """([all, plies]) => all.flatMap(e => [...Array(plies).keys()].flatMap(p => [0, 1].flatMap(f =>
        VIEW.plyStrain('torsion', e, 0, p, f))))"""
    elements = [0, 7, len(own) - 1]
    found = one.page.evaluate(script, [elements, 3])
    np.testing.assert_allclose(found, expected[elements].ravel(), rtol=1e-5, atol=1e-6 * abs(expected).max())  # float32


def test_a_tap_tells_region_panel_and_plies(report, small, visit):
    model, _ = small
    one = visit(report)
    to_view(one)
    index = next(i for i, panel in enumerate(model.mesh.panels) if panel.name == "sill.outer.right")
    conn = model.mesh.blocks[0].conn[model.mesh.blocks[0].panel == index]
    at = model.mesh.points[conn[len(conn) // 2]].mean(axis=0)
    one.page.mouse.click(*on_screen(one, at))
    told = one.text("#picked")
    assert "sill" in told
    assert "sill.outer.right" in told
    assert "floor 3 cloth +30" in one.page.locator("#picked details").text_content()
    assert "lowest margin" in told


def test_the_movement_and_the_cut_change_the_drawing(report, visit):
    one = visit(report)
    still = one.picture()
    one.page.locator("#scale").fill("100")
    assert "times" in one.text("#times")
    moved = one.picture()
    one.page.select_option("#cut-axis", "0")
    one.page.locator("#cut").fill("300")
    assert len({still, moved, one.picture()}) == 3


def test_what_is_cut_away_cannot_be_tapped(report, small, visit):
    one = visit(report)
    to_view(one)
    one.page.get_by_role("button", name="Top").click()
    one.page.wait_for_timeout(100)
    rear = on_screen(one, (1.2, 0.3, 0.0))
    hit = "([x, y]) => VIEW.hit(x, y) !== null"
    assert one.page.evaluate(hit, rear)
    one.page.select_option("#cut-axis", "0")
    one.page.locator("#cut").fill("500")
    assert not one.page.evaluate(hit, rear)


def test_one_switch_shows_inch_pound_units_everywhere(report, visit):
    one = visit(report)
    one.page.get_by_role("button", name="lb · in").click()
    answer = one.text("#answer")
    assert "1790 lbf·ft/deg" in answer  # 2425.123 / 1.3558179 by exact definitions
    assert "68.9 lb" in answer  # 31.234 / 0.45359237
    assert "19.7 to 39.4 in" in answer  # of a sentence: 500 to 1000 mm
    one.page.select_option("#field", "thickness")
    assert one.text("#legend").startswith("thickness, in")
    one.page.get_by_role("button", name="kg · mm").click()
    assert "2430 N·m/deg" in one.text("#answer")
    assert "500 to 1000 mm" in one.text("#answer")


def test_a_distance_between_two_taps_is_that_of_the_mesh(look, visit):
    one = visit(look)
    to_view(one)
    one.page.get_by_role("button", name="Measure").click()
    one.page.get_by_role("button", name="Top").click()
    one.page.wait_for_timeout(100)
    a, b = (0.0, 0.62, 0.21), (1.45, 0.62, 0.21)
    inside = 0.004  # a tap that near takes the corner itself
    one.page.mouse.click(*on_screen(one, (a[0] + inside, a[1] - inside, a[2])))
    assert "second point" in one.text("#picked")
    one.page.mouse.click(*on_screen(one, (b[0] - inside, b[1] - inside, b[2])))
    assert "apart 1450 mm" in one.text("#picked")


def test_names_do_nothing(small, tmp_path, visit):
    model, findings = small
    panels = tuple(replace(p, name=f"{p.name}{HOSTILE}", region=f"{p.region}{HOSTILE}") for p in model.mesh.panels)
    model = replace(
        model,
        case=model.case.model_copy(update={"title": HOSTILE}),
        mesh=replace(model.mesh, panels=panels),
        layup=replace(model.layup, stack_entries=((HOSTILE,) * 3,)),
        joint_kinds={f"{name}{HOSTILE}": kind for name, kind in model.joint_kinds.items()},
    )
    found = findings.load_cases["torsion"]
    regions = {f"{n}{HOSTILE}": replace(r, name=f"{n}{HOSTILE}") for n, r in found.regions.items()}
    found = replace(found, name=HOSTILE, regions=regions)
    one = visit(write(tmp_path / "report.html", model, replace(findings, load_cases={HOSTILE: found})))
    to_view(one)
    assert one.text("h1") == HOSTILE
    for field in ("region", "kind", "ply", "flow", "margin"):
        one.page.select_option("#field", field)
    for value in one.page.locator("#goto optgroup option").evaluate_all("all => all.map(o => o.value)"):
        one.page.select_option("#goto", value)
    one.page.get_by_role("button", name="lb · in").click()
    for link in one.page.locator("a[data-pick]").all():
        link.click()
    one.page.select_option("#goto", "r0")
    to_view(one)
    one.page.mouse.click(*on_screen(one, (0.7, 0.5, 0.1)))
    assert HOSTILE in one.page.locator("#picked").text_content()
    assert one.page.locator("img").count() == 0
    one.page.wait_for_timeout(200)


def test_the_answer_leads_to_its_place_on_the_tub(report, small, visit):
    one = visit(report, **PHONE)
    worst = min(small[1].load_cases["torsion"].regions.values(), key=lambda region: region.worst.margin)
    one.page.locator("#answer .weak a").tap()
    assert one.text("#picked h3") == worst.name
    assert one.page.locator("#goto option:checked").text_content() == worst.name
    assert one.page.locator("#picked").evaluate("p => p.getBoundingClientRect().top < innerHeight")


def test_a_joint_tells_its_peaks(report, small, visit):
    one = visit(report)
    _, findings = small
    name, joint = next((n, j) for n, j in findings.load_cases["torsion"].joints.items() if j.kind != "continuous")
    value = one.page.locator("#goto option", has_text=name).first.get_attribute("value")
    one.page.select_option("#goto", value)
    told = one.text("#picked")
    assert f"greatest shear flow {three(1e-3 * joint.peak_shear_flow)} N/mm" in told
    assert f"strain energy {100 * joint.twist_share:.1f} %" in told


def test_a_pickup_can_be_chosen(report, visit):
    one = visit(report)
    one.page.select_option("#goto", label="pickup front.right")
    assert one.text("#picked h3") == "pickup front.right"
    assert "-120, 560, 210" in one.text("#picked")


def test_weakest_region_found_on_a_phone(report, small, visit):
    one = visit(report, **PHONE)
    first = one.page.locator("#answer .card", has_text="Lowest margins").locator("li").first
    worst = min(small[1].load_cases["torsion"].regions.values(), key=lambda region: region.worst.margin)
    assert worst.name in first.inner_text()
    assert "+0.42" in first.inner_text()


def test_print_cuts_no_table_and_unfolds_everything(report, visit):
    one = visit(report, width=A4_WIDTH)
    assert one.page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    one.page.emulate_media(media="print")
    one.page.evaluate("dispatchEvent(new Event('beforeprint'))")
    closed, wide = one.page.evaluate(
        """width => [document.querySelectorAll('details:not([open])').length,
        [...document.querySelectorAll('table, svg, pre')].filter(
            t => t.getBoundingClientRect().right > width + 1).length]""",
        A4_WIDTH,
    )
    assert (closed, wide) == (0, 0)


def test_the_look_page_has_no_results(look, visit):
    one = visit(look)
    assert "Is this the tub you measured?" in one.text("#answer")
    assert one.page.locator("#field option").all_text_contents() == ["region", "thickness"]
    assert one.page.locator("#scale").count() == 0


def test_a_large_tub_is_coarser_while_it_turns(tmp_path, visit):
    one = visit(write(tmp_path / "report.html", *report_builders.small_report(13)))
    assert one.page.evaluate("VIEW.elements") > 20000
    to_view(one)
    turn = "stage => stage.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft' }))"
    for _ in range(4):
        one.page.locator("#stage").evaluate(turn)
        one.page.wait_for_timeout(60)
    assert one.page.evaluate("VIEW.coarse()")
    for _ in range(50):  # the page's content policy lets nobody wait by a text of script
        one.page.wait_for_timeout(100)
        if not one.page.evaluate("VIEW.coarse()"):
            break
    assert not one.page.evaluate("VIEW.coarse()")
