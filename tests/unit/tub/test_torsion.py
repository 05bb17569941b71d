"""The twist case: balanced, and independent of how the tub is held."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh, resultant, solved, twist_stiffness

from tubfem.errors import CaseError
from tubfem.tub.torsion import RESTRAINTS


@pytest.mark.parametrize("shift_x", [0, 80])
def test_couple_is_balanced_and_reactions_vanish(shift_x):
    model, solution = solved(box_case(shift_x=shift_x), box_mesh())
    shell = model.states[0].shell
    load = shell.loads[:, 0].reshape(-1, 6)
    assert_allclose(resultant(shell.points, load), 0.0, atol=1e-9)
    front = list(model.states[0].load_cases[0].torsion.front)
    assert_allclose(resultant(shell.points[front], load[front])[3:], [1000, 0, 0], atol=1e-9)
    assert np.abs(solution.reactions).max() < 1e-6 * np.abs(load).max()
    assert bool(model.cautions) == bool(shift_x)


def test_stiffness_does_not_depend_on_the_determinate_restraint():
    found = [twist_stiffness(*solved(box_case(), box_mesh(), restraint=name)) for name in RESTRAINTS]
    assert_allclose(found, found[0], rtol=1e-6)


def test_front_goes_up_on_the_right():
    model, solution = solved(box_case(), box_mesh())
    left, right = model.states[0].load_cases[0].torsion.front
    assert solution.u[0][right, 2] > solution.u[0][left, 2]


def test_bench_clamps_the_rear_and_is_labelled():
    model, solution = solved(box_case(restraint="bench"), box_mesh())
    setup = model.states[0].load_cases[0].torsion
    assert setup.restraint == "bench: rear pickups clamped"
    assert_allclose(solution.u[0][list(setup.rear)], 0.0, atol=1e-15)
    assert_allclose(resultant(model.states[0].shell.points, solution.reactions[0])[3], -1000, rtol=1e-9)


def test_an_axle_without_two_sides_is_refused():
    case = box_case()
    twist = case.load_cases["torsion"].model_copy(update={"front": ("front_l",)})
    with pytest.raises(CaseError, match=r"load_cases\.torsion\.front: front_l: a couple needs a left and a right"):
        solved(case.model_copy(update={"load_cases": {"torsion": twist}}), box_mesh())
