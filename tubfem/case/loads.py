"""Tables of load cases and margins.

Where a support or load acts (`on`), one text or several:

"A"               a point of [points], a corner at a station ("sill.in_low@front"), a pickup or a mount
"A-B"             the edge of a panel, or the part of a corner line, between two such points
"panels.NAME"     a whole panel; "sections.NAME" or "sections.NAME.WALL" walls
"stations.NAME"   everything that lies on that plane
"subframes.NAME.NODE"  a node of a frame of tubes
"rigid.NAME"      the reference point of a rigid set of this load case
"""

from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from tubfem.case.joining import Names
from tubfem.case.quantities import (
    Acceleration,
    Force,
    Fraction,
    Moment,
    Motion,
    OneOrMore,
    Point3,
    PositiveForce,
    PositiveLength,
    PositiveMass,
    PositiveMoment,
    PositiveRatio,
    Pressure,
    Table,
    fault,
    in_brackets,
)
from tubfem.case.road import ROAD, Bending, Braking, Bump, Combination, Cornering, Jacking, Kerb, Towing

MOTIONS = ("x", "y", "z", "rx", "ry", "rz")


def _motions(value: Any) -> Any:
    return list(MOTIONS) if value == "all" else in_brackets(value)


Motions = Annotated[tuple[Motion, ...], BeforeValidator(_motions), Field(min_length=1), OneOrMore("all")]


class Support(Table):
    """Motions held at zero, in vehicle axes."""

    on: Names
    fix: Motions


class Load(Table):
    """A total force and moment, in vehicle axes; spread evenly by length over an edge, by area over a panel."""

    on: Names
    force: tuple[Force, Force, Force] = (0.0, 0.0, 0.0)
    moment: tuple[Moment, Moment, Moment] = (0.0, 0.0, 0.0)

    @model_validator(mode="after")
    def _something(self) -> "Load":
        if not any(self.force) and not any(self.moment):
            raise fault('force and moment are both zero; write force = ["0 N", "0 N", "-1 kN"]')
        return self


class PressureLoad(Table):
    """A pressure on panels: positive pushes on the tool face, into the laminate."""

    on: Names
    pressure: Pressure


class RigidSet(Table):
    """Nodes whose motions follow those of a rigid body about `at`, in the directions of `fix` only.

    fix = ["y", "z", "rx"] keeps an end section's shape in its plane and leaves it free to warp.
    """

    on: Names
    at: Point3
    fix: Motions = MOTIONS


class Torsion(Table):
    """A self-equilibrated couple: +torque on the front axle's pickups, -torque on the rear's.

    `front` and `rear` name one pickup each, meaning both sides of it; without a mirror the left and the right one.
    """

    kind: Literal["torsion"] = "torsion"
    torque: PositiveMoment
    front: Names
    rear: Names
    restraint: Literal["free", "bench"] = "free"
    buckling: bool = False

    @model_validator(mode="after")
    def _two_axles(self) -> "Torsion":
        if self.front == self.rear:
            raise fault(f"front and rear are both {' and '.join(self.front)}; a twist needs two axles")
        return self


class CarriedMass(Table):
    """A mass that is not laminate: spread over what it is on, or a point at `at` that `on` carries."""

    mass: PositiveMass
    on: Names
    at: Point3 | None = None


class Static(Table):
    """Supports and loads on points, edges and panels; or nothing held, and inertia balances the loads."""

    kind: Literal["static"] = "static"
    supports: tuple[Support, ...] = ()
    free: bool = False
    masses: dict[str, CarriedMass] = Field(default_factory=dict)
    forces: tuple[Load, ...] = ()
    pressures: tuple[PressureLoad, ...] = ()
    acceleration: tuple[Acceleration, Acceleration, Acceleration] = (0.0, 0.0, 0.0)
    rigid: dict[str, RigidSet] = Field(default_factory=dict)
    probes: dict[str, str] = Field(default_factory=dict)
    buckling: bool = False

    @model_validator(mode="after")
    def _loaded(self) -> "Static":
        if not self.free and not self.supports:
            raise fault('what holds it? supports = [{ on = "...", fix = "all" }], or free = true')
        if not self.free and self.masses:
            raise fault("masses belong to free = true; on supports give their weight as forces")
        if self.free and (self.supports or self.rigid or any(self.acceleration)):
            raise fault(
                "free = true: supports, rigid sets and an acceleration have no place; the loads themselves accelerate "
                "the tub and what it carries (standing on its wheels, their loads are its weight)"
            )
        if not self.forces and not self.pressures and not any(self.acceleration):
            raise fault("nothing acts: give forces, pressures or an acceleration")
        return self


