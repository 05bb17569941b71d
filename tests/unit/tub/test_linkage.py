"""Suspension members by statics: hand values in one plane, balance of every layout, words for what does not hold."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.tub.linkage import linkage, pickup_on, wheel_places

# One set of places [mm] for all layouts; x of the pickups is fore and aft of the wheel's own, 0.
PLACES = {
    "low_fore": [-150, 300, 150],
    "low_aft": [150, 300, 150],
    "up_fore": [-150, 300, 400],
    "up_aft": [150, 300, 400],
    "rack": [-150, 300, 200],
    "spring": [0, 500, 700],
    "rocker_fore": [-40, 320, 480],
    "rocker_aft": [40, 320, 480],
    "damper": [0, 120, 520],
    "trail_in": [-500, 250, 250],
    "trail_out": [-500, 550, 250],
    "trail_high": [-500, 400, 400],
    "panhard": [60, 450, 300],
    "middle": [0, 0, 150],
}
LOW = {
    "low_fore": {"from": "low_fore", "to": [0, 650, 150]},
    "low_aft": {"from": "low_aft", "to": [0, 650, 150]},
}
UP = {"up_fore": {"from": "up_fore", "to": [0, 620, 400]}, "up_aft": {"from": "up_aft", "to": [0, 620, 400]}}
ROD = {"rod": {"from": "rack", "to": [-150, 630, 200]}}
SPRING = {"spring": {"from": "spring", "to": [0, 500, 180]}}
LAYOUTS = {
    "wishbones, spring on the upright": {"links": {**LOW, **UP, **ROD, **SPRING}},
    "wishbones, spring on the arm": {
        "arms": {"low": {"pivots": ["low_fore", "low_aft"], "ball": [0, 650, 150]}},
        "links": {**UP, **ROD, "spring": {"from": "spring", "to": {"on": "low", "at": [10, 520, 160]}}},
    },
    "push rod and rocker": {
        "arms": {
            "low": {"pivots": ["low_fore", "low_aft"], "ball": [0, 650, 150]},
            "rocker": {"pivots": ["rocker_fore", "rocker_aft"]},
        },
        "links": {
            **UP,
            **ROD,
            "push": {"from": {"on": "low", "at": [0, 600, 170]}, "to": {"on": "rocker", "at": [0, 380, 470]}},
            "spring": {"from": "damper", "to": {"on": "rocker", "at": [0, 330, 560]}},
        },
    },
    "strut": {"pivots": "spring", "links": {**LOW, **ROD}},
    "trailing arm": {"pivots": ["trail_in", "trail_out"], "links": SPRING},
    "live axle": {
        "live": True,
        "links": {
            "trail_low": {"from": "trail_in", "to": [-20, 400, 200]},
            "trail_high": {"from": "trail_high", "to": [-20, 300, 350]},
            "spring": {"from": "spring", "to": [0, 500, 250]},
            "panhard": {"from": "panhard", "to": [60, -500, 300], "only": "right"},
        },
    },
    "one pivot on the middle for both sides": {
        "links": {**UP, **ROD, **SPRING, "low_fore": LOW["low_fore"], "low": {"from": "middle", "to": [0, 650, 150]}},
    },
    "straight on three pickups": {"pickups": ["low_fore", "low_aft", "up_fore"]},
}


def case_of(**axle):
    table = {
        "mirror": "y",
        "mounts": {"bolt": {"at": [0, 300, 150], "bolt": "M8", "radius": 30}},
        "pickups": {name: {"at": at, "carried_by": "bolt"} for name, at in PLACES.items()},
        "axles": {"front": {"contact": [0, 700, 0], "hub": [0, 690, 300], **axle}},
    }
    return Case.model_validate(table)


def tension(found, name, load):
    return float(found.tension[found.members.index(name)] @ load)


def right_wheel(*force):
    """Loads (12,) with a force on the right wheel at the road."""
    load = np.zeros(12)
    load[6:9] = force
    return load


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_reaches_the_tub_is_what_acts_on_the_wheels(layout):
    """Force and moment about the origin, for any load: the members are in balance."""
    case = case_of(**LAYOUTS[layout])
    found = linkage(case, "front")
    contact, hub = wheel_places(case.axles["front"])
    load = np.random.default_rng(3).standard_normal(12)
    acting = load.reshape(2, 2, 3)
    force = acting.sum((0, 1))
    moment = sum(np.cross(places[w], acting[w, k]) for w in (0, 1) for k, places in enumerate((contact, hub)))
    on_tub = found.on_tub @ load
    at = np.array([pickup_on(case, name.split(".")[0], name.split(".")[-1])[1] for name in found.pickups])
    assert_allclose(on_tub[:, :3].sum(0), force, atol=1e-12)
    assert_allclose((np.cross(at, on_tub[:, :3]) + on_tub[:, 3:]).sum(0), moment, atol=1e-12)


@pytest.mark.parametrize("layout", [name for name in LAYOUTS if name != "live axle"])
def test_the_left_wheel_is_the_mirror_image_of_the_right_one(layout):
    found = linkage(case_of(**LAYOUTS[layout]), "front")
    right = right_wheel(200.0, -700.0, 1000.0)
    left = np.zeros(12)
    left[:3] = [200.0, 700.0, 1000.0]
    for name in found.members:
        if name.startswith("right."):
            assert_allclose(tension(found, name, right), tension(found, name.replace("right", "left"), left))
            assert_allclose(tension(found, name, left), 0, atol=1e-9)


def test_wishbones_by_hand():
    """In the plane across the car (moments about the lower ball): arms level, spring upright at y = 500.

    W up and S inwards at the road, y = 700, z = 0; lower ball (650, 150), upper (620, 400). Spring P = W, pressing
    down 150 inside the lower ball; moment about x through that: 50 W - 150 S + 150 W = 250 Y, Y on the upright from
    the upper arm, outwards (closed form, statics).
    """
    found = linkage(case_of(**LAYOUTS["wishbones, spring on the upright"]), "front")
    W, S = 3000.0, 1200.0
    load = right_wheel(0.0, -S, W)
    assert_allclose(tension(found, "right.spring", load), -W, rtol=1e-12)
    Y = (200 * W - 150 * S) / 250
    upper = [tension(found, f"right.up_{end}", load) for end in ("fore", "aft")]
    leg = (320**2 + 150**2) ** 0.5
    assert_allclose(tension(found, "right.rod", load), 0, atol=1e-9)  # nothing turns the wheel about the axis
    assert_allclose(upper, [-Y / 2 * leg / 320] * 2, rtol=1e-12)
    lower = [tension(found, f"right.low_{end}", load) for end in ("fore", "aft")]
    across = (350**2 + 150**2) ** 0.5
    assert_allclose(lower, [(-S + Y) / 2 * across / 350] * 2, rtol=1e-12)


def test_a_strut_under_side_load_by_hand():
    """Moment about x through the lower ball: the strut's top, 150 in and 550 above it, takes W and bends out."""
    found = linkage(case_of(**LAYOUTS["strut"]), "front")
    W, S = 2500.0, 900.0
    load = right_wheel(0.0, -S, W)
    top = found.on_tub[found.pickups.index("spring.right"), :3] @ load
    # on the tub: up by W, across so that 50 W - 150 S + 150 W + 550 H = 0, H on the tub outwards
    assert_allclose(top, [0, -(200 * W - 150 * S) / 550, W], rtol=1e-12, atol=1e-9)


