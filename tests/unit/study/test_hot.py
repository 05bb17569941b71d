"""Margins of the reduced model where what is laid changes the length that strains are averaged over."""

import pytest
from case_texts import CASES, read_tables, tables_of
from numpy.testing import assert_allclose
from tub_runs import sized

from tubfem.case.read import load_case
from tubfem.run import model_case, run_case
from tubfem.study.bracket import evaluated
from tubfem.study.enrich import enriched
from tubfem.study.hot import (
    _shear_of_twist,
    _with_stacks,
    beyond_reach,
    lowest_margin,
    lowest_margin_laid,
    with_fixed_lengths,
)
from tubfem.study.reduced import galerkin
from tubfem.study.relaid import relaid
from tubfem.study.store import ready


@pytest.fixture(scope="module")
def tub():
    return ready(model_case(sized(load_case(CASES / "starter.toml"), 0.09)))[0]


@pytest.fixture(scope="module")
def cored(tub):
    """The starter with the floor's foam put between the two plies of its tunnel."""
    return _laid(tub.model.case, "tunnel", slice(0, 1), tub.model.case.layups["floor"].stack[2], slice(1, None))


def test_a_core_put_into_the_skin_that_governs_has_the_strain_of_a_run_in_full(tub, cored):
    """5 % of strain, as asked; one snapshot leaves no error of the motion, so that averages alone are at stake."""
    change = relaid(tub.model, tub.family, cored)
    richer = enriched(tub, [change])
    low, high, b = evaluated(richer.reduced, change)
    again, _, findings = run_case(cored, base=tub.model.case, mesh=tub.model.mesh)
    found = findings.load_cases[tub.setup.name]
    worst = min((r.worst for r in found.regions.values() if r.worst is not None), key=lambda worst: worst.margin)
    assert worst.region == "tunnel"
    assert worst.length > 0.03  # in place of 10 mm
    assert_allclose([low, high], found.torsion.pickup_to_pickup, rtol=1e-3)
    margin, region, kind = lowest_margin_laid(richer.hot, b, again.layup)
    assert (region, kind) == (worst.region, worst.kind)
    assert_allclose(1 + margin, 1 + worst.margin, rtol=0.05)
    fixed, _, _ = lowest_margin_laid(with_fixed_lengths(richer.hot), b, again.layup)
    assert fixed < 0.8 * margin  # over 10 mm the peak counts for too much, so that the length is what decides here


def test_averages_that_stay_need_fewer_elements_and_say_the_same_of_the_tub_as_it_is(tub):
    b = galerkin(tub.reduced, {})
    few = with_fixed_lengths(tub.hot)
    assert len(few.near) < len(tub.hot.near)
    assert few.own.shape == (len(few.near), 10, tub.reduced.size)
    found, same = lowest_margin(few, b, {}), lowest_margin(tub.hot, b, {})
    assert found[1:] == same[1:]
    assert_allclose(found[0], same[0], rtol=1e-12)


def test_stacks_that_stay_leave_the_shear_of_a_twist_as_it_is(tmp_path):
    """Where a patch covers elements in part too: changed stacks are told without how much of an element each has."""
    tables = tables_of("starter")
    tables["patches"] = {"by": {"on": "floor", "at": [700, 300], "radius": 200, "ply": "biax600"}}
    hot = ready(model_case(sized(read_tables(tables, tmp_path), 0.09)))[0].hot
    layup, near = hot.model.layup, hot.model.layup.mixture[hot.near]
    assert any(len(set(layup.mixture_weights[m])) > 1 for m in near)
    now = _with_stacks(hot, {})[0].layup
    assert_allclose(_shear_of_twist(now, now.mixture), _shear_of_twist(layup, near), rtol=1e-12)


def test_a_laminate_too_thick_for_the_elements_that_are_kept_is_named(tub, cored):
    """Twice the thickness against 60 mm: 15 mm of foam are inside, 40 mm are not."""
    again = model_case(cored, base=tub.model.case, mesh=tub.model.mesh)
    assert beyond_reach(tub.hot, again.layup) == ()
    core = tub.model.case.layups["floor"].stack[2]
    thick = core.model_copy(update={"thickness": 0.040})
    thick = _laid(tub.model.case, "sill", slice(0, 1), thick, slice(1, None))
    again = model_case(thick, base=tub.model.case, mesh=tub.model.mesh)
    assert beyond_reach(tub.hot, again.layup) == ("sill",)


def _laid(case, region, below, core, above):
    layup = case.layups[region]
    assert not any(entry.is_core for entry in layup.stack)
    assert core.is_core
    new = layup.model_copy(update={"stack": (*layup.stack[below], core, *layup.stack[above])})
    return case.model_copy(update={"layups": {**case.layups, region: new}})
