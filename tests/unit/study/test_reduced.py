"""The reduced model against full solves of the same tub on the same mesh.

A laminated box with a bonded joint (coarse, so that hundreds of full solves are cheap), and the starter case. The
references are the program's own full solves: what is tested is the reduction, not the elements. Tolerances are those
asked of the reduction: 0.05 percentage points of gain for one entry of plies, 0.3 for changes of 0.5 to 3 times
everywhere; the bracket may be crossed by rounding only.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh
from tub_runs import changed_stiffness, sized

from tubfem.case.read import load_case
from tubfem.case.schema import Case
from tubfem.geometry.mesh import areas
from tubfem.laminate.shear import stiffness8
from tubfem.run import change_case, model_case
from tubfem.study.bracket import bracket
from tubfem.study.family import (
    changed_shell,
    element_matrices,
    layup_change,
    make_family,
    spring_change,
    stiff_everywhere,
)
from tubfem.study.laying import find_seats, lay_more, lay_on
from tubfem.study.reduce import family_stiffness, reduce_tub, snapshot, torsion_of, twist_tub, with_solutions
from tubfem.study.reduced import galerkin, pivoted, stiffness_above
from tubfem.tub.build import build_model
from tubfem.tub.further import tell_apart
from tubfem.tub.layup import lay_plies, mixed, panel_mass
from tubfem.tub.plies import base_thickness

ROUNDING = 1e-8
GLASS = {"fibre": "e-glass", "architecture": "biaxial +-45 stitched", "areal_weight": "600 g/m^2"}
PLIES = {
    "biax": {**GLASS, "resin": "epoxy, room-temperature cure", "process": "hand"},
    "uni": {"E1": "38 GPa", "E2": "9 GPa", "G12": "3.5 GPa", "nu12": 0.28, "thickness": 0.4},
}
CORES = {"foam": {"material": "PVC foam", "density": "80 kg/m^3"}}
WALLS = ("floor", "top", "left", "right", "front", "rear")
BOND = {"glued": {"kind": "bonded", "width": 20, "bond_thickness": 1}}


@cache
def box():
    """The box, twisted, and its reduced model: two walls are sandwiches, the top is bonded on."""
    sandwich = ["biax", "foam 10 mm", "uni @ 90", "biax"]
    layups = {name: sandwich if name in ("floor", "front") else ["uni @ 30", "biax", "biax"] for name in WALLS}
    case = box_case(kinds=BOND, joints={"*/top": "glued"}, plies=PLIES, layups=layups, cores=CORES)
    mesh = box_mesh((4, 10, 4))
    twisted = twist_tub(build_model(case, mesh, lay_plies(case, mesh)))
    reduced, _ = reduce_tub(twisted)
    return twisted, reduced


@cache
def starter():
    model = model_case(sized(load_case(CASES / "starter.toml"), 0.09))
    twisted = twist_tub(model)
    return twisted, *reduce_tub(twisted)


def random_change(family, rng, low, high, share=0.7):
    """Regions, joints and mounts, each with its stiffness times a random factor."""
    change = {}
    for kind, name in dict.fromkeys((group.kind, group.name) for group in family.groups):
        if rng.random() < share:
            factor = np.exp(rng.uniform(np.log(low), np.log(high)))
            change |= {k: (factor - 1) * family.groups[k].C for k in family.named(kind, name)}
    return change


def percent(twisted, stiffness):
    return 100 * (stiffness / twisted.stiffness - 1)


def test_the_unchanged_tub_is_itself():
    twisted, reduced = box()
    low, high = bracket(reduced, {})
    assert_allclose([low, high], twisted.stiffness, rtol=1e-7)
    assert_allclose(family_stiffness(twisted, {}), twisted.stiffness, rtol=1e-9)


@pytest.mark.parametrize("count", [25, pytest.param(200, marks=pytest.mark.slow)])
def test_the_bracket_holds_on_random_changes(count):
    """Factors 0.5 to 3 on regions, joints and mounts: the full solve lies inside, Galerkin within 0.3 points."""
    twisted, reduced = box()
    rng = np.random.default_rng(4)
    errors, widths = [], []
    for _ in range(count):
        change = random_change(twisted.stiff.family, rng, 0.5, 3.0)
        low, high = bracket(reduced, change)
        true = family_stiffness(twisted, change)
        assert low <= true * (1 + ROUNDING)
        assert true <= high * (1 + ROUNDING)
        errors.append(percent(twisted, 0.5 * (low + high)) - percent(twisted, true))
        widths.append(percent(twisted, high) - percent(twisted, low))
    print(f"middle of the bracket: off by {np.abs(errors).max():.4f} points at most; width {np.max(widths):.4f}")
    assert np.abs(errors).max() < 0.3


def test_one_factor_on_everything_is_exact():
    """Closed form: all stiffness times c is the stiffness times c."""
    twisted, reduced = box()
    family = twisted.stiff.family
    change = {k: 0.7 * group.C for k, group in enumerate(family.groups)}
    assert_allclose(stiffness_above(reduced, galerkin(reduced, change)), 1.7 * twisted.stiffness, rtol=1e-6)
    assert_allclose(bracket(reduced, change), 1.7 * twisted.stiffness, rtol=1e-4)


def test_what_is_laid_more_is_what_laying_it_all_again_gives():
    """dC of every group against that of the whole tub laid up anew, for either face and a turned ply."""
    twisted, _, _ = starter()
    model, family = twisted.model, twisted.stiff.family
    for text in ("floor=biax600:tool", "sill=plain200@45"):
        laid_again(model, family, lay_more(model, family, areas(model.mesh), text), [text])


def laid_again(model, family, laid, texts):
    """Compares dC of every group and the mass with those of the case with these changes, laid up anew."""
    again = model_case(change_case(model.case, add=texts), base=model.case, mesh=model.mesh)
    wanted = layup_change(family, element_matrices(torsion_of(again)[0].shell, family.sign))
    assert laid.change.keys() == wanted.keys()
    for k, dC in wanted.items():
        assert_allclose(laid.change[k], dC, atol=1e-9 * abs(dC).max())
    now, before = (sum(panel_mass(model.mesh, each.layup).values()) for each in (again, model))
    assert laid.mass > 0
    assert_allclose(laid.mass, now - before, rtol=1e-9)


@cache
def patched():
    """The starter with patches that step in and do not, one over the middle, and a mount's with falling radii."""
    case = sized(load_case(CASES / "starter.toml"), 0.09)
    patches = {
        "stepped": {"on": "floor", "at": [700, 300], "ply": "2 x biax600", "radius": 180, "stagger": 25},
        "even": {"on": "floor", "at": [400, 250], "ply": ["biax600", "plain200"], "radius": 150},
        "bay": {"on": "sill.top", "from": "front", "to": "rear", "ply": "biax600", "stagger": 60},
        "middle": {"on": "front_bulkhead", "at": [70, 250], "ply": "plain200 @ 0", "radius": 120, "stagger": 15},
    }
    round_it = {"on": "front_bulkhead", "at": [410, 330], "patch": "3 x plain200", "patch_radius": [110, 90, 70]}
    given = Case.model_validate({"patches": patches, "mounts": {"front_upper": round_it}})
    more = {key: getattr(given.mounts["front_upper"], key) for key in ("patch", "patch_radius")}
    mounts = {**case.mounts, "front_upper": case.mounts["front_upper"].model_copy(update=more)}
    model = tell_apart(model_case(case.model_copy(update={"patches": given.patches, "mounts": mounts})))
    return model, make_family(model, torsion_of(model)[0].shell, areas(model.mesh))


