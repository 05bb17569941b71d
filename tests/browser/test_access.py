"""Whom the page serves: by the keyboard alone, on a phone, in dark and light, with contrast for weak eyes."""

import pytest
from pages import PHONE


def test_regions_and_joints_can_be_chosen_without_a_pointer(report, visit):
    one = visit(report)
    before = one.picture()
    one.page.select_option("#goto", label="floor")
    assert one.text("#picked h3") == "floor"
    assert one.picture() != before
    option = one.page.locator("#goto optgroup[label=joints] option").first
    one.page.select_option("#goto", option.get_attribute("value"))
    assert one.text("#picked h3") == f"joint {option.text_content().split(',')[0]}"


@pytest.mark.parametrize("which", ["report", "look"])
def test_a_phone_shows_everything_without_sideways_scrolling(which, visit, request):
    one = visit(request.getfixturevalue(which), **PHONE)
    assert one.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small_targets = one.page.evaluate("""() => [...document.querySelectorAll('button, select')].filter(b =>
        b.checkVisibility() && b.getBoundingClientRect().height < 36).length""")
    assert small_targets == 0


def test_rows_stand_as_lists_on_a_phone_and_say_their_columns(report, visit):
    one = visit(report, **PHONE)
    cells = """() => [...document.querySelectorAll('#regions table.rows')].flatMap(t => [...t.tBodies[0].rows].flatMap(
        r => [...r.cells].filter(c => c.tagName === 'TD').map(c => [c.dataset.label,
            t.tHead.rows[0].cells[c.cellIndex].textContent, c.getAttribute('role'), c.checkVisibility(),
            c.getBoundingClientRect().right])))"""
    found = one.page.evaluate(cells)
    assert len(found) > 10
    for label, heading, role, visible, right in found:
        assert label == heading
        assert role == "cell"
        assert not visible or right <= PHONE["width"]
    one.page.get_by_role("button", name="lb · in").click()
    assert all(label == heading for label, heading, *_ in one.page.evaluate(cells))


def test_the_keyboard_stops_at_wide_tables_only(report, visit):
    stops = """() => [...document.querySelectorAll('.scroll')].filter(s => s.checkVisibility() && s.tabIndex === 0).map(
        s => s.scrollWidth > s.clientWidth)"""
    wide, narrow = visit(report, width=1280), visit(report, width=500)
    for one in (wide, narrow):
        one.page.wait_for_timeout(200)
        assert all(one.page.evaluate(stops))
    assert len(narrow.page.evaluate(stops)) > len(wide.page.evaluate(stops))


def test_everything_to_act_on_is_reached_and_named(report, visit):
    """By the keyboard alone: every control in turn has a name and shows that it has the focus."""
    one = visit(report)
    seen = []
    for _ in range(60):
        one.page.keyboard.press("Tab")
        found = one.page.evaluate("""() => { const e = document.activeElement, s = getComputedStyle(e);
            const words = e.textContent.trim(), name = e.labels?.[0]?.textContent || e.getAttribute('aria-label');
            return [e.id || words, name || words,
                s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2]; }""")
        if one.page.evaluate("document.activeElement === document.body"):
            break
        assert found[1].strip(), found
        seen.append(found)
        assert found[2], found
    names = [name for name, *_ in seen]
    for name in (
        "To the answer",
        "Answer",
        "Tub",
        "Review pack",
        "units",
        "stage",
        "case",
        "field",
        "scale",
        "cut-axis",
        "Corner",
        "measure",
        "goto",
    ):
        assert name in names


def test_dark_and_light_differ_and_text_stands_out_in_both(report, visit):
    for scheme in ("dark", "light"):
        one = visit(report, color_scheme=scheme)
        ink, paper = one.page.evaluate("""() => { const s = getComputedStyle(document.body);
            return [s.color, s.backgroundColor].map(c => c.match(/[\\d.]+/g).slice(0, 3).map(Number)); }""")
        high, low = sorted((luminance(ink), luminance(paper)), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 7  # WCAG 2.2, success criterion 1.4.6
        assert (luminance(ink) > luminance(paper)) == (scheme == "dark")


def test_all_text_stands_out_in_both(report, visit):
    """Contrast of what is on the page with what lies under it, 4.5 to 1 (WCAG 2.2, success criterion 1.4.3)."""
    script = """() => {
        const rgb = (text) => text.match(/[\\d.]+/g).map(Number), seen = new Map();
        const under = (element) => {
            for (let e = element; e; e = e.parentElement) {
                const found = rgb(getComputedStyle(e).backgroundColor);
                if (found.length < 4 || found[3] === 1) return found.slice(0, 3);
            }
        };
        for (const d of document.querySelectorAll('details')) d.open = true;
        for (const element of document.querySelectorAll('body *')) {
            const own = [...element.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
            if (!own || !element.checkVisibility() || element.closest('script')) continue;
            const style = getComputedStyle(element), drawn = element.namespaceURI.endsWith('svg');
            const ink = rgb(drawn ? style.fill : style.color).slice(0, 3), ground = under(element);
            seen.set([ink, ground].join(), [ink, ground, element.textContent.slice(0, 40)]);
        }
        return [...seen.values()];
    }"""
    for scheme in ("dark", "light"):
        pairs = visit(report, color_scheme=scheme).page.evaluate(script)
        assert len(pairs) >= 5  # ink, soft, link, warning and button, on paper and sheet
        for ink, under, words in pairs:
            high, low = sorted((luminance(ink), luminance(under)), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 4.5, (scheme, ink, under, words)


def luminance(colour):
    """Relative luminance of an sRGB colour (WCAG 2.2, definitions)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
