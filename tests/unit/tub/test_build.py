"""Static load cases, states and names of the model."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh, plate_case, plate_mesh, resultant, solved
from tub_builders import nearest, panel, tub_mesh

from tubfem.case.schema import Case
from tubfem.shell.solve import solve
from tubfem.tub.build import build_model
from tubfem.tub.layup import lay_plies

CLAMPED = [{"on": "a-d", "fix": "all"}]
WEIGHT = 0.4 * 2e-3 * 2700  # kg of the plate


def applied(load, **more):
    """Resultant of a static case's loads on the plate."""
    case = plate_case({"supports": CLAMPED, **load}, **more)
    model, solution = solved(case, plate_mesh())
    shell = model.states[0].shell
    total = resultant(shell.points, shell.loads[:, 0].reshape(-1, 6))
    assert_allclose(resultant(shell.points, solution.reactions[0]), -total, atol=1e-8 * np.abs(total).max())
    return total


def test_edge_force_is_shared_by_length():
    total = applied({"forces": [{"on": "b-c", "force": ["0 N", "0 N", "-100 N"]}]})
    assert_allclose(total, [0, 0, -100, -20, 100, 0], atol=1e-9)  # at (1, 0.2, 0)


def test_panel_force_and_moment_are_shared_by_area():
    moment = ["0 N*m", "7 N*m", "0 N*m"]
    total = applied({"forces": [{"on": "panels.plate", "force": ["0 N", "0 N", "-100 N"], "moment": moment}]})
    assert_allclose(total, [0, 0, -100, -20, 57, 0], atol=1e-9)


def test_force_on_two_points_is_one_total():
    total = applied({"forces": [{"on": ["b", "c"], "force": ["10 N", "0 N", "0 N"]}]})
    assert_allclose(total, [10, 0, 0, 0, 0, -2], atol=1e-9)


def test_pressure_pushes_from_the_tool_face():
    total = applied({"pressures": [{"on": "panels.plate", "pressure": "1 kPa"}]})
    assert_allclose(total, [0, 0, 400, 80, -200, 0], atol=1e-9)


def test_acceleration_acts_as_gravity_does():
    total = applied({"acceleration": ["0 m/s^2", "0 m/s^2", "-9.81 m/s^2"]})
    assert_allclose(total[2], -9.81 * WEIGHT, rtol=1e-12)


def test_cantilever_bends_as_a_beam():
    load = {"forces": [{"on": "b-c", "force": ["0 N", "0 N", "1 N"]}], "probes": {"tip": "b"}}
    case = plate_case({"supports": CLAMPED, **load}, plies={"sheet": {"E": "70 GPa", "nu": 0.0, "thickness": 2.0}})
    model, solution = solved(case, plate_mesh())
    tip = solution.u[0][model.probes["static"]["tip"]]
    stiffness = 3 * 70e9 * 0.4 * 0.002**3 / 12  # closed form; shear adds (h/L)²
    assert_allclose(tip[2], 1 / stiffness, rtol=2e-3)


def test_rigid_set_in_some_directions_leaves_the_others_free():
    load = {
        "rigid": {"end": {"on": "b-c", "at": [1000, 200, 0], "fix": ["x", "rz"]}},
        "forces": [{"on": "rigid.end", "force": ["1 kN", "0 N", "0 N"]}],
        "probes": {"end": "rigid.end"},
    }
    case = plate_case({"supports": [{"on": "a-d", "fix": ["x", "z", "ry"]}, {"on": "a", "fix": "y"}], **load})
    model, solution = solved(case, plate_mesh())
    stretch = solution.u[0][model.probes["static"]["end"], 0]
    assert_allclose(stretch, 1000 / (70e9 * 0.4 * 0.002), rtol=1e-9)  # free to contract: uniform tension, closed form
    narrowed = (
        solution.u[0][nearest(model.mesh.points, (1, 0.4, 0)), 1]
        - solution.u[0][nearest(model.mesh.points, (1, 0, 0)), 1]
    )
    assert_allclose(narrowed, -0.3 * stretch * 0.4, rtol=1e-9)


def test_cases_held_alike_share_a_state():
    case = box_case()
    twice = {
        "torsion": case.load_cases["torsion"],
        "more": case.load_cases["torsion"].model_copy(update={"torque": 2e3}),
    }
    bench = {"bench": case.load_cases["torsion"].model_copy(update={"restraint": "bench"})}
    mesh = box_mesh()
    model = build_model(case.model_copy(update={"load_cases": {**twice, **bench}}), mesh, lay_plies(case, mesh))
    assert [[c.name for c in state.load_cases] for state in model.states] == [["torsion", "more"], ["bench"]]
    u = solve(model.states[0].shell).u
    assert_allclose(u[1], 2 * u[0], rtol=1e-6, atol=1e-12)


