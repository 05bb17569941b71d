"""What supports, loads and probes may name, and textbook problems written as cases."""

from pathlib import Path

import pytest

from tubfem.case.read import load_case
from tubfem.case.targets import Target, mates, read_target
from tubfem.errors import CaseError

STARTER = load_case(Path(__file__).parents[2] / "data" / "starter_like.toml")
PLATE = """
title = "Clamped plate under pressure"
[points]
A = [0, 0, 0]
B-1 = [1000, 0, 0]
C = [1000, 1000, 0]
D = [0, 1000, 0]
M = [500, 500, 0]
[panels.plate]
outline = ["A", "B-1", "C", "D"]
tool = "down"
[plies]
steel = { E = "210 GPa", nu = 0.3, thickness = "10 mm", density = "7850 kg/m^3" }
[layups]
plate = ["steel"]
[load_cases.pressed]
kind = "static"
supports = [{ on = ["A-B-1", "B-1-C", "C-D", "D-A"], fix = "all" }]
pressures = [{ on = "panels.plate", pressure = "700 Pa" }]
probes = { middle = "M" }
"""
ROOF = """
title = "Scordelis-Lo roof, a quarter"
[points]
A = [0, 0, 0]
B = [0, 16.0697, -5.8489]
C = [25, 16.0697, -5.8489]
D = [25, 0, 0]
AB = [0, 8.5505, -1.5077]
CD = [25, 8.5505, -1.5077]
[panels.roof]
outline = ["A", { arc = "AB" }, "B", "C", { arc = [25, 8.5505, -1.5077] }, "D"]
tool = "down"
[plies]
skin = { E = "0.432 GPa", nu = 0, thickness = 0.25, density = "1 kg/m^3" }
[layups]
roof = ["skin"]
[load_cases.own_weight]
kind = "static"
supports = [
  { on = "A-B", fix = ["y", "z"] },
  { on = "C-D", fix = ["x", "ry", "rz"] },
  { on = "D-A", fix = ["y", "rx", "rz"] },
]
forces = [{ on = "panels.roof", force = ["0 N", 0, "-39.3 kN"] }]
acceleration = [0, 0, "-1 g"]
probes = { edge = "C" }
"""


def read(folder, text):
    path = folder / "b.toml"
    path.write_text(text)
    return load_case(path)


@pytest.mark.parametrize(
    ("text", "target"),
    [
        ("front", Target("pickup", ("front",))),
        ("front.left", Target("pickup", ("front",), "left")),
        ("rear_upper", Target("mount", ("rear_upper",))),
        ("sill.in_low@front", Target("point", ("sill.in_low@front",))),
        ("sill.in_low@front-sill.in_top@front", Target("edge", ("sill.in_low@front", "sill.in_top@front"))),
        ("panels.floor", Target("panel", ("floor",))),
        ("sections.tunnel", Target("panel", ("tunnel.side", "tunnel.top"))),
        ("sections.tunnel.side.right", Target("panel", ("tunnel.side",), "right")),
        ("stations.rear", Target("station", ("rear",))),
        ("rigid.end", Target("rigid", ("end",))),
    ],
)
def test_one_text_names_one_thing(text, target):
    assert read_target(STARTER, text, ("end",)) == target


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("panels.flor", 'no panel "flor"; nearest: floor'),
        ("sections.tunnel.tops", 'no wall of tunnel "tops"; nearest: top'),
        ("stations.reer", "nearest: rear"),
        ("rigid.start", "nearest: end|there are end"),
        ("frnt", "no point, edge, panel, station or rigid set; nearest: front"),
        ("sill.in_low", "no point"),
        ("sill.in_low@front-nowhere", "no point"),
    ],
)
def test_unknown_names_get_the_nearest(text, words):
    with pytest.raises(ValueError, match=words):
        read_target(STARTER, text, ("end",))


def test_patterns_match_mounts_in_the_order_of_the_file():
    assert mates(STARTER.mounts, ("*_lower", "front_upper")) == ("front_upper", "front_lower", "rear_lower")


def test_a_plate_and_a_roof_can_be_written(tmp_path):
    plate = read(tmp_path, PLATE)
    assert read_target(plate, "A-B-1") == Target("edge", ("A", "B-1"))
    assert plate.load_cases["pressed"].supports[0].fix == ("x", "y", "z", "rx", "ry", "rz")
    assert plate.load_cases["pressed"].pressures[0].pressure == 700.0
    roof = read(tmp_path, ROOF)
    assert roof.load_cases["own_weight"].forces[0].force == (0.0, 0.0, -39300.0)
    assert roof.load_cases["own_weight"].acceleration[2] == pytest.approx(-9.80665)
    assert roof.panels["roof"].outline[4].arc == pytest.approx((0.025, 0.0085505, -0.0015077))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"C-D"', '"C-E"', r'b\.toml:18: load_cases\.pressed\.supports entry 1\.on: "C-E" is no point, edge'),
        ('on = "panels.plate"', 'on = "M"', r'pressures entry 1\.on: "M": a pressure acts on a panel'),
        ('middle = "M"', 'middle = "panels.plate"', r"load_cases\.pressed\.probes\.middle: .* a probe is a point"),
        ('fix = "all"', 'fix = ["x", "w"]', r'supports entry 1\.fix entry 2: "w" is not one of them; choose "x", "y"'),
        ('pressure = "700 Pa"', 'pressure = "700 N"', r'"700 N" is not a stress'),
        ('pressures = [{ on = "panels.plate", pressure = "700 Pa" }]', "", r"nothing acts"),
        ('supports = [{ on = ["A-B-1", "B-1-C", "C-D", "D-A"], fix = "all" }]', "", r"what holds it\?"),
        ('probes', 'probs', r'no key "probs" here; nearest: probes'),
        ('nu = 0.3', 'nu = 0.6', r"nu = 0\.6 is impossible"),
        ('E = "210 GPa", nu', 'E1 = "210 GPa", nu', r"missing: E2, G12, nu12"),
        ('tool = "down"', 'tool = "down"\nacross = true', r"only a case with mirror"),
        ('outline = ["A"', 'outline = ["E"', r'no point "E"'),
        ('outline = ["A", "B-1"', 'outline = [[1, 2], "B-1"', r"two numbers are \[y, z\] on a station"),
        ('outline = ["A", "B-1", "C", "D"]', 'outline = ["A", "B-1"]', r"at least three corners"),
        ('outline = ["A", "B-1"', 'outline = ["A", { ark = "B-1" }', r"is a corner"),
    ],
)  # fmt: skip
def test_faults_of_a_load_case_are_told(tmp_path, old, new, words):
    assert old in PLATE
    with pytest.raises(CaseError, match=words) as caught:
        read(tmp_path, PLATE.replace(old, new, 1))
    assert len(caught.value.messages) == 1


@pytest.mark.parametrize("name", ["pressed.up", "1st", "a b"])
def test_names_are_plain(tmp_path, name):
    with pytest.raises(CaseError, match="a name is a letter and then letters, digits, _ or -"):
        read(tmp_path, PLATE.replace("[panels.plate]", f'[panels."{name}"]'))
