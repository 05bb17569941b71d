"""Findings in sentences."""

from types import SimpleNamespace

from tubfem.findings.results import Energy, Worst
from tubfem.findings.words import attached_sentences, soft_sentences, worst_sentence


def worst(**more):
    common = {
        "margin": 0.254,
        "margin_peak": 0.1,
        "kind": "first damage",
        "mode": "transverse tension",
        "ply": "floor 2a biax600 +45",
        "ply_index": 1,
        "face": "bottom",
        "panel": "floor.left",
        "region": "floor",
        "position": (0.4204, -0.31, 0.0),
        "demand": 2e-3,
        "allowable": 2.5e-3,
        "unit": "-",
        "sign": -1,
        "length": 0.035,
    }
    return Worst(**(common | more))


def test_worst_margin_says_where_and_which_hand():
    text = worst_sentence(worst(), True)
    assert text == (
        "Lowest margin of plies and cores +0.25: first damage (transverse tension) of floor 2a biax600 +45 at its tool "
        "side in floor.left at x 420, y -310, z 0 mm, torque -."
    )
    assert "torque" not in worst_sentence(worst(), False)


def test_a_margin_next_to_nothing_shows_its_digits():
    assert "-0.0040" in worst_sentence(worst(margin=-0.004), True)


def test_core_shear_has_no_face_and_no_second_name():
    text = worst_sentence(worst(kind="core shear", mode="core shear", face=None, unit="Pa"), False)
    assert "core shear of floor" in text
    assert "side" not in text
    assert worst(unit="Pa").strain is None
    assert worst().strain == 2e-3


def test_joints_with_much_of_the_energy_are_soft_largest_first():
    energy = Energy(1.0, {}, {"a/b": 0.06, "c/d": 0.2, "e/f": 0.01}, 0.0, 0.0)
    assert [text.split()[1] for text in soft_sentences(energy)] == ["c/d", "a/b"]


def test_the_weakest_of_joints_and_hard_points_is_said_with_what_is_low_there():
    checks = (SimpleNamespace(what="bearing", margin=0.2), SimpleNamespace(what="crushing", margin=0.9))
    idle = SimpleNamespace(name="idle", checks=())
    points = {"m": SimpleNamespace(name="m", margin=0.2, checks=checks), "idle": idle}
    strength = SimpleNamespace(margins={"tab plies": 0.5, "bond shear": 0.1})
    joint = SimpleNamespace(name="a/b", margin=0.1, kind="tabbed", strength=strength)
    case = SimpleNamespace(name="torsion", joints={}, hard_points=points, frames={})
    assert attached_sentences(case) == ("Lowest margin of joints and hard points +0.20: hard point m, bearing.",)
    case.joints["a/b"] = joint
    assert attached_sentences(case) == ("Lowest margin of joints and hard points +0.10: joint a/b, bond shear.",)
    case.joints.clear()
    case.hard_points = {"idle": idle}
    assert attached_sentences(case) == ()
