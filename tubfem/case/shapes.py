"""Tables that say where the tub is: stations, sections, panels and what is cut into them."""

import math
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Discriminator, Field, Tag, field_validator, model_validator

from tubfem.arrays import Floats
from tubfem.case.quantities import (
    Angle,
    Facing,
    Length,
    Measured,
    Point,
    Point2,
    Point3,
    PositiveLength,
    Side,
    Size,
    Table,
    fault,
    text_or,
)


class Station(Table):
    """A plane across the car: upright at an x, or leaning through two points [x, z] of the side view."""

    first: Point2
    second: Point2

    shorthand: ClassVar = {"type": ["number", "string", "array"], "description": "x, or [[x, z], [x, z]] leaning"}

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        if isinstance(value, list | tuple):
            if len(value) != 2:
                raise fault("a leaning station is two points [x, z] of the side view: [[300, 0], [180, 330]]")
            return {"first": value[0], "second": value[1]}
        if isinstance(value, int | float | str):
            return {"first": [value, 0], "second": [value, "1 m"]}
        return value

    @model_validator(mode="after")
    def _not_lying(self) -> "Station":
        if abs(self.second[1] - self.first[1]) < 1e-3:
            raise fault("the two points of a leaning station must differ in height")
        return self

    def x_at(self, z: float | Floats) -> float | Floats:
        """Where the plane is at height z [m], a number or an array of them."""
        (x1, z1), (x2, z2) = self.first, self.second
        return x1 + (x2 - x1) * (z - z1) / (z2 - z1)

    @property
    def slope(self) -> tuple[float, float]:
        """Unit vector [x, z] up the plane in side view."""
        (x1, z1), (x2, z2) = self.first, self.second
        length = math.copysign(math.hypot(x2 - x1, z2 - z1), z2 - z1)
        return (x2 - x1) / length, (z2 - z1) / length


class LayupFrom(Table):
    """Another schedule over part of a section's length; makes the region SECTION.WALL.FROM-TO.

    With `taper`, the plies that it has more run on over the rest of the wall and end one after another on that length.
    """

    wall: str
    from_: str = Field(alias="from")
    to: str
    layup: str
    taper: PositiveLength | None = None


class AlongZero(Table):
    """Zero degrees from one named point to another: "A-B"."""

    along: str


def _zero_kind(value: Any) -> str | None:
    if isinstance(value, str):
        return "<word>"
    if isinstance(value, list | tuple):
        return "<direction>"
    return "<along>" if isinstance(value, dict | AlongZero) else None


Zero = Annotated[
    Annotated[Literal["aft", "up", "across"], Tag("<word>")]
    | Annotated[tuple[float, float, float], Tag("<direction>")]
    | Annotated[AlongZero, Tag("<along>")],
    Discriminator(
        _zero_kind,
        custom_error_type="case",
        custom_error_message='is "aft", "up", "across", a direction [x, y, z] or { along = "A-B" }',
    ),
]


Rounding = Annotated[
    Annotated[Size, Tag("<all>")] | Annotated[dict[str, Size], Tag("<by corner>")],
    Discriminator(lambda value: "<by corner>" if isinstance(value, dict) else "<all>"),
]


class Section(Table):
    """A ring or hat of walls, measured at stations; walls are straight-lined between them."""

    walls: dict[str, tuple[str, str]] = Field(min_length=1)
    at: dict[str, dict[str, Point]] = Field(min_length=2)
    region: str | None = None
    regions: dict[str, str] = Field(default_factory=dict)
    corner_radius: Rounding = 0.0
    cap: tuple[str, ...] = ()
    fill: str | None = None
    tool: Facing = "out"
    zero: Zero | None = None
    measured: Measured = "tool"
    layup_from: tuple[LayupFrom, ...] = ()

    @field_validator("walls", mode="before")
    @classmethod
    def _two_corners(cls, walls: Any) -> Any:
        for wall, corners in walls.items() if isinstance(walls, dict) else ():
            if not isinstance(corners, list | tuple) or len(corners) != 2:
                raise fault(f'wall "{wall}" needs its two corners: {wall} = ["first", "second"]')
        return walls

    @property
    def corners(self) -> tuple[str, ...]:
        """Corner names in the order in which the walls use them."""
        return tuple(dict.fromkeys(corner for pair in self.walls.values() for corner in pair))


class OnWall(Table):
    """A point of an outline where a wall, at the panel's station, is at height z (or at y from the middle)."""

    on: str
    z: Length | None = None
    y: Length | None = None

    @model_validator(mode="after")
    def _one(self) -> "OnWall":
        if (self.z is None) == (self.y is None):
            raise fault('give one of z and y: { on = "SECTION.WALL", z = 330 }')
        return self


