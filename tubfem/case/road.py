"""Tables of the load cases that a car sees, by kind, with their usual factors and where these come from.

Every default can be written over. A car here stands or moves on its wheels, see `tubfem.case.vehicle`.
"""

from typing import Annotated, Any, Literal

from pydantic import Field

from tubfem.case.joining import Names
from tubfem.case.quantities import (
    Angle,
    Fraction,
    PositiveAcceleration,
    PositiveForce,
    PositiveLength,
    PositiveRatio,
    Ratio,
    Side,
    Table,
)

G = 9.80665  # m/s2
Wheel = Literal["front.left", "front.right", "rear.left", "rear.right"]
WHEELS: tuple[Wheel, ...] = ("front.left", "front.right", "rear.left", "rear.right")
HOME_SET = (
    "home builders' set of 3 g bump, 1.5 g bump with 1.2 g braking or 1.5 g cornering: common practice, no source"
)
SOURCES = {  # "kind.key" -> where its default comes from
    "bending.factor": "2 to 3 times the standing loads on the road, 4 off it: public textbook chapters on body loads",
    "braking.deceleration": f"{HOME_SET}; textbooks have 1.1 to 1.84 g",
    "braking.vertical": HOME_SET,
    "cornering.acceleration": f"{HOME_SET}; textbooks have the tyres' limit, 1 g, and sticky tyres reach 1.3 to 1.6 g",
    "cornering.vertical": HOME_SET,
    "bump.factor": HOME_SET,
    "kerb.factor": "1.4 to 1.75 for the blow on a kerb: public textbook chapters on body loads",
    "jacking.factor": "1.5 to 2 times the force at the point: from memory",
    "towing.factor": "1.5 to 2 times the force at the point: from memory",
    "towing.pull": "half of the car's weight, as rules for towing eyes have it: from memory",
}


def _g(number: float) -> Any:
    return Field(default=number * G, json_schema_extra={"default": f"{number:g} g"})


class RoadCase(Table):
    """What every load case of a car on its wheels may have."""

    probes: dict[str, str] = Field(default_factory=dict)
    buckling: bool = False


class Bending(RoadCase):
    """All wheels carry `factor` times what they carry standing."""

    kind: Literal["bending"] = "bending"
    factor: PositiveRatio = 3.0


class Braking(RoadCase):
    """The car slows down; brakes stand in the wheels."""

    kind: Literal["braking"] = "braking"
    deceleration: PositiveAcceleration = _g(1.2)
    vertical: PositiveRatio = 1.5
    front_share: Fraction | None = None


class Cornering(RoadCase):
    """The car turns; side forces go with the wheels' loads."""

    kind: Literal["cornering"] = "cornering"
    acceleration: PositiveAcceleration = _g(1.5)
    vertical: PositiveRatio = 1.5
    towards: Side = "left"


class Bump(RoadCase):
    """One wheel meets a bump, or with `step` the edge of one; the others stand."""

    kind: Literal["bump"] = "bump"
    wheel: Wheel = "front.right"
    factor: PositiveRatio = 3.0
    step: PositiveLength | None = None


class Kerb(RoadCase):
    """The car slides against a kerb: the wheels of that side carry it all and the others just lift."""

    kind: Literal["kerb"] = "kerb"
    side: Side = "right"
    factor: PositiveRatio = 1.75


class Jacking(RoadCase):
    """The car is lifted at `on` until as few wheels as can be stand on the road."""

    kind: Literal["jacking"] = "jacking"
    on: Names
    factor: PositiveRatio = 2.0


class Towing(RoadCase):
    """A pull at `on`, straight ahead or at an angle, that accelerates the standing car."""

    kind: Literal["towing"] = "towing"
    on: Names
    pull: PositiveForce | None = None
    factor: PositiveRatio = 2.0
    towards: Literal["fore", "aft"] = "fore"
    sideways: Angle = 0.0
    upwards: Angle = 0.0


class Combination(RoadCase):
    """Other load cases added up, each times a number."""

    kind: Literal["combination"] = "combination"
    of: Annotated[dict[str, Ratio], Field(min_length=1)]


ROAD = (Bending, Braking, Cornering, Bump, Kerb, Jacking, Towing)
