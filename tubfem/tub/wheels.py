"""Wheel loads of a car from its mass, centre of mass and what it does: statics of a rigid car on four wheels.

The car feels an acceleration less gravity, `felt` (3,) [m/s2]: [0, 0, g] standing, aft when it brakes. Wheels are front
left, front right, rear left, rear right. Formulas are (V.2) to (V.6) of theory.md.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.road import WHEELS, Bending, Braking, Bump, Cornering, G, Jacking, Kerb, Towing

FRONT, REAR = slice(0, 2), slice(2, 4)


class TippingError(ValueError):
    """The car would leave its wheels; the message says how."""


@dataclass(frozen=True, eq=False, slots=True)
class Car:
    """A rigid car.

    Attributes
    ----------
    mass : [kg]
    centre : (3,) [m]
    inertia : (6, 6) mass matrix of its rigid motions about the origin [kg, kg m, kg m2]
    contact, hub : (4, 3) [m]
    unsprung : (4,) [kg] at the hubs
    roll_share : of the front axle in what leans the car over; None: by the axles' loads
    """

    mass: float
    centre: Floats
    inertia: Floats
    contact: Floats
    hub: Floats
    unsprung: Floats
    roll_share: float | None


@dataclass(frozen=True, eq=False, slots=True)
class Pushes:
    """Forces on the car: (4, 3) on the tyres at the road and at the hubs, and `pull` (3,) where a jack or rope is."""

    road: Floats
    hub: Floats
    pull: Floats


def whole_car(
    mass_matrix: Floats, contact: Floats, hub: Floats, unsprung: Floats, *, roll_share: float | None = None
) -> Car:
    """The tub with what it carries, mass matrix (6, 6) of its rigid motions about the origin, and its wheels."""
    inertia = mass_matrix.copy()
    for at, mass in zip(hub, unsprung, strict=True):
        velocity = np.concatenate([np.eye(3), _turned(at)], axis=1)
        inertia += mass * velocity.T @ velocity
    mass = float(inertia[0, 0])
    centre = np.array([inertia[1, 5], inertia[2, 3], inertia[0, 4]]) / mass
    return Car(mass, centre, inertia, contact, hub, unsprung, roll_share)


def _turned(at: Floats) -> Floats:
    """Velocity (3, 3) of a place for turns about x, y, z."""
    return np.cross(np.eye(3), at).T


def felt_motion(car: Car, pushes: Pushes, at: Floats) -> Floats:
    """Acceleration less gravity (6,) of the car's rigid motion about the origin; `at` (3,) is where the pull acts."""
    forces = np.concatenate([pushes.road, pushes.hub, pushes.pull[None]])
    places = np.concatenate([car.contact, car.hub, at[None]])
    return np.linalg.solve(car.inertia, np.concatenate([forces.sum(0), np.cross(places, forces).sum(0)]))


def vertical_loads(car: Car, felt: Floats) -> Floats:
    """Vertical wheel loads (4,) [N] under which the car feels `felt` (3,) and does not turn (V.2 to V.4).

    Side and brake forces go with the vertical ones, wheel by wheel. A wheel that would lift leaves what is missing to
    the other axle.

    Raises
    ------
    TippingError
        An axle lifts, or a side does.
    """
    mu = felt[:2] / felt[2]
    x, z = (car.contact[[0, 2], k] for k in (0, 2))
    total = car.mass * felt[2]
    pitch = car.mass * (car.centre[2] * felt[0] - car.centre[0] * felt[2])
    axles = np.linalg.solve([[1.0, 1.0], z * mu[0] - x], [total, pitch])  # (V.2)
    if axles.min() < 0:
        end = ("front", "rear")[int(axles.argmin())]
        raise TippingError(f"the {end} wheels would lift: the car's centre of mass is too far from them or too high")
    roll = car.mass * (car.centre[1] * felt[2] - car.centre[2] * felt[1]) + mu[1] * (z @ axles)  # (V.3)
    share = axles[0] / total if car.roll_share is None else car.roll_share
    lean = roll * np.array([share, 1 - share])  # (V.4)
    most = axles * car.contact[[1, 3], 1]
    over = np.sign(lean) * np.maximum(np.abs(lean) - most, 0.0)  # what a lifted wheel leaves to the other axle
    lean += over[::-1] - over
    if (np.abs(lean) > most * (1 + 1e-9)).any():
        raise TippingError("the wheels of one side would lift and the car roll over")
    half = lean / (2 * car.contact[[1, 3], 1])  # (V.4)
    return np.array([axles[0] / 2 - half[0], axles[0] / 2 + half[0], axles[1] / 2 - half[1], axles[1] / 2 + half[1]])


def standing(car: Car) -> Floats:
    """Wheel loads (4,) [N] of the standing car."""
    return vertical_loads(car, np.array([0.0, 0.0, G]))


