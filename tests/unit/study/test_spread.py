"""Everything that scatters, drawn many times: a closed form, the starter tub, what the command says."""

import json
from dataclasses import replace

import numpy as np
import pytest
from box_tub import box_tub
from case_texts import CASES
from numpy.testing import assert_allclose
from redrawn import assert_documented, assert_drawn_again
from scipy.special import ndtri
from typer.testing import CliRunner

from tubfem import cli
from tubfem.case.digest import case_digest
from tubfem.case.loads import Margins
from tubfem.case.read import load_case
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.allowables import allowables
from tubfem.laminate.adhesive import volkersen_peak
from tubfem.laminate.stack import make_stack
from tubfem.run import model_case, solve_state
from tubfem.study.executors import workers
from tubfem.study.mesh_part import mesh_part
from tubfem.study.sampled import Solved, evaluate, responses
from tubfem.study.scatter import log_deviation
from tubfem.study.scattered import drawn_stacks, scatter, source_of
from tubfem.study.sobol import Sampled, base_samples, exchanged, shares
from tubfem.study.spread import spread_case
from tubfem.tub.line_stiffness import GLUE_LINE, RESIN_SHEAR
from tubfem.tub.plies import cured_layers

TEXT = (CASES / "starter.toml").read_text().replace("size = 40", "size = 120")
CERTAIN = dict.fromkeys(("fibre_fraction", "moduli", "strength", "bonds", "core_shear", "joints", "mounts"), 0.0)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("spread") / "starter.toml"
    path.write_text(TEXT)
    return path


@pytest.fixture(scope="module")
def model(path):
    return model_case(load_case(path))


@pytest.fixture(scope="module")
def found(path):
    return spread_case(load_case(path), samples=32)


@pytest.fixture(scope="module")
def box():
    """A box of one plain weave at 0 degrees: Bredt says that its stiffness goes with G12 times thickness alone."""
    case = Case.model_validate(
        {
            "plies": {"weave": {"fibre": "e-glass", "architecture": "plain", "areal_weight": "600 g/m^2"}},
            "defaults": {"resin": "epoxy, room-temperature cure", "process": "hand"},
            "layups": {wall: ["weave"] for wall in ("bottom", "right", "top", "left")},
            "spread": {**CERTAIN, "shear_moduli": 0.12, "thickness": 0.025},
        }
    )
    model = box_tub(make_stack(cured_layers(case, "weave", case.layups["top"])), case=case)
    (state,) = model.states
    solution, factored = solve_state(model, state)
    source, setup = source_of(model), state.load_cases[0]
    solved = Solved(source, state, setup, factored, solution.u[0].ravel(), 1.0)
    return responses(solved, scatter(source, state.shell))


def test_a_closed_box_scatters_as_its_shear_stiffness(box):
    """ln K = ln G12 + ln t for every draw, so K is lognormal (closed form).

    0.5 % in the mean square, 2 % for any draw: the product of two parameters' changes is left out (S.5), which is
    2 % where both lie two and a half standard deviations away. Variance within the sampling of 256 draws.
    """
    assert [(p.key, p.name) for p in box.scatter.parameters] == [("shear_moduli", "e-glass"), ("thickness", "weave")]
    A, B = base_samples(128, 2, seed=5)
    sd = np.array([log_deviation(0.12), log_deviation(0.025)])
    stiffness, _ = evaluate(box, np.concatenate([np.zeros((1, 2)), A, B]))
    error = stiffness[1:] / stiffness[0] / np.exp(np.concatenate([A, B]) @ sd) - 1
    assert abs(error).max() < 0.02
    assert np.sqrt((error**2).mean()) < 5e-3
    K = [evaluate(box, Z)[0] for Z in (A, B, exchanged(A, B, [0]), exchanged(A, B, [1]))]
    both = np.concatenate(K[:2])
    variance = np.expm1(sd @ sd) * np.exp(sd @ sd) * stiffness[0] ** 2
    assert_allclose(both.var(), variance, rtol=0.1)  # 256 draws
    first, total, *_ = shares(Sampled(A, B, [[0], [1]], K[0], K[1], np.array(K[2:])), seed=5)
    exact = np.expm1(sd**2) / np.expm1(sd @ sd)
    assert_allclose(first, exact, atol=0.02)
    assert_allclose(total, 1 - exact[::-1], atol=0.02)


