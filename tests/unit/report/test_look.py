"""What `look` says of the starter tub: lengths and cells by hand from its measurements."""

import re
from dataclasses import replace

import case_texts
import numpy as np
import pytest
import tub_builders

from tubfem.report.look import alike, both_sides, look_words, poor_elements
from tubfem.report.prose import pieces
from tubfem.run import change_case, model_case


def starter(folder, **tables):
    return case_texts.read_tables({**case_texts.tables_of("starter"), "mesh": {"size": 120}, **tables}, folder)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return starter(tmp_path_factory.mktemp("case"))


@pytest.fixture(scope="module")
def words(case):
    return look_words(model_case(case))


def line(words, heading, start):
    return next(text for text in words[heading] if text.startswith(start))


def test_the_tunnel_is_a_hat_closed_by_the_floor_and_the_bulkheads(words):
    text = line(words, "Sections", "tunnel")
    assert "hat; closed by floor (tabbed)" in text
    assert "front end closed by front_bulkhead, rear end closed by rear_bulkhead" in text
    # halfway: trapezium of 2 x (140 + 113.5) mm by 225 mm as measured on the outside = 570 cm2; the middle of a 2 mm
    # wall lies 1 mm inside, and the floor's middle above or below z = 0 by some millimetres
    area = float(re.search(r"cell of (\d+) cm²", text)[1])
    assert area == pytest.approx(570, rel=0.03)


def test_the_sill_is_a_ring_of_its_own(words):
    text = line(words, "Sections", "sill")
    assert "ring; closed in itself" in text
    # (160 + 142) / 2 x 210 mm as measured = 317 cm2, less half a wall all round
    assert float(re.search(r"cell of (\d+) cm²", text)[1]) == pytest.approx(317, rel=0.04)


def test_without_the_floor_the_tunnel_is_open(case):
    text = line(look_words(model_case(change_case(case, without=["floor"]), base=case)), "Sections", "tunnel")
    assert "OPEN" in text


def test_joint_metres_by_kind(words):
    text = line(words, "Joints", "continuous")
    # floor along both sills: 2 lines of 1450 mm less two half bulkheads of 11 mm, leaning 25 mm; on 4 places each
    # floor/sill runs along the inner and the bottom wall
    assert float(re.search(r"floor/sill (\S+)", text)[1]) == pytest.approx(2 * 2 * 1.428, rel=0.01)
    assert "floor/tunnel 2.86" in line(words, "Joints", "tabbed")


def test_free_edges_are_the_upper_edges_of_the_bulkheads(words):
    (text,) = words["Free edges"]
    assert set(re.findall(r"(\w+) \d+\.\d+", text.split(":")[1])) == {"front_bulkhead", "rear_bulkhead"}


def test_fibre_directions(words):
    assert line(words, "Fibre directions", "biax600 @ 0: fibres at +45 and -45")
    assert line(words, "Fibre directions", "plain200 @ 0: fibres at 0 and 90")


@pytest.mark.parametrize(
    ("tab", "says"),
    [
        ("biax600 @ 0", "fibres at 45 degrees to it"),
        ("biax600 @ 45", "fibres along and across the line   <- meant?"),
        ("plain200 @ 0", "fibres along and across the line"),
        ("plain200 @ 30", "fibres at 30 and 60 degrees to it"),
    ],
)
def test_tabs_are_told_from_the_joint_line(tab, says, tmp_path):
    kinds = {"moulded": {"kind": "continuous"}, "tab60": {"kind": "tabbed", "tab": [tab], "width": 60}}
    case = starter(tmp_path, joint_kinds=kinds)
    text = line(look_words(model_case(case)), "Tabs", "tab60")
    assert text.endswith(says)


def test_a_named_filler_stands_with_its_tab(tmp_path):
    kind = {"kind": "tabbed", "tab": ["plain200"], "width": 60, "fillet": 8, "filler": "epoxy with cotton flock"}
    case = starter(tmp_path, joint_kinds={"moulded": {"kind": "continuous"}, "tab60": kind})
    text = line(look_words(model_case(case)), "Tabs", "tab60")
    assert "plain200 @ 0, 60 mm wide, one side, 8 mm fillet of epoxy with cotton flock: " in text


def test_lines_of_both_sides_are_merged():
    lines = ["lap on a.left: 3", "only here.left: 4", "lap on a.right: 3", "no side"]
    assert both_sides(lines) == ["lap on a: 3, each side", "only here.left: 4", "no side"]


def test_poor_elements_are_named():
    flat = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
    good = tub_builders.tub_mesh([tub_builders.panel("plate", flat, (4, 4))], size=0.25)
    assert poor_elements(good) == []
    thin = tub_builders.tub_mesh([tub_builders.panel("plate", flat, (1, 40))], size=0.25)
    (text,) = poor_elements(thin)
    assert "aspect ratio of 40 in plate" in text
    skew = replace(good, points=good.points @ np.array([[1.0, 0, 0], [6.0, 1.0, 0], [0, 0, 1.0]]))
    assert "corner of sine 0.16 in plate" in poor_elements(skew)[0]


def test_joints_with_the_same_springs_are_told_together():
    springs = "tab60: 702 N/mm per mm along, 3.4 N·mm/mm per degree"
    lines = [
        f"joint a/b.top, {springs}",
        "lap of c: 2 cm²",
        f"joint c/d, {springs}",
        "joint e/f, tab50: 1 N·mm/mm per degree; 2 N/mm per mm by g",
    ]
    assert alike(lines) == [
        f"{springs}: a/b.top, c/d",
        "lap of c: 2 cm²",
        "tab50: 1 N·mm/mm per degree; 2 N/mm per mm by g: e/f",
    ]


def test_every_number_of_the_notes_has_its_unit(words):
    """So that the page can show it in others: what is left without one is a count, an angle or a share."""
    for text in [
        *words["Notes"],
        *words["Sections"],
        *words["Joints"],
        *words["Free edges"],
        *words["Tabs"],
        *words["Ply drops"],
    ]:
        left = "".join(piece.text for piece in pieces(text) if piece.kind is None)
        left = re.sub(
            r"\b[A-Za-z_][\w.]*|\d+ (?:plies|degrees|corners|bricks)|12 to 14 %|1 in [\d.]+|@ [+-]?\d+|\d+ x |z = ",
            "",
            left,
        )
        assert not re.search(r"\d", left), text
