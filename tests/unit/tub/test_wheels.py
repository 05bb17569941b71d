"""Wheel loads of a rigid car against the formulas of any vehicle dynamics textbook (from memory; all are statics)."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.road import Bending, Braking, Bump, Cornering, G, Jacking, Kerb, Towing
from tubfem.tub.wheels import TippingError, felt_motion, pushes_of, standing, vertical_loads, whole_car

M, FRONT, REAR, HEIGHT, BASE, TRACK = 700.0, 1.1, 1.3, 0.4, 2.4, 1.5
NOWHERE = np.zeros(3)


def car(*, y=0.0, height=HEIGHT, unsprung=0.0, **more):
    """Mass M at `height` over a level road, 1.1 m behind the front axle; turning inertia of a box."""
    centre = np.array([FRONT, y, height])
    inner = M - 4 * unsprung
    contact = np.array([[x, s * TRACK / 2, 0.0] for x in (0.0, BASE) for s in (-1, 1)])
    hub = contact + np.array([0, 0, 0.3])
    middle = (M * centre - unsprung * hub.sum(0)) / inner
    matrix = np.zeros((6, 6))
    arms = 0.5 * np.concatenate([np.eye(3), -np.eye(3)])
    for at in middle + arms:  # six equal masses round the middle
        velocity = np.concatenate([np.eye(3), np.cross(np.eye(3), at).T], axis=1)
        matrix += inner / 6 * velocity.T @ velocity
    return whole_car(matrix, contact, hub, np.full(4, unsprung), **more)


def felt(it, pushes, at=NOWHERE):
    """Acceleration less gravity at the centre of mass (3,) and turning acceleration (3,)."""
    found = felt_motion(it, pushes, at)
    return found[:3] + np.cross(found[3:], it.centre), found[3:]


def test_mass_and_centre_are_those_of_the_whole_car():
    it = car(y=0.03, unsprung=30.0)
    assert_allclose(it.mass, M)
    assert_allclose(it.centre, [FRONT, 0.03, HEIGHT], atol=1e-12)


def test_standing():
    """Front axle: W b / L; a centre of mass off the middle shifts W y / t from side to side."""
    loads = standing(car(y=0.03))
    W = M * G
    assert_allclose(loads[:2].sum(), W * REAR / BASE)
    assert_allclose(loads[[1, 3]].sum() - loads[[0, 2]].sum(), 2 * W * 0.03 / TRACK)
    assert_allclose(loads.sum(), W)


def test_braking_moves_m_a_h_over_l_to_the_front():
    it = car()
    found = pushes_of(it, Braking(deceleration="0.9 g", vertical=1.0), NOWHERE)
    moved = found.road[:2, 2].sum() - M * G * REAR / BASE
    assert_allclose(moved, M * 0.9 * G * HEIGHT / BASE)
    assert_allclose(found.road[:, 0], 0.9 * found.road[:, 2])  # every tyre uses the same grip
    linear, turning = felt(it, found)
    assert_allclose(linear, [0.9 * G, 0, G], atol=1e-12)
    assert_allclose(turning, 0, atol=1e-12)


def test_brake_balance():
    found = pushes_of(car(y=0.02), Braking(deceleration="1 g", vertical=1.0, front_share=0.7), NOWHERE)
    assert_allclose(found.road[:2, 0].sum(), 0.7 * M * G)
    assert_allclose(found.road[2:, 0].sum(), 0.3 * M * G)


@pytest.mark.parametrize("share", [None, 0.7])
@pytest.mark.parametrize(("towards", "outside"), [("left", [1, 3]), ("right", [0, 2])])
def test_cornering_moves_m_a_h_over_t_across(share, towards, outside):
    """In all m a h / t from the inner wheels to the outer ones, on each axle by its share in the roll stiffness."""
    it = car(roll_share=share)
    found = pushes_of(it, Cornering(acceleration="0.8 g", vertical=1.0, towards=towards), NOWHERE)
    load, inside = found.road[:, 2], [0 if k in (1,) else 2 if k == 3 else k + 1 for k in outside]
    moved = (load[outside] - load[inside]) / 2
    assert_allclose(moved.sum(), M * 0.8 * G * HEIGHT / TRACK)
    assert_allclose(moved[0] / moved.sum(), REAR / BASE if share is None else share)
    sign = -1 if towards == "left" else 1
    assert_allclose(found.road[:, 1], sign * 0.8 * load)
    linear, turning = felt(it, found)
    assert_allclose(linear, [0, sign * 0.8 * G, G], atol=1e-12)
    assert_allclose(turning, 0, atol=1e-10)


def test_a_wheel_that_lifts_leaves_the_rest_to_the_other_axle():
    it = car(roll_share=0.95, height=0.45)
    load = vertical_loads(it, np.array([0.0, -1.0 * G, G]))
    assert_allclose(load[0], 0, atol=1e-9)
    assert load[2] > 0
    assert_allclose(load[1] - load[0] + load[3] - load[2], 2 * M * G * 0.45 / TRACK)


@pytest.mark.parametrize(
    ("table", "told"),
    [
        (Cornering(acceleration="2 g", vertical=1.0), "roll over"),
        (Braking(deceleration="4 g", vertical=1.0), "rear wheels would lift"),
        (Bump(step=300), "as high as the hub"),
    ],
)
def test_what_tips_is_told(table, told):
    with pytest.raises(TippingError, match=told):
        pushes_of(car(), table, NOWHERE)


def test_bending_is_felt_as_often_as_the_loads():
    it = car(y=0.05, unsprung=25.0)
    linear, turning = felt(it, pushes_of(it, Bending(factor=2.5), NOWHERE))
    assert_allclose(linear, [0, 0, 2.5 * G], atol=1e-10)
    assert_allclose(turning, 0, atol=1e-10)


@pytest.mark.parametrize(("step", "ratio"), [(0.1, 0.48), (0.293, 1.0), (0.5, 1.73)])
def test_an_edge_pushes_back(step, ratio):
    """Horizontal over vertical by step over radius: 0.48, 1.0, 1.73 in Brown, Motor Vehicle Structures, p. 22.

    Two digits are printed.
    """
    found = pushes_of(car(), Bump(wheel="rear.right", factor=3.0, step=step * 300), NOWHERE)
    assert_allclose(found.hub[3, 0] / found.road[3, 2], ratio, atol=0.005)
    assert_allclose(found.road[3, 2], 3 * standing(car())[3])
    assert_allclose(found.road[:3, 2], standing(car())[:3])


@pytest.mark.parametrize(("side", "hit", "sign"), [("right", [1, 3], -1), ("left", [0, 2], 1)])
def test_a_kerb_just_lifts_the_other_side(side, hit, sign):
    """Side force M g t / (2 h) times the factor, with all weight on that side (from memory; moments about the kerb)."""
    it = car()
    found = pushes_of(it, Kerb(side=side, factor=1.4), NOWHERE)
    assert_allclose(found.road[hit, 1].sum(), sign * 1.4 * M * G * TRACK / (2 * HEIGHT))
    assert_allclose(found.road[hit, 2].sum(), 1.4 * M * G)
    assert_allclose(felt(it, found)[1], 0, atol=1e-10)


@pytest.mark.parametrize(
    ("at", "wheels", "share"),
    [
        ((FRONT, 0.75, 0.1), [0, 2], 0.5),  # beside the centre of mass: both wheels of that side lift
        ((FRONT, 0.6, 0.1), [0, 2], 0.75 / 1.35),  # moments about the wheels that stay
        ((0.0, 0.0, 0.1), [2, 3], REAR / BASE),  # under the front axle's middle
    ],
)
def test_a_jack_carries_what_moments_say(at, wheels, share):
    it = car()
    found = pushes_of(it, Jacking(on="jack", factor=1.0), np.array(at))
    assert_allclose(found.pull, [0, 0, share * M * G], atol=1e-9)
    assert_allclose(np.flatnonzero(found.road[:, 2] > 1e-6), wheels)
    linear, turning = felt(it, found, np.array(at))
    assert_allclose(linear, [0, 0, G], atol=1e-10)
    assert_allclose(turning, 0, atol=1e-10)


def test_towing_pulls_half_the_weight_twice():
    it = car()
    found = pushes_of(it, Towing(on="eye", sideways=30, upwards=0), np.array([-0.5, 0.0, 0.3]))
    assert_allclose(found.pull, M * G * np.array([-np.cos(np.pi / 6), 0.5, 0]), atol=1e-9)
    back = pushes_of(it, Towing(on="eye", towards="aft", pull="5 kN", factor=1.5, upwards=90), NOWHERE)
    assert_allclose(back.pull, [0, 0, 7500.0], atol=1e-9)
