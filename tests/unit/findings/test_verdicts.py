"""What governs a region, and what would raise it: by hand on one element's worth of laminate."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.case.schema import Case
from tubfem.findings.allowables import allowables
from tubfem.findings.results import Worst
from tubfem.findings.verdicts import best_raise, uses, verdicts, with_buckling
from tubfem.laminate.shear import shear_map, stiffness8
from tubfem.laminate.stack import Stack, make_stack
from tubfem.tub.plies import base_stacks

PLIES = {"sheet": {"E": "70 GPa", "nu": 0.3, "thickness": 1, "density": "2700 kg/m^3", "e1t": 0.004, "e1c": 0.004}}
CORES = {"foam": {"E": "60 MPa", "G": "25 MPa", "density": "80 kg/m^3", "shear_strength": "1 MPa"}}
ONES = {"first_damage_factor": 1, "fibre_factor": 1, "core_factor": 1, "knockdowns": ()}


def tub(*entries, mirrored=False):
    case = Case(plies=PLIES, cores=CORES, layups={"floor": {"stack": list(entries)}}, margins=Margins(**ONES))
    stack = make_stack([(layer.angle, layer.ply) for layer in base_stacks(case)["floor"]])
    return SimpleNamespace(
        case=case,
        layup=SimpleNamespace(stacks=(stack,), mixture=np.zeros(1, int), mixture_stacks=((0,),)),
        mesh=SimpleNamespace(
            panels=(SimpleNamespace(name="floor", mirrored=mirrored),), element_panel=np.zeros(1, int)
        ),
    )


def worst(model, load, kind):
    """The Worst of the tub's laminate under line loads about its middle [N/m, N]."""
    stack = model.layup.stacks[0]
    state = np.linalg.solve(stiffness8(stack), load)
    use = uses(stack, shear_map(stack), allowables(model.case.margins), state, both_hands=False)[kind]
    texts = (kind, kind, "ply", 0, None, "floor", "floor")
    return Worst(1 / use - 1, 1 / use - 1, *texts, (0, 0, 0), use, 1, "-", 1, 0.01, 0, tuple(state.tolist()))


def test_a_ply_more_doubles_what_a_sheet_bears():
    # N = 140 kN/m on 1 mm: 140 MPa, 0.2 % of 0.4 %: margin 1; with a second sheet 70 MPa: margin 3 (closed form)
    model = tub("sheet")
    one = worst(model, [140e3, 0, 0, 0, 0, 0, 0, 0], "first damage")
    assert_allclose(one.margin, 1.0, rtol=1e-9)
    raised = best_raise(model, one, allowables(model.case.margins), both_hands=False)
    assert raised.change == "floor=sheet@0"
    assert_allclose((raised.margin, raised.areal_mass), (3.0, 2.7), rtol=1e-9)


def test_core_shear_asks_for_a_thicker_core():
    # tau is about V / d: 10 mm of core and 1 mm skins, d = 11 -> 16 mm; another skin ply adds 0.5 mm at most
    model = tub("sheet", "foam 10 mm", "sheet")
    one = worst(model, [0, 0, 0, 0, 0, 0, 8e3, 0], "core shear")
    raised = best_raise(model, one, allowables(model.case.margins), both_hands=False)
    assert raised.change == "5 mm more of foam (to 15 mm)"
    # V / d holds to (t / d)^2 / 3 in thin skins: 1 %
    assert_allclose((1 + raised.margin) / (1 + one.margin), 16 / 11, rtol=1e-2)
    assert_allclose(raised.areal_mass, 0.4, rtol=1e-12)


def test_core_shear_keeps_to_its_mean_over_elements():
    # the margin of core shear is a mean of sizes; the candidate's is brought to it by the same factor
    model = tub("sheet", "foam 10 mm", "sheet")
    one = worst(model, [0, 0, 0, 0, 0, 0, 8e3, 0], "core shear")
    milder = replace(one, margin=2 * (1 + one.margin) - 1)
    found = [best_raise(model, each, allowables(model.case.margins), both_hands=False) for each in (one, milder)]
    assert_allclose(1 + found[1].margin, 2 * (1 + found[0].margin), rtol=1e-9)


def _cases(model):
    low = worst(model, [280e3 / 1.5, 0, 0, 0, 0, 0, 0, 0], "first damage")
    high = worst(model, [70e3, 0, 0, 0, 0, 0, 0, 0], "first damage")
    ripple = SimpleNamespace(region="floor", panel="floor", margin=-0.5)
    return {
        name: SimpleNamespace(
            regions={"floor": SimpleNamespace(worst=one)}, torsion=None, buckling=SimpleNamespace(modes=modes)
        )
        for name, one, modes in (("braking", low, ()), ("bending", high, (ripple,)))
    }


def test_the_worst_load_case_is_named_and_buckling_takes_its_place():
    model = tub("sheet")
    cases = _cases(model)
    (verdict,) = verdicts(model, ("floor",), cases, allowables(model.case.margins))
    assert (verdict.region, verdict.load_case, verdict.kind) == ("floor", "braking", "first damage")
    assert_allclose(verdict.margin, 0.5, rtol=1e-9)
    (rippled,) = with_buckling(model, (verdict,), cases)
    assert (rippled.load_case, rippled.kind) == ("bending", "panel buckling")
    assert_allclose(rippled.raised.margin, 0.5 * 8 - 1, rtol=1e-9)  # twice as thick: eight times as stiff


def test_the_mirrored_half_is_raised_alike():
    plies = {"uni": {"E1": "40 GPa", "E2": "10 GPa", "G12": "4 GPa", "nu12": 0.3, "thickness": 1, "e1t": 0.01,
                     "e1c": 0.008, "e2t": 0.004, "e2c": 0.01, "g12": 0.01}}  # fmt: skip
    found = []
    for hand in (1, -1):
        model = tub("sheet", mirrored=hand < 0)
        model.case = Case(plies=plies, layups={"floor": {"stack": ["uni @ 30"]}}, margins=Margins(**ONES))
        (layer,) = base_stacks(model.case)["floor"]
        stack = make_stack([(hand * layer.angle, layer.ply)])
        model.layup.stacks = (Stack(stack.plies, stack.angle, stack.z),)
        one = worst(model, np.array([20e3, 5e3, hand * 9e3, 0, 0, 0, 0, 0]), "first damage")
        found.append(best_raise(model, one, allowables(model.case.margins), both_hands=False))
    assert found[0].change == found[1].change
    assert_allclose(found[0].margin, found[1].margin, rtol=1e-9)
