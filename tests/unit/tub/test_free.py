"""Free tubs: inertia balances the loads, nothing is left for the supports."""

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose
from pydantic import ValidationError
from tub_box import box_case, box_mesh, plate_case, plate_mesh, resultant

from tubfem.findings.collect import find
from tubfem.shell.loads import mass_and_centre
from tubfem.shell.model import Springs
from tubfem.shell.solve import solve
from tubfem.tub.build import build_model
from tubfem.tub.free import balance
from tubfem.tub.layup import lay_plies

PUSH = {"free": True, "forces": [{"on": "a", "force": [0, 0, "100 N"]}]}


def plate(load, **more):
    case, mesh = plate_case(load, **more), plate_mesh()
    return build_model(case, mesh, lay_plies(case, mesh))


def applied(model):
    state = model.states[0]
    return resultant(state.shell.points, state.shell.loads[:, 0].reshape(-1, 6))


def test_force_and_moment_vanish_and_so_do_the_reactions():
    model = plate(PUSH)
    # 100 N and its moments about the far corner, up to 100 N m: rounding only
    assert_allclose(applied(model), 0, atol=1e-9)
    solution = solve(model.states[0].shell)
    assert np.abs(solution.reactions).max() < 1e-6
    (check,) = [c for c in find(model, (solution,)).load_cases["static"].checks if c.name == "reaction_sum"]
    assert check.value < check.limit


def test_a_thin_plate_accelerates_as_a_rigid_body_does():
    # f at a corner of a plate 2a x 2b (closed form): a = f / m, alpha_x = -3 f / (m b), alpha_y = 3 f / (m a)
    n = 40
    x, y = (g.ravel() for g in np.meshgrid((np.arange(n) + 0.5) / n, 0.4 * (np.arange(n) + 0.5) / n))
    points = np.stack([x, y, np.zeros(n * n)], axis=1)
    points = np.concatenate([points, [[0.0, 0.0, 0.0]]])
    masses = np.append(np.full(n * n, 8.0 / n**2), 0.0)
    load = np.zeros((len(points), 6))
    load[-1, 2] = 100.0
    inertia, motion = balance(points, masses, [], load.ravel())
    # the midpoint rule of the moments of inertia is short by 1 / n^2
    assert_allclose(motion[2:5], [100 / 8, -3 * 100 / (8 * 0.2), 3 * 100 / (8 * 0.5)], rtol=2 / n**2)
    assert_allclose(inertia.reshape(-1, 6)[:, 2].sum(), -100.0, rtol=1e-12)


def test_what_is_carried_takes_its_share():
    # two points a metre apart carry 30 kg between them by their mean; 10 kg of their own (closed form)
    points = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.0, 1, 0], [1.0, 1, 0]])
    nodes = np.arange(4)
    rows = Springs(
        (6 * nodes[:, None] + np.arange(3)).reshape(-1, 1), np.ones((12, 1)), np.repeat([7.5, 7.5, 7.5, 7.5], 3)
    )
    load = np.zeros((4, 6))
    load[:, 2] = 100.0
    inertia, motion = balance(points, np.full(4, 2.5), [rows], load.ravel())
    assert_allclose(motion, [0, 0, 10.0, 0, 0, 0], atol=1e-12)
    assert_allclose(inertia.reshape(-1, 6)[:, 2], -100.0, rtol=1e-12)


def test_pickups_forces_are_mass_times_acceleration():
    corners = ("front_l", "front_r", "rear_l", "rear_r")
    forces = [{"on": name, "force": ["-500 N", "300 N", f"{2 + k} kN"]} for k, name in enumerate(corners)]
    engine = {"mass": "120 kg", "on": ["rear_l", "rear_r", "front_l"], "at": [900, 20, 300]}
    twist = {"kind": "torsion", "torque": "1 kN*m", "front": ["front_l", "front_r"], "rear": ["rear_l", "rear_r"]}
    bump = {"kind": "static", "free": True, "forces": forces, "masses": {"engine": engine}}
    case, mesh = box_case(load_cases={"torsion": twist, "bump": bump}), box_mesh()
    model = build_model(case, mesh, lay_plies(case, mesh))
    (state,) = model.states  # one factorisation with the twist
    load = state.shell.loads[:, 1].reshape(-1, 6)
    scale = np.abs(load).max()
    assert_allclose(resultant(state.shell.points, load) / scale, 0, atol=1e-10)
    assert np.abs(solve(state.shell).reactions[1]).max() < 1e-6 * scale
    # sum of the pickups' forces = (shells + engine) a, as the note tells a to three figures
    mass = mass_and_centre(state.shell.points, state.shell.blocks, state.shell.mass)[0] + 120
    (note,) = [note for note in model.notes if "load_cases.bump" in note]
    told = [float(part) for part in re.findall(r"([+-][0-9.]+) g", note)]
    assert_allclose(told, np.array([-2000, 1200, 14000]) / mass / 9.80665, rtol=5e-3)


@pytest.mark.parametrize(
    ("load", "told"),
    [
        ({"forces": [{"on": "a", "force": [0, 0, "1 N"]}]}, "what holds it"),
        ({**PUSH, "supports": [{"on": "b", "fix": "all"}]}, "have no place"),
        ({**PUSH, "acceleration": [0, 0, "-1 g"]}, "have no place"),
        (
            {
                "supports": [{"on": "b", "fix": "all"}],
                "forces": PUSH["forces"],
                "masses": {"m": {"mass": "1 kg", "on": "a"}},
            },
            "masses belong to free",
        ),
    ],
)
def test_free_and_held_are_told_apart(load, told):
    with pytest.raises(ValidationError, match=told):
        plate_case(load)
