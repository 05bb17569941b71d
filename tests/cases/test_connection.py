"""The dash tied to the sill by one, two and three laminations: hinge to frame, and what each path carries."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.read import load_case
from tubfem.errors import CaseError
from tubfem.run import change_case, model_case, run_case

CASE = load_case(Path(__file__).parents[2] / "cases/connection.toml")
COARSE = CASE.model_copy(update={"mesh": CASE.mesh.model_copy(update={"size": 0.03})})
STAGES = (("over", "outside"), ("outside",), ())
MOMENT = 100.0


def connection(case):
    model, _, findings = run_case(case)
    found = findings.load_cases["turned"]
    return model, found, found.connections["dash_to_sill"]


@pytest.fixture(scope="module")
def stages():
    return [connection(change_case(COARSE, without=gone)) for gone in STAGES]


def test_every_path_makes_it_stiffer(stages):
    whole = [MOMENT / found.probes["middle"][5] for _, found, _ in stages]
    joints = [each.turning[2] for *_, each in stages]
    # one path is a hinge, two are a frame: hundreds of times; the third half as much again at least in the panels
    assert whole[1] > 100 * whole[0]
    assert whole[2] > 1.1 * whole[1]
    assert joints[1] > 1000 * joints[0]
    assert joints[2] > joints[1]
    assert all(w < j for w, j in zip(whole, joints, strict=True))  # panels give way as well


def test_paths_carry_the_moment_between_them(stages):
    for _, _, each in stages:
        # statics: the sill takes what is put on the dash, and no force
        assert_allclose(each.moment, [0, 0, MOMENT], atol=1e-6 * MOMENT)
        assert np.linalg.norm(each.force) < 1e-6
        assert_allclose(sum(path.moment_share for path in each.paths), 1.0, rtol=1e-9)
    assert [len(each.paths) for *_, each in stages] == [1, 2, 3]


def test_what_is_left_without_a_path_is_the_stage_before(stages):
    one, two, three = (each for *_, each in stages)
    assert_allclose(one.paths[0].without, 0.0, atol=1e-9)
    without = {path.joint: path.without for path in three.paths}
    assert_allclose(without["outside/sill_wall"], two.turning, rtol=1e-9)
    assert_allclose({p.joint: p.without for p in two.paths}["over/sill_wall"], one.turning, rtol=1e-9)


def test_two_lines_resist_as_a_couple(stages):
    # closed form: two lines 60 mm apart, each with its springs across and about the line, 250 mm long
    model, _, two = stages[1]
    shell = model.states[0].shell
    (ties,) = (each for each in model.joints if each.name == "dash/sill_wall")
    k = shell.springs[0].stiffness[ties.rows].sum(axis=0)
    assert_allclose(two.turning[2], 2 * k[1] * 0.03**2 + 2 * k[3], rtol=1e-6)
    assert_allclose(stages[0][2].turning[2], k[3], rtol=1e-9)


def test_moulded_path_is_read_from_the_elements():
    moulded = COARSE.model_copy(update={"joints": {**COARSE.joints, "dash/sill_wall": "moulded"}})
    _, _, each = connection(moulded)
    assert_allclose(each.moment, [0, 0, MOMENT], atol=1e-6 * MOMENT)
    assert np.linalg.norm(each.force) < 1e-4
    kinds = {path.joint: path for path in each.paths}
    assert kinds["dash/sill_wall"].kind == "continuous"
    assert each.turning is None  # no joint gives way where a path is moulded
    assert kinds["dash/sill_wall"].without is not None
    assert_allclose(sum(path.moment_share for path in each.paths), 1.0, rtol=1e-9)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"one": ("nothing",), "other": ("sill_wall",)}, "no such panel or region"),
        ({"one": ("dash", "over"), "other": ("dash",)}, "dash is in both parts"),
        ({"one": ("web",), "other": ("sill_top",)}, "meet nowhere"),
    ],
)
def test_connections_that_are_none_are_told(table, words):
    wrong = CASE.connections["dash_to_sill"].model_copy(update=table)
    with pytest.raises(CaseError, match=words):
        model_case(COARSE.model_copy(update={"connections": {"dash_to_sill": wrong}}))