def test_mirrored_halves_answer_as_mirror_images():
    ply = {"E1": "40 GPa", "E2": "8 GPa", "G12": "4 GPa", "nu12": 0.3, "thickness": 1.0}
    right = [
        panel("floor.right", [(0, 0, 0), (1, 0, 0), (1, 0.3, 0), (0, 0.3, 0)], (8, 3), zero=(1, 0, 0)),
        panel("wall.right", [(0, 0.3, 0), (1, 0.3, 0), (1, 0.3, 0.2), (0, 0.3, 0.2)], (8, 2), zero=(1, 0, 0)),
    ]
    left = []
    for meta, corners, (nx, ny), zero in right:
        name = meta.name.replace("right", "left")
        turned = (corners * [1, -1, 1])[[0, 3, 2, 1]]  # reflected, and gone round the other way to face the same side
        left.append(panel(name, turned, (ny, nx), zero=zero, mirrored=True))
    points = {"a": [0, 0, 0], "b": [1000, 300, 200]}
    load = {
        "kind": "static",
        "supports": [{"on": "a", "fix": "all"}],
        "forces": [{"on": "b", "force": ["10 N", "0 N", "-10 N"]}],
    }
    case = Case.model_validate(
        {
            "mirror": "y",
            "plies": {"ud": ply},
            "points": points,
            "layups": {"floor": ["ud @ 30"], "wall": ["ud @ 30", "ud @ 75"]},
            "joint_kinds": {"moulded": {"kind": "continuous"}},
            "joints": {"*/*": "moulded"},
            "load_cases": {"pull": load},
        }
    )
    places = [("a", (0, 0, 0)), ("b.right", (1, 0.3, 0.2)), ("b.left", (1, -0.3, 0.2))]
    mesh = tub_mesh([*right, *left], points=places)
    u = solved(case, mesh)[1].u[0][: len(mesh.points)]
    image = [nearest(mesh.points, point * [1, -1, 1]) for point in mesh.points]
    signs = np.array([1, -1, 1, -1, 1, -1])
    assert_allclose(u[image], u * signs, atol=1e-7 * np.abs(u).max())  # rounding of a soft, open shape
    assert np.abs(u[:, 1]).max() > 1e-3 * np.abs(u).max()


@pytest.mark.parametrize("name", ["acceleration", "pressures"])
def test_loads_on_parted_panels_go_to_their_own_nodes(name):
    load = {"kind": "static", "supports": [{"on": "a", "fix": "all"}]}
    if name == "acceleration":
        load["acceleration"] = ["0 m/s^2", "0 m/s^2", "-1 m/s^2"]
    else:
        load["pressures"] = [{"on": "panels.floor", "pressure": "1 kPa"}]
    outline = [[0, -300, 0], [0, 300, 0], [1000, 300, 0], [1000, -300, 0]]
    case = box_case(
        joints={"floor/*": "loose"},
        kinds={"loose": {"kind": "hinged"}},
        points={"a": [0, 0, 200]},
        panels={"floor": {"outline": outline, "tool": "up"}},
        load_cases={"static": load},
    )
    model, _ = solved(case, box_mesh(points=[("a", (0, 0, 0.2))]))
    shell = model.states[0].shell
    total = resultant(shell.points, shell.loads[:, 0].reshape(-1, 6))
    area = 2 * (0.6 + 0.2 + 0.12)
    assert_allclose(total[2], -area * 2e-3 * 2700 if name == "acceleration" else -600, rtol=1e-12)


def test_ends_that_are_held_or_carried_by_a_rigid_set_are_no_free_edges():
    """A thick strip twisted between a clamp and a rigid frame: layers, 16 mm wide, along its two long edges alone."""
    b, length, t = 0.4, 1.0, 0.05
    load = {
        "rigid": {"frame": {"on": "b-c", "at": [1000, 200, 0], "fix": ["y", "z", "rx"]}},
        "supports": [
            {"on": "a-d", "fix": ["y", "z", "rx"]},
            {"on": "a", "fix": "x"},
            {"on": "rigid.frame", "fix": ["y", "z"]},
        ],
        "forces": [{"on": "rigid.frame", "moment": ["1 N*m", "0 N*m", "0 N*m"]}],
        "probes": {"frame": "rigid.frame"},
    }
    sheet = {"E": "70 GPa", "nu": 0.0, "thickness": 1e3 * t}
    model, solution = solved(plate_case(load, plies={"sheet": sheet}), plate_mesh(shift=t / 2))
    angle = solution.u[0][model.probes["static"]["frame"]][3]
    D = 35e9 * t**3 / 12  # first-order theory, closed form: as in tests/verification/test_element_quality.py
    c = t / np.sqrt(12 * 5 / 6)
    # Relieved layers are right within 0.2 % on strips of a few elements (docs/theory.md, Z.3).
    assert_allclose(1 / angle, 4 * D * b * (1 - 2 * c / b * np.tanh(b / 2 / c)) / length, rtol=3e-3)
