"""Strength of joints under line loads that statics gives, fixity against springs in series, shares of the twist."""

from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import solved
from tub_builders import panel, tub_mesh

from tubfem.case.loads import Margins
from tubfem.case.schema import Case
from tubfem.findings.allowables import allowables
from tubfem.findings.collect import find
from tubfem.findings.holding import strip_uses
from tubfem.findings.plies import greatest_use, ply_use
from tubfem.findings.twist_shares import twist_shares
from tubfem.laminate.adhesive import goland_reissner, peel_peak, volkersen_peak
from tubfem.laminate.stack import abd, make_stack
from tubfem.materials.ply import isotropic
from tubfem.tub.line_stiffness import GLUE_LINE, RESIN_SHEAR

LIMITS = {"e1t": 0.02, "e1c": 0.02, "e2t": 0.02, "e2c": 0.02, "g12": 0.03}
SHEET = {"E": "20 GPa", "nu": 0.0, "thickness": 2.0, "density": "1800 kg/m^3", **LIMITS}
TAB = {**SHEET, "thickness": 1.0}
KINDS = {
    "tab": {"kind": "tabbed", "tab": ["tab"], "width": 50, "fillet": 8},
    "both": {"kind": "tabbed", "tab": ["tab"], "width": 50, "fillet": 8, "sides": 2},
    "bolts": {"kind": "fastened", "bolt": "M6", "pitch": 50},
    "glue": {"kind": "bonded", "width": 25, "bond_thickness": 0.5},
    "hinge": {"kind": "hinged"},
}
A22, A66 = 20e9 * 1e-3, 10e9 * 1e-3
K = RESIN_SHEAR / GLUE_LINE
Q = 10e3  # N/m


def case(kind, load):
    return Case.model_validate(
        {
            "plies": {"sheet": SHEET, "tab": TAB},
            "layups": {"a": ["sheet"], "b": ["sheet"]},
            "joint_kinds": KINDS,
            "joints": {"a/b": kind},
            "points": {name: [0, 0, 0] for name in ("h1", "h2", "p1", "p2")},  # the mesh says where
            "load_cases": {"static": {"kind": "static", "supports": [{"on": "h1-h2", "fix": "all"}], **load}},
        }
    )


def flat():
    """Two plates in one plane, the line between them along y at x = 0.2."""
    parts = [
        panel("a", [(0, 0, 0), (0.2, 0, 0), (0.2, 0.4, 0), (0, 0.4, 0)], (4, 8)),
        panel("b", [(0.2, 0, 0), (0.4, 0, 0), (0.4, 0.4, 0), (0.2, 0.4, 0)], (4, 8)),
    ]
    lines = [("h1-h2", (0, 0, 0), (0, 0.4, 0)), ("p1-p2", (0.4, 0, 0), (0.4, 0.4, 0))]
    return tub_mesh(parts, lines=lines)


def tee():
    """B stands up on the edge of A."""
    parts = [
        panel("a", [(0, 0, 0), (0.2, 0, 0), (0.2, 0.4, 0), (0, 0.4, 0)], (4, 8)),
        panel("b", [(0.2, 0, 0), (0.2, 0.4, 0), (0.2, 0.4, 0.2), (0.2, 0, 0.2)], (8, 4)),
    ]
    lines = [("h1-h2", (0, 0, 0), (0, 0.4, 0)), ("p1-p2", (0.2, 0, 0.2), (0.2, 0.4, 0.2))]
    return tub_mesh(parts, lines=lines)


def joint(kind, mesh, *force, **more):
    load = {"forces": [{"on": "p1-p2", "force": [f"{f} N" for f in force]}], **more}
    model, solution = solved(case(kind, load), mesh)
    return find(model, (solution,)).load_cases["static"].joints["a/b"]


def test_tab_in_pull_by_hand():
    found = joint("tab", flat(), 0.4 * Q, 0, 0)
    strength = found.strength
    assert_allclose(strength.mean_shear, Q / 0.05, rtol=1e-6)
    assert_allclose(strength.peak_shear, Q / 0.05 * volkersen_peak(0.05, K, A22, 20e9 * 2e-3), rtol=1e-6)
    # plain: 12 MPa at break over 3 is 4 MPa; 0.02 over 1.5 for the plies, isotropic
    assert_allclose(strength.margins["bond shear"], 4e6 / (Q / 0.05) - 1, rtol=1e-6)
    assert_allclose(strength.width_needed, Q / 4e6, rtol=1e-6)
    assert_allclose(strength.margins["tab plies"], 0.02 / 1.5 / (Q / A22) - 1, rtol=1e-3)
    assert found.margin == min(strength.margins.values())


