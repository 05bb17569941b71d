"""Plies that may go, and what taking them off does: against the same case laid anew with them dropped."""

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from tub_box import box_case

from tubfem.case.planning import Schedule
from tubfem.case.read import load_case
from tubfem.geometry.mesh import areas
from tubfem.run import change_case, model_case
from tubfem.study.dropping import fewer_texts, take_off
from tubfem.study.family import make_family
from tubfem.study.reduce import torsion_of
from tubfem.study.relaid import relaid
from tubfem.tub.layup import region_mass
from tubfem.tub.plies import cured_layers

SHEET = {"E": "20 GPa", "nu": 0.3, "thickness": 0.5, "density": "2000 kg/m^3"}
CORES = {"foam": {"E": "50 MPa", "G": "20 MPa", "density": "80 kg/m^3"}}


def choices(stack, **wanted):
    layups = {name: ["a"] for name in ("top", "left", "right", "front", "rear")}
    case = box_case(plies={name: SHEET for name in "abc"}, cores=CORES, layups={**layups, "floor": stack})
    return list(fewer_texts(case, Schedule.model_validate(wanted), "floor"))


def test_one_ply_of_a_laminate_of_one_cloth_stays():
    assert choices(["4 x a"], fewer=9) == [("floor=a",), ("floor=a*2",), ("floor=a*3",)]
    assert choices(["4 x a"], fewer=1) == [("floor=a",)]
    assert choices(["a"]) == []


def test_the_outermost_plies_stay_and_one_between_them():
    """Two of the three plies inside may go; the face is said where the outermost ply would go without."""
    assert choices(["a", "3 x b", "a"]) == [("floor=b",), ("floor=b*2",)]
    assert choices(["a", "2 x b", "c", "b"]) == [
        ("floor=b:tool",),
        ("floor=c",),
        ("floor=b*2:tool",),
        ("floor=b:tool", "floor=c"),
    ]


def test_every_skin_of_a_sandwich_keeps_a_ply_under_its_outermost():
    assert choices(["a", "b", "foam 10 mm", "b", "a"]) == []
    assert choices(["a", "2 x b", "foam 10 mm", "b", "a"]) == [("floor=b:tool",)]
    assert choices(["2 x b", "foam 10 mm", "b"]) == [("floor=b:tool",)]


def test_coverings_stay_and_angles_are_told_apart():
    assert choices(["4 x a"], covering="a") == []
    assert choices(["a", "b", "b @ 45", "b", "a"], fewer=1) == [
        ("floor=b@0",),
        ("floor=b@0:tool",),  # another order is left
        ("floor=b@45",),
    ]


def test_a_symmetric_laminate_stays_one():
    assert choices(["a", "2 x b", "c", "2 x b", "a"], symmetric=True) == [("floor=b", "floor=b:tool")]
    assert choices(["a", "2 x b", "c", "2 x b", "a"], symmetric=True, fewer=1) == []


@pytest.mark.parametrize(
    ("limits", "most"),
    [({}, 3), ({"floor": 2}, 3), ({"floor": {"min": -1}}, 1), ({"floor": 0}, 0), ({"floor": {"min": 0}}, 0)],
)
def test_limits_of_a_region(limits, most):
    assert len(choices(["6 x a"], regions=limits)) == most


def test_an_entry_that_laps_keeps_a_ply():
    """The demo's tunnel: its last ply laps onto the floor; the floor's two tool plies lap onto their neighbours."""
    case = load_case(CASES / "two_seat_roadster.toml")
    found = {region: list(fewer_texts(case, Schedule(), region)) for region in ("tunnel", "floor", "dash")}
    assert found["floor"] == [("floor=biax600:tool",)]
    assert found["dash"] == []
    assert ("tunnel=biax600:tool",) in found["tunnel"]
    for texts in found["tunnel"]:
        stack = change_case(case, drop=texts).layups["tunnel"].stack
        assert stack[-1].laps == case.layups["tunnel"].stack[-1].laps
        assert stack[0].name == "plain200"


def test_plies_taken_off_are_as_the_case_laid_anew(tmp_path):
    """Groups, springs, stacks and mass of regions of the demo that lap, are lapped onto, patched, or stand on tabs."""
    path = tmp_path / "demo.toml"
    path.write_text((CASES / "two_seat_roadster.toml").read_text().replace("size = 40", "size = 110"))
    case = load_case(path)
    model = model_case(case)
    state, _ = torsion_of(model)
    area = areas(model.mesh)
    family = make_family(model, state.shell, area)
    before = sum(region_mass(model.mesh, model.layup).values())
    for region in ("floor", "tunnel", "sill_inner", "rear_bulkhead"):
        texts = next(fewer_texts(case, Schedule(), region))
        off = take_off(model, family, state.shell.springs, area, region, texts)
        changed = change_case(case, drop=texts)
        wanted = relaid(model, family, changed)
        assert off.change.keys() == wanted.keys()
        for k, dC in wanted.items():
            assert_allclose(off.change[k], dC, atol=1e-9 * np.abs(family.groups[k].C).max())
        layup = model_case(changed, base=case, mesh=model.mesh).layup
        known = {stack.key() for stack in layup.stacks}
        assert off.stacks
        assert all(stack.key() in known for stack in off.stacks.values())
        assert_allclose(off.mass, sum(region_mass(model.mesh, layup).values()) - before, rtol=1e-6)  # warped quads
        (name,) = off.cloth
        assert_allclose(off.cloth[name] * sum(ply.areal_mass for _, ply in cured_layers(case, name, None)), off.mass)
