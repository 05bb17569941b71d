"""Springs per length of joint line against closed forms and remembered orders of magnitude."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.laminate.fillet import fillet_shear
from tubfem.laminate.stack import make_stack
from tubfem.tub.line_stiffness import (
    GLUE_LINE,
    HELD,
    RESIN_SHEAR,
    Side,
    bolt_compliance,
    bonded,
    bridge_compliance,
    lapped,
    line_springs,
    side_of,
    tabbed,
)
from tubfem.tub.plies import base_stacks, entry_layers

GLASS = Side(0.003, 0.003, 15e9)
CASE = Case.model_validate(
    {
        "plies": {"sheet": {"E": "20 GPa", "nu": 0.25, "thickness": 1.0}},
        "cores": {"foam": {"density": "80 kg/m^3", "E": "60 MPa", "G": "25 MPa"}},
        "fillers": {"paste": {"density": "900 kg/m^3", "shear_modulus": "0.7 GPa"}},
        "layups": {"skin": ["sheet"], "sandwich": ["sheet", "foam 10 mm", "sheet"]},
        "joint_kinds": {
            "tab": {"kind": "tabbed", "tab": ["sheet"], "width": 50, "fillet": 8, "sides": 2},
            "bolt": {"kind": "fastened", "bolt": "M6", "pitch": 80, "stiffness": {"square": "5 N/mm/mm"}},
            "hinge": {"kind": "hinged"},
            "filled": {"kind": "tabbed", "tab": ["sheet"], "width": 50, "fillet": 8, "sides": 2, "filler": "paste"},
            "given": {
                "kind": "tabbed",
                "tab": ["sheet"],
                "width": 50,
                "fillet": 8,
                "filler": "paste",
                "stiffness": {"along": "5 N/mm/mm"},
            },
            "unknown": {"kind": "tabbed", "tab": ["sheet"], "width": 50, "fillet": 8, "filler": "porridge"},
        },
    }
)
TAB = entry_layers(CASE, CASE.joint_kinds["tab"].tab, label="tab")


@pytest.mark.parametrize(("width", "leg"), [(1.0, "shear lag"), (1e-6, "whole")])
def test_bridge_between_its_limits(width, leg):
    # closed form: a wide leg takes hold over sqrt(a/k), a narrow one with all its width
    a, k = 8e6, RESIN_SHEAR / GLUE_LINE
    grip = np.sqrt(k * a) if leg == "shear lag" else k * width
    assert_allclose(bridge_compliance(a, 0.01, width), 0.01 / a + 2 / grip, rtol=1e-6)


def test_tab_of_a_long_fillet_is_its_membrane():
    springs = tabbed(TAB, width=0.05, sides=1, fillet=1.0, angle=np.pi / 2, height=0.02)
    arc = np.pi / 2
    assert_allclose(springs.along, 8e9 * 0.001 / arc, rtol=5e-3)  # G t / arc; the legs add 0.2 %
    assert_allclose(springs.across, 20e9 / (1 - 0.25**2) * 0.001 / arc, rtol=5e-3)


def test_tabs_on_both_faces_resist_rotation_as_a_pair():
    one = tabbed(TAB, width=0.05, sides=1, fillet=0.008, angle=np.pi / 2, height=0.02)
    two = tabbed(TAB, width=0.05, sides=2, fillet=0.008, angle=np.pi / 2, height=0.02)
    assert_allclose([two.along, two.across], [2 * one.along, 2 * one.across], rtol=1e-12)
    # a couple of two lines 20 mm apart, beside the bending of the tabs themselves
    assert_allclose(two.rotation - 2 * one.rotation, 2 * one.across * 0.01**2, rtol=1e-12)
    assert two.rotation > 50 * one.rotation


def test_panels_in_one_plane_have_no_arc_to_bridge():
    flat = tabbed(TAB, width=0.05, sides=1, fillet=0.008, angle=np.pi, height=0.02)
    assert_allclose(1 / flat.along, bridge_compliance(8e6, 0.0, 0.05), rtol=1e-12)


def test_a_lap_is_a_tab_with_one_leg_and_counts_beside_the_joint():
    springs = lapped(TAB, width=0.05, fillet=0.008, angle=np.pi / 2)
    both = tabbed(TAB, width=0.05, sides=1, fillet=0.008, angle=np.pi / 2, height=0.02)
    leg = 1 / np.sqrt(8e6 * RESIN_SHEAR / GLUE_LINE)  # 50 mm are many times the shear lag
    assert_allclose(1 / springs.along, 1 / both.along - leg, rtol=1e-9)
    kind = CASE.joint_kinds["tab"]
    without, with_lap = (
        line_springs(CASE, kind, GLASS, GLASS, angle=np.pi / 2, bridges=bridges) for bridges in ([], [(TAB, 0.05)])
    )
    assert_allclose(with_lap.values() - without.values(), springs.values(), rtol=1e-9)


def test_bolt_in_glass_has_the_remembered_order():
    # 8 to 15 kN/mm for an M6 with washer in glass: an order of magnitude, from memory
    assert 8e6 < 1 / bolt_compliance(0.006, GLASS, GLASS) < 15e6


def test_bond_line_is_an_elastic_layer():
    springs = bonded(0.02, 0.5e-3, 1e9)
    assert_allclose([springs.along, springs.across], 1e9 * 0.02 / 0.5e-3, rtol=1e-12)
    assert_allclose(springs.rotation, springs.square * 0.02**2 / 12, rtol=1e-12)


def test_values_of_the_case_win():
    springs = line_springs(CASE, CASE.joint_kinds["bolt"], GLASS, GLASS, angle=np.pi / 2)
    assert_allclose(springs.square, 5e6, rtol=1e-12)
    assert_allclose(springs.along, 1 / bolt_compliance(0.006, GLASS, GLASS) / 0.08, rtol=1e-12)


def test_hinge_holds_all_but_rotation():
    springs = line_springs(CASE, CASE.joint_kinds["hinge"], GLASS, GLASS, angle=np.pi / 2)
    assert_allclose(springs.values(), [HELD, HELD, HELD, 0.0])


def test_side_of_a_sandwich_counts_its_skins():
    stacks = base_stacks(CASE)
    side = side_of(make_stack([(layer.angle, layer.ply) for layer in stacks["sandwich"]]))
    assert_allclose([side.thickness, side.solid], [0.012, 0.002], rtol=1e-12)
    # two skins and a core of 60 MPa five times as thick: E t = 2 · 20 + 10 · 0.06, over 2 mm
    assert_allclose(side.modulus, 20.3e9, rtol=1e-3)


def springs_of(kind, *corners):
    angle, corners = np.mean(corners), ((corners, 1.0),)
    return line_springs(CASE, CASE.joint_kinds[kind], GLASS, GLASS, angle=angle, corners=corners).values()


def test_filler_holds_along_the_line_and_nowhere_else():
    """One wedge for each tab where a panel stands on another, one inside a corner whatever the tabs."""
    square = fillet_shear(0.008, np.pi / 2, 0.7e9)
    leaning = 0.5 * (fillet_shear(0.008, np.pi / 3, 0.7e9) + fillet_shear(0.008, 2 * np.pi / 3, 0.7e9))
    upright, inside = (np.pi / 2, np.pi / 2), (np.pi / 2,)
    for corners, wedges in ((upright, 2 * square), (inside, square), ((np.pi / 3, 2 * np.pi / 3), 2 * leaning)):
        more = springs_of("filled", *corners) - springs_of("tab", *corners)
        assert_allclose(more, [wedges, 0, 0, 0], rtol=1e-9, atol=1e-3)
    assert_allclose(springs_of("filled", np.pi), springs_of("tab", np.pi), rtol=1e-12)  # in line: no fillet


def test_a_given_value_wins_over_the_filler():
    assert springs_of("given", np.pi / 2)[0] == 5e6


def test_an_unknown_filler_is_told_with_what_there_is():
    with pytest.raises(CaseError, match=r'joint_kinds\.unknown\.filler: no filler "porridge".*\[fillers\]'):
        springs_of("unknown", np.pi / 2)
