"""The case: frozen models, one class per table of the file; SI floats and names after reading."""

import math
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field
from pydantic.json_schema import SkipJsonSchema

from tubfem.case.heat import Heat
from tubfem.case.joining import Bolt, Connection, Insert, JointKind, Mount, Patch, Pickup, Stiffener, Subframe
from tubfem.case.loads import LoadCase, Margins, Modes
from tubfem.case.planning import Schedule
from tubfem.case.quantities import (
    Angle,
    Fraction,
    Measured,
    OneOrMore,
    Point3,
    PositiveLength,
    Size,
    Table,
    in_brackets,
    text_or,
)
from tubfem.case.shapes import Panel, Section, Station
from tubfem.case.spread import Spread
from tubfem.case.stuff import Core, Filler, Layup, Ply
from tubfem.case.vehicle import Axle, Vehicle

Texts = Annotated[tuple[str, ...], BeforeValidator(in_brackets), OneOrMore()]
Path = tuple[str | int, ...]  # ("panels", "dash", "openings", "legs"); numbers count entries of a list from 0


Chamfer = Annotated[Angle, Field(gt=0, le=math.pi / 2)]


class Mesh(Table):
    """How fine the mesh is."""

    size: PositiveLength = Field(default=0.025, json_schema_extra={"default": "25 mm"})


class MountDefaults(Table):
    """What every mount has unless it says otherwise."""

    bolt: Bolt | None = None
    radius: PositiveLength | None = None
    insert: Insert | None = None


class Defaults(Table):
    """Filled in wherever the key of that name is absent."""

    resin: str | None = None
    process: str | None = None
    fibre_fraction: Fraction | None = None
    measured: Measured | None = None
    stagger: Size | None = None
    mount: MountDefaults = Field(default_factory=MountDefaults)
    joint_margin: Size = Field(default=0.015, json_schema_extra={"default": "15 mm"})
    chamfer: Chamfer = Field(default=math.radians(30.0), json_schema_extra={"default": "30 deg"})


class Variant(Table):
    """Changes that make a variant of the case for `compare`, written as the command line takes them."""

    add: Texts = ()
    drop: Texts = ()
    without: Texts = ()


class Case(Table):
    """Everything a case file asks for.

    After reading: `like`, `same_as` and `defaults` are filled in; every region has a layup of its own name; a joint's
    own table stands in `joint_kinds` under the joint's name, so that `joints` maps "A/B" to the name of a kind.

    Attributes not written in the file: `without`, the walls that are taken off ("SECTION.WALL"; corners stay, since
    other panels may end on them), `path` of the file, `cautions` found while reading, and `lines`, where each
    key stands ("b.toml:41"), for messages.
    """

    title: str = ""
    mirror: Literal["y"] | None = None
    units: Literal["mm", "in"] = "mm"
    include: tuple[str, ...] = ()
    replaces: tuple[str, ...] = ()
    mesh: Mesh = Field(default_factory=Mesh)
    stations: dict[str, Station] = Field(default_factory=dict)
    defaults: Defaults = Field(default_factory=Defaults)
    points: dict[str, Point3] = Field(default_factory=dict)
    sections: dict[str, Section] = Field(default_factory=dict)
    panels: dict[str, Panel] = Field(default_factory=dict)
    plies: dict[str, Ply] = Field(default_factory=dict)
    cores: dict[str, Core] = Field(default_factory=dict)
    fillers: dict[str, Filler] = Field(default_factory=dict)
    layups: dict[str, Layup] = Field(default_factory=dict)
    joint_kinds: dict[str, JointKind] = Field(default_factory=dict)
    joints: dict[str, text_or(JointKind)] = Field(default_factory=dict)
    connections: dict[str, Connection] = Field(default_factory=dict)
    mounts: dict[str, Mount] = Field(default_factory=dict)
    patches: dict[str, Patch] = Field(default_factory=dict)
    stiffeners: dict[str, Stiffener] = Field(default_factory=dict)
    subframes: dict[str, Subframe] = Field(default_factory=dict)
    pickups: dict[str, Pickup] = Field(default_factory=dict)
    vehicle: Vehicle | None = None
    axles: dict[Literal["front", "rear"], Axle] = Field(default_factory=dict)
    load_cases: dict[str, LoadCase] = Field(default_factory=dict)
    modes: Modes | None = None
    margins: Margins = Field(default_factory=Margins)
    heat: Heat | None = None
    variants: dict[str, Variant] = Field(default_factory=dict)
    spread: Spread = Field(default_factory=Spread)
    schedule: Schedule = Field(default_factory=Schedule)
    without: SkipJsonSchema[tuple[str, ...]] = ()
    path: SkipJsonSchema[str] = "case"
    cautions: SkipJsonSchema[tuple[str, ...]] = ()
    lines: SkipJsonSchema[dict[Path, str]] = Field(default_factory=dict)

    def where(self, *path: str | int) -> str:
        """File and line of a key, or of the nearest table above it that was written: "b.toml:41"."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return self.path.replace("\\", "/").rsplit("/", 1)[-1]

    def message(self, path: Path, text: str) -> str:
        """Words for a fault at a key: "b.toml:41: panels.dash.tool: what is wrong: what to do"."""
        return f"{self.where(*path)}: {dotted(path)}: {text}"


def dotted(path: Path) -> str:
    """A key's path as the builder writes it; entries of a list are counted from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f" entry {part + 1}"
        else:
            text += ("." if text else "") + (f'"{part}"' if "/" in part or " " in part else part)
    return text


def case_schema() -> dict[str, object]:
    """JSON schema of a case file, for editors that complete keys and mark mistakes."""
    schema = Case.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
