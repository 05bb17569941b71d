"""Mistakes in vehicle, axles and load cases on wheels, told at their line in the builder's words."""

import re

import pytest

from tubfem.case.read import load_case
from tubfem.errors import CaseError

TEXT = """
[vehicle]
masses.driver = { mass = "80 kg", on = "panels.floor", at = [900, 320, 200] }

[axles.front]
contact = [-120, 700, -120]
hub = [-120, 690, 160]
pivots = ["strut_top"]
links.low_fore = { from = "low_fore", to = [-120, 650, 80] }
links.low_aft = { from = "low_aft", to = [-120, 650, 80] }
links.tie_rod = { from = "rack", to = [-240, 640, 135] }

[axles.rear]
contact = [1570, 700, -120]
hub = [1570, 690, 160]
pickups = "rear"

[load_cases.bump]

[load_cases.jacking]
on = "rear_lower.right"

[load_cases.turn]
kind = "cornering"

[load_cases.sum]
kind = "combination"
of = { bump = 1.0, turn = 0.7 }
"""
PICKUPS = """
strut_top = { at = [-120, 500, 600], carried_by = "front_*" }
low_fore = { at = [-240, 330, 90], carried_by = "front_*" }
low_aft = { at = [0, 330, 90], carried_by = "front_*" }
rack = { at = [-230, 330, 130], carried_by = "front_*" }
"""


@pytest.fixture
def read(tmp_path):
    from case_texts import CASES

    starter = (CASES / "starter.toml").read_text()
    starter = starter.replace("[pickups]", "[pickups]" + PICKUPS, 1)

    def of(text):
        path = tmp_path / "b.toml"
        path.write_text(starter + text)
        return load_case(path)

    return of


def test_it_reads(read):
    case = read(TEXT)
    assert case.load_cases["bump"].factor == 3.0
    assert case.axles["front"].links["tie_rod"].from_ == "rack"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('from = "rack"', 'from = "rak"', r'axles\.front\.links\.tie_rod\.from: no pickup "rak"; nearest: rack'),
        ('pivots = ["strut_top"]', 'pivots = ["strut"]', r'front\.pivots: no pickup "strut"; nearest: strut_top'),
        ("links.tie_rod", "# links.tie_rod", r"axles\.front: 5 forces hold upright, 6 are needed .*tie rod"),
        ("contact = [-120, 700", "contact = [-120, -700", "wheel inside out"),
        ("hub = [-120, 690, 160]", "hub = [-120, 690, -160]", "wheel upside down"),
        ("contact = [-120,", "contact = [1900,", "front wheel stands behind the rear one"),
        ("to = [-240, 640, 135]", "to = [-230, 330, 130]", "two ends are the same point"),
        ("to = [-240, 640, 135]", 'to = "low_aft"', "both its ends are on the tub"),
        ("to = [-240, 640, 135]", 'to = { on = "lower", at = [0, 640, 135] }', 'on = "lower": no such arm'),
        ("to = [-240, 640, 135] }", 'to = [-240, 640, 135], only = "left" }', "belongs to live = true"),
        ('pickups = "rear"', "", "how does a wheel hang on the tub"),
        ('pickups = "rear"', 'pickups = "rear"\npivots = "rear"', "not both"),
        ("[axles.rear]", "[axles.back]", r"axles\.back: \"back\" is not one of them; choose \"front\" or \"rear\""),
        ("links.tie_rod", "link.tie_rod", 'no key "link" here; nearest: links'),
        ('pivots = ["strut_top"]', "unsprung = 25", "25 has no unit"),
        ('[vehicle]\nmasses.driver = {', '[modes]\nmasses.driver = {', r"what does the tub carry\? write \[vehicle\]"),
        ('on = "panels.floor"', 'on = "panels.flor"', r'vehicle\.masses\.driver\.on: no panel "flor"'),
        ('on = "rear_lower.right"', 'on = "rear_lowe.right"', r"load_cases\.jacking\.on: .*nearest: rear_lower"),
        ("{ bump = 1.0,", "{ bmp = 1.0,", r'load_cases\.sum\.of\.bmp: no load case "bmp"; nearest: bump'),
        ("{ bump = 1.0,", "{ sum = 1.0,", '"sum" is a combination itself'),
        ("of = { bump = 1.0, turn = 0.7 }", "of = {}", r"load_cases\.sum\.of"),
        ('kind = "cornering"', 'kind = "cornring"', "which kind"),
        ('kind = "cornering"', 'kind = "cornering"\ng = 1.2', 'no key "g" here; there are .*acceleration'),
        ('kind = "cornering"', 'kind = "cornering"\nacceleration = 1.2', "has no unit"),
    ],
)  # fmt: skip
def test_mistakes_are_told(read, old, new, told):
    assert old in TEXT
    with pytest.raises(CaseError) as error:
        read(TEXT.replace(old, new, 1))
    messages = error.value.messages
    print("\n".join(messages))
    assert any(re.search(told, message) for message in messages), messages
    assert all(re.match(r"b\.toml:\d+: ", message) for message in messages), messages


def test_without_a_mirror_or_wheels_it_is_told(tmp_path):
    path = tmp_path / "b.toml"
    path.write_text("""
[points]
A = [0, 0, 0]
B = [1000, 0, 0]
C = [1000, 400, 0]
[panels.plate]
outline = ["A", "B", "C"]
tool = "down"
[plies]
sheet = { E = "70 GPa", nu = 0.3, thickness = 2.0 }
[layups]
plate = ["sheet"]
[load_cases.bump]
""")
    with pytest.raises(CaseError) as error:
        load_case(path)
    text = "\n".join(error.value.messages)
    assert 'needs mirror = "y"' in text
    assert "write [axles.front] and [axles.rear]" in text
    assert "write [vehicle]" in text