def jointed(limit, **coefficients):
    """The box with one corner tabbed, along which it carries Bredt's flow whatever anything's stiffness is."""
    case = Case.model_validate(
        {
            "plies": {
                "weave": {"fibre": "e-glass", "architecture": "plain", "areal_weight": "600 g/m^2", "g12": limit}
            },
            "defaults": {"resin": "epoxy, room-temperature cure", "process": "hand"},
            "layups": {wall: ["weave"] for wall in ("bottom", "right", "top", "left")},
            "joint_kinds": {"tab": {"kind": "tabbed", "tab": ["weave"], "width": 60, "fillet": 8}},
            "joints": {"bottom/right": "tab"},
            "spread": {**CERTAIN, "shear_moduli": 0.0, "thickness": 0.0, **coefficients},
        }
    )
    model = box_tub(make_stack(cured_layers(case, "weave", case.layups["top"])), case=case, tie_stiffness=1e9)
    (ties,) = model.joints
    model = replace(model, joints=(replace(ties, means="tab", standing=ties.panels),))
    (state,) = model.states
    solution, factored = solve_state(model, state)
    source, setup = source_of(model), state.load_cases[0]
    solved = Solved(source, state, setup, factored, solution.u[0].ravel(), 1.0)
    return responses(solved, scatter(source, state.shell))


def joint_use(answers, Z):
    """Greatest use (s,) of the one joint in independent draws Z (s, v)."""
    assert answers.joints.names == ("bottom/right",)
    return evaluate(answers, Z @ answers.scatter.mix.T)[1][:, -1]


def test_a_joint_that_carries_bredts_flow_scatters_as_its_tab():
    """The plies' use is q / (G12 t) / limit: its logarithm is a sum, whose variance and shares are a closed form.

    The flow q is T / 2A by Bredt, 0.2 % as meshed; the limit 0.004 with the library's knock-downs over the factor 1.5.
    """
    sd = {key: log_deviation(c) for key, c in (("shear_moduli", 0.12), ("thickness", 0.025), ("strength", 0.1))}
    answers = jointed(0.004, shear_moduli=0.12, thickness=0.025, strength=0.1)
    keys = [cause.key for cause in answers.scatter.causes]
    assert sorted(keys) == sorted(sd)
    (_, ply), *_ = cured_layers(answers.solved.source.model.case, "weave", None)
    knocked = allowables(Margins()).knock_down[ply.mode_names[4]]
    q = 1000 / (2 * 0.2 * 0.1)
    now = q / (ply.G12 * ply.thickness) / (0.004 * knocked / 1.5)
    assert_allclose(joint_use(answers, np.zeros((1, 3))), now, rtol=2e-3)
    A, B = base_samples(128, 3, seed=3)
    s = np.array([sd[key] * (-1) for key in keys])
    assert_allclose(joint_use(answers, A), now * np.exp(A @ s), rtol=5e-3)
    logs = [np.log(joint_use(answers, Z)) for Z in (A, B, *(exchanged(A, B, [k]) for k in range(3)))]
    assert_allclose(np.concatenate(logs[:2]).var(), s @ s, rtol=0.1)  # 256 draws
    first, total, *_ = shares(Sampled(A, B, [[0], [1], [2]], *logs[:2], np.array(logs[2:])), seed=3)
    assert_allclose(first, s**2 / (s @ s), atol=0.01)
    assert_allclose(total, s**2 / (s @ s), atol=0.01)


def test_a_bond_scatters_as_its_strength():
    """Peak shear of Bredt's flow by Volkersen (F.2) over a lognormal strength: all of its variance is the bond's.

    0.5 %: the panels' modulus is that of a strip free to contract. Peak at break 30 MPa, over the factor 1.5.
    """
    answers = jointed(0.1, bonds=0.2)
    assert [(p.key, p.name) for p in answers.scatter.parameters] == [("bonds", "tab")]
    assert len(answers.scatter.variables) == 2  # half of it the whole tub has in common
    A, B = base_samples(128, 2, seed=4)
    case = answers.solved.source.model.case
    (_, ply), *_ = cured_layers(case, "weave", None)
    panel = ply.E1 * ply.thickness
    flow, rise = 1000 / (2 * 0.2 * 0.1), volkersen_peak(0.06, RESIN_SHEAR / GLUE_LINE, ply.G12 * ply.thickness, panel)
    now = flow / 0.06 * rise / (30e6 * allowables(Margins()).knock_down["bond"] / 1.5)
    assert_allclose(joint_use(answers, np.zeros((1, 2))), now, rtol=5e-3)
    s = log_deviation(0.2)
    both = np.concatenate([A, B])
    uses = joint_use(answers, both)
    middle = joint_use(answers, np.zeros((1, 2)))
    assert_allclose(uses, middle * np.exp(-s * both @ answers.scatter.mix[0]), rtol=1e-9)
    assert_allclose(np.quantile(uses, 0.95), middle * np.exp(ndtri(0.95) * s), rtol=0.03)  # 256 draws
    logs = [np.log(joint_use(answers, Z)) for Z in (A, B, exchanged(A, B, [0, 1]))]
    first, total, *_ = shares(Sampled(A, B, [[0, 1]], *logs[:2], np.array(logs[2:])), seed=4)
    assert_allclose([first, total], 1.0, atol=1e-6)


