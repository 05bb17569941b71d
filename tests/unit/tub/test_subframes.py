"""Subframes of tubes: between rigid and gone, in equilibrium, and what is loose or far off is named."""

from functools import cache
from math import pi

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh, solved, twist_stiffness

from tubfem.case.schema import Case
from tubfem.errors import CaseError, SolveError
from tubfem.findings.collect import find
from tubfem.materials import library
from tubfem.tub.subframes import frame_nodes, frame_tubes, segment_gap, tube_label

MESH = box_mesh((6, 18, 8))
CORNERS = ("low_l", "low_r", "high_l", "high_r")


def framed(end, size, *, material="steel", tubes=None):
    """A subframe from four mounts to both pickups of an axle, every node tied to both pickups and in a ring."""
    nodes = {name: f"{end}_{name}" for name in CORNERS} | {"pl": f"{end}_l", "pr": f"{end}_r"}
    pairs = [(corner, pick) for corner in CORNERS for pick in ("pl", "pr")]
    pairs += [("low_l", "low_r"), ("low_r", "high_r"), ("high_r", "high_l"), ("high_l", "low_l"), ("pl", "pr")]
    return {
        "kind": "tubes",
        "bolts": [f"{end}_low_*", f"{end}_high_*"],
        "nodes": nodes,
        "tubes": [{"from": a, "to": b} for a, b in (tubes or pairs)],
        "tube": list(size),
        "material": material,
    }


def on_frames(table, **more):
    """The box's case with its pickups on subframes; table: end -> subframe."""
    plain = box_case(**more)
    pickups = {
        name: {"at": [1e3 * c for c in pickup.at], "on": f"subframes.{name.split('_')[0]}"}
        for name, pickup in plain.pickups.items()
    }
    return box_case(subframes={end: table(end) for end in ("front", "rear")}, pickups=pickups, **more)


@cache
def usual():
    """Model, solution and findings with tubes of 25 x 2 mm."""
    model, solution = solved(on_frames(lambda end: framed(end, (25, 2))), MESH)
    return model, solution, find(model, (solution,))


@cache
def stood_off():
    """The same with rigid subframes."""
    model, solution = solved(on_frames(rigid), MESH)
    return model, solution, find(model, (solution,))


def rigid(end):
    return {"bolts": [f"{end}_low_*", f"{end}_high_*"]}


def test_very_stiff_tubes_are_a_rigid_subframe():
    # Tubes of 1.2 m across and 0.5 m of wall are 1e5 times as stiff as the box: 0.1 % asked by the limit's definition.
    stiff = twist_stiffness(*solved(on_frames(lambda end: framed(end, (1200, 500))), MESH))
    assert_allclose(stiff, twist_stiffness(*stood_off()[:2]), rtol=1e-3)


def test_soft_tubes_take_all_the_twist():
    found = []
    for diameter in (20, 0.4, 0.2):
        case = on_frames(lambda end, d=diameter: framed(end, (d, d / 10)))
        model, solution = solved(case, MESH)
        energy = find(model, (solution,)).load_cases["torsion"].energy
        shares = sum(energy.regions.values()) + sum(energy.joints.values()) + energy.mounts + energy.drilling
        assert_allclose(shares + sum(energy.frames.values()), 1.0, rtol=1e-9)
        found.append((twist_stiffness(model, solution), sum(energy.frames.values())))
    stiffness, share = np.array(found).T
    assert (np.diff(stiffness) < 0).all()
    assert (np.diff(share) > 0).all()
    assert share[-1] > 0.99
    # Thin tubes carry by their pull, stiff by the square of the diameter; the box's own give is 1 % of theirs: 2 %.
    assert_allclose(stiffness[1] / stiffness[2], 4.0, rtol=0.02)


def test_every_node_is_in_equilibrium():
    model, solution, _ = usual()
    frame = next(frame for frame in model.frames if frame.name == "subframes.front")
    shell, springs = model.states[0].shell, frame.beams.springs
    u = solution.u[0].ravel()
    force = springs.stiffness * (u[springs.freedoms] * springs.coefficients).sum(1)
    nodal = np.zeros(u.size)
    np.add.at(nodal, springs.freedoms, springs.coefficients * force[:, None])
    pickup, node = model.pickups["front_r"], frame.nodes["pr"]
    applied = shell.loads[6 * pickup : 6 * pickup + 6, 0]
    assert_allclose(nodal[6 * node : 6 * node + 6], applied, rtol=1e-6, atol=1e-6 * np.abs(applied).max())


