"""Findings of closed boxes whose answers are known in closed form."""

from dataclasses import replace

import numpy as np
import pytest
from box_tub import HEIGHT, LENGTH, TORQUE, WIDTH, box_tub
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.case.loads import Margins, Torsion
from tubfem.case.schema import Case
from tubfem.case.shapes import Station
from tubfem.findings.collect import find
from tubfem.findings.mass import shell_mass
from tubfem.findings.strains import describe_elements
from tubfem.laminate.stack import abd, make_stack
from tubfem.materials.ply import Ply, isotropic
from tubfem.shell.solve import solve
from tubfem.tub.folds import NO_FOLDS

AREA, PERIMETER = WIDTH * HEIGHT, 2 * (WIDTH + HEIGHT)
FLOW = TORQUE / (2 * AREA)  # Bredt's shear flow, 25 kN/m


def tape(**limits):
    limits = {"e1t": 0.012, "e1c": 0.009, "e2t": 0.005, "e2c": 0.02, "g12": 0.016} | limits
    return Ply("tape", "unidirectional", 135e9, 10e9, 5e9, 0.3, 5e9, 3.5e9, 0.25e-3, 1600.0, **limits)


def laminate():
    """[45/-45]s, A66 = 34 983 N/mm (closed form)."""
    ply = tape()
    return make_stack([(np.pi / 4, ply), (-np.pi / 4, ply), (-np.pi / 4, ply), (np.pi / 4, ply)])


def solved(model):
    return find(model, tuple(solve(state.shell) for state in model.states))


def case(**more):
    return Case(load_cases={"torsion": Torsion(torque=f"{TORQUE} N*m", front="front", rear="rear")}, **more)


@pytest.fixture(scope="module")
def box():
    return solved(box_tub(laminate()))


@pytest.fixture(scope="module")
def found(box):
    return box.load_cases["torsion"]


def bredt_deg(A66):
    return np.radians(1) * 4 * AREA**2 * A66 / (PERIMETER * LENGTH)


def test_stiffness_is_bredts_between_pickups_and_between_stations(found):
    # Bredt-Batho with A66, balanced wall; free warping, the box of 20 x 12 elements: 0.1 %, rest of end effects
    expected = bredt_deg(abd(laminate())[0][2, 2])
    assert_allclose(found.torsion.pickup_to_pickup, expected, rtol=2e-3)
    assert_allclose(found.torsion.between_stations, expected, rtol=2e-3)
    assert found.torsion.hub_to_hub is None
    assert_allclose(found.torsion.twist_deg, TORQUE / found.torsion.pickup_to_pickup, rtol=1e-12)


def test_twist_curve_rises_evenly_and_pickups_share_nothing(found):
    torsion = found.torsion
    assert len(torsion.x) >= 12
    assert torsion.curve_deg[0] == 0.0
    assert_allclose(torsion.curve_deg, torsion.twist_deg * torsion.x / LENGTH, atol=2e-3 * torsion.twist_deg)
    assert_allclose([torsion.front_share, torsion.rear_share], 0.0, atol=1e-3)
    assert_allclose(sum(bay.twist_deg for bay in torsion.bays), torsion.twist_deg, rtol=2e-3)


def test_checks_pass_and_reactions_vanish(found):
    assert {check.name for check in found.checks} >= {"residual", "equilibrium", "energy_balance", "reaction_sum"}
    assert all(check.value <= check.limit for check in found.checks)


def test_energy_is_half_the_work_and_its_shares_sum_to_one(found):
    energy = found.energy
    assert_allclose(energy.total, 0.5 * TORQUE * np.radians(found.torsion.twist_deg), rtol=1e-9)
    shares = [*energy.regions.values(), *energy.joints.values(), energy.mounts, energy.drilling]
    assert_allclose(sum(shares), 1.0, rtol=1e-12)
    # a uniform shear flow stores energy by length of wall
    assert_allclose(energy.regions["top"], WIDTH / PERIMETER, rtol=1e-2)
    assert energy.drilling < 1e-3


def test_mass_and_centre_of_gravity(box):
    mass = 1600 * 1e-3 * PERIMETER * LENGTH
    assert_allclose(box.mass.total, mass, rtol=1e-9)
    assert_allclose(box.mass.regions["right"], mass * HEIGHT / PERIMETER, rtol=1e-9)
    assert_allclose(box.mass.centre_of_gravity, [LENGTH / 2, 0, HEIGHT / 2], atol=1e-9)


def test_plies_off_the_surface_move_the_centre_of_gravity():
    # one plate, 4 mm laid upwards from z = 0: its middle is 2 mm up
    stack = make_stack([(0.0, isotropic(70e9, 0.3, 2700.0, 4e-3))], tool_z=0.0)
    model = box_tub(stack)
    plate = tub_mesh([panel("plate", [(0, 0, 0), (1, 0, 0), (1, 0.5, 0), (0, 0.5, 0)], (4, 4))])
    elements = describe_elements(
        replace(model, mesh=plate, layup=replace(model.layup, mixture=np.zeros(16, dtype=np.int64)))
    )
    mass = shell_mass(replace(model.layup, mixture=np.zeros(16, dtype=np.int64)), elements, NO_FOLDS)
    assert_allclose(mass.total, 2700 * 4e-3 * 0.5, rtol=1e-12)
    assert_allclose(mass.centre_of_gravity, [0.5, 0.25, 0.002], rtol=1e-12)