def test_regions_have_half_of_their_fibre_fraction_in_common(model):
    scattered = scatter(source_of(model), model.states[0].shell)
    assert_allclose(np.linalg.norm(scattered.mix, axis=1), 1.0)
    fractions = [k for k, p in enumerate(scattered.parameters) if p.key == "fibre_fraction"]
    assert len(fractions) == 5
    correlation = scattered.mix[fractions] @ scattered.mix[fractions].T
    assert_allclose(correlation, 0.5 + 0.5 * np.eye(5))


def test_a_drier_laminate_is_thinner_stiffer_and_as_much_cloth(path):
    """Mass of fibre per area stays: ψ times laminate mass (closed form); ψ 0.5 with the logit raised by 0.2 is 0.55."""
    case = load_case(path)
    (_, wet), *_ = cured_layers(case, "biax600", None)
    (_, dry), *_ = cured_layers(case, "biax600", None, drier=0.2)
    assert dry.thickness < wet.thickness
    assert dry.E1 > wet.E1
    assert_allclose(1 / (1 + np.exp(-0.2)) * dry.areal_mass, 0.5 * wet.areal_mass, rtol=1e-9)


def test_a_draw_changes_only_what_it_names_and_keeps_the_tool_face(model):
    source = source_of(model)
    every = {ply for stack in model.layup.stacks for ply in stack.plies if not ply.core}
    assert every == set(source.origins)
    stacks = drawn_stacks(source, {("fibre_fraction", "tunnel"): 0.1, ("core_shear", "foam80"): 0.2})
    for old, new, region in zip(model.layup.stacks, stacks, source.regions, strict=True):
        assert new.z[0] == old.z[0]
        cored = any(ply.core for ply in old.plies)
        assert (new is old) == (region != "tunnel" and not cored)


def test_the_band_holds_the_run_and_full_solves_agree(found):
    """Draws through the small model: 0.8 % of stiffness; products of two changes are left out (S.5).

    Margins are indications: 6 % of the use.
    """
    low, middle, high = found.stiffness.quantiles
    assert low < middle < high
    assert low < found.stiffness_now < high
    assert abs(middle / found.stiffness_now - 1) < 0.03
    assert len(found.confirmations) >= 2
    for one in found.confirmations:
        assert_allclose(one.stiffness, one.stiffness_full, rtol=8e-3)
        assert_allclose(1 + one.margin, 1 + one.margin_full, rtol=0.06)
    assert found.tub_alone[0] > low


def test_the_tub_as_it_is_has_the_margins_of_the_run(found, model):
    """No draw at all: stiffness and uses of the small model are those of the findings, joints and regions alike."""
    source, (state, *_) = source_of(model), model.states
    solution, factored = solve_state(model, state)
    setup = next(each for each in state.load_cases if each.torsion is not None)
    solved = Solved(source, state, setup, factored, solution.u[setup.column].ravel(), 1.0)
    answers = responses(solved, scatter(source, state.shell))
    _, use = evaluate(answers, np.zeros((1, len(answers.scatter.parameters))))
    regions, joints = answers.followed.elements.regions, answers.joints.names
    told = dict(zip((*regions, *joints), (1 / use[0] - 1).tolist(), strict=True))
    assert set(found.joints_now) == set(joints) == set(found.joints)
    for name, margin in (*found.margins_now.items(), *found.joints_now.items()):
        assert_allclose(1 + told[name], 1 + margin, rtol=1e-6)


def test_workers_draw_the_same_tubs_as_one_process_does(path):
    """Draws solved in full by two processes: the same numbers, named alike."""
    here = spread_case(load_case(path), samples=16)
    with workers(2) as pool:
        there = spread_case(load_case(path), samples=16, pool=pool)
    assert [one.what for one in here.confirmations] == [one.what for one in there.confirmations]
    assert [one.place for one in here.confirmations] == [one.place for one in there.confirmations]
    for one, other in zip(here.confirmations, there.confirmations, strict=True):
        assert_allclose(one.stiffness_full, other.stiffness_full, rtol=1e-9)
        assert_allclose(one.margin_full, other.margin_full, rtol=1e-9)
    assert_allclose(here.stiffness.values, there.stiffness.values, rtol=1e-9)
    for name, own in here.joints.items():
        assert_allclose(own.values, there.joints[name].values, rtol=1e-9)