def test_stress_and_column_by_hand():
    found = usual()[2].load_cases["torsion"].frames["subframes.front"]
    area, second = pi / 4 * (0.025**2 - 0.021**2), pi / 64 * (0.025**4 - 0.021**4)
    steel = library.solid("steel")
    for tube in found.tubes:
        stress = np.hypot(abs(tube.normal) / area + tube.bending * 0.0125 / second, 0)
        stress = np.hypot(stress, np.sqrt(3) * abs(tube.torque) * 0.0125 / (2 * second))
        assert_allclose(tube.stress, stress, rtol=1e-9)
        assert_allclose(tube.strength_margin, steel.X1t / 1.5 / stress - 1, rtol=1e-9)
        # the couple may turn round, so that every tube is pressed one way or the other
        euler = pi**2 * steel.E1 * second / tube.length**2
        if tube.column_margin is not None:
            assert_allclose(tube.column_margin, euler / 2.0 / abs(tube.normal) - 1, rtol=1e-9)
        assert_allclose(tube.mass, 7850 * area * tube.length)
    assert sum(tube.column_margin is not None for tube in found.tubes) >= 8  # nothing goes along the others by symmetry
    assert found.worst.margin == min(tube.margin for tube in found.tubes)


def test_welds_take_half_of_aluminium():
    model, solution = solved(on_frames(lambda end: framed(end, (25, 2), material="aluminium")), MESH)
    tube = find(model, (solution,)).load_cases["torsion"].frames["subframes.rear"].tubes[0]
    assert_allclose(tube.allowable, 0.5 * library.solid("aluminium").X1t / 1.5)


def test_factors_of_the_case_win():
    case = on_frames(lambda end: framed(end, (25, 2)), margins={"tube_factor": 1.0, "tube_buckling_factor": 4.0})
    model, solution = solved(case, MESH)
    findings = find(model, (solution,))
    tube = findings.load_cases["torsion"].frames["subframes.rear"].tubes[0]
    assert_allclose(tube.allowable, library.solid("steel").X1t)
    assert {f.name: f.value for f in findings.factors}["tube buckling"] == 4.0


def test_mass_and_its_centre_count_the_tubes():
    plain = stood_off()[2].mass
    model, _, findings = usual()
    mass = findings.mass
    area = pi / 4 * (0.025**2 - 0.021**2)
    own = sum(float(frame.length.sum()) for frame in model.frames) * area * 7850
    assert_allclose(mass.total, plain.total + own)
    assert_allclose(sum(mass.frames.values()), own)
    assert_allclose(mass.centre_of_gravity, plain.centre_of_gravity, atol=1e-6)  # alike at both ends


def static(**more):
    table = {"kind": "static", "acceleration": ["0 m/s^2", "0 m/s^2", "-9.81 m/s^2"], **more}
    table.setdefault("supports", [{"on": ["rear_l", "rear_r"], "fix": "all"}])
    return {"load_cases": {"static": table}}


def test_a_force_on_a_node_of_the_frame():
    push = {"forces": [{"on": "subframes.front.high_l", "force": ["0 N", "10 N", "0 N"]}]}
    push |= {"acceleration": ["0 m/s^2"] * 3, "probes": {"there": "subframes.front.high_l"}}
    model, solution = solved(on_frames(lambda end: framed(end, (25, 2)), **static(**push)), MESH)
    node = model.frames[0].nodes["high_l"]
    assert_allclose(solution.reactions[0, :, 1].sum(), -10, rtol=1e-9)
    assert model.probes["static"]["there"] == node
    energy = find(model, (solution,)).load_cases["static"].energy.total
    assert_allclose(energy, 0.5 * 10 * solution.u[0, node, 1], rtol=1e-6)


def test_weight_of_tubes_is_carried():
    _, solution = solved(on_frames(lambda end: framed(end, (25, 2)), **static()), MESH)
    mass = usual()[2].mass.total
    assert_allclose(solution.reactions[0, :, 2].sum(), 9.81 * mass, rtol=1e-9)


def test_inertia_of_tubes_balances_a_free_load():
    push = {"free": True, "supports": [], "acceleration": ["0 m/s^2"] * 3}
    push["forces"] = [{"on": "front_l", "force": ["0 N", "0 N", "1 kN"]}]
    model, solution = solved(on_frames(lambda end: framed(end, (25, 2)), **static(**push)), MESH)
    assert np.abs(solution.reactions).max() < 1e-6 * 1000
    mass = usual()[2].mass.total
    assert any(f"{mass:.4g} kg" in note for note in model.notes)


def test_a_part_that_hangs_loose_is_named():
    # the pickups' nodes are tied to each other and to nothing else
    pairs = [("low_l", "low_r"), ("low_r", "high_r"), ("high_r", "high_l"), ("high_l", "low_l"), ("pl", "pr")]
    with pytest.raises(SolveError, match=r"subframes\.front, part pl, pr hangs on 0 bolts \(none\)"):
        solved(on_frames(lambda end: framed(end, (25, 2), tubes=pairs)), MESH)


