"""One more ply, where: ranking, shelf, prices, and full solves of the best, on the starter case."""

import json
import re
from functools import cache

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from redrawn import assert_documented, assert_drawn_again
from typer.testing import CliRunner

from tubfem import cli
from tubfem.case.read import load_case
from tubfem.errors import CaseError
from tubfem.findings.gain import gains
from tubfem.run import change_case, run_case
from tubfem.study.next_ply import next_ply

TEXT = (
    (CASES / "starter.toml")
    .read_text()
    .replace("size = 40", "size = 90")
    .replace("at = [410, 330] }", 'at = [410, 330], patch = "2 x biax600", patch_radius = [90, 75] }')
    .replace(
        'areal_weight = "600 g/m^2" }',
        'areal_weight = "600 g/m^2", price = "13 EUR/m^2", roll_width = "1.27 m", on_hand = "2 m" }',
    )
)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("next") / "starter.toml"
    path.write_text(TEXT)
    return path


@pytest.fixture(scope="module")
def found(path):
    return next_ply(load_case(path), plies=["biax600"], confirm=2)


def test_every_region_face_joint_and_patch_is_tried(found):
    targets = {candidate.target for candidate in found.candidates}
    assert {"floor", "tunnel", "sill", "front_bulkhead", "rear_bulkhead", "joint:tab60", "patch:front_upper"} <= targets
    texts = [candidate.text for candidate in found.candidates]
    assert len(set(texts)) == len(texts)
    assert "tunnel=biax600:tool" in texts
    assert "tunnel=biax600@45" in texts  # +-45 cloth turned: a cross-ply, other than at 0


def test_ranked_by_gain_for_each_kilogram_what_the_shelf_holds_first(found):
    held = [candidate for candidate in found.candidates if candidate.enough and not candidate.no_gain]
    assert held == list(found.candidates[: len(held)])
    values = [candidate.gain_per_kg for candidate in held]
    assert values == sorted(values, reverse=True)
    assert all(c.area <= 2 * 1.27 for c in held)


def test_the_best_are_confirmed_and_agree(found, path):
    """0.05 points of gain as asked of the reduction; margins of the region itself are indications, 6 % of the use."""
    first = found.candidates[:2]
    assert all(candidate.confirmed is not None for candidate in first)
    assert found.candidates[2].confirmed is None
    for candidate in first:
        assert abs(candidate.gain_percent - 100 * (candidate.confirmed / found.stiffness - 1)) < 0.05
        assert_allclose(1 + candidate.weakest.margin, 1 + candidate.confirmed_weakest.margin, rtol=0.06)
        _, after, gain = full(path, candidate.text)
        assert_allclose(candidate.confirmed_weakest.region[0], gain.worst_margin, rtol=1e-6)
        joints = {name: joint.margin for name, joint in after.load_cases["torsion"].joints.items()}
        assert_allclose(candidate.confirmed_weakest.joint[0], min(m for m in joints.values() if m is not None))


def test_the_margins_of_the_unchanged_tub_are_those_of_the_findings(found):
    torsion = found.findings.load_cases["torsion"]
    regions = {name: r.worst.margin for name, r in torsion.regions.items() if r.worst is not None}
    joints = {name: joint.margin for name, joint in torsion.joints.items() if joint.margin is not None}
    for margins, (told, name, _) in ((regions, found.weakest.region), (joints, found.weakest.joint)):
        assert_allclose(told, min(margins.values()), rtol=1e-6)
        assert name == min(margins, key=margins.get).replace(".right", "").replace(".left", "")
    assert found.weakest.place == f"joint {found.weakest.joint[1]}"  # on this tub a joint is the weakest
    assert found.weakest.margin == found.weakest.joint[0]


@pytest.mark.parametrize(
    "text",
    [
        "joint:front_bulkhead/tunnel.side=biax600",
        "joint:tab60=biax600",
        "sill=biax600:tool",
        "front_bulkhead=biax600@45",
        "patch:front_upper=biax600",
    ],
)
def test_the_joint_that_governs_is_that_of_a_full_run(found, path, text):
    """2 % as asked: the joint's margin, its name and what it is of, by the program's own run of the changed case."""
    candidate = next(c for c in found.candidates if c.text == text)
    _, after, _ = full(path, text)
    joints = {name: each for name, each in after.load_cases["torsion"].joints.items() if each.margin is not None}
    worst = min(joints, key=lambda name: joints[name].margin)
    margin, name, kind = candidate.weakest.joint
    assert_allclose(1 + margin, 1 + joints[worst].margin, rtol=0.02)
    assert name == worst.replace(".right", "").replace(".left", "")
    assert kind == min(joints[worst].strength.margins, key=joints[worst].strength.margins.get)


