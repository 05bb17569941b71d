"""Buckling and natural modes from the case file to the written results."""

import io
import json
from functools import cache

import case_texts
import numpy as np
import pytest
from numpy.testing import assert_allclose
from rich.console import Console
from typer.testing import CliRunner

from tubfem import cli
from tubfem.errors import CaseError
from tubfem.report.json_file import results
from tubfem.report.stability_table import print_buckling, print_modes
from tubfem.run import Stages, run_case
from tubfem.tub.model import TubModel

DRIVER = {"mass": "90 kg", "on": "panels.floor", "at": [1000, 350, 250]}


def tables(name, size, **changes):
    found = {**case_texts.tables_of(name), "mesh": {"size": size}, **changes}
    for load_case in found["load_cases"].values():
        load_case["buckling"] = True
    return found


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    @cache
    def of(name, size, masses=()):
        modes = {"count": 10, "masses": {key: dict(table) for key, table in masses}}
        case = case_texts.read_tables(tables(name, size, modes=modes), tmp_path_factory.mktemp("case"))
        stages = Stages()
        return (*run_case(case, stages=stages), stages)

    return of


@pytest.fixture
def starter(run):
    return run("starter", 70)


@pytest.fixture
def laden(run):
    return run("starter", 70, (("driver", (("mass", "90 kg"), ("on", "panels.floor"), ("at", (1000, 350, 250)))),))


def test_one_factorisation_serves_all(starter):
    """The free torsion case holds the tub determinately: no state is added for the modes."""
    model, solutions, _, stages = starter
    assert len(model.states) == len(solutions) == 1
    assert {"buckling", "modes"} <= set(stages.seconds)


def test_both_signs_of_the_torque(starter):
    """A tub that is its own mirror image but for the plies across its middle ripples at nearly the same torque."""
    buckling = starter[2].load_cases["torsion"].buckling
    assert sorted(mode.sign for mode in buckling.modes) == [-1, 1]
    one, other = buckling.modes
    assert one.factor <= other.factor < 1.05 * one.factor
    assert one.region == other.region == "tunnel"  # the thinnest walls, as the hand value has it
    assert buckling.required == 1.5
    assert_allclose(one.margin, one.factor / 1.5 - 1, rtol=1e-12)
    assert one.share > 0.9


def test_the_hand_value_stands_beside(starter):
    """Simply supported by hand, held by its neighbours in the tub: between 1 and 1.9 times."""
    buckling = starter[2].load_cases["torsion"].buckling
    assert buckling.bays[0].region == "tunnel"
    for mode in buckling.modes:
        by_hand = mode.hand.factors[0 if mode.sign > 0 else 1]
        assert 1.0 < mode.factor / by_hand < 1.9


def test_whole_modes_are_named(starter):
    _, _, findings, _ = starter
    modes = findings.modes
    frequencies = [mode.frequency for mode in modes.modes]
    assert frequencies == sorted(frequencies)
    assert len(frequencies) == 10
    assert frequencies[0] > 1.0  # no rigid motion among them
    # what vibrates leaves out that layers outside the meshed surface are longer at folds, inside shorter: 0.26 % here
    assert_allclose(modes.mass, findings.mass.total, rtol=3e-3)
    assert modes.torsion.frequency < modes.bending.frequency
    assert modes.torsion.frequency > frequencies[0]  # single skins vibrate before the tub does
    for mode in modes.modes:
        assert_allclose(sum(mode.directions), 1.0, rtol=1e-9)
        assert_allclose(sum(mode.regions.values()) + sum(mode.carried.values()), 1.0, rtol=1e-6)
        assert 0.0 <= sum(mode.shares.values()) <= 1.0 + 1e-9


def test_a_driver_slows_the_tub(starter, laden):
    bare, heavy = starter[2].modes, laden[2].modes
    assert_allclose(heavy.mass - bare.mass, 90.0, rtol=1e-9)
    assert heavy.carried_mass == {"driver": 90.0}
    assert heavy.bending.frequency < bare.bending.frequency
    assert heavy.torsion.frequency < bare.torsion.frequency
    assert all(h.frequency < 1.0001 * b.frequency for h, b in zip(heavy.modes, bare.modes, strict=True))
    assert any(mode.carried["driver"] > 0.01 for mode in heavy.modes)


