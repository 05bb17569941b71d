"""Tables that say how parts hold together: joints, mounts, patches, stiffeners, subframes, pickups."""

import re
from math import ceil, inf
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from tubfem.case.quantities import (
    LineStiffness,
    LineTurningStiffness,
    Modulus,
    OneOrMore,
    Point,
    Point3,
    PositiveLength,
    Side,
    Size,
    Stiffness,
    Table,
    TurningStiffness,
    fault,
    in_brackets,
    text_or,
)
from tubfem.case.stuff import OneOrMoreEntries


def _bolt(text: str) -> str:
    if not re.fullmatch(r"M\d+(\.\d+)?", text):
        raise fault(f'"{text}" is not a bolt size; write "M6", "M8", "M10" ...')
    return text


def bolt_diameter(bolt: str) -> float:
    """Nominal diameter of "M10" [m]."""
    return float(bolt[1:]) * 1e-3


Bolt = Annotated[str, AfterValidator(_bolt)]
Names = Annotated[tuple[str, ...], BeforeValidator(in_brackets), Field(min_length=1), OneOrMore()]


class JointStiffness(Table):
    """Springs per length of line; a value given here wins over what is worked out from the joint's data.

    along the line, across it in the plane of A, square to both [N/m per m]; rotation about the line [N m/rad per m].
    """

    along: LineStiffness | None = None
    across: LineStiffness | None = None
    square: LineStiffness | None = None
    rotation: LineTurningStiffness | None = None


class JointKind(Table):
    """How two panels hold together along a line."""

    kind: Literal["continuous", "tabbed", "hinged", "fastened", "bonded"] | None = None
    like: str | None = None
    tab: OneOrMoreEntries = ()
    width: PositiveLength | None = None
    sides: Literal[1, 2] = 1
    fillet: Size = 0.0
    filler: str | None = None
    bolt: Bolt | None = None
    pitch: PositiveLength | None = None
    bond_thickness: PositiveLength | None = None
    bond_shear_modulus: Modulus | None = None
    stiffness: JointStiffness | None = None

    NEEDS: ClassVar = {"tabbed": ("tab", "width"), "fastened": ("bolt", "pitch"), "bonded": ("width", "bond_thickness")}
    TAKES: ClassVar = {
        "continuous": (),
        "tabbed": ("tab", "width", "sides", "fillet", "filler", "stiffness"),
        "hinged": ("stiffness",),
        "fastened": ("bolt", "pitch", "stiffness"),
        "bonded": ("width", "bond_thickness", "bond_shear_modulus", "stiffness"),
    }

    @model_validator(mode="after")
    def _complete(self) -> "JointKind":
        if self.like is not None:
            return self  # the reader fills it in from the other kind and checks the whole again
        if self.kind is None:
            raise fault('which kind? kind = "continuous", "tabbed", "hinged", "fastened" or "bonded"')
        missing = [key for key in self.NEEDS.get(self.kind, ()) if not getattr(self, key)]
        if missing:
            raise fault(f"a {self.kind} joint needs {' and '.join(missing)}")
        strangers = sorted(self.model_fields_set - {"kind", "like", *self.TAKES[self.kind]})
        if strangers:
            takes = ", ".join(self.TAKES[self.kind])
            then = f"it takes {takes}" if takes else 'leave them out, or write kind = "tabbed"'
            raise fault(f"a {self.kind} joint has no {', '.join(strangers)}; {then}")
        if self.filler is not None and not self.fillet:
            raise fault(f'"{self.filler}" fills no fillet: write its radius, fillet = 8')
        return self


class Connection(Table):
    """Two parts that several laminations tie together: the report adds up what each path carries between them.

    Names or patterns of panels, walls ("sill.inner"), sections or regions.
    """

    one: Names
    other: Names


class Insert(Table):
    """What the bolt sits in."""

    diameter: PositiveLength
    depth: PositiveLength | None = None
    material: str | None = None

    shorthand: ClassVar = {"type": ["number", "string"], "description": "the insert's diameter"}

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        return {"diameter": value} if isinstance(value, int | float | str) else value


