"""What the findings room hands on: every number a report prints, as frozen data. SI unless a name says otherwise."""

from dataclasses import dataclass, field
from typing import Literal

from tubfem.arrays import Floats, Ints
from tubfem.findings.connections import ConnectionFindings
from tubfem.findings.core_edge_results import CoreEdge
from tubfem.findings.gain import Gain
from tubfem.findings.hand_results import HandCheck
from tubfem.findings.heat_results import HeatFindings
from tubfem.findings.joint_results import HardPoint, JointFindings
from tubfem.findings.mass_results import Mass
from tubfem.findings.rim_results import OpeningFindings
from tubfem.findings.stability_results import BucklingFindings, ModesFindings
from tubfem.findings.tube_results import FrameFindings
from tubfem.tub.model import RoadLoads

Place = tuple[float, float, float]  # x, y, z in vehicle axes [m]
Face = Literal["bottom", "top"]  # of a ply: bottom is nearer to the tool


@dataclass(frozen=True, slots=True)
class Factor:
    """A number that stands between a material's limit and an allowable, with its reason.

    `kind` is "knock-down" (multiplies the limit of `modes`) or "required" (divides it).
    """

    kind: Literal["knock-down", "required"]
    name: str
    value: float
    modes: tuple[str, ...]
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Worst:
    """The lowest margin of one kind in one place.

    Attributes
    ----------
    margin : allowable / demand - 1, from the strain averaged over `length` (core shear: from its averaged size)
    margin_peak : the same from the highest integration point of the panel part it belongs to; grows worse on a finer
        mesh at a re-entrant corner
    kind : "first damage", "fibre failure", "interlaminar shear", "core shear", "wrinkling", "crimping", "dimpling"
    mode : as the ply knows it ("fibre compression", ...), or the kind again
    ply : the text of the ply or core in its stack ("floor 2a biax600 +45")
    ply_index : from the tool face, 0 first
    face : bottom is nearer to the tool; None where a whole skin or laminate fails
    panel, region : where; `position` [m] is the centre of the element
    demand, allowable : in `unit` ("-" strain, "Pa", "N/m"); the demand is positive
    sign : +1 or -1, the hand of the torque; +1 in a static load case
    length : the strain is the mean over this radius [m], or over the element where that is larger
    stack, state : index of the stack that governs and the eight generalised strains there
    """

    margin: float
    margin_peak: float
    kind: str
    mode: str
    ply: str
    ply_index: int
    face: Face | None
    panel: str
    region: str
    position: Place
    demand: float
    allowable: float
    unit: str
    sign: int
    length: float
    stack: int | None = None
    state: tuple[float, ...] = ()

    @property
    def strain(self) -> float | None:
        """The demand where it is a strain [-]."""
        return self.demand if self.unit == "-" else None