def test_tabs_on_both_faces_carry_half_each():
    one, two = (joint(kind, flat(), 0.4 * Q, 0, 0).strength for kind in ("tab", "both"))
    assert_allclose(two.mean_shear, one.mean_shear / 2, rtol=1e-6)


def test_pull_square_to_a_peels_its_leg_and_shears_the_others():
    found = joint("tab", tee(), 0, 0, 0.4 * Q)
    strength = found.strength
    assert_allclose(np.abs(found.peel), Q, rtol=0.02)  # the held plate bends, its ends a little more
    assert_allclose(strength.mean_shear, Q / 0.05, rtol=0.02)  # on the leg of B
    D22 = 20e9 * 1e-9 / 12
    moment = found.peak_moment
    assert_allclose(strength.peak_peel, peel_peak(Q, moment, 0.05, D22, 2.8 * K), rtol=0.02)
    assert strength.peel < 0 < found.margin  # a single tab does not hold 10 N/mm off


def test_bolts_by_hand():
    # shear 0.5 kN a bolt; glass or carbon is not known of plies given by constants: 120 MPa bearing over 3
    strength = joint("bolts", flat(), 0.4 * Q, 0, 0).strength
    assert_allclose(strength.bolt_shear, Q * 0.05, rtol=1e-6)
    assert_allclose(strength.margins["bolt bearing"], 120e6 / 3 / (500 / (0.006 * 0.002)) - 1, rtol=1e-6)
    assert strength.mean_shear is None
    assert strength.peel is None


def test_glue_pulled_across_peels_as_goland_and_reissner_say():
    found = joint("glue", flat(), 0.4 * Q, 0, 0)
    # closed form for sheets of 2 mm, 20 GPa, nu 0.3, lap of 25 mm, 0.5 mm of resin
    k = RESIN_SHEAR / 0.5e-3
    lap = {"thickness": 2e-3, "modulus": 20e9, "nu": 0.3, "bond_shear": k, "bond_tension": 2.8 * k}
    shear, peel = goland_reissner(Q, 0.025, **lap)
    assert_allclose([found.strength.peak_shear, found.strength.peak_peel], [shear, peel], rtol=1e-3)


def test_hinges_are_not_judged_and_give_no_moment():
    held = [{"on": "h1-h2", "fix": "all"}, {"on": "p1-p2", "fix": ["x"]}]
    found = joint("hinge", tee(), 0, 100, 0, supports=held)
    assert (found.strength, found.margin) == (None, None)
    assert_allclose([found.fixity.rotation, found.fixity.share], 0.0, atol=1e-12)


def test_fixity_is_the_moment_of_springs_in_series():
    # a plate 0.2 m wide, far edge held: 3 D / l, in series with the tab (closed form)
    found = joint("tab", flat(), 100, 0, 0).fixity
    D = 20e9 * 0.002**3 / 12
    assert_allclose(found.panel, 3 * D / 0.2, rtol=1e-6)
    assert_allclose(found.share, found.rotation / (found.rotation + 3 * D / 0.2), rtol=1e-12)


def test_strips_are_tried_with_every_sign():
    """The greatest of all eight sign combinations, each by the strains of the plies themselves."""
    layers = [
        (0.3, isotropic(70e9, 0.3, 2700.0, 1e-3, strength=200e6)),
        (0.0, isotropic(9e9, 0.2, 2e3, 2e-3, strength=50e6)),
    ]
    stack, rules = make_stack(layers), allowables(Margins())
    A, _, D = abd(stack)
    pull, along, bend = 2e3, 1e3, 1.0
    uses = []
    for signs in product((1, -1), repeat=3):
        strain = np.zeros(8)
        strain[1:3] = np.linalg.solve(A[1:, 1:], [signs[0] * pull, signs[1] * along])
        strain[4] = signs[2] * bend / D[1, 1]
        uses.append(greatest_use(ply_use(stack, rules, "first damage"), strain, both_hands=False))
    assert min(uses) < 0.9 * max(uses)
    assert_allclose((np.array([pull, along, bend]) @ strip_uses(stack, rules)).max(), max(uses), rtol=1e-12)


@pytest.mark.parametrize("kind", ["tab", "bolts"])
def test_shares_of_the_twist_sum_to_1(kind):
    force = {"forces": [{"on": "p1-p2", "force": ["1 kN", "2 kN", "3 N"]}]}
    model, solution = solved(case(kind, force), flat())
    shares = twist_shares(find(model, (solution,)).load_cases["static"].energy)
    assert_allclose(sum(shares.values()), 1.0, rtol=1e-12)
    assert {("region", "a"), ("region", "b"), ("joint", "a/b")} <= set(shares)
