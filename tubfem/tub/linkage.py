"""How the two wheels of an axle hang on the tub: statics of links, arms and springs from coordinates alone.

The upright and every arm are rigid bodies in balance. A link or spring gives one force along itself, a ball three.
With as many forces as equations the loads at the wheel decide all of them, whatever is stiff or soft: (V.1) of
theory.md.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.schema import Case
from tubfem.case.vehicle import UPRIGHT, Axle, End, OnArm
from tubfem.errors import CaseError

SIDES = (("left", -1.0), ("right", 1.0))
LENGTH = 0.3  # m: a turn of 1 rad counts as much as a shift of this
SINGULAR = 1e-6  # of the largest singular value: below, the members do not hold
MUCH = 20.0  # times the load at the wheel: a member that carries more is badly placed
FREE = (  # motions of a wheel that nothing holds
    "move fore and aft; a member that runs fore and aft, or slants that way, is missing",
    "move sideways; a member that runs across the car is missing",
    "move up and down; a spring that stands up is missing",
    "lean in and out; two of its members act in one line or at one height",
    "wind up about its own axle; its members must act at two heights",
    "steer; a tie rod is missing, or points at the axis that the others leave",
)


@dataclass(frozen=True, eq=False, slots=True)
class Linkage:
    """Forces in members and on the tub by wheel load.

    Loads at the wheels are (12,) [N]: of the left wheel the force at the road (3,) and at the hub (3,), then of the
    right one.

    Attributes
    ----------
    members : names with their side ("right.upper_fore") and tension (m, 12) for each load
    balls : names and force (b, 3, 12) of an arm on the upright
    pickups : names and force and moment (k, 6, 12) on the tub
    cautions : sentences for the report
    """

    members: tuple[str, ...]
    tension: Floats
    balls: tuple[str, ...]
    ball_force: Floats
    pickups: tuple[str, ...]
    on_tub: Floats
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class _Force:
    """An unknown force along `direction` (3,) at `at` (3,): on `body`, reversed on `other`; None is the tub."""

    name: str
    kind: str  # "link", "ball" or "pivot"
    body: str
    other: str | None
    at: Floats
    direction: Floats
    pickup: str | None = None


@dataclass(slots=True)
class _System:
    """Bodies with their reference points (3,), unknown forces, wheels (index 0 left, 1 right) by body."""

    bodies: dict[str, Floats] = field(default_factory=dict)
    forces: list[_Force] = field(default_factory=list)
    wheels: dict[int, str] = field(default_factory=dict)


def linkage(case: Case, end: str) -> Linkage:
    """Statics of one axle, "front" or "rear".

    Raises
    ------
    CaseError
        The members do not hold a wheel: says how it can move.
    """
    axle = case.axles[end]
    if axle.pickups:
        return _straight(case, axle)
    parts = []
    for sides in (SIDES,) if axle.live else ((SIDES[1],), (SIDES[0],)):
        parts.append(_solved(case, end, axle, _system(case, axle, sides)))
    names, rows = [], []
    for key, value in (("members", "tension"), ("balls", "ball_force"), ("pickups", "on_tub")):
        found: dict[str, Floats] = {}
        for part in parts:  # a pickup on the middle has a part of each side
            for name, each in zip(getattr(part, key), getattr(part, value), strict=True):
                found[name] = found[name] + each if name in found else each
        names.append(tuple(found))
        rows.append(frozen(np.array(list(found.values())).reshape(len(found), *getattr(parts[0], value).shape[1:])))
    cautions = tuple(dict.fromkeys(text for part in parts for text in part.cautions))
    return Linkage(names[0], rows[0], names[1], rows[1], names[2], rows[2], cautions)


def wheel_places(axle: Axle) -> tuple[Floats, Floats]:
    """Contact with the road and hub (2, 3) [m] of the left and the right wheel."""
    mirror = np.array([[1.0, side, 1.0] for _, side in SIDES])
    return mirror * np.array(axle.contact), mirror * np.array(axle.hub)


def pickup_on(case: Case, name: str, side: str) -> tuple[str, Floats]:
    """A pickup's full name on one side, and its place (3,) [m]; one on the middle serves both."""
    at = np.array(case.pickups[name].at)
    if at[1] == 0:
        return name, at
    return f"{name}.{side}", at * np.array([1.0, dict(SIDES)[side], 1.0])


