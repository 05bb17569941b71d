"""Tables of the car round the tub: what it carries, its wheels, and the members that hold these.

Points are those of the right wheel; the left one is its mirror image.
"""

from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from tubfem.case.joining import Names
from tubfem.case.loads import CarriedMass
from tubfem.case.quantities import Fraction, Mass, OneOrMore, Point3, Side, Table, fault, in_brackets

UPRIGHT = "upright"  # the body that carries the wheel
Texts = Annotated[tuple[str, ...], BeforeValidator(in_brackets), OneOrMore()]


class OnArm(Table):
    """A point on an arm, where a link or spring is fixed to it."""

    on: str
    at: Point3


def _end_kind(value: Any) -> str:
    return "<pickup>" if isinstance(value, str) else "<point>" if isinstance(value, list | tuple) else "<arm>"


End = Annotated[
    Annotated[str, Tag("<pickup>")] | Annotated[Point3, Tag("<point>")] | Annotated[OnArm, Tag("<arm>")],
    Discriminator(_end_kind),
]


class Link(Table):
    """A member with a ball at either end: it pushes or pulls along itself and does nothing else.

    An end is a pickup, a point of the upright, or a point of an arm.
    """

    from_: End = Field(alias="from")
    to: End
    only: Side | None = None

    @property
    def ends(self) -> tuple[Any, Any]:
        """Both ends as written: a pickup's name, a point [m], or a place on an arm."""
        return self.from_, self.to


class Arm(Table):
    """A rigid arm or rocker that turns on pickups; `ball` joins it to the upright."""

    pivots: Names
    ball: Point3 | None = None


class Axle(Table):
    """Two wheels and how each hangs on the tub: by members, or by statics straight on `pickups`."""

    contact: Point3
    hub: Point3
    unsprung: Mass = 0.0
    pickups: Texts = ()
    links: dict[str, Link] = Field(default_factory=dict)
    arms: dict[str, Arm] = Field(default_factory=dict)
    pivots: Texts = ()
    live: bool = False

    @model_validator(mode="after")
    def _held(self) -> "Axle":
        members = bool(self.links or self.arms or self.pivots)
        if members == bool(self.pickups):
            raise fault(
                "how does a wheel hang on the tub? links, arms and pivots, or by statics alone pickups = [...]; "
                f"{'not both' if members else 'one of them'}"
            )
        if self.contact[1] <= 0 or self.hub[1] <= 0:
            raise fault("wheel inside out: y is how far out the right wheel stands, more than 0")
        if self.contact[2] >= self.hub[2]:
            raise fault("wheel upside down: its contact with the road lies below the hub, at a smaller z")
        if UPRIGHT in self.arms:
            raise fault('an arm called "upright": that name is taken by the body that carries the wheel')
        return self


class Vehicle(Table):
    """What the tub carries in every road load case, and how the car leans on its axles."""

    masses: dict[str, CarriedMass] = Field(default_factory=dict)
    roll_share: Fraction | None = None