@pytest.mark.parametrize(
    "texts",
    [
        ["patch:stepped=biax600"],
        ["patch:stepped=biax600*2", "patch:stepped=plain200@30"],
        ["patch:even=plain200@30", "patch:even=biax600"],
        ["patch:bay=biax600*2"],
        ["patch:middle=biax600@30"],  # lies twice, over itself; its left half turns the other way
        ["patch:middle=plain200*3", "patch:middle=biax600@20"],
        ["patch:front_upper=plain200@30"],
        ["patch:front_upper=biax600", "patch:front_upper=biax600@0"],
        ["front_bulkhead=biax600@20*2"],  # under all of these
    ],
)
def test_patches_go_on_at_their_own_step(texts):
    """UD-like angles off the axes, so that a wrong hand shows; to 1e-9, cells are the same ones."""
    model, family = patched()
    seats = find_seats(model, family, areas(model.mesh), texts[0].partition("=")[0])
    laid_again(model, family, lay_on(model, seats, texts), texts)


def test_more_steps_than_are_told_apart_are_refused():
    model, family = patched()
    with pytest.raises(ValueError, match="patch:stepped: 5 plies more, of which 4 steps are told apart"):
        lay_more(model, family, areas(model.mesh), "patch:stepped=biax600*5")


def test_telling_stacks_apart_changes_nothing_of_them():
    model, _ = patched()
    plain = model_case(model.case)
    for told, own in (
        (mixed(each.layup, np.array([stiffness8(stack) for stack in each.layup.stacks])), each.layup.mixture)
        for each in (model, plain)
    ):
        found = told[own]
        assert_allclose(found, torsion_of(plain)[0].shell.stiffness[plain.layup.mixture], rtol=1e-12)


@pytest.mark.parametrize("text", ["sill=biax600:tool", "tunnel=plain200", "rear_bulkhead=biax600@45:tool"])
def test_single_plies_against_full_solves(text):
    twisted, reduced, _ = starter()
    model = twisted.model
    laid = lay_more(model, twisted.stiff.family, areas(model.mesh), text)
    low, high = bracket(reduced, laid.change)
    true = percent(twisted, changed_stiffness(model, change_case(model.case, add=[text])))
    print(f"{text}: {percent(twisted, low):.4f} to {percent(twisted, high):.4f}, in full {true:.4f}")
    assert abs(percent(twisted, 0.5 * (low + high)) - true) < 0.05