def _straight(case: Case, axle: Axle) -> Linkage:
    """Without members: force and moment about the pickups' middle, an equal part on each."""
    contact, hub = wheel_places(axle)
    found: dict[str, Floats] = {}
    for wheel, (side, _) in enumerate(SIDES):
        named = [pickup_on(case, name, side) for name in axle.pickups]
        middle = np.mean([at for _, at in named], axis=0)
        load = np.zeros((6, 12))
        for k, at in enumerate((contact[wheel], hub[wheel])):
            columns = slice(6 * wheel + 3 * k, 6 * wheel + 3 * k + 3)
            load[:3, columns] = np.eye(3)
            load[3:, columns] = np.cross(at - middle, np.eye(3)).T
        for name, _ in named:
            found[name] = found.get(name, np.zeros((6, 12))) + load / len(named)
    none = np.zeros((0, 12))
    return Linkage((), none, (), none.reshape(0, 3, 12), tuple(found), frozen(np.array(list(found.values()))))


def _system(case: Case, axle: Axle, sides: tuple[tuple[str, float], ...]) -> _System:
    """Bodies and unknown forces of one wheel, or of a live axle with both."""
    system = _System()
    _, hub = wheel_places(axle)
    middle = np.array([hub[1, 0], 0.0, hub[1, 2]])
    for side, sign in sides:
        wheel = 0 if sign < 0 else 1
        upright = UPRIGHT if axle.live else f"{side}.{UPRIGHT}"
        system.bodies[upright] = middle if axle.live else hub[wheel]
        system.wheels[wheel] = upright
        turn = np.array([1.0, sign, 1.0])
        for name, arm in axle.arms.items():
            body = f"{side}.{name}"
            placed = [pickup_on(case, pickup, side) for pickup in arm.pivots]
            system.bodies[body] = np.mean([at for _, at in placed], axis=0)
            for pickup, at in placed:
                system.forces += _ball(body, "pivot", body, None, at, pickup)
            if arm.ball is not None:
                system.forces += _ball(body, "ball", upright, body, turn * np.array(arm.ball), None)
        for name in axle.pivots:
            pickup, at = pickup_on(case, name, side)
            system.forces += _ball(upright, "pivot", upright, None, at, pickup)
        for name, link in axle.links.items():
            if link.only in (None, side):
                placed = [_end(case, end, side, turn, upright, mirrored=link.only is None) for end in link.ends]
                known = {force.name for force in system.forces}
                middle_link = all(abs(at[1]) < 1e-9 for _, at, _ in placed)
                label = name if middle_link or link.only is not None else f"{side}.{name}"
                if label not in known:
                    system.forces.append(_link(label, placed))
    return system


def _ball(name: str, kind: str, body: str, other: str | None, at: Floats, pickup: str | None) -> Iterator[_Force]:
    for direction in np.eye(3):
        yield _Force(name, kind, body, other, at, direction, pickup)


def _end(
    case: Case, end: End, side: str, turn: Floats, upright: str, *, mirrored: bool
) -> tuple[str | None, Floats, str | None]:
    """Body (None: the tub), place (3,) and pickup of a link's end."""
    if isinstance(end, str):
        pickup, at = pickup_on(case, end, side)
        return None, at, pickup
    at = np.array(end.at if isinstance(end, OnArm) else end) * (turn if mirrored else 1.0)
    body = upright if not isinstance(end, OnArm) or end.on == UPRIGHT else f"{side}.{end.on}"
    return body, at, None


def _link(name: str, placed: list[tuple[str | None, Floats, str | None]]) -> _Force:
    """Tension pulls the body at its end towards the other end."""
    (first, a, pickup), (last, b, other_pickup) = placed
    if last is None:  # written from the upright to the pickup
        (first, a, pickup), (last, b) = (last, b, other_pickup), (first, a)
    return _Force(name, "link", last, first, b, (a - b) / np.linalg.norm(a - b), pickup)


def _wrench(system: _System, body: str | None, at: Floats, force: Floats) -> Floats:
    """Force and moment (6 x bodies,) of a force (3,) at a place on one body; moments over `LENGTH`."""
    column = np.zeros((len(system.bodies), 6))
    if body is not None:
        k = list(system.bodies).index(body)
        column[k] = np.concatenate([force, np.cross(at - system.bodies[body], force) / LENGTH])
    return column.ravel()


