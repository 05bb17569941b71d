"""Snapshots where the bracket is widest, outputs beside the stiffness, changes of any kind: the starter case.

References are the program's own full solves of the same mesh.
"""

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from tub_runs import sized

from tubfem.case.read import load_case
from tubfem.geometry.mesh import areas
from tubfem.run import change_case, model_case, run_case
from tubfem.study.bracket import bracket
from tubfem.study.enrich import FINE, NARROW, enriched, enriched_for_margins
from tubfem.study.executors import workers
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import find_seats, lay_on
from tubfem.study.outputs import joint_forces, twist_curve
from tubfem.study.reduce import family_stiffness
from tubfem.study.reduced import galerkin
from tubfem.study.relaid import relaid
from tubfem.study.store import ready

MANY = [f"{region}=biax600*3" for region in ("floor", "sill", "tunnel", "front_bulkhead", "rear_bulkhead")]


@pytest.fixture(scope="module")
def model():
    return model_case(sized(load_case(CASES / "starter.toml"), 0.11))


@pytest.fixture(scope="module")
def tub(model):
    return ready(model)[0]


@pytest.fixture(scope="module")
def changes(model, tub):
    """Plies everywhere, a core half as thick, a core put into a solid skin, more fibre in the same cloth."""
    case = model.case

    def stack(region, edit):
        layup = case.layups[region]
        return case.model_copy(
            update={"layups": {**case.layups, region: layup.model_copy(update={"stack": edit(layup.stack)})}}
        )

    cored = next(name for name, layup in case.layups.items() if any(entry.is_core for entry in layup.stack))
    core = next(entry for entry in case.layups[cored].stack if entry.is_core)
    solid = "tunnel"
    assert not any(entry.is_core for entry in case.layups[solid].stack)
    halved = core.model_copy(update={"thickness": 0.5 * core.thickness})
    cases = (
        change_case(case, add=MANY),
        stack(cored, lambda s: tuple(halved if entry.is_core else entry for entry in s)),
        stack(solid, lambda s: (*s[:1], core, *s[1:])),
        case.model_copy(
            update={"plies": {name: ply.model_copy(update={"fibre_fraction": 0.4}) for name, ply in case.plies.items()}}
        ),
    )
    return [relaid(model, tub.family, each) for each in cases]


def test_brackets_are_narrow_after_a_few_snapshots(model, tub, changes, tmp_path):
    """Wide before, under the width asked for after; what was solved is inside; kept in the file and read again."""
    before = [bracket(tub.reduced, change) for change in changes]
    assert max(high - low for low, high in before) > 0.01 * tub.stiffness
    richer = enriched(tub, changes, narrow=2e-3, folder=tmp_path)
    assert 1 <= len(richer.snapshots) <= len(changes)
    for change, (low, high) in zip(changes, before, strict=True):
        now = bracket(richer.reduced, change)
        assert now[1] - now[0] < 2e-3 * tub.stiffness
        true = family_stiffness(tub.twisted, change)
        assert low <= true * (1 + 1e-8)
        assert true <= high * (1 + 1e-8)
        assert_allclose(now, true, rtol=2e-3)
    read, again = ready(model, tmp_path)
    assert again
    assert len(read.snapshots) == len(richer.snapshots)
    assert_allclose([bracket(read.reduced, c) for c in changes], [bracket(richer.reduced, c) for c in changes])
    assert enriched(read, changes, narrow=2e-3) is read


def test_a_tub_that_was_read_is_enriched_like_one_just_made(model, tub, changes, tmp_path):
    enriched(tub, changes[:1], narrow=2e-3, folder=tmp_path)
    read, _ = ready(model, tmp_path)
    more = enriched(read, changes, narrow=2e-3)
    assert len(more.snapshots) > len(read.snapshots)
    for change in changes:
        low, high = bracket(more.reduced, change)
        assert high - low < 2e-3 * tub.stiffness


def test_snapshots_of_workers_are_those_made_here(tub, changes):
    """Two at once in processes: the same motions, in the same order."""
    here = enriched(tub, changes, narrow=2e-3, most=2)
    with workers(2) as pool:
        there = enriched(tub, changes, narrow=2e-3, most=2, pool=pool)
    assert len(here.snapshots) == len(there.snapshots) == 2
    for one, other in zip(here.snapshots, there.snapshots, strict=True):
        assert one.change.keys() == other.change.keys()
        assert_allclose(one.u, other.u, atol=1e-9 * abs(one.u).max())


