"""What is found about a joint and a bolted place, as frozen data. SI."""

from dataclasses import dataclass, field

from tubfem.arrays import Floats


@dataclass(frozen=True, slots=True)
class JointStrength:
    """A joint's own means of holding, at the load that margins are taken at (`margin_scale` times the load case's).

    Attributes
    ----------
    length : line loads are averaged over this length along the line [m], so that the peak at an end is not the mesh's
    mean_shear, peak_shear, peak_peel : in the most loaded bond [Pa]; None where bolts hold
    ply_use : strain over allowable of the tab's or lap's plies at first damage; None without any
    width, width_needed : of one leg [m], as drawn and for the plain design shear; None where bolts hold
    bolt_shear, bolt_pull : most loaded bolt [N]; None where none is
    margins : kind -> allowable over demand less 1; the lowest of all but peel is the joint's margin
    peel : margin of peel by the elastic peak; the trade counts on none at all. None where bolts hold
    """

    length: float
    margins: dict[str, float]
    mean_shear: float | None = None
    peak_shear: float | None = None
    peak_peel: float | None = None
    ply_use: float | None = None
    width: float | None = None
    width_needed: float | None = None
    bolt_shear: float | None = None
    bolt_pull: float | None = None
    peel: float | None = None


@dataclass(frozen=True, slots=True)
class Fixity:
    """How much of a built-in edge's moment a joint can give.

    `rotation` [N/rad] is the joint's stiffness about its line per length, `panel` [N/rad] 3 D / span of the softer
    panel, `share` = rotation / (rotation + panel): 1 is built in, 0 a hinge.
    """

    rotation: float
    panel: float
    share: float


@dataclass(frozen=True, eq=False, slots=True)
class JointFindings:
    """A line where two panels meet, in one load case.

    Attributes
    ----------
    kind : "continuous" or the kind of tie
    length : [m]
    position : (m, 3) [m] along the line
    shear_flow, normal, peel : (m,) [N/m] along the line; across it in the plane of the first panel; square to both.
        `normal` and `peel` are None on a continuous line: only its shear flow is read, from the elements beside it
    moment : (m,) [N] about the line, per length; None on a continuous line
    twist_share : share of the strain energy in the line's springs; None on a continuous line
    margin : the lowest of `strength` but for peel; None where there is nothing to judge
    strength : bonds, tab plies, bolts; fixity : against the panels' bending; None on a continuous line
    """

    name: str
    kind: str
    length: float
    position: Floats
    shear_flow: Floats
    normal: Floats | None
    peel: Floats | None
    moment: Floats | None
    peak_shear_flow: float
    peak_normal: float | None
    peak_peel: float | None
    peak_moment: float | None
    margin: float | None
    twist_share: float | None
    strength: JointStrength | None = None
    fixity: Fixity | None = None


@dataclass(frozen=True, slots=True)
class HardPointCheck:
    """One nominal check of a hard point: demand and allowable in `unit`, margin, where the allowable is from."""

    what: str
    demand: float
    allowable: float
    unit: str
    source: str

    @property
    def margin(self) -> float:
        """Allowable over demand less 1."""
        return self.allowable / self.demand - 1 if self.demand > 0 else float("inf")


@dataclass(frozen=True, eq=False, slots=True)
class HardPoint:
    """A mount in one load case, at the load that margins are taken at.

    Attributes
    ----------
    shear : force in the panel's plane [N]
    axial : along the mount's normal, from the tool face on: positive pulls the bolt out at the far face [N]
    tipping : moment that tilts the bolt [N m]
    checks : nominal checks, the lowest margin first
    edge : distance from the bolt's middle to the panel's nearest edge [m]; infinity where it has none
    construction : what the bolt goes through, in words
    pull_test : why a sample has to be pulled, empty where it need not
    """

    name: str
    panel: str
    force: Floats
    shear: float
    axial: float
    tipping: float
    diameter: float
    edge: float
    construction: str
    checks: tuple[HardPointCheck, ...]
    pull_test: str
    notes: tuple[str, ...] = field(default=())

    @property
    def margin(self) -> float:
        """The lowest margin of all checks; infinite if nothing loads it."""
        return min((check.margin for check in self.checks), default=float("inf"))