KINDS = ("torsion", "static", *(table.model_fields["kind"].default for table in (*ROAD, Combination)))


def _load_kind(value: Any) -> str | None:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return f"<{kind}>" if kind in KINDS else None


LoadCase = Annotated[
    Annotated[Torsion, Tag("<torsion>")]
    | Annotated[Static, Tag("<static>")]
    | Annotated[Bending, Tag("<bending>")]
    | Annotated[Braking, Tag("<braking>")]
    | Annotated[Cornering, Tag("<cornering>")]
    | Annotated[Bump, Tag("<bump>")]
    | Annotated[Kerb, Tag("<kerb>")]
    | Annotated[Jacking, Tag("<jacking>")]
    | Annotated[Towing, Tag("<towing>")]
    | Annotated[Combination, Tag("<combination>")],
    Discriminator(
        _load_kind,
        custom_error_type="case",
        custom_error_message="which kind? kind = "
        + ", ".join(f'"{kind}"' for kind in KINDS[:-1])
        + f' or "{KINDS[-1]}" (left out, the load case\'s name is its kind)',
    ),
]


class Modes(Table):
    """How many modes of the free tub are wanted, and what it carries meanwhile."""

    count: Annotated[int, Field(ge=1, le=40)] = 8
    masses: dict[str, CarriedMass] = Field(default_factory=dict)


PlyMode = Literal[
    "fibre tension", "fibre compression", "transverse tension", "transverse compression", "in-plane shear"
]
PLY_MODES: tuple[PlyMode, ...] = get_args(PlyMode)


class Coupons(Table):
    """Coupons behind the plies' own breaking strains: how many, their scatter (standard deviation over mean), of what.

    The breaking strains in `[plies]` are then the coupons' means.
    """

    count: Annotated[int, Field(ge=2)]
    scatter: Fraction
    modes: Annotated[tuple[PlyMode, ...], BeforeValidator(in_brackets), Field(min_length=1), OneOrMore()] = PLY_MODES


class LighterAxle(Table):
    """The axle that lifts first: one of its wheels just leaves the road, and no greater torque gets into the tub.

    `factor` is for what a moving wheel adds.
    """

    load: PositiveForce
    track: PositiveLength
    factor: PositiveRatio = 1.3

    @property
    def torque(self) -> float:
        """Load times half the track, times the factor [N m]."""
        return self.factor * self.load * self.track / 2


RequiredKind = Literal["core shear", "wrinkling", "crimping", "dimpling", "interlaminar shear"]


class Margins(Table):
    """Factors asked of the margins and knock-downs on what a laminate bears; left out, the library's apply."""

    first_damage_factor: PositiveRatio | None = None
    fibre_factor: PositiveRatio | None = None
    bond_factor: PositiveRatio | None = None
    core_factor: PositiveRatio | None = None
    buckling_factor: PositiveRatio | None = None
    tube_factor: PositiveRatio | None = None
    tube_buckling_factor: PositiveRatio | None = None
    required: dict[RequiredKind, PositiveRatio] = Field(default_factory=dict)
    criterion: Literal["maximum strain", "maximum stress", "Tsai-Wu", "Hashin"] = "maximum strain"
    knockdowns: tuple[str, ...] | None = None
    coupons: Coupons | None = None
    voids: Fraction | None = None
    limit_torque: PositiveMoment | None = None
    lighter_axle: LighterAxle | None = None

    @model_validator(mode="after")
    def _one_torque(self) -> "Margins":
        if self.limit_torque is not None and self.lighter_axle is not None:
            raise fault("limit_torque and lighter_axle both say at which torque margins are asked; give one of them")
        return self

    @property
    def asked_torque(self) -> float | None:
        """Torque [N m] at which margins are asked; None for the load case's own."""
        return self.limit_torque if self.lighter_axle is None else self.lighter_axle.torque
