"""The message for every geometric mistake of stations, sections, outlines, tool faces and zeros."""

import pytest
from tub_texts import case_of, faults

from tubfem.case.read import load_case
from tubfem.case.sections import plain_tub, plain_tub_with_notes
from tubfem.errors import CaseError

TUB = """
mirror = "y"
[mesh]
size = 25
[stations]
front = 0
toe = [[300, 0], [180, 330]]
dash = 640
rear = 1820
[sections.tunnel]
walls = { side = ["root", "edge"], top = ["edge", "edge"] }
at.dash = { root = [110, 0], edge = [90, 230] }
at.rear = { root = [190, 0], edge = [150, 310] }
[sections.sill]
walls.inner = ["in_low", "in_top"]
walls.top = ["in_top", "out_top"]
walls.outer = ["out_top", "out_low"]
walls.bottom = ["out_low", "in_low"]
at.front = { in_low = [500, 0], in_top = [510, 200], out_top = [620, 200], out_low = [620, 0] }
at.rear = { in_low = [530, 0], in_top = [540, 260], out_top = [650, 260], out_low = [650, 10] }
[panels.floor]
between = ["sill.in_low", "sill.in_low"]
tool = "down"
[panels.dash]
on = "dash"
outline = ["tunnel.edge", "tunnel.root", "sill.in_low", "sill.in_top", [500, 500]]
across = true
tool = "aft"
"""


def changed(old, new):
    assert old in TUB, f"no {old!r}"
    return TUB.replace(old, new, 1)


def test_the_case_is_sound_without_its_mistakes():
    assert len(plain_tub(case_of(TUB), {}).panels) == 8


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            TUB
            + '[panels.toe_board]\non = "toe"\noutline = ["tunnel.root", "sill.in_low", [400, 150]]\ntool = "aft"\n',
            'case: panels.toe_board.outline entry 1: tunnel.root does not reach station "toe" (x = 300); '
            "tunnel runs from dash (640) to rear (1820)",
        ),
        (
            changed(
                'between = ["sill.in_low", "sill.in_low"]', 'between = ["tunnel.root", "sill.in_low"]\nfrom = "front"'
            ),
            'case: panels.floor.from: tunnel.root does not reach station "front" (x = 0); '
            "tunnel runs from dash (640) to rear (1820)",
        ),
        (
            changed("dash = 640", "dash = [[290, 0], [700, 600]]")
            + '[panels.toe_board]\non = "toe"\noutline = ["sill.in_low", "sill.in_top", [400, 150]]\ntool = "aft"\n',
            "case: stations: stations toe and dash cross at z = 10, inside sections.sill: the section would be cut "
            "twice there",
        ),
        (
            changed('"sill.in_low", "sill.in_top", [500, 500]', '"sill.in_top", "sill.in_low", [500, 500]'),
            "case: panels.dash: edges 2 and 4 cross near y = ",
        ),
        (
            changed('tool = "down"', 'tool = "fore"'),
            'case: panels.floor: tool = "fore", but the floor looks up and down',
        ),
        (
            changed('tool = "down"', 'tool = "fore"'),
            'choose "up" or "down"',
        ),
        (
            changed('tool = "aft"', 'tool = "aft"\nzero = "aft"'),
            'case: panels.dash.zero: zero = "aft" stands square to dash (0 degrees off); use "across" or "up"',
        ),
        (
            changed("[sections.sill]", '[sections.sill]\ntool = "up"'),
            'case: sections.sill: tool = "up", but the wall sill.inner looks out and in; choose "out" or "in"',
        ),
        (
            changed('"sill.in_top", [500, 500]', '{ on = "sill.inner", z = 400 }, [500, 500]'),
            "case: panels.dash.outline entry 4: sill.inner at dash reaches from z = 0 to 221; z = 400 is not on it",
        ),
        (
            changed("[500, 500]]", "[600, 500, 500]]"),
            "case: panels.dash.outline entry 5: lies 40 mm off the plane of dash; two numbers put it on",
        ),
        (
            changed('"tunnel.root", "sill', '"tunnel.root@rear", "sill'),
            'panels.dash.outline entry 2: "tunnel.root@rear" lies 1180.0 mm off the plane of dash',
        ),
        (
            changed(
                "[sections.sill]",
                "[sections.sill]\nlayup_from = [{ wall = 'top', from = 'x', to = 'rear', layup = 'a' }]",
            )
            .replace("[sections.tunnel]", "[sections.tunnel]", 1)
            .replace("front = 0", "front = 0\nx = -50"),
            'case: sections.sill.layup_from entry 1: sill does not reach station "x" (x = -50)',
        ),
    ],
)
def test_message(text, message):
    found = faults(text)
    assert any(message in one for one in found), found


def test_a_single_wall_has_no_inside():
    text = """
    [stations]
    front = 0
    rear = 1000
    [sections.deck]
    walls = { skin = ["a", "b"] }
    at.front = { a = [0, 0], b = [500, 0] }
    at.rear = { a = [0, 0], b = [500, 0] }
    """
    (message,) = faults(text)
    assert message == (
        'case: sections.deck: tool = "out": these walls have no inside; say which way they look, for example "up"'
    )
    assert plain_tub(case_of(text.replace("[sections.deck]", '[sections.deck]\ntool = "up"')), {})


def test_seams_close_together_are_a_caution():
    near = TUB.replace("dash = 640", "dash = 640\npedal = 646") + (
        '[panels.pedal_wall]\non = "pedal"\noutline = ["tunnel.root", "sill.in_low", [400, 150]]\ntool = "aft"\n'
    )
    _, notes = plain_tub_with_notes(case_of(near), {})
    assert "caution: sections.sill gets seams 6 mm apart at dash and pedal; mesh size 25 will be 6 there" in notes


def test_a_radius_that_the_laminate_eats():
    text = TUB.replace("[sections.sill]", "[sections.sill]\ncorner_radius = { in_low = 5 }", 1)
    with pytest.raises(CaseError, match=r'sections\.sill\.corner_radius: "in_low" keeps no radius in the middle'):
        plain_tub(case_of(text), {"sill": 0.012})


def test_faults_name_file_and_line(tmp_path):
    text = TUB.replace("[500, 500]]", "[600, 500, 500]]") + (
        '[plies]\nglass = { E = "20 GPa", nu = 0.3, thickness = 1, density = "1800 kg/m^3" }\n'
        '[layups]\nfloor = ["glass"]\ndash = ["glass"]\ntunnel = ["glass"]\nsill = ["glass"]\n'
        '[joint_kinds]\nmoulded = { kind = "continuous" }\n[joints]\n"*/*" = "moulded"\n'
        '[load_cases.push]\nkind = "static"\nsupports = [{ on = "panels.dash", fix = "all" }]\n'
        'forces = [{ on = "panels.floor", force = ["0 N", "0 N", "-1 N"] }]\n'
    )
    path = tmp_path / "b.toml"
    path.write_text(text)
    line = text[: text.index("[600, 500, 500]")].count("\n") + 1
    with pytest.raises(CaseError) as caught:
        plain_tub(load_case(path), {})
    assert f"b.toml:{line}: panels.dash.outline entry 5: lies 40 mm off the plane of dash" in caught.value.messages[0]