def _up(loads: Floats) -> Floats:
    return loads[:, None] * np.array([0.0, 0.0, 1.0])


def _pushes(road: Floats, hub: Floats | None = None, pull: Floats | None = None) -> Pushes:
    return Pushes(road, np.zeros((4, 3)) if hub is None else hub, np.zeros(3) if pull is None else pull)


def pushes_of(car: Car, table: Bending | Braking | Cornering | Bump | Kerb | Jacking | Towing, at: Floats) -> Pushes:
    """Forces on the car in a load case; `at` (3,) [m] is where a jack lifts or a rope pulls.

    Raises
    ------
    TippingError
        The car would leave its wheels.
    """
    if isinstance(table, Bending):
        return _pushes(_up(table.factor * standing(car)))
    if isinstance(table, Braking):
        return _braking(car, table)
    if isinstance(table, Cornering):
        side = -1.0 if table.towards == "left" else 1.0
        return _pushes(_carried(car, np.array([0.0, side * table.acceleration, table.vertical * G])))
    if isinstance(table, Bump):
        return _bump(car, table)
    if isinstance(table, Kerb):
        return _kerb(car, table)
    if isinstance(table, Jacking):
        loads, force = _jacked(car, at)
        return _pushes(_up(table.factor * loads), None, np.array([0.0, 0.0, table.factor * force]))
    ahead = -1.0 if table.towards == "fore" else 1.0
    level = np.cos(table.upwards)
    direction = [ahead * level * np.cos(table.sideways), level * np.sin(table.sideways), np.sin(table.upwards)]
    pull = car.mass * G / 2 if table.pull is None else table.pull
    return _pushes(_up(standing(car)), None, table.factor * pull * np.array(direction))


def _carried(car: Car, felt: Floats) -> Floats:
    """Forces (4, 3) on the tyres of a car that feels `felt`: brake and side forces in proportion to the loads."""
    return vertical_loads(car, felt)[:, None] * felt / felt[2]


def _braking(car: Car, table: Braking) -> Pushes:
    road = _carried(car, np.array([table.deceleration, 0.0, table.vertical * G]))
    if table.front_share is not None:
        total = road[:, 0].sum()
        for axle, share in ((FRONT, table.front_share), (REAR, 1 - table.front_share)):
            road[axle, 0] *= share * total / road[axle, 0].sum()
    return _pushes(road)


def _bump(car: Car, table: Bump) -> Pushes:
    """On an edge of height s the force points from it to the hub, back by √(1 − c²)/c, c = 1 − s/r (V.5)."""
    loads, hub = standing(car), np.zeros((4, 3))
    wheel = WHEELS.index(table.wheel)
    loads[wheel] *= table.factor
    if table.step is not None:
        radius = car.hub[wheel, 2] - car.contact[wheel, 2]
        if table.step >= radius:
            raise TippingError(f"a step of {1e3 * table.step:.0f} mm is as high as the hub, {1e3 * radius:.0f} mm")
        c = 1 - table.step / radius
        hub[wheel, 0] = loads[wheel] * np.sqrt(1 - c**2) / c
    return _pushes(_up(loads), hub)


def _kerb(car: Car, table: Kerb) -> Pushes:
    """All load on one side; the side force points with it through the centre of mass (V.6)."""
    side = 1.0 if table.side == "right" else -1.0
    x = car.contact[[0, 2], 0]
    front = (x[1] - car.centre[0]) / (x[1] - x[0])
    if not 0 < front < 1:
        raise TippingError("the car's centre of mass is not between its axles")
    wheels = [1, 3] if side > 0 else [0, 2]
    share = np.array([front, 1 - front])
    edge = share @ car.contact[wheels]
    lean = (edge[1] - car.centre[1]) / (car.centre[2] - edge[2])
    road = np.zeros((4, 3))
    road[wheels] = table.factor * car.mass * G * share[:, None] * np.array([0.0, -lean, 1.0])
    return _pushes(road)


def _jacked(car: Car, at: Floats) -> tuple[Floats, float]:
    """Loads (4,) of the wheels and force of the jack at `at`: of all pairs of wheels left, the one that gives most."""
    best: tuple[Floats, float] | None = None
    for i in range(4):
        for j in range(i):
            places = np.stack([at, car.contact[i], car.contact[j]])
            A = np.stack([np.ones(3), places[:, 0], places[:, 1]])
            if abs(np.linalg.det(A)) < 1e-9:
                continue
            found = np.linalg.solve(A, car.mass * G * np.array([1.0, *car.centre[:2]]))
            if found.min() > -1e-9 * car.mass * G and (best is None or found[0] > best[1]):
                loads = np.zeros(4)
                loads[[i, j]] = np.maximum(found[1:], 0.0)
                best = loads, float(found[0])
    if best is None:
        raise TippingError("the car's centre of mass is not between its wheels")
    return best