def test_a_thicker_tab_against_a_full_solve():
    twisted, reduced, _ = starter()
    changed = change_case(twisted.model.case, add=["joint:tab60=biax600*2"])
    again = model_case(changed, base=twisted.model.case, mesh=twisted.model.mesh)
    now = torsion_of(again)[0].shell.springs
    change = spring_change(twisted.stiff.family, twisted.state.shell.springs, now)
    true = percent(twisted, changed_stiffness(twisted.model, changed))
    assert true > 0.3
    low, high = bracket(reduced, change)
    assert abs(percent(twisted, 0.5 * (low + high)) - true) < 0.05


def test_a_snapshot_closes_the_bracket_where_it_was_taken():
    """Many plies everywhere: wide at first; with the full solution in the basis the bracket shuts there."""
    twisted, reduced, _ = starter()
    case, family = twisted.model.case, twisted.stiff.family
    texts = [f"{region}=biax600*{2 + k % 3}" for k, region in enumerate(case.layups)]
    layup = lay_plies(change_case(case, add=texts), twisted.model.mesh, base_thickness(case))
    again = build_model(change_case(case, add=texts), twisted.model.mesh, layup)
    shell = torsion_of(again)[0].shell
    change = layup_change(family, element_matrices(shell, family.sign))
    low, high = bracket(reduced, change)
    solved = snapshot((twisted.stiff.family, twisted.state.shell, twisted.setup.column), change)
    richer, _ = reduce_tub(with_solutions(twisted, [solved]))
    shut = bracket(richer, change)
    true = family_stiffness(twisted, change)
    assert low < true < high
    assert high - low > 100 * (shut[1] - shut[0])
    assert_allclose(shut, true, rtol=1e-5)
    assert_allclose(bracket(richer, {}), twisted.stiffness, rtol=1e-6)


def test_the_changed_shell_has_the_changed_stiffness():
    twisted, _ = box()
    family = twisted.stiff.family
    k = family.named("region", "top")[0]
    shell = changed_shell(family, twisted.state.shell, {k: family.groups[k].C})
    first = family.groups[k].members[0]
    assert_allclose(shell.stiffness[first], 2 * family.stiffness[first][:8, :8], rtol=1e-9)


def test_springs_in_other_rows_are_left_as_they_were():
    """Foam between thicker walls: shares are told of rows that are the same springs, of no others."""
    twisted, _ = box()
    family, (springs, *rest) = twisted.stiff.family, twisted.state.shell.springs
    before, stiffer = (springs, *rest), 1.5 * springs.stiffness
    found = spring_change(family, before, (replace(springs, stiffness=stiffer), *rest))
    assert {family.groups[k].kind for k in found} == {"joint"}
    assert_allclose(np.ravel(list(found.values())), 0.5)
    turned = replace(springs, stiffness=stiffer, coefficients=springs.coefficients[:, ::-1])
    c, f = springs.coefficients, springs.freedoms
    fewer = replace(springs, freedoms=f[1:], stiffness=stiffer[1:], coefficients=c[1:])
    assert spring_change(family, before, (turned, *rest)) == {}
    assert spring_change(family, before, (fewer, *rest)) == {}


def test_every_element_keeps_some_stiffness_under_the_mean_change():
    """A layer moved far out stiffens the group's mean; an element with less of it must not lose what it has."""
    twisted, _ = box()
    group = twisted.stiff.family.groups[0]
    half, root = 0.4 * group.C, np.linalg.cholesky(group.C)
    uneven = replace(group, corners=np.array([group.C - half, group.C + half]))
    lost = -0.9 * group.C
    held = stiff_everywhere(uneven, lost)
    for corner in uneven.corners:
        assert np.linalg.eigvalsh(np.linalg.solve(root, np.linalg.solve(root, corner + held).T)).min() > 0
    more = 0.3 * group.C
    assert_allclose(stiff_everywhere(uneven, more), more)


def test_pivoting_keeps_the_first_and_drops_what_the_others_hold():
    V = np.random.default_rng(0).normal(size=(6, 3))
    V = np.column_stack([V, V[:, 0] + V[:, 1], 1e-9 * V[:, 2]])
    kept, R = pivoted(V.T @ V, 1e-10)
    assert kept[0] == 0
    assert len(kept) == 3
    assert_allclose(R.T @ R, (V.T @ V)[np.ix_(kept, kept)], atol=1e-12)


def test_a_group_without_stiffness_has_no_bracket():
    """Less than nothing left of a wall: nothing is known, and nothing breaks."""
    twisted, reduced = box()
    family = twisted.stiff.family
    (k,) = family.named("region", "top")[:1]
    assert bracket(reduced, {k: -40.0 * family.groups[k].C}) == (0.0, np.inf)
