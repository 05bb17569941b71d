"""Load cases of a car on its wheels: wheel loads through the suspension to the pickups, inertia of what it carries."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.loads import LighterAxle, Torsion
from tubfem.case.road import SOURCES, WHEELS, G, Jacking, Kerb, RoadCase, Towing
from tubfem.errors import CaseError
from tubfem.shell.loads import node_masses
from tubfem.shell.model import Springs
from tubfem.tub.free import balance, mass_matrix
from tubfem.tub.linkage import Linkage, linkage, wheel_places
from tubfem.tub.loads import Shell
from tubfem.tub.model import FactorUsed, RoadLoads
from tubfem.tub.modes import mass_rows
from tubfem.tub.places import Places
from tubfem.tub.wheels import Car, Pushes, TippingError, felt_motion, pushes_of, standing, whole_car

AXLES = ("front", "rear")


@dataclass(frozen=True, eq=False, slots=True)
class Wheeled:
    """A tub on its wheels: what all its road load cases share.

    `linkages` of the front and the rear axle, `masses` (p,) [kg] of the shells at the nodes, `carried` masses
    and those of tubes.
    """

    places: Places
    points: Floats
    car: Car
    linkages: tuple[Linkage, Linkage]
    masses: Floats
    carried: tuple[Springs, ...]


def on_wheels(places: Places, shell: Shell) -> Wheeled | None:
    """The car of a case that has axles and a vehicle; None where it lacks either.

    Raises
    ------
    CaseError
        Members do not hold a wheel, or what carries a mass is not in the mesh.
    """
    case = places.case
    if case.vehicle is None or set(case.axles) != set(AXLES):
        return None
    faults, linkages = [], []
    for end in AXLES:
        try:
            linkages.append(linkage(case, end))
        except CaseError as error:
            faults += error.messages
    if faults:
        raise CaseError(faults)
    carried = (
        *(
            mass_rows(places, ("vehicle", "masses", name, "on"), table, shell.points)
            for name, table in case.vehicle.masses.items()
        ),
        *(beams.masses for beams in shell.beams),
    )
    masses = node_masses(shell.points, shell.blocks, shell.mass) + shell.lumps
    contact, hub = (
        np.concatenate(parts) for parts in zip(*(wheel_places(case.axles[end]) for end in AXLES), strict=True)
    )
    car = whole_car(
        mass_matrix(shell.points, masses, carried)[0],
        contact,
        hub,
        np.repeat([case.axles[end].unsprung for end in AXLES], 2),
        roll_share=case.vehicle.roll_share,
    )
    return Wheeled(places, shell.points, car, tuple(linkages), masses, carried)


def road_loads(wheeled: Wheeled, name: str, table: RoadCase) -> tuple[Floats, RoadLoads]:
    """Loads (d,) [N, N·m] on the tub with the inertia that balances them, and what the wheels and members carry.

    Raises
    ------
    CaseError
        What lifts or tows is not in the mesh, or the car would leave its wheels.
    """
    case, car = wheeled.places.case, wheeled.car
    nodes, shares = _acting(wheeled, name, table)
    at = shares @ wheeled.points[nodes] if len(nodes) else np.zeros(3)
    try:
        pushes = pushes_of(car, table, at)
    except TippingError as error:
        raise CaseError(case.message(("load_cases", name), str(error))) from None
    felt = felt_motion(car, pushes, at)
    load, told = hung_loads(wheeled, pushes, felt)
    load.reshape(-1, 6)[nodes, :3] += shares[:, None] * pushes.pull
    inertia, _ = balance(wheeled.points, wheeled.masses, wheeled.carried, load)
    centre = felt[:3] + np.cross(felt[3:], car.centre)
    told = replace(
        told,
        pull=tuple(pushes.pull.tolist()),
        felt=(*(centre / G).tolist(), *felt[3:].tolist()),
        mass=car.mass,
        centre=tuple(car.centre.tolist()),
        factors=_factors(car, table, pushes),
    )
    return load + inertia, told


def _acting(wheeled: Wheeled, name: str, table: RoadCase) -> tuple[Ints, Floats]:
    """Nodes and shares of what a jack lifts or a rope pulls; none for other load cases."""
    if not isinstance(table, Jacking | Towing):
        return np.empty(0, dtype=np.int64), np.empty(0)
    path = ("load_cases", name, "on")
    try:
        found = [wheeled.places.nodes(text, {}) for text in table.on]
    except CaseError as error:
        raise CaseError([wheeled.places.case.message(path, message) for message in error.messages]) from None
    nodes = np.concatenate([each for each, _ in found])
    shares = np.concatenate([weights / weights.sum() / len(found) for _, weights in found])
    nodes, back = np.unique(nodes, return_inverse=True)
    return nodes, np.bincount(back.ravel(), shares)


def hung_loads(wheeled: Wheeled, pushes: Pushes, felt: Floats) -> tuple[Floats, RoadLoads]:
    """Loads (d,) that wheels put on the pickups, less what their own mass takes when it feels `felt` (6,)."""
    car = wheeled.car
    own = car.unsprung[:, None] * (felt[:3] + np.cross(felt[3:], car.hub))
    wheels = np.concatenate([pushes.road, pushes.hub - own], axis=1)
    load = np.zeros((len(wheeled.points), 6))
    members, balls, pickups = {}, {}, {}
    for end, link, pair in zip(AXLES, wheeled.linkages, (wheels[:2], wheels[2:]), strict=True):
        w = pair.ravel()
        members |= {f"{end}.{n}": float(t) for n, t in zip(link.members, link.tension @ w, strict=True)}
        balls |= {f"{end}.{n}": tuple(f.tolist()) for n, f in zip(link.balls, link.ball_force @ w, strict=True)}
        for pickup, force in zip(link.pickups, link.on_tub @ w, strict=True):
            load[wheeled.places.pickups[pickup]] += force
            before = np.array(pickups.get(pickup, np.zeros(3)))
            pickups[pickup] = tuple((before + force[:3]).tolist())
    told = RoadLoads(
        wheels={n: tuple(f.tolist()) for n, f in zip(WHEELS, pushes.road + pushes.hub, strict=True)},
        members=members,
        balls=balls,
        pickups=pickups,
    )
    return load.ravel(), told


def hub_couple(wheeled: Wheeled, torsion: Torsion) -> Floats | None:
    """Loads (d,) of a torsion case's couple put on the hubs; None unless members hold the wheels of both axles."""
    if not all(axle.members or axle.balls for axle in wheeled.linkages):
        return None
    hub = np.zeros((4, 3))
    hub[:, 2] = torsion.torque / (2 * wheeled.car.hub[:, 1]) * np.array([1, 1, -1, -1])
    return hung_loads(wheeled, Pushes(np.zeros((4, 3)), hub, np.zeros(3)), np.zeros(6))[0]