def test_a_trailing_arm_shares_along_its_pivots_by_halves():
    """Two bushes on one line: what runs along it is split evenly, the rest by moments (closed form)."""
    found = linkage(case_of(**LAYOUTS["trailing arm"]), "front")
    load = right_wheel(0.0, -800.0, 0.0)
    inner, outer = (found.on_tub[found.pickups.index(f"trail_{end}.right"), :3] @ load for end in ("in", "out"))
    assert_allclose([inner[1], outer[1]], [-400.0, -400.0], rtol=1e-12)
    # about z through the inner bush: 800 x 500 = 300 x force aft on the outer one
    assert_allclose(outer[0], 800 * 500 / 300, rtol=1e-9)


def test_braking_at_the_road_winds_up_the_wishbones():
    """F aft at the road: moments about y at the lower ball, 150 F = 250 (aft force of the upper arm) (statics)."""
    found = linkage(case_of(**LAYOUTS["wishbones, spring on the upright"]), "front")
    F = 1000.0
    load = right_wheel(F, 0.0, 0.0)
    leg = (320**2 + 150**2) ** 0.5
    fore, aft = (tension(found, f"right.up_{end}", load) for end in ("fore", "aft"))
    rod = tension(found, "right.rod", load)
    assert_allclose((aft - fore) * 150 / leg, -(-F * 150 / 250), rtol=1e-9)
    assert rod != 0  # the road is outside the axis through both balls: the tie rod keeps the wheel from toeing out