def test_no_more_snapshots_than_allowed(tub, changes):
    assert len(enriched(tub, changes, narrow=1e-9, most=2).snapshots) == 2


def joint_peaks(model, forces):
    """Largest shear flow [N/m] and moment [N] of every joint from the forces (m, 4) of all nodes' springs."""
    lengths = np.concatenate([ties.lengths for ties in model.joints])
    names = np.array([ties.name for ties in model.joints for _ in ties.lengths])
    loads = np.abs(forces / lengths[:, None])
    return {
        name: {"shear_flow": loads[names == name, 0].max(), "moment": loads[names == name, 3].max()}
        for name in dict.fromkeys(names.tolist())
    }


def test_brackets_are_narrower_where_the_region_that_governs_changes(tub):
    """Of two changes with a bracket between the two widths, one of the governing region, that one is solved."""
    governs = lowest_margin(tub.hot, galerkin(tub.reduced, {}), {})[1]
    other = next(group.name for group in tub.family.groups if group.kind == "region" and group.name != governs)
    pair = []
    for region in (other, governs):
        for share in np.geomspace(0.1, 50, 100):
            change = {k: share * tub.family.groups[k].C for k in tub.family.named("region", region)}
            low, high = bracket(tub.reduced, change)
            if high - low > 1.1 * FINE * tub.stiffness:
                break
        assert high - low < NARROW * tub.stiffness
        pair.append(change)
    (solved,) = enriched_for_margins(tub, pair).snapshots
    assert solved.change.keys() == pair[1].keys()
    assert enriched(tub, pair) is tub


def test_the_twist_curve_and_joint_loads_are_those_of_a_full_run(model, tub):
    """1 % of the largest twist, 5 % of the largest load of a joint; the unchanged tub's are exact."""
    _, _, findings = run_case(model.case, mesh=model.mesh)
    torsion = findings.load_cases["torsion"].torsion
    b = galerkin(tub.reduced, {})
    assert_allclose(tub.outputs.x, torsion.x)
    assert_allclose(twist_curve(tub.outputs, b), torsion.curve_deg, atol=1e-7)
    for name, peaks in joint_peaks(model, joint_forces(tub.outputs, tub.family, b, {})).items():
        found = findings.load_cases["torsion"].joints[name]
        assert_allclose(peaks["shear_flow"], found.peak_shear_flow, rtol=1e-4)
        assert_allclose(peaks["moment"], found.peak_moment, rtol=1e-4)
    changed = change_case(model.case, add=["tunnel=biax600", "floor=biax600:tool"])
    _, _, after = run_case(changed, base=model.case, mesh=model.mesh)
    change = relaid(model, tub.family, changed)
    b = galerkin(tub.reduced, change)
    curve = after.load_cases["torsion"].torsion.curve_deg
    assert_allclose(twist_curve(tub.outputs, b), curve, atol=0.01 * np.abs(curve).max())
    peaks = joint_peaks(model, joint_forces(tub.outputs, tub.family, b, change))
    largest = max(found.peak_shear_flow for found in after.load_cases["torsion"].joints.values())
    for name, own in peaks.items():
        assert abs(own["shear_flow"] - after.load_cases["torsion"].joints[name].peak_shear_flow) < 0.05 * largest


@pytest.mark.parametrize(
    "texts",
    [
        ["tunnel=biax600", "tunnel=plain200:tool"],
        ["floor=biax600*2:under"],
        ["floor=plain200@45:over", "floor=biax600:under", "floor=plain200*2:under"],
    ],
)
def test_several_plies_of_one_region_are_what_laying_it_all_again_gives(model, tub, texts):
    (target,) = {text.partition("=")[0] for text in texts}
    laid = lay_on(model, find_seats(model, tub.family, areas(model.mesh), target), texts)
    wanted = relaid(model, tub.family, change_case(model.case, add=texts))
    assert laid.change.keys() == wanted.keys()
    for k, dC in wanted.items():
        assert_allclose(laid.change[k], dC, atol=1e-9 * abs(dC).max())