class MountStiffness(Table):
    """Springs of a bolt in its hole, given instead of worked out: axial, shear [N/m], tipping [N m/rad]."""

    axial: Stiffness | None = None
    shear: Stiffness | None = None
    tipping: TurningStiffness | None = None


LARGER_INSERT = "is wider than twice the mount's radius, the circle that its washer or flange presses on"


class Mount(Table):
    """A bolted place on a panel. After reading `bolt` and `radius` are never None."""

    on: str | None = None
    at: Point
    bolt: Bolt | None = None
    radius: PositiveLength | None = None
    insert: Insert | None = None
    patch: OneOrMoreEntries = ()
    patch_radius: Annotated[tuple[PositiveLength, ...], BeforeValidator(in_brackets), OneOrMore()] = ()
    only: Side | None = None
    stiffness: MountStiffness | None = None

    @model_validator(mode="after")
    def _patched(self) -> "Mount":
        if bool(self.patch) != bool(self.patch_radius):
            raise fault('patch and patch_radius go together: patch = "4 x PLY", patch_radius = 90')
        if list(self.patch_radius) != sorted(self.patch_radius, reverse=True):
            raise fault("patch_radius: largest first, as they are laid: [90, 80, 70, 60]")
        plies = sum(entry.count for entry in self.patch)
        if len(self.patch_radius) not in (0, 1, plies):
            raise fault(
                f"patch_radius lists {len(self.patch_radius)} radii for {plies} plies; write one for each, or one"
            )
        return self

    @property
    def insert_radius(self) -> float:
        """Half the insert's diameter, or half the bolt's where there is none [m]."""
        return (self.insert.diameter if self.insert is not None else bolt_diameter(self.bolt)) / 2


class Patch(Table):
    """Plies laid over a part of a panel: round a point, along an edge or corner line, or between two stations.

    Each further ply ends `stagger` inside the one before.
    """

    on: str | None = None
    at: Point | None = None
    around: str | None = None
    from_: str | None = Field(default=None, alias="from")
    to: str | None = None
    ply: OneOrMoreEntries
    radius: PositiveLength | None = None
    width: PositiveLength | None = None
    stagger: Size = 0.0
    only: Side | None = None

    @model_validator(mode="after")
    def _placed(self) -> "Patch":
        limits = [key for key, station in (("from", self.from_), ("to", self.to)) if station is not None]
        if self.at is not None and self.around is not None:
            raise fault("at and around: a patch has one place")
        if self.at is None and self.around is None and not (limits and self.on is not None):
            raise fault(
                'where? at = [..] with radius, around = "opening.NAME" with width, or on = PANEL with from and to = '
                "STATION"
            )
        if self.at is not None and (self.radius is None or self.width is not None or limits):
            raise fault("a patch at a point has a radius and no width, from or to")
        if self.around is not None and (self.width is None or self.radius is not None):
            raise fault("a patch around something has a width and no radius")
        if self.at is None and self.around is None and (self.width is not None or self.radius is not None):
            raise fault("a patch between stations is as wide as its panel: no width and no radius")
        if self.around is not None and not re.match(r"(opening|recess)\.|edge of |corner .+\.", self.around):
            raise fault(
                f'around = "{self.around}": write "opening.NAME", "recess.NAME", "edge of PANEL" or '
                '"corner SECTION.CORNER"'
            )
        if not self.ply:
            raise fault('which plies? ply = "2 x PLY @ 45"')
        if sum(entry.count for entry in self.ply) > self.most_plies:
            raise fault(self.no_room)
        return self

    @property
    def most_plies(self) -> float:
        """How many plies find room, each `stagger` inside the one before; what stations limit is not counted."""
        reach = self.radius or self.width
        return inf if reach is None or not self.stagger else ceil(reach / self.stagger - 1e-9)

    @property
    def no_room(self) -> str:
        """Why no more plies than that can be laid."""
        reach = self.radius or self.width
        return f"stagger = {1e3 * self.stagger:g} mm leaves nothing of ply {self.most_plies + 1} on {1e3 * reach:g} mm"