@pytest.mark.parametrize("on", ["panels.floor", "front_lower", ["front_lower", "front_upper"], "sections.sill"])
@pytest.mark.parametrize("at", [None, [700, 0, 300]])
def test_carried_masses_move_as_rigid_bodies_do(starter, tmp_path, on, at):
    """On every rigid motion the rows have the momentum and, with `at`, the velocity of a mass there."""
    from tubfem.run import model_case
    from tubfem.shell.ties import rigid_motion

    table = {"mass": "7 kg", "on": on} | ({} if at is None else {"at": at})
    case = case_texts.read_tables(tables("starter", 150, modes={"masses": {"box": table}}), tmp_path)
    model: TubModel = model_case(case)
    (carried,) = model.modes.carried
    motion = rigid_motion(model.states[0].shell.points).reshape(-1, 6)
    velocity = (motion[carried.rows.freedoms] * carried.rows.coefficients[..., None]).sum(1)
    modal = np.einsum("r,ri,rj->ij", carried.rows.stiffness, velocity, velocity)
    assert_allclose(modal[:3, :3], 7.0 * np.eye(3), atol=1e-9)
    if at is not None:
        place = rigid_motion(np.array(at) / 1e3)[:3]
        assert_allclose(velocity, place, atol=1e-9)


def test_a_mass_on_nothing_is_refused(tmp_path):
    with pytest.raises(CaseError, match=r"modes\.masses\.box\.on.*flor"):
        case_texts.read_tables(
            tables("starter", 150, modes={"masses": {"box": {"mass": "7 kg", "on": "panels.flor"}}}), tmp_path
        )


def test_a_case_without_torsion_gets_supports_of_its_own(run):
    model, _, findings, _ = run("closed_box", 25)
    assert len(model.states) == 2
    assert model.states[1].load_cases == ()
    assert findings.modes.torsion.frequency > 0


def test_below_one_is_said_and_ends_with_1(run, tmp_path):
    """One-millimetre walls of a box under 1 kN·m: the bottom or top ripples at half of it.

    The torque the way of the case is the good one for plies [45/-45]s, so the hand value, without D16, is too low.
    """
    _, _, findings, _ = run("closed_box", 25)
    first = findings.load_cases["twist"].buckling.first
    assert 0.4 < first.factor < 0.7
    assert any("is valid up to" in text for text in findings.sentences)
    path = tmp_path / "box.toml"
    path.write_text(case_texts.toml_text(tables("closed_box", 25, modes={"count": 4})))
    done = CliRunner().invoke(cli.app, ["run", str(path), "--out", str(tmp_path / "out")])
    assert done.exit_code == 1
    assert "ripples at" in done.stderr
    written = json.loads((tmp_path / "out/results.json").read_text())
    assert {"twist-buckling.png", "mode-torsion.png", "mode-bending.png"} <= set(written["files"])
    assert len(written["modes"]["modes"]) == 4
    written = written["load_cases"]["twist"]["buckling"]
    assert_allclose(written["factor"], first.factor, rtol=1e-6)
    assert (written["region"], written["sign"]) == ("box", 1)


def test_results_and_tables_hold_every_number(laden):
    model, _, findings, _ = laden
    contents = results(model, findings, {}, "0")
    json.dumps(contents, allow_nan=False)
    buckling = contents["load_cases"]["torsion"]["buckling"]
    assert {"factor", "region", "sign", "margin", "required", "modes", "bays"} == set(buckling)
    assert len(contents["modes"]["modes"]) == 10
    assert contents["modes"]["first_torsion"]["frequency_Hz"] == findings.modes.torsion.frequency
    console = Console(file=io.StringIO(), width=80, highlight=False)
    load_case = findings.load_cases["torsion"]
    print_buckling(console, load_case, load_case.buckling)
    print_modes(console, findings.modes)
    text = console.file.getvalue()
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
    assert "driver 90.0 kg" in text
    assert f"{load_case.buckling.first.factor:.2f}" in text