def test_a_push_rod_by_hand():
    """Rod and spring in one plane across the car: moments about the rocker's axis (statics)."""
    found = linkage(case_of(**LAYOUTS["push rod and rocker"]), "front")
    load = right_wheel(0.0, 0.0, 1000.0)
    push, spring = (tension(found, f"right.{name}", load) for name in ("push", "spring"))

    def arm(foot, head):
        """Lever of a line about the axis y 320, z 480, [m]."""
        d = (np.array(head) - foot) / np.linalg.norm(np.array(head) - foot)
        r = np.array(head) - [320, 480]
        return (r[0] * d[1] - r[1] * d[0]) / 1000

    # tension pulls the rocker from the head of either towards its other end
    assert_allclose(push * -arm([600, 170], [380, 470]) + spring * -arm([120, 520], [330, 560]), 0, atol=1e-9)
    assert push < 0
    assert spring < 0


@pytest.mark.parametrize(
    ("axle", "told"),
    [
        ({"links": {**LOW, **UP, **SPRING, "rod": {"from": "rack", "to": [0, 635, 275]}}}, "can steer"),
        (
            {"links": {**LOW, **UP, **ROD, "brace": {"from": "up_aft", "to": [100, 620, 400]}}},
            "its 6 forces do not hold the right.upright: it can move up and down",
        ),
        (
            {
                "arms": {"low": {"pivots": ["low_fore"], "ball": [0, 650, 150]}},
                "links": {**UP, **ROD, **SPRING, "lat": {"from": "low_aft", "to": {"on": "low", "at": [0, 640, 150]}},
                          "more": {"from": "low_aft", "to": {"on": "low", "at": [0, 500, 150]}},
                          "last": {"from": "low_aft", "to": {"on": "low", "at": [-75, 475, 150]}}},
            },
            "the arm right.low can turn on its own",
        ),
    ],
)  # fmt: skip
def test_what_does_not_hold_is_told_in_words(axle, told):
    with pytest.raises(CaseError, match=told):
        linkage(case_of(**axle), "front")


def test_a_member_too_many_is_shared_and_told():
    more = {**LOW, **UP, **ROD, **SPRING, "brace": {"from": "rocker_fore", "to": [0, 650, 180]}}
    found = linkage(case_of(links=more), "front")
    assert any("1 more than statics can share" in text for text in found.cautions)
    assert not linkage(case_of(**LAYOUTS["trailing arm"]), "front").cautions


def test_a_spring_that_lies_nearly_flat_is_told():
    flat = {"spring": {"from": "low_fore", "to": [0, 600, 151]}}
    (text,) = linkage(case_of(links={**LOW, **UP, **ROD, **flat}), "front").cautions
    assert "times the load at the wheel" in text
