"""A tub on its wheels: wheel loads to pickups, inertia of what it carries, sums of load cases, one factorisation."""

import case_texts
import numpy as np
import pytest
from numpy.testing import assert_allclose
from starter_on_wheels import CASES, FRONT, MASSES, PICKUPS, REAR, tables
from tub_box import resultant

from tubfem.errors import CaseError
from tubfem.findings.collect import find
from tubfem.findings.torsion import axle_twist
from tubfem.report.road_words import wheel_words
from tubfem.run import model_case
from tubfem.shell.loads import mass_and_centre
from tubfem.shell.solve import solve
from tubfem.tub.wheels import G

LEVEL = {**MASSES, "driver": {**MASSES["driver"], "at": [900, 0, 200]}}


@pytest.fixture(scope="module")
def model(tmp_path_factory):
    return model_case(case_texts.read_tables(tables(), tmp_path_factory.mktemp("case")))


@pytest.fixture
def changed(model, tmp_path):
    """The model of changed tables, on the same mesh."""
    return lambda **changes: model_case(case_texts.read_tables(tables(**changes), tmp_path), mesh=model.mesh)


@pytest.fixture(scope="module")
def solved(model):
    (state,) = model.states  # every load case on wheels and both twists: one factorisation
    return state, solve(state.shell), {setup.name: setup for setup in state.load_cases}


def forces(state, setup):
    return state.shell.loads[:, setup.column].reshape(-1, 6)


def test_one_state_in_the_order_of_the_file(model):
    (state,) = model.states
    assert [setup.name for setup in state.load_cases] == ["torsion", *CASES]
    assert all(setup.free for setup in state.load_cases)
    assert set(model.probes["jacking"]) == {"jack"}


def test_look_tells_the_car_its_wheels_and_what_lifts_one(model):
    road = {setup.name: setup.road for setup in model.states[0].load_cases}["standing"]
    first, *lines = wheel_words(model)
    assert first.startswith(f"{road.mass:.0f} kg in all")
    assert [line.split(":")[0] for line in lines] == [name for name in CASES if name != "again"]
    axles = {end: sum(road.wheels[f"{end}.{side}"][2] for side in ("left", "right")) for end in ("front", "rear")}
    lighter = min(axles, key=axles.get)
    (note,) = [note for note in model.notes if "lift a wheel" in note]
    assert f"{lighter}, carries {axles[lighter]:.0f} N" in note
    assert f"{axles[lighter] * 0.7:.0f} N·m lift" in note  # half the track of 1400 mm


@pytest.mark.parametrize("name", ["torsion", *CASES])
def test_loads_balance_and_reactions_vanish(solved, name):
    state, solution, setups = solved
    load = forces(state, setups[name])
    scale = np.abs(load).max()
    assert_allclose(resultant(state.shell.points, load) / scale, 0, atol=1e-10)  # rounding
    assert np.abs(solution.reactions[setups[name].column]).max() < 1e-6 * scale


@pytest.mark.parametrize("name", ["bending", "braking", "cornering", "bump", "other", "kerb", "standing"])
def test_pickups_forces_are_mass_times_what_is_felt(solved, name):
    """Tub and load without the wheels: sum of the pickups' forces is their mass times their centre's acceleration."""
    state, _, setups = solved
    road = setups[name].road
    mass, centre = mass_and_centre(state.shell.points, state.shell.blocks, state.shell.mass)
    tabs = state.shell.lumps.sum()
    carried = [
        (80.0, [0.9, 0.32, 0.2]),
        (120.0, [-0.3, 0.0, 0.2]),
        (tabs, state.shell.lumps @ state.shell.points / tabs),
    ]
    total = mass + 200.0 + tabs
    middle = (mass * centre + sum(m * np.array(at) for m, at in carried)) / total
    assert_allclose(road.mass, total + 100.0, rtol=1e-12)
    away = middle - np.array(road.centre)
    linear = G * np.array(road.felt[:3]) + np.cross(road.felt[3:], away)
    pushed = np.sum(list(road.pickups.values()), axis=0)
    # the laminate's mass is lumped on the meshed surface, a few mm from its own middle: matters where it turns
    assert_allclose(pushed, total * linear, rtol=1e-3, atol=1e-3 * np.abs(pushed).max())
    assert_allclose(np.sum(list(road.wheels.values()), axis=0), road.mass * G * np.array(road.felt[:3]), atol=1e-6)


def test_a_rigid_subframe_does_not_care_which_members_carry_the_wheel(solved, changed):
    """Statics: force and moment on the subframe are the wheel's, by wishbones or straight at one pickup."""
    axle = {key: FRONT[key] for key in ("contact", "hub", "unsprung")} | {"pickups": "front"}
    straight = changed(axles={"front": axle, "rear": REAR})
    state, solution, setups = solved
    other = solve(straight.states[0].shell)
    for name in ("braking", "bump", "kerb"):
        column = setups[name].column
        now = straight.states[0].load_cases[[*setups].index(name)]
        assert now.name == name
        u, v = solution.u[column], other.u[now.column]
        assert_allclose(v, u, atol=1e-7 * np.abs(u).max())
        assert not now.road.members
    assert state.load_cases[0].torsion.hubs is None  # only the front wheels hang on members


