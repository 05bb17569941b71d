"""What the tub room hands on: the laid-up mesh and the shell model with the names of its parts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.expansion import Expansion
from tubfem.case.schema import Case
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.stack import Stack
from tubfem.shell.beam2 import Section
from tubfem.shell.model import Beams, ShellModel, Springs
from tubfem.tub.connections import Connection
from tubfem.tub.folds import NO_FOLDS, Folds
from tubfem.tub.plies import Layer
from tubfem.tub.rims import Rim

Place = tuple[float, float, float]  # three components in vehicle axes
Corners = tuple[tuple[tuple[float, ...], float], ...]  # angles [rad] in which fillets can lie, their share of the line


@dataclass(frozen=True, slots=True)
class Mark:
    """Where in a stack the plies of a patch begin (`step` 0), or where the first, second, .. further one would lie.

    `at` is the number of the ply that it lies under, `patch` "patch NAME" or "patch of MOUNT"; angles of the patch are
    `sign` times the case's there.
    """

    at: int
    patch: str
    step: int
    sign: float


@dataclass(frozen=True, eq=False, slots=True)
class LayupField:
    """Which stack lies where.

    A lap or patch covers a part of an element, in sixteenths; an element with parts is a mixture of stacks at the
    same strain, weighted by covered area. Mixtures are shared: most elements of a region have the same one.

    Attributes
    ----------
    stacks : the distinct stacks
    mixture_stacks : per mixture, indices into `stacks`
    mixture_weights : per mixture, area fractions, multiples of 1/16 that sum to 1
    mixture : (e,) index of the mixture of every mesh element, through the blocks in order
    stack_entries : per stack, per ply: the text an engineer knows it by ("floor 2a biax600 +45", "lap of tunnel ...")
    notes : covered area of every lap and patch, in words
    filling : per mixture, mass of foam inside the section whose wall it is, per area of wall [kg/m²]; () for none
    marks : per stack, of its patches, where stacks are told apart by them (`tub.further`); None where they are not
    inside : by name and side of every filled section its volume [m³], and whether its walls' normals look into it
    """

    stacks: tuple[Stack, ...]
    mixture_stacks: tuple[tuple[int, ...], ...]
    mixture_weights: tuple[tuple[float, ...], ...]
    mixture: Ints
    stack_entries: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    filling: tuple[float, ...] = ()
    marks: tuple[tuple[Mark, ...], ...] | None = None
    inside: Mapping[str, tuple[float, bool]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, slots=True)
class JointTies:
    """A joint that is not continuous: its node pairs and the springs that tie them.

    `name` is "A/B" with the sides; `pairs` (m, 2) are shell nodes on A's and on B's side; `frames` (m, 3, 3) rows:
    along the line, across it in the plane of A, square to both; `lengths` (m,) [m] tributary; `rows` (m, 4) are rows
    of the shell model's first set of springs, in the order along, across, square, rotation about the line. `also`
    names other joints that the same springs are: of panels moulded to A or B along this line. `means` is the joint kind
    of the case, `angle` [rad] lies between the panels, `bridges` are plies (from the line, width of their leg [m]) that
    lap over the joint. `standing` are the panels again, the one that ends at the line before the one that goes on.
    `corners` are the angles on either side of the one that ends, `line` (s, 2, 3) [m] the ends of the line's edges.
    """

    name: str
    panels: tuple[int, int]
    kind: str
    pairs: Ints
    frames: Floats
    lengths: Floats
    rows: Ints
    also: tuple[str, ...] = ()
    means: str = ""
    angle: float = pi / 2
    bridges: tuple[tuple[tuple[Layer, ...], float], ...] = ()
    standing: tuple[int, ...] = ()
    corners: Corners = ()
    line: Floats = field(default_factory=lambda: np.zeros((0, 2, 3)))

    @property
    def run(self) -> float:
        """Length of the line [m], its ends included where they are not parted."""
        return float(np.linalg.norm(self.line[:, 1] - self.line[:, 0], axis=1).sum())


def plain_joint(name: str) -> str:
    """A joint's name without its sides: "floor/sill.inner.left" -> "floor/sill.inner"."""
    return "/".join(part.removesuffix(".left").removesuffix(".right") for part in name.split("/"))


@dataclass(frozen=True, eq=False, slots=True)
class BoltTies:
    """The bolt of a mount: what it carries, its spring rows (6,) and its frame (3, 3).

    Rows of the springs: two in shear, one along the bolt, two tipping, one turning; those of the frame: two in shear,
    then along the mount's normal.
    """

    mount: str
    carries: str
    rows: Ints
    frame: Floats