def _solved(case: Case, end: str, axle: Axle, system: _System) -> Linkage:
    """Forces by wheel load, x = -A⁺ W (V.1); where A leaves a choice, the smallest forces."""
    A = np.array(
        [
            _wrench(system, f.body, f.at, f.direction) - _wrench(system, f.other, f.at, f.direction)
            for f in system.forces
        ]
    ).T
    U, s, Vh = np.linalg.svd(A)
    rank = int((s > SINGULAR * s[0]).sum())
    if rank < len(A):
        raise CaseError(case.message(("axles", end), _unheld(system, U[:, rank:])))
    W = np.zeros((len(A), 12))
    for wheel, body in system.wheels.items():
        for k, at in enumerate(places[wheel] for places in wheel_places(axle)):
            for c in range(3):
                W[:, 6 * wheel + 3 * k + c] = _wrench(system, body, at, np.eye(3)[c])
    x = -(Vh[:rank].T / s[:rank]) @ (U[:, :rank].T @ W)
    cautions = _cautions(case, end, system, A, rank, x)
    return _told(system, x, cautions)


def _told(system: _System, x: Floats, cautions: tuple[str, ...]) -> Linkage:
    """Unknowns (n, 12) by name."""
    members = {f.name: row for f, row in zip(system.forces, x, strict=True) if f.kind == "link"}
    balls: dict[str, Floats] = {}
    tub: dict[str, Floats] = {}
    for f, row in zip(system.forces, x, strict=True):
        if f.kind == "ball":
            balls[f.name] = balls.get(f.name, np.zeros((3, 12))) + f.direction[:, None] * row
        if f.pickup is not None:
            force = tub.setdefault(f.pickup, np.zeros((6, 12)))
            force[:3] -= f.direction[:, None] * row
    return Linkage(
        tuple(members),
        np.array(list(members.values())).reshape(-1, 12),
        tuple(balls),
        np.array(list(balls.values())).reshape(-1, 3, 12),
        tuple(tub),
        np.array(list(tub.values())).reshape(-1, 6, 12),
        cautions,
    )


def _unheld(system: _System, free: Floats) -> str:
    """Words for a motion (6 x bodies, r) that no member resists: of a wheel if one moves, else of an arm."""
    motion = np.abs(free).max(axis=1).reshape(-1, 6)
    names = list(system.bodies)
    moving = [k for k, name in enumerate(names) if name.endswith(UPRIGHT) and motion[k].max() > 1e-3]
    if not moving:
        arm = names[int(motion.max(axis=1).argmax())]
        return f"the arm {arm} can turn on its own: give it two pivots apart, or write it as links"
    k = moving[0]
    how = FREE[int(motion[k].argmax())]
    count = sum(force.body == names[k] or force.other == names[k] for force in system.forces)
    return f"its {count} forces do not hold the {names[k]}: it can {how} (lines that all meet one axis hold nothing)"


def _cautions(case: Case, end: str, system: _System, A: Floats, rank: int, x: Floats) -> tuple[str, ...]:
    """More members than statics can share load among, and members that carry many times the wheel's load."""
    found = []
    alone = 0  # two pivots of one body may push against each other along the line between them
    for body in system.bodies:
        pivots = [k for k, f in enumerate(system.forces) if f.kind == "pivot" and f.body == body]
        alone += len(pivots) - (np.linalg.matrix_rank(A[:, pivots], tol=1e-9) if pivots else 0)
    more = A.shape[1] - rank - alone
    if more > 0:
        found.append(
            case.message(
                ("axles", end),
                f"{more} more than statics can share load among; the smallest forces that balance are taken, as of "
                "members equally stiff",
            )
        )
    kinds: Ints = np.array([f.kind == "link" for f in system.forces])
    most = np.abs(x).max(axis=1) * kinds
    if most.max() > MUCH:
        worst = system.forces[int(most.argmax())].name.removeprefix("left.").removeprefix("right.")
        found.append(
            case.message(
                ("axles", end),
                f"{worst} carries up to {most.max():.0f} times the load at the wheel: nearly in line with what it "
                "should hold; check its coordinates",
            )
        )
    return tuple(found)