def test_hub_to_hub_is_pickup_to_pickup_on_rigid_subframes(changed):
    """Members that do not give make wheel and subframe one body: any pickups and hubs on them turn alike."""
    rear_pickups = {
        f"rear_{name}": {"at": [at[0] + 1690, *at[1:]], "on": "subframes.rear"} for name, at in PICKUPS.items()
    }
    moved = tables()
    shift = lambda at: [at[0] + 1690, *at[1:]]  # noqa: E731
    lower = {"pivots": ["rear_low_fore", "rear_low_aft"], "ball": shift(FRONT["arms"]["lower"]["ball"])}
    links = {}
    for name, link in FRONT["links"].items():
        to = link["to"]
        to = {"on": "lower", "at": shift(to["at"])} if isinstance(to, dict) else shift(to)
        links[name] = {"from": f"rear_{link['from']}", "to": to}
    rear = {"contact": [1570, 700, -120], "hub": [1570, 690, 160], "arms": {"lower": lower}, "links": links}
    moved["axles"] = {"front": FRONT, "rear": rear}
    moved["subframes"]["rear"] = {"bolts": ["rear_*"]}
    moved["pickups"] = {**moved["pickups"], "rear": {"at": [1570, 560, 220], "on": "subframes.rear"}, **rear_pickups}
    moved["load_cases"] = {"torsion": moved["load_cases"]["torsion"]}
    model = changed(**moved)
    (state,) = model.states
    solution, (setup,) = solve(state.shell), state.load_cases
    work = state.shell.loads[:, setup.torsion.hubs] @ solution.u[setup.torsion.hubs].ravel()
    twist = axle_twist(state.shell.points, solution.u[setup.column], setup.torsion)
    assert_allclose(work / setup.torsion.torque, twist, rtol=1e-8)
    torsion = find(model, (solution,)).load_cases["torsion"].torsion
    assert_allclose(torsion.hub_to_hub, torsion.pickup_to_pickup, rtol=1e-8)


def test_a_sum_is_the_sum(solved):
    """Superposition equals the direct solution of the summed loads, with weight counted once."""
    _, solution, setups = solved
    u = {name: solution.u[setup.column] for name, setup in setups.items()}
    scale = np.abs(u["sum"]).max()
    assert_allclose(u["sum"], u["bump"] + 0.7 * u["cornering"] - 1.05 * u["standing"], atol=1e-9 * scale)
    assert_allclose(u["twist_too"], 2 * u["torsion"] + u["bending"], atol=1e-9 * np.abs(u["twist_too"]).max())
    road = {name: setup.road for name, setup in setups.items()}
    assert_allclose(road["sum"].felt[2], road["bump"].felt[2] + 0.7 * 1.5 - 1.05)
    for name, force in road["sum"].members.items():
        parts = (road["bump"].members[name], 0.7 * road["cornering"].members[name], road["standing"].members[name])
        assert_allclose(force, parts[0] + parts[1] - 1.05 * parts[2], atol=1e-6)
    assert road["twist_too"].wheels == road["bending"].wheels


def test_mirrored_loads_mirror(changed):
    """Load in the middle: braking is its own mirror image, a bump left that of a bump right."""
    model = changed(vehicle={"masses": LEVEL})
    setups = {setup.name: setup for setup in model.states[0].load_cases}
    swap = lambda name: name.replace("left", "?").replace("right", "left").replace("?", "right")  # noqa: E731
    for one, other in (("braking", "braking"), ("bump", "other")):
        a, b = setups[one].road, setups[other].road
        size = max(abs(force) for force in a.members.values())
        for name, force in a.members.items():
            assert_allclose(b.members[swap(name)], force, atol=2e-3 * size)  # plies across the middle are not mirrored
        for name, force in a.pickups.items():
            assert_allclose(np.array(b.pickups[swap(name)]) * [1, -1, 1], force, atol=2e-3 * size)
    column = model.states[0].shell.loads
    _, (right, other) = column, (setups["bump"], setups["other"])
    assert np.abs(column[:, right.column] - column[:, other.column]).max() > 100.0  # and they are two load cases


def test_free_cases_and_modes_carry_the_vehicle(changed):
    push = {"kind": "static", "free": True, "forces": [{"on": "front", "force": [0, 0, "4 kN"]}]}
    model = changed(load_cases={"push": push}, modes={"count": 1})
    (state,) = model.states  # no twist: the modes use the same supports, and the load case is kept
    assert [setup.name for setup in state.load_cases] == ["push"]
    assert {carried.name: carried.mass for carried in model.modes.carried} == {"driver": 80.0, "engine": 120.0}
    mass = mass_and_centre(state.shell.points, state.shell.blocks, state.shell.mass)[0] + 200
    mass += state.shell.lumps.sum()
    assert any(f"load_cases.push: {mass:.4g} kg" in note for note in model.notes)


def test_a_wheel_pulled_down_is_told(changed):
    sums = {"bump": {}, "standing": {"kind": "bending", "factor": 1}}
    sums["light"] = {"kind": "combination", "of": {"bump": 1.0, "standing": -1.5}}
    model = changed(load_cases=sums)
    assert any("would have to pull front.left, rear.left, rear.right down" in text for text in model.cautions)


@pytest.mark.parametrize(
    ("load_cases", "told"),
    [
        ({"cornering": {"acceleration": "5 g"}}, r"load_cases\.cornering: the wheels of one side would lift"),
        (
            {
                "bumpy": {"kind": "bump"},
                "bench": {
                    "kind": "torsion",
                    "torque": "1 kN*m",
                    "front": "front",
                    "rear": "rear",
                    "restraint": "bench",
                },
                "both": {"kind": "combination", "of": {"bumpy": 1, "bench": 1}},
            },
            "bumpy and bench hold the tub in different ways",
        ),
    ],
)
def test_what_cannot_be_is_told(changed, load_cases, told):
    with pytest.raises(CaseError, match=told):
        changed(load_cases=load_cases)
