"""Frames of plates with joints at their corners: slope-deflection, statics, series of springs, bolts in shear."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import solved
from tub_builders import panel, tub_mesh

from tubfem.case.schema import Case
from tubfem.findings.collect import find
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import isotropic
from tubfem.tub.line_stiffness import bolt_compliance, side_of

SPAN, HEIGHT, DEEP, T, E = 0.6, 0.4, 0.2, 0.01, 70e9
EI = E * DEEP * T**3 / 12
PUSH = 100.0


def portal(kind):
    """Two columns and a beam, 200 mm deep in x, clamped feet; (sway [m], findings)."""
    column = [(0, 0, 0), (DEEP, 0, 0), (DEEP, 0, HEIGHT), (0, 0, HEIGHT)]
    far = [(x, SPAN, z) for x, _, z in column]
    beam = [(0, 0, HEIGHT), (DEEP, 0, HEIGHT), (DEEP, SPAN, HEIGHT), (0, SPAN, HEIGHT)]
    parts = {"left": (column, 16), "right": (far, 16), "beam": (beam, 24)}
    panels = [panel(name, outline, (4, n), shift=T / 2) for name, (outline, n) in parts.items()]
    feet = [(f"f{k}-g{k}", (0, y, 0), (DEEP, y, 0)) for k, y in enumerate((0, SPAN))]
    head = ("a-b", (0, SPAN, HEIGHT), (DEEP, SPAN, HEIGHT))
    mesh = tub_mesh(panels, lines=[*feet, head], points=[("m", (DEEP / 2, SPAN / 2, HEIGHT))])
    case = Case.model_validate(
        {
            "plies": {"sheet": {"E": "70 GPa", "nu": 0.0, "thickness": 10.0, "density": "2700 kg/m^3"}},
            "layups": {name: ["sheet"] for name in ("left", "right", "beam")},
            "points": {name: [0, 0, 0] for name in ("f0", "g0", "f1", "g1", "a", "b", "m")},
            "panels": {"beam": {"outline": ["f0", "g0", "a", "b"], "tool": "down"}},
            "joint_kinds": {"corner": kind},
            "joints": {"beam/*": "corner"},
            "load_cases": {
                "static": {
                    "kind": "static",
                    "supports": [{"on": [name for name, *_ in feet], "fix": "all"}],
                    "forces": [{"on": "panels.beam", "force": ["0 N", f"{PUSH} N", "0 N"]}],
                    "probes": {"sway": "m"},
                }
            },
        }
    )
    model, solution = solved(case, mesh)
    found = find(model, (solution,)).load_cases["static"]
    return found.probes["sway"][1], found


def slope_deflection(k):
    """Sway [m] and moment [N m] at a column's head of the clamped portal with springs k [N m/rad] at its corners.

    Unknowns: sway s, rotation t of the columns' heads, rotation b of the beam's ends (antisymmetric: 6 EI / L).
    """
    H, L = HEIGHT, SPAN
    column = EI * np.array([[12 / H**3, -6 / H**2], [-6 / H**2, 4 / H]])
    K = np.zeros((3, 3))
    K[:2, :2] = 2 * column
    K[1:, 1:] += 2 * k * np.array([[1, -1], [-1, 1]])
    K[2, 2] += 2 * 6 * EI / L
    s, t, b = np.linalg.solve(K, [PUSH, 0, 0])
    return s, k * (t - b)


@pytest.mark.parametrize("rotation", [1e3, 1e4, 1e5])
def test_portal_with_rotational_springs(record, rotation):
    """A frame whose corners are rotational springs, soft to stiff: sway and moment by slope-deflection.

    16 elements a column; membrane and shear flexibility are 0.2 % here: 0.5 %.
    """
    kind = {"kind": "hinged", "stiffness": {"rotation": f"{rotation} N*mm/mm"}}
    sway, found = portal(kind)
    expected, moment = slope_deflection(rotation * DEEP)
    record(f"sway, corners of {rotation:g} N", sway, expected, 0.5)
    joint = found.joints["beam/left"]
    record(f"corner moment, corners of {rotation:g} N", np.abs(joint.moment).mean() * DEEP, abs(moment), 1.0)


def test_hinged_portal_is_two_cantilevers(record):
    """A frame with hinges at its corners: two cantilevers.

    Statics: either column carries half the push and no moment at its head; sway P H³ / (6 EI).
    """
    sway, found = portal({"kind": "hinged"})
    record("sway, hinged corners", sway, PUSH * HEIGHT**3 / (6 * EI), 0.5)
    assert_allclose(found.joints["beam/left"].peak_moment, 0.0, atol=1e-9)
    ties = found.joints["beam/left"]
    record("push at a hinge", abs((ties.normal * DEEP).mean()), PUSH / 2, 2.0)  # across the line, in the beam's plane


def test_stiff_springs_are_the_clamped_portal():
    stiff, _ = portal({"kind": "hinged", "stiffness": {"rotation": "1e9 N*mm/mm"}})
    moulded, _ = portal({"kind": "continuous"})
    assert_allclose(stiff, moulded, rtol=1e-3)


MEANS = {
    "tabbed": {"tab": ["sheet"], "width": 50, "fillet": 8},
    "fastened": {"bolt": "M6", "pitch": 50},
    "bonded": {"width": 20, "bond_thickness": 0.5},
}


@pytest.mark.parametrize("kind", MEANS)
def test_every_kind_is_continuous_when_it_is_stiff(kind):
    stiffness = {name: "1e8 N/mm/mm" for name in ("along", "across", "square")} | {"rotation": "1e9 N*mm/mm"}
    stiff, _ = portal({"kind": kind, **MEANS[kind], "stiffness": stiffness})
    moulded, _ = portal({"kind": "continuous"})
    assert_allclose(stiff, moulded, rtol=1e-3)


@pytest.mark.parametrize("kind", MEANS)
def test_every_kind_is_a_hinge_when_it_gives_no_moment(kind):
    stiffness = {name: "1e6 N/mm/mm" for name in ("along", "across", "square")} | {"rotation": "1e-9 N*mm/mm"}
    soft, found = portal({"kind": kind, **MEANS[kind], "stiffness": stiffness})
    hinged, _ = portal({"kind": "hinged"})
    assert_allclose(soft, hinged, rtol=1e-3)
    assert abs(found.joints["beam/left"].peak_moment) < 1e-6


def test_bolted_panel_slips_in_shear_as_its_bolts_do(record):
    """Two bolted sheets sheared along their joint: the sheets' own shear and the slip of the bolts.

    Two sheets of 3 mm in one plane, M6 every 50 mm: panel q b / G t, bolts q C pitch, with C by H. Huth, ASTM STP 927
    (1986), from memory.
    """
    b, length, t, G = 0.1, 0.4, 3e-3, 35e9
    parts = [
        panel("a", [(0, 0, 0), (length, 0, 0), (length, b, 0), (0, b, 0)], (8, 2), shift=t / 2),
        panel("b", [(0, b, 0), (length, b, 0), (length, 2 * b, 0), (0, 2 * b, 0)], (8, 2), shift=t / 2),
    ]
    lines = [("p-q", (0, 0, 0), (length, 0, 0)), ("r-s", (0, 2 * b, 0), (length, 2 * b, 0))]
    case = Case.model_validate(
        {
            "plies": {"sheet": {"E": "70 GPa", "nu": 0.0, "thickness": 3.0, "density": "2700 kg/m^3"}},
            "layups": {"a": ["sheet"], "b": ["sheet"]},
            "points": {name: [0, 0, 0] for name in "pqrs"},
            "panels": {name: {"outline": ["p", "q", "r", "s"], "tool": "down"} for name in "ab"},
            "joint_kinds": {"bolts": {"kind": "fastened", "bolt": "M6", "pitch": 50}},
            "joints": {"a/b": "bolts"},
            "load_cases": {
                "static": {
                    "kind": "static",
                    "supports": [
                        {"on": "p-q", "fix": "all"},
                        {"on": ["panels.a", "panels.b"], "fix": ["y", "z", "rx", "ry", "rz"]},
                    ],
                    "rigid": {"far": {"on": "r-s", "at": [0, 200, 0], "fix": ["x"]}},
                    "forces": [{"on": "rigid.far", "force": ["4 kN", "0 N", "0 N"]}],
                    "probes": {"far": "rigid.far"},
                }
            },
        }
    )
    model, solution = solved(case, tub_mesh(parts, lines=lines))
    side = side_of(make_stack([(0.0, isotropic(70e9, 0.0, 2700.0, t))]))
    q = 4000 / length
    moved = solution.u[0][model.probes["static"]["far"], 0]
    bolts = q * bolt_compliance(6e-3, side, side) * 0.05
    record("slip of a bolted panel", moved, bolts + 2 * q * b / (G * t), 0.1)  # held from bending: shear alone, exact
    assert bolts > 0.5 * q * b / (G * t)  # so that a wrong bolt would be seen
