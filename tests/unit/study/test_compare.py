"""Variants side by side: one mesh where the geometry is the same, costs by hand, files and table of the command."""

import json
from dataclasses import replace
from io import StringIO

import case_texts
import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from redrawn import assert_documented, assert_drawn_again
from rich.console import Console
from typer.testing import CliRunner

from tubfem import cli
from tubfem.case.read import load_case
from tubfem.errors import CaseError
from tubfem.geometry.mesh import areas
from tubfem.report.compare_table import print_comparison
from tubfem.report.numbers import margin
from tubfem.run import Stages, change_case, run_case
from tubfem.study.compare import compare, flag_variants, gain_per_price, same_geometry, written_variants
from tubfem.study.cost import Cost, price_per_area

STARTER = (CASES / "starter.toml").read_text()
PRICED = STARTER.replace("size = 40", "size = 70").replace(
    'areal_weight = "600 g/m^2" }', 'areal_weight = "600 g/m^2", price = "13 EUR/m^2" }'
)
VARIANTS = """
[variants.tunnel]
add = ["tunnel=biax600", "joint:floor/tunnel=biax600"]
[variants.open_tunnel]
without = "tunnel.top"
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("compare") / "starter.toml"
    path.write_text(PRICED + VARIANTS)
    return path


def variants_of(base):
    return [*written_variants(base), *flag_variants(base, {"drop": ["tunnel=biax600"]})]


class Runs:
    """Runs a case as `run_case` does; keeps what was run, on which mesh; stopped by the user at one of the runs."""

    def __init__(self, stopped_at=None):
        self.models = []
        self.findings = []
        self.meshes = []
        self.stopped_at = stopped_at

    def __call__(self, case, **options):
        if len(self.models) + 1 == self.stopped_at:
            raise KeyboardInterrupt
        found = run_case(case, **options)
        self.models.append(found[0])
        self.findings.append(found[2])
        self.meshes.append(options.get("mesh"))
        return found


@pytest.fixture
def runs(monkeypatch):
    """How often and what a comparison runs."""

    def watched(**options):
        made = Runs(**options)
        monkeypatch.setattr("tubfem.study.compare.run_case", made)
        return made

    return watched


@pytest.fixture(scope="module")
def watched(path):
    """A comparison, and the runs it was made of."""
    base, made = load_case(path), Runs()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tubfem.study.compare.run_case", made)
        return compare(base, variants_of(base)), made


@pytest.fixture(scope="module")
def compared(watched):
    return watched[0]


def length_of(mesh, line):
    ends = mesh.points[line.edges]
    return np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()


def regions_of(mesh, line):
    return {mesh.panels[panel].region for panel in line.panels}


def test_base_first_then_variants_by_name(compared):
    assert [each.variant.name for each in compared] == ["base", "tunnel", "open_tunnel", "drop tunnel=biax600"]
    assert compared[1].variant.changes == ("--add tunnel=biax600", "--add joint:floor/tunnel=biax600")


def test_one_mesh_unless_a_part_is_off(watched):
    compared, made = watched
    assert [each.own_mesh for each in compared] == [False, False, True, False]
    mesh = made.models[0].mesh
    assert [own is mesh for own in made.meshes] == [False, True, False, True]
    assert made.meshes[2] is None


def test_more_is_stiffer_and_less_is_softer(compared):
    gains = [each.gains[0].gain_percent for each in compared[1:]]
    assert gains[0] > 1
    assert gains[1] < -10
    assert gains[2] < -1


def test_joints_and_hard_points_are_compared_too(watched):
    compared, made = watched
    for each, findings in zip(compared, made.findings, strict=True):
        found, told = findings.load_cases["torsion"], each.load_cases["torsion"]
        judged = [*found.joints.values(), *found.hard_points.values(), *found.openings.values()]
        assert told.lowest_other[0] == min(one.margin for one in judged if one.margin is not None)
        assert told.lowest.margin == min(region.worst.margin for region in found.regions.values() if region.worst)


def test_mass_and_cost_grow_by_area_times_ply(watched):
    """Closed form: a ply more costs its area times the price, over the tunnel and in the tab of one of its joints.

    The tab lies on one side of a right angle, two legs of 60 mm and the arc of 8 mm.
    """
    compared, made = watched
    base, tunnel = compared[:2]
    mesh = made.models[0].mesh
    region = np.array([panel.region == "tunnel" for panel in mesh.panels])[mesh.element_panel]
    tab = sum(length_of(mesh, line) for line in mesh.joints if {"floor", "tunnel"} == regions_of(mesh, line))
    area = areas(mesh)[region].sum() + tab * (2 * 0.06 + 0.008 * np.pi / 2)
    assert_allclose(
        tunnel.cost.amounts["EUR"] - base.cost.amounts["EUR"], 13 * area, rtol=1e-3
    )  # areas of warped quads
    assert list(base.cost.unpriced) == ["plain200", "foam80"]
    more, currency = tunnel.cost.beyond(base.cost)  # the foam has no price, but is the same
    assert currency == "EUR"
    assert_allclose(gain_per_price(base, tunnel, tunnel.gains[0]), tunnel.gains[0].gain_Nm_per_deg / more)
    assert more > 0


def test_money_more_is_told_only_where_it_is_known():
    cost = Cost({"EUR": 100.0}, {"foam80": 2.0})
    assert Cost({"EUR": 130.0}, {"foam80": 2.0}).beyond(cost) == (30.0, "EUR")
    assert Cost({"EUR": 130.0, "GBP": 5.0}, {"foam80": 2.0}).beyond(cost) is None
    assert Cost({"EUR": 130.0}, {"foam80": 2.1}).beyond(cost) is None
    assert Cost({"EUR": 130.0}, {"foam80": 2.0, "tape": 0.1}).beyond(cost) is None
    assert cost.beyond(cost) is None


def test_a_stopped_comparison_goes_on(compared, path, runs, tmp_path):
    """Four runs in all; those that were finished are not run again, and the answers are those of one go."""
    base = load_case(path)
    runs(stopped_at=3)
    with pytest.raises(KeyboardInterrupt):
        compare(base, variants_of(base), folder=tmp_path)
    made, told = runs(), []
    found = compare(base, variants_of(base), folder=tmp_path, stages=Stages(told.append))
    assert len(made.models) == 3  # the base, whose mesh is needed, and the two that were not finished
    assert "1 of 3 done before" in told
    assert_same(found, compared)
    again = runs()
    assert_same(compare(base, variants_of(base), folder=tmp_path), compared)
    assert len(again.models) == 1


def test_a_variant_is_taken_up_whichever_others_there_are_and_only_while_it_is_the_same(path, runs, tmp_path):
    base = load_case(path)
    first = flag_variants(base, {"add": ["tunnel=biax600"]})
    compare(base, first, folder=tmp_path)
    more, made = flag_variants(base, {"add": ["floor=biax600", "tunnel=biax600"]}), runs()
    compare(base, more, folder=tmp_path)
    assert len(made.models) == 2  # the base and the new one, though it stands first now
    other, made = [replace(more[0], name=first[0].name)], runs()
    compare(base, [replace(other[0], case=change_case(base, add=["floor=biax600*2"]))], folder=tmp_path)
    assert len(made.models) == 2  # another variant of the same name
    changed = base.model_copy(update={"margins": base.margins.model_copy(update={"fibre_factor": 3.0})})
    made = runs()
    compare(changed, flag_variants(changed, {"add": ["tunnel=biax600"]}), folder=tmp_path)
    assert len(made.models) == 2  # another base


def assert_same(found, other):
    for one, two in zip(found, other, strict=True):
        assert (one.variant.name, one.own_mesh, one.cost, one.doubts) == (
            two.variant.name,
            two.own_mesh,
            two.cost,
            two.doubts,
        )
        assert (one.mass, one.gains, one.load_cases) == (two.mass, two.gains, two.load_cases)


def test_prices_by_roll_area_and_weight():
    case = load_case(CASES / "two_seat_roadster.toml")
    ply = case.plies["biax600"]

    def priced(amount, per):
        return ply.model_copy(update={"price": ply.price.model_copy(update={"amount": amount, "per": per})})

    assert price_per_area(priced(13.0, "m^2")) == (13.0, "EUR")
    assert_allclose(price_per_area(priced(12.7, "m"))[0], 10.0)  # 1.27 m wide
    assert_allclose(price_per_area(priced(5.0, "kg"))[0], 3.0)  # 600 g/m²
    assert price_per_area(priced(5.0, "sheet")) is None


def test_geometry_is_the_same_whatever_is_laid(path):
    case = load_case(path)
    assert same_geometry(case, change_case(case, add=["floor=biax600*3"]))
    assert not same_geometry(case, change_case(case, without=["tunnel.top"]))


def test_a_variant_that_cannot_be_made_is_told_at_its_line(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(PRICED + '[variants.wrong]\nadd = "tunel=biax600"\n')
    with pytest.raises(CaseError, match=r"a\.toml:\d+: variants\.wrong: .*tunnel"):
        written_variants(load_case(path))


def test_the_command_writes_table_json_and_picture(tmp_path):
    box = tmp_path / "box.toml"
    box.write_text(case_texts.toml_text({**case_texts.tables_of("closed_box"), "mesh": {"size": 100}}))
    out = tmp_path / "out"
    done = CliRunner().invoke(cli.app, ["compare", str(box), "--add", "box=tape@45", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert {file.name for file in out.iterdir()} == {"compare.json", "compare.png"}
    assert_drawn_again(out, "compare")
    found = json.loads((out / "compare.json").read_text())
    assert_documented("compare.json", found)
    assert [each["name"] for each in found["variants"]] == ["base", "box=tape@45"]
    assert found["variants"][1]["mass"] > found["variants"][0]["mass"]
    assert "1  box=tape@45" in done.stdout


def test_the_table_says_where_the_lowest_margins_are_and_where_they_went(compared):
    console = Console(record=True, width=100, file=StringIO())
    print_comparison(console, compared)
    text = " ".join(console.export_text().split())
    base = compared[0].load_cases["torsion"].lowest
    assert f"0 plies, cores: {base.ply}, {base.mode}, at x, y, z" in text
    for number, each in enumerate(compared):
        told, row = each.load_cases["torsion"], [str(number)]
        row.append(margin(told.lowest.margin))
        for prefix in ("joint ", "hard point "):
            lowest, name = min((m, name) for name, m in told.others.items() if name.startswith(prefix))
            row.append(margin(lowest))
            assert number or f"{prefix.strip()}s: {name.removeprefix(prefix)}" in text
        assert " ".join(row) in text
    moved = [each for each in compared[1:] if each.load_cases["torsion"].lowest.region != base.region]
    assert all(f"plies, cores: {each.load_cases['torsion'].lowest.ply}" in text for each in moved)
    assert "3 drop tunnel=biax600" in text


def test_a_tub_of_which_nothing_is_judged_is_compared_all_the_same(tmp_path):
    tables = case_texts.tables_of("starter")
    ply = {"E": "20 GPa", "nu": 0.2, "thickness": 0.5, "density": "1800 kg/m^3"}  # no limits, and no core
    layups = {name: ["3 x plain200"] for name in tables["layups"]}
    tables |= {"plies": dict.fromkeys(("plain200", "biax600"), ply), "layups": layups, "mesh": {"size": 200}}
    base = case_texts.read_tables(tables, tmp_path)
    compared = compare(base, flag_variants(base, {"add": ["sill=biax600"]}))
    (gain,) = compared[1].gains
    assert gain.gain_Nm_per_deg > 0
    assert gain.worst_margin is gain.worst_margin_before is None
    print_comparison(Console(file=StringIO()), compared)


def test_nothing_to_compare_is_wrong_input(tmp_path):
    done = CliRunner().invoke(cli.app, ["compare", str(CASES / "closed_box.toml"), "--out", str(tmp_path / "out")])
    assert done.exit_code == 2
    assert "nothing to compare" in done.stderr