def test_worst_margin_by_hand(found):
    # shear flow q = T/2A, gamma = q/A66; fibres at 45 degrees see +-gamma/2 along and across.
    # Transverse tension governs: allowable 0.005 x 0.8 / 1.5
    gamma = FLOW / abd(laminate())[0][2, 2]
    allowable = 0.005 * 0.8 / 1.5
    for region in found.regions.values():
        worst = region.worst
        assert (worst.kind, worst.mode) == ("first damage", "transverse tension")
        assert_allclose(worst.allowable, allowable, rtol=1e-12)
        # 3 %: the ends of the box disturb the wall by that much
        assert_allclose(worst.demand, gamma / 2, rtol=3e-2)
        assert_allclose(worst.margin, allowable / worst.demand - 1, rtol=1e-12)
        assert worst.margin_peak <= worst.margin
        assert worst.ply == f"wall {worst.ply_index + 1} tape"
        assert region.worst_core is None
    assert_allclose(found.regions["top"].worst_fibre.allowable, 0.009 * 0.8 / 2.5, rtol=1e-12)


def test_either_hand_of_the_torque_tears_one_pair_of_plies(found):
    # under +T the +45 plies are stretched across, under -T the -45 plies: the margins are equal, to the ends' effect
    fields = found.fields
    assert_allclose(fields.margin.max(), fields.margin.min(), rtol=5e-2)
    assert all(region.worst.sign in (-1, 1) for region in found.regions.values())


def test_margins_are_taken_at_the_limit_torque():
    once = solved(box_tub(laminate(), case=case())).load_cases["torsion"]
    twice = solved(box_tub(laminate(), case=case(margins=Margins(limit_torque="2 kN*m")))).load_cases["torsion"]
    assert (once.margin_scale, twice.margin_scale) == (1.0, 2.0)
    assert_allclose(twice.regions["top"].worst.margin + 1, (once.regions["top"].worst.margin + 1) / 2, rtol=1e-12)
    assert_allclose(twice.fields.strain, 2 * once.fields.strain, rtol=1e-12)
    assert_allclose(twice.torsion.twist_deg, once.torsion.twist_deg, rtol=1e-12)


def test_moulded_corners_carry_bredts_flow(found):
    assert len(found.joints) == 4
    for joint in found.joints.values():
        assert (joint.kind, joint.twist_share) == ("continuous", None)
        assert_allclose(joint.length, LENGTH, rtol=1e-12)
        assert_allclose(np.abs(joint.shear_flow), FLOW, rtol=2e-2)  # elements beside the line, 50 mm wide


def test_a_soft_line_is_told_and_carries_the_flow():
    # along one corner 1 / k in series with the walls' perimeter / A66 (Bredt with a slipping seam, closed form)
    A66 = abd(laminate())[0][2, 2]
    k = 0.5 * A66 / PERIMETER  # twice the walls' flexibility
    result = solved(box_tub(laminate(), tie_stiffness=k))
    found = result.load_cases["torsion"]
    joint = found.joints["bottom/right"]
    share = (1 / k) / (1 / k + PERIMETER / A66)
    assert joint.kind == "tabbed"
    # the ends stay free to warp, so slip and flow are even along the line; 1 % for the mesh
    assert_allclose(np.abs(joint.shear_flow), FLOW, rtol=1e-2)
    assert_allclose(joint.twist_share, share, rtol=1e-2)
    assert_allclose(found.energy.joints["bottom/right"], joint.twist_share, rtol=1e-12)
    assert_allclose(found.torsion.pickup_to_pickup, bredt_deg(A66) * (1 - share), rtol=1e-2)
    assert any("bottom/right is soft" in text for text in result.sentences)
    assert_allclose(joint.length, LENGTH, rtol=1e-12)


def test_the_band_encloses_other_moduli():
    # all of E, nu and so G of cloth changed by -10 %, within the reasons' reach, must fall inside the band
    cloth = Ply("cloth", "woven", 18e9, 18e9, 3e9, 0.1, 3e9, 3e9, 1e-3, 1700.0)
    softer = Ply("cloth", "woven", 16.2e9, 16.2e9, 3.6e9, 0.1, 3e9, 3e9, 1e-3, 1700.0)
    first, second = (
        solved(box_tub(make_stack([(np.pi / 4, ply), (0.0, ply)]))).load_cases["torsion"].torsion
        for ply in (cloth, softer)
    )
    assert first.band.low < second.pickup_to_pickup < first.band.high
    assert len(first.band.why) == 4  # two for the fibres' moduli, shear, the mesh: no core, joint or mount holds energy


def test_bays_are_named_after_stations():
    stations = {name: Station.model_validate(at) for name, at in (("dash", 300), ("seat_back", 700), ("far", 3000))}
    torsion = solved(box_tub(laminate(), case=case(stations=stations))).load_cases["torsion"].torsion
    assert [(bay.start, bay.end) for bay in torsion.bays] == [
        ("the front end", "dash"),
        ("dash", "seat_back"),
        ("seat_back", "the rear end"),
    ]
    assert any(abs(x - 0.3) < 1e-9 for x in torsion.x)


def test_turning_the_torque_round_changes_nothing():
    model = box_tub(make_stack([(0.4, tape()), (-1.0, tape())]))
    (state,) = model.states
    other = replace(model, states=(replace(state, shell=replace(state.shell, loads=-state.shell.loads)),))
    a, b = solved(model).load_cases["torsion"], solved(other).load_cases["torsion"]
    for name in a.regions:
        assert_allclose(a.regions[name].worst.margin, b.regions[name].worst.margin, rtol=1e-9)
        assert a.regions[name].worst.sign == -b.regions[name].worst.sign
    assert_allclose(a.fields.strain, b.fields.strain, rtol=1e-9)