def test_a_tab_that_mends_the_weakest_joint_comes_first(path):
    """Wanted is the margin, which a joint limits: its own tab's ply counts in it, and the full solve says so too.

    A ply that sends more through the joint lowers it, and comes behind those that leave it alone.
    """
    ranked = next_ply(load_case(path), plies=["biax600"], goal="margin", confirm=3)
    now, first = ranked.weakest, ranked.candidates[0]
    assert first.target.startswith("joint:")
    assert first.weakest.margin > now.margin + 0.2
    for candidate in ranked.candidates[:3]:
        assert_allclose(candidate.weakest.margin, candidate.confirmed_weakest.margin, atol=0.02 * (1 + now.margin))
        assert candidate.confirmed_weakest.place == candidate.weakest.place
    margins = [candidate.weakest.margin for candidate in ranked.candidates]
    assert margins[-1] < now.margin
    held = [c.weakest.margin for c in ranked.candidates if c.enough]
    assert held == sorted(held, reverse=True)


def test_hinged_joints_are_no_fault_and_have_no_margin(tmp_path):
    """Lines that are nearly stiff: none of the vectors is driven by their springs."""
    path = tmp_path / "hinged.toml"
    kind = re.search(r"tab60 = (\{.*\})", TEXT)[1]
    path.write_text(TEXT.replace(kind, '{ kind = "hinged" }').replace("size = 90", "size = 120"))
    ranked = next_ply(load_case(path), plies=["biax600"], confirm=1)
    assert ranked.weakest.joint[0] is None
    assert ranked.weakest.place == ranked.weakest.region[1]
    assert ranked.candidates[0].confirmed_weakest.joint[0] is None


def test_mass_and_price_are_area_times_ply(found):
    by_text = {candidate.text: candidate for candidate in found.candidates}
    tunnel = by_text["tunnel=biax600"]
    assert_allclose(tunnel.price, 13 * tunnel.area)
    assert_allclose(tunnel.length, tunnel.area / 1.27)
    assert_allclose(tunnel.area, found.findings.mass.areas["tunnel"], rtol=1e-7)  # areas by other quadrature
    assert_allclose(tunnel.gain_per_price, tunnel.gain / tunnel.price)
    # a ply more round a mount is as wide as the last, on both halves: by hand, to half a cell (test_patches.py)
    circle, cell = np.pi * 0.075**2, 0.25 * 1.3 * 0.09
    assert_allclose(by_text["patch:front_upper=biax600"].area, 2 * circle, rtol=0.5 * cell**2 / circle)


@cache
def full(path, text):
    base = load_case(path)
    model, _, before = run_case(base)
    _, _, after = run_case(change_case(base, add=[text]), base=base, mesh=model.mesh)
    return before, after, gains(before, after)[0]


def test_mass_added_is_that_of_a_full_run(found, path):
    """By area: what a ply inside the tunnel is shorter for at the corners, 0.8 %, only the run in full counts."""
    before, after, _ = full(path, "tunnel=biax600")
    tunnel = next(candidate for candidate in found.candidates if candidate.text == "tunnel=biax600")
    assert_allclose(tunnel.mass, after.mass.total - before.mass.total, rtol=0.015)


def test_a_tab_ply_weighs_in_the_ranking_what_it_weighs_in_a_full_run(found, path):
    for text in ("joint:tab60=biax600", "joint:floor/tunnel.side=biax600"):
        before, after, _ = full(path, text)
        tab = next(candidate for candidate in found.candidates if candidate.text == text)
        assert_allclose(tab.mass, after.mass.total - before.mass.total, rtol=1e-9)
        assert_allclose(tab.price, 13 * tab.area)


def test_wrong_names_and_prices_are_told(path, tmp_path):
    with pytest.raises(CaseError, match="biax600"):
        next_ply(load_case(path), plies=["biax60"])
    with pytest.raises(CaseError, match="price"):
        next_ply(load_case(CASES / "starter.toml"), per="price")
    both = tmp_path / "both.toml"
    both.write_text(TEXT.replace('"200 g/m^2" }', '"200 g/m^2", price = "4 USD/m^2" }'))
    with pytest.raises(CaseError, match="EUR and USD"):
        next_ply(load_case(both), per="price")


def test_the_command_answers_in_one_table(path, tmp_path):
    out = tmp_path / "out"
    done = CliRunner().invoke(cli.app, ["next-ply", str(path), "--ply", "biax600", "--per", "price", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert {file.name for file in out.iterdir()} == {"next_ply.json", "next_ply.png", "reduced.npz", "what_if.json"}
    contents = json.loads((out / "next_ply.json").read_text())
    assert contents["base"]["stiffness_Nm_per_deg"] > 0
    assert contents["base"]["worst_place"] == f"joint {contents['base']['worst_joint']}"
    keys = "change stiffness_Nm_per_deg gain_Nm_per_deg gain_percent mass gain_per_kg gain_per_price worst_margin"
    assert set(keys.split()) | {"error_estimate", "confirmed"} <= set(contents["rows"][0])
    assert_drawn_again(out, "next_ply")
    assert_documented("next_ply.json", contents)
    assert sum(row["confirmed"] for row in contents["rows"]) == 5
    assert "One more ply: what it wins, ranked by gain for each unit of money" in done.stdout
    assert "No gain" in done.stdout
    assert "in joint front_bulkhead/tunnel.side (tab plies)" in " ".join(done.stdout.split())
    wrong = CliRunner().invoke(cli.app, ["next-ply", str(path), "--goal", "beauty"])
    assert wrong.exit_code == 2