@dataclass(frozen=True, eq=False, slots=True)
class FrameBeams:
    """Beams that belong together: the tubes of a subframe, or the pieces of a stiffener.

    Attributes
    ----------
    name : "subframes.front", "stiffeners.rib.right"
    labels, sizes, materials : (b,) of every beam
    ends : (b, 2, 3) of the axes [m]
    section, E, density : (b,) [Pa, kg/m³]
    nodes : a subframe's nodes by name, as shell nodes
    carries : pickup -> the node that it moves with
    rows : (6 b,) its springs among those of all sets
    """

    name: str
    labels: tuple[str, ...]
    sizes: tuple[str, ...]
    materials: tuple[str, ...]
    ends: Floats
    section: Section
    E: Floats
    density: Floats
    beams: Beams
    nodes: dict[str, int] = field(default_factory=dict)
    carries: dict[str, int] = field(default_factory=dict)
    rows: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))

    @property
    def length(self) -> Floats:
        """Of every beam (b,) [m]."""
        return np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1)

    @property
    def mass(self) -> Floats:
        """Of every beam (b,) [kg]."""
        return self.density * self.section.area * self.length


@dataclass(frozen=True, eq=False, slots=True)
class TorsionSetup:
    """Where the couple acts: pickup nodes (left, right) of both axles, torque [N m], and how the tub is held.

    `hubs` is the column of its state's loads that has the couple at the hubs instead, None without suspension members.
    """

    torque: float
    front: tuple[int, int]
    rear: tuple[int, int]
    restraint: str
    hubs: int | None = None


@dataclass(frozen=True, slots=True)
class FactorUsed:
    """A number behind a load case, with its source."""

    name: str
    value: float
    source: str


@dataclass(frozen=True, slots=True)
class RoadLoads:
    """What wheels, suspension members and pickups carry in a load case of a car on its wheels.

    Attributes
    ----------
    wheels : wheel -> force (3,) on its tyre [N]
    members : link or spring -> tension [N], compression negative
    balls : arm -> force (3,) on the upright at its ball [N]
    pickups : pickup -> force (3,) on the tub [N]
    pull : (3,) of a jack or rope [N]
    felt : acceleration less gravity (3,) [g] at the car's centre of mass, turning acceleration (3,) [rad/s2]
    mass, centre : of the whole car [kg, m]
    factors : numbers that were used
    """

    wheels: dict[str, Place]
    members: dict[str, float]
    balls: dict[str, Place]
    pickups: dict[str, Place]
    pull: Place = (0.0, 0.0, 0.0)
    felt: tuple[float, ...] = (0.0,) * 6
    mass: float = 0.0
    centre: Place = (0.0, 0.0, 0.0)
    factors: tuple[FactorUsed, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class LoadCaseSetup:
    """One load case: its column in the loads of its state's shell model, what it is, whether buckling is asked.

    `free`: nothing holds it; its loads balance, by inertia or (a twist) alone, and six supports are idle. `road` is
    None unless it is of a car on its wheels.
    """

    name: str
    kind: str
    column: int
    torsion: TorsionSetup | None
    buckling: bool = False
    free: bool = False
    road: RoadLoads | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Carried:
    """A mass that the tub carries: `rows` are its points' velocities as springs are written, stiffness being mass."""

    name: str
    mass: float
    rows: Springs


@dataclass(frozen=True, eq=False, slots=True)
class ModesSetup:
    """Modes of the free tub: how many, which state's determinate supports serve, and what the tub carries."""

    count: int
    state: int
    carried: tuple[Carried, ...]


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """A stiffness with one way of holding it: solved with one factorisation for all its load cases."""

    shell: ShellModel
    load_cases: tuple[LoadCaseSetup, ...]


@dataclass(frozen=True, eq=False, slots=True)
class TubModel:
    """A case ready to solve.

    The shell models of all states share nodes, elements and springs; they differ in supports, loads and in which edges
    of elements are free. Shell nodes 0..p-1 are the mesh's; then copies made where joints split the mesh; then
    reference nodes of mounts, subframes and pickups.

    Attributes
    ----------
    mesh_node : (P,) the mesh node that a shell node stands on, -1 for reference nodes
    pickups, mounts : name -> shell node
    subframes : name -> shell node of every rigid one
    frames : subframes of tubes, and stiffeners that are beams
    joints : every line tie that is not continuous
    joint_kinds : pair name "A/B" (with sides) -> kind of every meeting pair, continuous ones included
    probes : load case -> probe name -> shell node
    cautions : sentences for the report
    modes : what is asked of the natural modes, None if nothing
    notes : what was laid and derived, in words (tied stiffness of joints, covered areas, ...)
    bolts : between mounts and what they carry
    foams : foam inside sections: name of the section, with its half, and its spring rows
    connections : the case's connections, half by half, with their paths
    folds : where walls meet at an angle, for the mass that lies off the meshed surface
    rims : of the openings
    whole : the case expanded on the surface that was meshed; None for the middle of the case's own stacks
    """

    case: Case
    mesh: TubMesh
    layup: LayupField
    states: tuple[State, ...]
    mesh_node: Ints
    pickups: dict[str, int]
    mounts: dict[str, int]
    subframes: dict[str, int]
    joints: tuple[JointTies, ...]
    joint_kinds: dict[str, str]
    probes: dict[str, dict[str, int]]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    modes: ModesSetup | None = None
    bolts: tuple[BoltTies, ...] = ()
    foams: tuple[tuple[str, Ints], ...] = ()
    connections: tuple[Connection, ...] = ()
    folds: Folds = NO_FOLDS
    frames: tuple[FrameBeams, ...] = ()
    rims: tuple[Rim, ...] = ()
    whole: Expansion | None = None