@dataclass(frozen=True, slots=True)
class Raised:
    """A change that would raise a margin: as `--add` takes it or in words, the margin with it, its weight [kg/m2].

    The line loads are held, so that the margin is what it could come to at most.
    """

    change: str
    margin: float
    areal_mass: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What governs a region over all load cases.

    `kind` as in `Worst`, or "panel buckling", "opening edge";
    `raised` is None where no ply of its own and no thicker core raises it.
    """

    region: str
    load_case: str
    margin: float
    kind: str
    mode: str
    raised: Raised | None


@dataclass(frozen=True, slots=True)
class RegionFindings:
    """One region in one load case; a `worst_...` is None where the region has nothing of the kind.

    `worst_interlaminar` is shear between and within plies. `worst_core` is the lowest of core shear, wrinkling,
    crimping and dimpling; `core` holds each of them, and wrinkling twice: by the coefficient 0.5 and, as "wrinkling,
    class rule", by 0.3.
    """

    name: str
    mass: float
    area: float
    strain_energy_share: float
    worst_first_damage: Worst | None
    worst_fibre: Worst | None
    worst_core: Worst | None
    core: tuple[Worst, ...]
    worst_interlaminar: Worst | None = None

    @property
    def worst(self) -> Worst | None:
        """The lowest margin of all kinds."""
        every = (self.worst_first_damage, self.worst_fibre, self.worst_interlaminar, self.worst_core)
        found = [w for w in every if w is not None]
        return min(found, key=lambda w: w.margin, default=None)


@dataclass(frozen=True, slots=True)
class HotSpot:
    """A place of high strain, distinct from the others of the list.

    `strain_averaged` [-] is the greatest principal strain (either sign) at the faces of the laminate, averaged over
    `length` [m]; `strain_peak` the highest integration point beside it; `joint` the nearest joint's name and
    `joint_distance` [m] how far it is, None in a tub without joints; `mount` the mount whose pad it lies under;
    `both_sides`: the mirror image of the place is as highly strained (within a tenth).
    """

    position: Place
    region: str
    panel: str
    joint: str | None
    joint_distance: float | None
    mount: str | None
    both_sides: bool
    strain_averaged: float
    strain_peak: float
    length: float
    margin: float


@dataclass(frozen=True, slots=True)
class Bay:
    """The tub between two neighbouring marks: its twist and twist per metre; marks are stations or "x = 0.42 m"."""

    start: str
    end: str
    x: tuple[float, float]
    twist_deg: float
    twist_deg_per_m: float


@dataclass(frozen=True, slots=True)
class BandReason:
    """One reason why the stiffness may be lower or higher: percent of the stiffness (low <= 0 <= high)."""

    text: str
    low_percent: float
    high_percent: float


@dataclass(frozen=True, slots=True)
class Band:
    """Where the stiffness [N m/deg] may lie, from named reasons.

    `left_out` says in words what the band does not contain, `meaning` how its ends are meant.
    """

    low: float
    high: float
    why: tuple[BandReason, ...]
    left_out: tuple[str, ...]
    meaning: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Torsion:
    """A torsion load case.

    Attributes
    ----------
    torque : [N m]
    twist_deg : relative rotation of the two axle lines, each from the vertical movement of its left and right pickup
    pickup_to_pickup : stiffness [N m/deg], the headline
    between_stations : the same, read on the tub itself at `stations_x` [m], the gauge stations nearest the pickups
    hub_to_hub : the same with the couple at the hubs and links that do not give; None without suspension members
    x, curve_deg : (m,) the twist curve, from the first gauge station on [m, deg]; positive like the torque
    gauges : (m, 2) mesh nodes left, right of every gauge station
    bays : between neighbouring marks along the tub
    softest : the bay with the most twist per metre
    front_share, rear_share : of the twist, between the pickups and the tub at their station
    sentences : the same in words
    hand_check : None where the tub cannot be read between stations
    """

    torque: float
    twist_deg: float
    pickup_to_pickup: float
    between_stations: float | None
    hub_to_hub: float | None
    stations_x: tuple[float, float] | None
    band: Band
    restraint: str
    x: Floats
    curve_deg: Floats
    gauges: Ints
    bays: tuple[Bay, ...]
    softest: Bay | None
    front_share: float | None
    rear_share: float | None
    sentences: tuple[str, ...]
    hand_check: HandCheck | None = None

    @property
    def stiffness_Nm_per_deg(self) -> float:
        """The headline: pickup to pickup."""
        return self.pickup_to_pickup


@dataclass(frozen=True, slots=True)
class Energy:
    """Strain energy [J] and where it is: shares that sum to 1, by region, by joint, in mounts and bolts.

    `mounts` holds every spring that belongs to no joint, foam or frame, and `attachments` the same by mount; `foams`
    the foam inside sections; `frames` subframes of tubes and stiffeners; `drilling` the stabilisation of the drilling
    rotation.
    """

    total: float
    regions: dict[str, float]
    joints: dict[str, float]
    mounts: float
    drilling: float
    attachments: dict[str, float] = field(default_factory=dict)
    foams: dict[str, float] = field(default_factory=dict)
    frames: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """A check of the solution: it passes when value <= limit."""

    name: str
    value: float
    limit: float


@dataclass(frozen=True, slots=True)
class MeshBand:
    """How much too stiff the mesh makes the answer of a load case, estimated from its one solution.

    Attributes
    ----------
    error : of the compliance (strain energy), as a part of it
    band : the same with a margin for the estimate's own error
    regions : region -> its part of `error`
    """

    error: float
    band: float
    regions: dict[str, float]


@dataclass(frozen=True, eq=False, slots=True)
class Fields:
    """One load case on the mesh, for pictures and files; elements run through the mesh's blocks in order.

    Attributes
    ----------
    displacement : (P, 6) of the shell nodes [m, rad], at the load case's own torque
    strain, strain_peak : (e,) greatest principal strain at the laminate's faces, averaged and at the worst
        integration point [-], at the torque the margins are for
    margin : (e,) lowest of all kinds
    energy : (e,) strain energy per area [J/m2]
    generalised : (e, 8) generalised strain in the material frame, averaged like `strain`, at the same torque
    kind : (e,) what governs `margin`, an index into `kinds`
    kinds : as in `Worst`
    """

    displacement: Floats
    strain: Floats
    strain_peak: Floats
    margin: Floats
    energy: Floats
    generalised: Floats
    kind: Ints
    kinds: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class LoadCaseFindings:
    """All of one load case.

    `hard_points` are mounts with their bolts' loads and checks, `connections` what each path between two parts carries,
    `frames` subframes of tubes and stiffeners that are beams,
    `openings` the strength of their rims, `road` what wheels and suspension members do (None where nothing
    stands on wheels), `core_edges` how skins peel where cores end: a weak estimate.

    `margin_scale` multiplies the solved load before margins are taken (limit torque over torque; else 1); strains of
    hot spots and regions are at that load, the twist and joint loads at the load case's own. `buckling` is None where
    it was not asked.
    """

    name: str
    kind: str
    margin_scale: float
    torsion: Torsion | None
    probes: dict[str, tuple[float, ...]]
    checks: tuple[CheckFinding, ...]
    regions: dict[str, RegionFindings]
    joints: dict[str, JointFindings]
    hot_spots: tuple[HotSpot, ...]
    energy: Energy
    fields: Fields
    mesh: MeshBand
    buckling: BucklingFindings | None = None
    hard_points: dict[str, HardPoint] = field(default_factory=dict)
    connections: dict[str, ConnectionFindings] = field(default_factory=dict)
    frames: dict[str, FrameFindings] = field(default_factory=dict)
    openings: dict[str, OpeningFindings] = field(default_factory=dict)
    core_edges: dict[str, CoreEdge] = field(default_factory=dict)
    road: RoadLoads | None = None


@dataclass(frozen=True, slots=True)
class MeshSize:
    """How large the model is; `size` is the mesh size asked for [m]."""

    nodes: int
    elements: int
    freedoms: int
    size: float


@dataclass(frozen=True, eq=False, slots=True)
class Findings:
    """Everything found in a case.

    `factors` are the knock-downs and required factors behind every margin; `sentences` say the findings in words;
    `element_region` (e,) indexes `regions`, `element_mass` [kg/m2] and `element_thickness` [m] are (e,).
    `gains` compare with the case as written where the command line changed it; `modes` and `heat` are None where not
    asked.
    """

    mesh: MeshSize
    mass: Mass
    factors: tuple[Factor, ...]
    regions: tuple[str, ...]
    element_region: Ints
    element_mass: Floats
    element_thickness: Floats
    load_cases: dict[str, LoadCaseFindings]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    sentences: tuple[str, ...]
    gains: tuple[Gain, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    modes: ModesFindings | None = None
    heat: HeatFindings | None = None