def test_a_part_on_two_bolts_is_named():
    pairs = [("low_l", "pl"), ("high_l", "pl"), ("low_r", "pr"), ("high_r", "pr"), ("low_r", "high_r")]
    with pytest.raises(SolveError, match=r"subframes\.front, part low_l, high_l, pl hangs on 2 bolts"):
        solved(on_frames(lambda end: framed(end, (25, 2), tubes=pairs)), MESH)


def moved(key, node, at):
    """Tables of both ends with one node somewhere else."""

    def table(end):
        made = framed(end, (25, 2))
        made["nodes"][node] = at
        return made

    return on_frames(table)


def test_a_bolt_or_pickup_far_from_every_node_is_told():
    with pytest.raises(CaseError, match=r"subframes\.front\.nodes: the bolt of mount front_low_l is \d+ mm from"):
        solved(moved("nodes", "low_l", [-300, -400, 400]), MESH)
    with pytest.raises(CaseError, match=r"subframes\.front\.nodes: pickup front_r is \d+ mm from pr, the nearest node"):
        solved(moved("nodes", "pr", [-100, 300, 100]), MESH)


def test_a_pickup_hangs_on_the_node_that_it_names():
    case = on_frames(lambda end: framed(end, (25, 2)))
    pickups = case.pickups | {"front_r": case.pickups["front_r"].model_copy(update={"on": "subframes.front.high_r"})}
    model, solution = solved(case.model_copy(update={"pickups": pickups}), MESH)
    u, points = solution.u[0], model.states[0].shell.points
    node, pickup = model.frames[0].nodes["high_r"], model.pickups["front_r"]
    assert_allclose(u[pickup, :3], u[node, :3] + np.cross(u[node, 3:], points[pickup] - points[node]), atol=1e-12)
    assert model.frames[0].carries["front_r"] == node


def test_words_tell_tubes_pickups_and_the_lowest_margin():
    model, _, findings = usual()
    (note,) = (text for text in model.notes if text.startswith("subframes.front"))
    assert note.startswith("subframes.front: 13 tubes, ")
    assert note.endswith("front_r on node pr, 0 mm from it")
    worst = min((f.worst for f in findings.load_cases["torsion"].frames.values()), key=lambda tube: tube.margin)
    words = [text for text in findings.sentences if "tubes and stiffeners" in text]
    assert len(words) == 1
    assert f"{worst.margin:+.2f}: its stress, {worst.label} of subframes." in words[0]


def test_crossing_tubes_are_told():
    pairs = [("low_l", "high_r"), ("low_r", "high_l"), *[(c, p) for c in CORNERS for p in ("pl", "pr")]]
    model, _ = solved(on_frames(lambda end: framed(end, (25, 2), tubes=pairs)), MESH)
    assert any("tubes low_l-high_r and low_r-high_l cross without a node" in text for text in model.cautions)


def test_segments():
    x = np.array([[0, 0, 0], [1.0, 0, 0]])
    assert_allclose(segment_gap(x, np.array([[0.5, -1, 0.2], [0.5, 1, 0.2]])), 0.2)
    assert_allclose(segment_gap(x, np.array([[2, 0.5, 0], [3.0, 0.5, 0]])), np.hypot(1, 0.5))
    assert_allclose(segment_gap(x, np.array([[0.2, 0.3, 0], [0.7, 0.3, 0]])), 0.3)


def test_both_sides_of_a_mirrored_frame():
    tubes = [("up", "nose"), ("up", "up"), ("keel", "up"), ("up.left", "nose.right"), ("keel", "stern")]
    table = {
        "kind": "tubes",
        "bolts": "up",
        "nodes": {"up": "top", "nose": [-300, 200, 100], "keel": [-300, 0, 0], "stern": [0, 0, 0]},
        "tubes": [{"from": a, "to": b} for a, b in tubes],
        "tube": [25, 2],
        "material": "steel",
    }
    case = Case.model_validate({"mirror": "y", "subframes": {"front": table}})
    mesh = MESH
    nodes = frame_nodes(case, mesh, "front", [("top", ".left", (0, -0.3, 0.3)), ("top", ".right", (0, 0.3, 0.3))])
    assert_allclose(nodes["nose.left"], [-0.3, -0.2, 0.1])
    assert set(nodes) == {"up.left", "up.right", "nose.left", "nose.right", "keel", "stern"}
    found = [(a, b) for a, b, _ in frame_tubes(case, "front", nodes)]
    assert found == [
        ("up.left", "nose.left"),
        ("up.right", "nose.right"),
        ("up.left", "up.right"),
        ("keel", "up.left"),
        ("keel", "up.right"),
        ("up.left", "nose.right"),
        ("keel", "stern"),
    ]
    labels = [tube_label(*pair) for pair in found]
    assert labels[:3] == ["up-nose.left", "up-nose.right", "up across"]
    assert labels[3:] == ["keel-up.left", "keel-up.right", "up.left-nose.right", "keel-stern"]