def _factors(car: Car, table: RoadCase, pushes: Pushes) -> tuple[FactorUsed, ...]:
    """Numbers behind a load case, given or default, each with its source; then what they come to."""
    kind, found = table.kind, []
    for key in type(table).model_fields:
        source = SOURCES.get(f"{kind}.{key}")
        value = getattr(table, key)
        if key in table.model_fields_set and isinstance(value, float):
            found.append(FactorUsed(key, value, "as the case has it"))
        elif source is not None:
            number = car.mass * G / 2 if value is None else value
            found.append(FactorUsed(key, number, source))
    grip = np.linalg.norm(pushes.road[:, :2], axis=1), pushes.road[:, 2]
    asked = float(np.divide(*grip, out=np.zeros(4), where=grip[1] > 0).max())
    if asked > 0 and not isinstance(table, Kerb):
        found.append(FactorUsed("friction asked", asked, "of the tyres on the road, at most"))
    return tuple(found)


def combined_loads(parts: Mapping[str, float], of: Mapping[str, RoadLoads | None]) -> RoadLoads | None:
    """What wheels and members carry in a combination; None if none of its parts stands on wheels."""
    used = [(number, of[name]) for name, number in parts.items() if of[name] is not None]
    if not used:
        return None
    first = used[0][1]

    def total(key: str) -> dict:
        names = dict.fromkeys(name for _, one in used for name in getattr(one, key))
        added = {n: sum(number * np.array(getattr(one, key).get(n, 0.0)) for number, one in used) for n in names}
        return {n: float(v) if np.ndim(v) == 0 else tuple(v.tolist()) for n, v in added.items()}

    return RoadLoads(
        wheels=total("wheels"),
        members=total("members"),
        balls=total("balls"),
        pickups=total("pickups"),
        pull=tuple(sum(number * np.array(one.pull) for number, one in used).tolist()),
        felt=tuple(sum(number * np.array(one.felt) for number, one in used).tolist()),
        mass=first.mass,
        centre=first.centre,
        factors=tuple(FactorUsed(name, number, "times this load case") for name, number in parts.items()),
    )


def lifted(wheeled: Wheeled, told: RoadLoads) -> list[str]:
    """Wheels that would have to be pulled down on to the road."""
    least = 1e-6 * wheeled.car.mass * G
    return [name for name, force in told.wheels.items() if force[2] < -least]


def lifting_torque(wheeled: Wheeled) -> str:
    """At which torque the lighter axle lifts a wheel, in words."""
    car = wheeled.car
    axles = standing(car).reshape(2, 2).sum(axis=1)
    k = int(axles.argmin())
    track = 2 * car.contact[2 * k + 1, 1]
    torque, factor = axles[k] * track / 2, LighterAxle.model_fields["factor"].default
    return (
        f"vehicle: {car.mass:.4g} kg in all; the lighter axle, {AXLES[k]}, carries {axles[k]:.0f} N on a track of "
        f"{1e3 * track:.0f} mm: {torque:.0f} N·m lift a wheel, {factor:g} times that for a moving one is "
        f"{factor * torque:.0f} N·m (limit_torque of [margins])"
    )
