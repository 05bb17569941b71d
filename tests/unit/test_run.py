"""The pipeline of one case: changes, the frozen mid-surface, stages, names of what floats."""

import re

import case_texts
import numpy as np
import pytest
from numpy.testing import assert_array_equal

from tubfem.errors import CaseError, SolveError, TubfemError
from tubfem.run import Stages, change_case, model_case, names_at, run_case


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    tables = {**case_texts.tables_of("starter"), "mesh": {"size": 150}}
    return case_texts.read_tables(tables, tmp_path_factory.mktemp("case"))


def tunnel_top(model):
    mesh = model.mesh
    (block,) = mesh.blocks
    walls = [panel.plain == "tunnel.top" for panel in mesh.panels]
    return mesh.points[block.conn[np.array(walls)[block.panel]], 2].max()


def test_stages_are_told_and_timed(case):
    told = []
    stages = Stages(told.append)
    model, solutions, findings = run_case(case, stages=stages)
    assert told == list(stages.seconds) == ["geometry", "mesh", "layup", "model", "solve", "findings"]
    assert all(seconds >= 0 for seconds in stages.seconds.values())
    assert len(solutions) == len(model.states)
    assert findings.load_cases["torsion"].torsion.stiffness_Nm_per_deg > 0


def test_added_plies_leave_the_surface_where_it_was(case):
    added = change_case(case, add=["tunnel=biax600*3"])
    before, after = model_case(case), model_case(added, base=case)
    assert_array_equal(before.mesh.points, after.mesh.points)
    # three more plies of more than half a millimetre lower the middle of the wall under its outer face
    assert tunnel_top(model_case(added)) < tunnel_top(before) - 5e-4


def test_every_change_that_cannot_be_made_is_told_together(case):
    with pytest.raises(CaseError) as caught:
        change_case(case, add=["tunel=biax600"], drop=["sill=biax60"], without=["flor"])
    text = str(caught.value)
    assert all(name in text for name in ("tunnel", "biax600", "floor"))
    assert len(caught.value.messages) == 3


def test_names_of_nodes(case):
    model = model_case(case)
    name, node = next(iter(model.pickups.items()))
    assert names_at(model, np.array([node])) == (f"pickup {name}",)
    corner = model.states[0].shell.blocks[0].conn[0, 0]
    assert model.mesh.panels[model.mesh.blocks[0].panel[0]].name in names_at(model, np.array([corner]))


def test_what_floats_is_named(tmp_path):
    loose = {
        "kind": "static",
        "supports": [{"on": "box.right_low@rear", "fix": "x"}],
        "forces": [{"on": "box.right_low@front", "force": ["0 N", "0 N", "1 kN"]}],
    }
    tables = {**case_texts.tables_of("closed_box"), "mesh": {"size": 100}, "load_cases": {"lift": loose}}
    with pytest.raises(SolveError) as caught:
        run_case(case_texts.read_tables(tables, tmp_path))
    assert caught.value.messages[0].startswith("load case lift: ")
    assert "what moves: box.bottom, box.left, box.top, box.right" in caught.value.messages[-1]


@pytest.mark.parametrize(
    ("family", "name", "change", "told"),
    [
        (
            "sections",
            "tunnel",
            {"at": {"front": {"root": [115, 0], "edge": [92, -200]}}},
            "panels.tunnel.side: its tool",
        ),
        (
            "mounts",
            "front_upper",
            {"insert": {"diameter": 30, "material": "alloy"}},
            "mounts.front_upper.insert: no mat",
        ),
    ],
)
def test_what_is_found_while_meshing_or_modelling_has_its_line(tmp_path, family, name, change, told):
    tables = {**case_texts.tables_of("starter"), "mesh": {"size": 150}}
    changed = {**tables[family][name], **change}
    if "at" in change and family == "sections":
        changed["at"] = {**tables[family][name]["at"], **change["at"]}
    tables[family] = {**tables[family], name: changed}
    case = case_texts.read_tables(tables, tmp_path)
    with pytest.raises(TubfemError) as caught:
        model_case(case)
    message = next(each for each in caught.value.messages if told in each)
    line = int(re.match(r"case\.toml:(\d+): ", message)[1])
    written = (tmp_path / "case.toml").read_text().splitlines()
    assert written[line - 1].startswith(f"{name} = ")