class Arc(Table):
    """The edge between its neighbours in the outline is a circle's arc through this point."""

    arc: text_or(Point)


class Spline(Table):
    """The edge between its neighbours in the outline is a smooth curve through these points."""

    spline: tuple[text_or(Point), ...] = Field(min_length=1)


def _outline_kind(value: Any) -> str | None:
    if isinstance(value, str):
        return "<name>"
    if isinstance(value, list | tuple):
        return "<point>"
    for tag, kind in (("<wall>", OnWall), ("<arc>", Arc), ("<spline>", Spline)):
        if isinstance(value, kind) or (isinstance(value, dict) and next(iter(kind.model_fields)) in value):
            return tag
    return None


OutlinePoint = Annotated[
    Annotated[str, Tag("<name>")]
    | Annotated[Point, Tag("<point>")]
    | Annotated[OnWall, Tag("<wall>")]
    | Annotated[Arc, Tag("<arc>")]
    | Annotated[Spline, Tag("<spline>")],
    Discriminator(
        _outline_kind,
        custom_error_type="case",
        custom_error_message='is a corner ("sill.in_low"), a point\'s name, [y, z], [x, y, z], '
        '{ on = "SECTION.WALL", z = 330 }, { arc = [x, y, z] } or { spline = [[x, y, z]] }',
    ),
]
SHAPES = ("circle", "rectangle", "slot", "polygon")


class Opening(Table):
    """A hole in a panel, in tape coordinates: exactly one of circle, rectangle, slot and polygon."""

    circle: PositiveLength | None = None
    rectangle: tuple[PositiveLength, PositiveLength] | None = None
    slot: tuple[PositiveLength, PositiveLength] | None = None
    polygon: tuple[Point2, ...] | None = Field(default=None, min_length=3)
    corner_radius: Size = 0.0
    at: Point | None = None
    turn: Angle = 0.0
    only: Side | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> "Opening":
        given = [shape for shape in SHAPES if getattr(self, shape) is not None]
        if len(given) != 1:
            raise fault(
                f"give exactly one of circle, rectangle, slot and polygon (given: {', '.join(given) or 'none'})"
            )
        if self.polygon is not None and (self.at is not None or self.turn):
            raise fault("a polygon's points say where it is: leave out at and turn")
        if self.polygon is None and self.at is None:
            raise fault("where is its middle? at = [first, second], tape on the panel")
        if self.slot is not None and self.slot[0] <= self.slot[1]:
            raise fault("slot = [length, width]: the length over all is the larger number")
        sides = self.rectangle or ()
        if self.corner_radius and self.rectangle is None:
            raise fault("corner_radius belongs to a rectangle")
        if sides and self.corner_radius > min(sides) / 2:
            raise fault("corner_radius is more than half the shorter side")
        return self


class Recess(Opening):
    """A pressed pocket: an opening's shape, its depth and the way it goes."""

    depth: PositiveLength
    towards: Facing
    draft: Angle = 0.0
    layup: str | None = None
    walls: str | None = None

    @field_validator("draft")
    @classmethod
    def _leans(cls, draft: float) -> float:
        if not 0 <= draft < math.radians(80):
            raise fault("the walls lean outwards by 0 to 80 degrees")
        return draft


class Panel(Table):
    """A panel on a station, between corner lines, or with a free outline."""

    on: str | None = None
    outline: tuple[OutlinePoint, ...] = ()
    between: tuple[str, str] | None = None
    from_: str | None = Field(default=None, alias="from")
    to: str | None = None
    across: bool = False
    tool: Facing
    zero: Zero | None = None
    measured: Measured = "tool"
    origin: text_or(Point3) | None = None
    along: text_or(tuple[str, str]) | None = None
    region: str | None = None
    removable: bool = False
    gap: bool = False
    openings: dict[str, Opening] = Field(default_factory=dict)
    recesses: dict[str, Recess] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_way(self) -> "Panel":
        if (self.between is None) == (not self.outline):
            raise fault('write either outline = [...] or between = ["LINE", "LINE"]')
        if self.between is not None and (self.on is not None or self.across):
            raise fault("between needs neither on nor across: the same line twice spans the middle")
        if self.between is None and (self.from_ is not None or self.to is not None):
            raise fault("from and to limit a panel that is between two lines")
        if (self.origin is None) != (self.along is None):
            raise fault('origin and along go together: origin = "A", along = "A-B"')
        corners = [point for point in self.outline if not isinstance(point, Arc | Spline)]
        if self.outline and len(corners) < (2 if self.across or len(corners) < len(self.outline) else 3):
            raise fault("an outline needs at least three corners (two if it is across, or with arcs)")
        return self