TubeSize = tuple[PositiveLength, PositiveLength]  # outer diameter, wall; 0.5 diameters of wall make a solid rod


def _hollow(size: TubeSize) -> TubeSize:
    if size[1] * 2 > size[0] * (1 + 1e-9):
        raise fault("tube = [diameter, wall]: the wall is at most half the diameter")
    return size


class Stiffener(Table):
    """A strip or tube bonded on, along the middle of a wall or a path of points."""

    strip: tuple[PositiveLength, PositiveLength] | None = None
    tube: Annotated[TubeSize, AfterValidator(_hollow)] | None = None
    material: str
    on: str | None = None
    path: tuple[text_or(Point3), ...] = ()
    side: Literal["far", "tool"] = "far"
    only: Side | None = None

    @model_validator(mode="after")
    def _shaped(self) -> "Stiffener":
        if (self.strip is None) == (self.tube is None):
            raise fault("give one of strip = [width, thickness] and tube = [diameter, wall]")
        if (self.on is None) == (not self.path):
            raise fault('give on = "SECTION.WALL" (up its middle) or path = [two or more points]')
        if len(self.path) == 1:
            raise fault("a path has two or more points")
        return self

    @property
    def is_beam(self) -> bool:
        """Whether it is modelled as a beam beside the laminate; a strip up a wall's last face is laid as a ply."""
        return self.tube is not None or self.on is None or self.side == "tool"


class Tube(Table):
    """A straight round tube from one node of its subframe to another, welded at both; what is left out is its frame's.

    With a mirror it exists on both sides. From a node to itself it runs across to the mirror image; nodes written with
    `.left` or `.right` make the one tube that is written.
    """

    from_: str = Field(alias="from")
    to: str
    tube: Annotated[TubeSize, AfterValidator(_hollow)] | None = None
    material: str | None = None


class Subframe(Table):
    """A metal frame that bolts on; it joins left and right. Rigid, or a space frame of welded tubes."""

    kind: Literal["rigid", "tubes"] = "rigid"
    bolts: Names
    nodes: dict[str, text_or(Point3)] = Field(default_factory=dict)
    tubes: tuple[Tube, ...] = ()
    tube: Annotated[TubeSize, AfterValidator(_hollow)] | None = None
    material: str | None = None

    @model_validator(mode="after")
    def _shaped(self) -> "Subframe":
        own = sorted(self.model_fields_set & {"nodes", "tubes", "tube", "material"})
        if self.kind == "rigid" and own:
            raise fault(f'a rigid subframe has no {", ".join(own)}; write kind = "tubes" for a frame of tubes')
        if self.kind == "tubes" and not (self.nodes and self.tubes):
            raise fault(
                'a frame of tubes needs nodes = { A = [x, y, z], B = "MOUNT" } and tubes = [{ from = "A", to = "B" }]'
            )
        for number, each in enumerate(self.tubes, start=1):
            for key in ("tube", "material"):
                if getattr(each, key) is None and getattr(self, key) is None:
                    example = "[25, 2]" if key == "tube" else '"steel"'
                    raise fault(f"which {key} is tube {number} of? Write {key} = {example} there or for the frame")
        return self


class Pickup(Table):
    """Where a suspension force enters: a point carried by mounts or by a subframe, or by one node of its tubes."""

    at: Point3
    carried_by: Names | None = None
    on: str | None = None

    @model_validator(mode="after")
    def _carried(self) -> "Pickup":
        if (self.carried_by is None) == (self.on is None):
            raise fault('what carries it? carried_by = "MOUNT_*" (names or a pattern) or on = "subframes.NAME"')
        if self.on is not None and not self.on.startswith("subframes."):
            raise fault(f'on = "{self.on}": a pickup is on a subframe, "subframes.NAME", or is carried_by mounts')
        return self