def test_shares_say_what_drives_what(found):
    stiff = {driver.cause.key: driver for driver in found.stiffness.drivers}
    assert_allclose(sum(driver.first for driver in stiff.values()), 1, atol=0.08)
    assert abs(stiff["strength"].total) < 0.01  # strength has no part in stiffness
    assert found.best.measured < 1
    led = [outcome.drivers[0].cause.key for outcome in found.regions.values()]
    assert led.count("strength") > len(led) / 2  # not where wrinkling or crimping governs: moduli decide that
    for outcome in (*found.regions.values(), *found.joints.values()):
        low, middle, high = outcome.margins
        assert low < middle < high
    driven = [{driver.cause.key: driver.total for driver in outcome.drivers} for outcome in found.joints.values()]
    assert sum(each["bonds"] == max(each.values()) for each in driven) > len(driven) / 2
    assert all(abs(outcome.drivers[-1].total) < 0.05 for outcome in found.joints.values())
    assert found.confirmations[-1].place.startswith("joint ")  # the lowest margin of all on this tub


def test_the_case_may_say_what_is_certain(path, tmp_path):
    certain = tmp_path / "certain.toml"
    nought = "".join(f"{key} = 0\n" for key in (*CERTAIN, "shear_moduli", "thickness") if key != "mounts")
    certain.write_text(f"{TEXT}\n[spread]\nmounts = '30 %'\n{nought}")
    shell = model_case(load_case(certain))
    scattered = scatter(source_of(shell), shell.states[0].shell)
    assert [cause.key for cause in scattered.causes] == ["mounts"]
    assert scattered.causes[0].source == "the case's [spread]"
    assert [p.name for p in scattered.parameters] == ["all"]
    certain.write_text(certain.read_text().replace("'30 %'", "0"))
    with pytest.raises(CaseError, match=r"certain.toml.*spread: nothing scatters"):
        spread_case(load_case(certain), samples=16)


def test_the_same_seed_draws_the_same_tubs():
    one, again, other = (base_samples(16, 3, seed)[0] for seed in (1, 1, 2))
    assert (one == again).all()
    assert (one != other).any()


def test_a_refinement_of_the_same_case_says_what_the_mesh_does(found, path, tmp_path):
    case = load_case(path)
    own = mesh_part(case, found.findings, "torsion", tmp_path)
    assert own.low < own.high == 1
    quantity = {"load_case": "torsion", "what": "stiffness", "values": [100.0], "band": [0.02], "extrapolated": 99.0}
    contents = {"case": {"sha256": case_digest(case)}, "own": 0, "meshes": [{"size": 0.12}], "quantities": [quantity]}

    def part(**changes):
        quantity.update(changes)
        (tmp_path / "refine.json").write_text(json.dumps(contents))
        return mesh_part(case, found.findings, "torsion", tmp_path)

    assert (part().low, part().high) == (0.98, 1.0)
    assert (part(extrapolated=101.0).low, part().high) == (1.0, 1.02)
    assert (part(extrapolated=None).low, part().high) == (0.98, 1.02)
    contents["case"]["sha256"] = "of another text"
    assert part() == own


def test_wrong_numbers_are_told(path, tmp_path):
    with pytest.raises(CaseError, match="power of two"):
        spread_case(load_case(path), samples=100)
    for text, words in (
        ("moduli = 5", "standard deviation over its mean"),
        ("modulus = 0.1", "moduli"),
        ("common = 2", "share of the variance"),
        ("joints = -0.1", "negative"),
    ):
        wrong = tmp_path / "wrong.toml"
        wrong.write_text(f"{TEXT}\n[spread]\n{text}\n")
        with pytest.raises(CaseError, match=words):
            load_case(wrong)


def test_the_command_writes_and_tells(found, path, tmp_path, monkeypatch):
    monkeypatch.setattr("tubfem.study.spread.spread_case", lambda *_, **__: found)  # once is enough
    out = tmp_path / "out"
    done = CliRunner().invoke(cli.app, ["spread", str(path), "--samples", "16", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert {file.name for file in out.iterdir()} == {"spread.json", "spread.png"}
    contents = json.loads((out / "spread.json").read_text())
    assert contents["stiffness"]["low"] < contents["stiffness"]["high"]
    assert set(contents["regions"]) >= {"floor", "tunnel", "sill"}
    assert contents["case"]["sha256"] == case_digest(load_case(path))
    assert len(contents["stiffness"]["values"]) == 2 * contents["samples"]
    assert_drawn_again(out, "spread")
    assert_documented("spread.json", contents)
    assert set(contents["joints"]) == set(contents["base"]["joint_margins"]) >= {"floor/tunnel.side"}
    assert "Lowest margin of every joint" in done.stdout
    assert "What to measure" in done.stdout
    assert "under [spread] win" in done.stdout
    assert "[plies]" in done.stdout  # no markup of the terminal
