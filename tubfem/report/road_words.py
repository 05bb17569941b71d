"""A car on its wheels in words and rows, for terminal and page."""

from math import degrees, hypot

from tubfem.case.road import G
from tubfem.report.numbers import three
from tubfem.tub.model import RoadLoads, TubModel


def felt_words(road: RoadLoads) -> str:
    """What the tub and its load feel, in g, as words."""
    aft, right, up = road.felt[:3]
    words = [f"{three(abs(up))} g {'down' if up >= 0 else 'up'}"]
    for value, (plus, minus) in ((aft, ("forwards", "backwards")), (right, ("to the left", "to the right"))):
        if abs(value) >= 0.005:
            words.append(f"{three(abs(value))} g {plus if value > 0 else minus}")
    turn = hypot(*road.felt[3:])
    also = f", turning {three(turn)} rad/s2" if turn >= 0.05 else ""
    return f"what it carries is pressed {' and '.join(words)}{also}"


def members_by_side(road: RoadLoads) -> list[tuple[str, float | None, float | None]]:
    """Members and balls of arms with their forces [N] left and right; one of the middle stands under right."""
    found: dict[str, list[float | None]] = {}
    balls = {f"{name} ball": hypot(*force) for name, force in road.balls.items()}
    for name, force in (road.members | balls).items():
        axle, _, rest = name.partition(".")
        side, _, member = rest.partition(".")
        one_sided = side not in ("left", "right") or not member
        both = found.setdefault(f"{axle} {rest if one_sided else member}", [None, None])
        both[0 if side == "left" and not one_sided else 1] = force
    return [(name, left, right) for name, (left, right) in found.items()]


def factor_text(name: str, value: float) -> str:
    """A factor's value with its unit."""
    if name in ("deceleration", "acceleration"):
        return f"{three(value / G)} g"
    if name in ("sideways", "upwards"):
        return f"{three(degrees(value))} deg"
    if name == "step":
        return f"{three(1e3 * value)} mm"
    return f"{three(value)} N" if name == "pull" else three(value)


def wheel_words(model: TubModel) -> list[str]:
    """The car and its wheels' loads in every load case on wheels, a line each."""
    setups = {setup.name: setup for state in model.states for setup in state.load_cases if setup.road is not None}
    words = []
    for name in model.case.load_cases:
        if name in setups:
            road = setups[name].road
            loads = ", ".join(f"{wheel} {force[2] + 0:.0f}" for wheel, force in road.wheels.items())
            words.append(f"{name}: {felt_words(road)}; up on the tyres, N: {loads}")
    if words:
        x, y, z = (round(1e3 * c) + 0 for c in next(iter(setups.values())).road.centre)
        mass = next(iter(setups.values())).road.mass
        words.insert(0, f"{three(mass)} kg in all, centre of mass x = {x}, y = {y}, z = {z} mm")
    return words
