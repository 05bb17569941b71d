"""What the findings say of the rims of openings. SI unless a name says otherwise."""

from dataclasses import dataclass
from typing import Literal

Place = tuple[float, float, float]
Criterion = Literal["point stress", "average stress"]


@dataclass(frozen=True, slots=True)
class RimCheck:
    """The lowest margin of one kind by one criterion along a rim.

    Attributes
    ----------
    kind : "first damage" or "fibre failure"
    criterion : strains at `distance` [m] from the rim, or their mean up to there
    margin, mode, ply, face, demand, allowable, unit, sign : as in `results.Worst`
    position : on the rim [m]
    stack, state : index of the stack that governs and the eight generalised strains
    """

    kind: str
    criterion: Criterion
    distance: float
    margin: float
    mode: str
    ply: str
    face: str
    demand: float
    allowable: float
    unit: str
    sign: int
    position: Place
    stack: int
    state: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Doubler:
    """Plies on the far face round an opening, tried in the fine model of its rim with the tub's motion held.

    `words` for a reader; `text` is what to write: a line under [patches], or a change as --add takes it; `margin` what
    the opening comes to,
    `mass` [kg] of the patch on this opening, `areal_mass` [kg/m2].
    """

    words: str
    text: str
    margin: float
    mass: float
    areal_mass: float


@dataclass(frozen=True, slots=True)
class OpeningFindings:
    """One opening in one load case.

    Attributes
    ----------
    region, panel : where it is
    strain_rim, strain_round : greatest principal strain of either sign at the laminate's faces [-]: along the rim, and
        along the outer edge of the fine model, `reach` [m] away at most
    checks : lowest margin first; empty where the opening is not judged, and `note` says why
    doubler : None where none was tried
    instead : a change of the whole region that raises the lowest margin, as --add takes it, that margin, and its
        weight [kg/m2]
    """

    name: str
    region: str
    panel: str
    strain_rim: float
    strain_round: float
    reach: float
    checks: tuple[RimCheck, ...]
    doubler: Doubler | None = None
    note: str = ""
    instead: tuple[str, float, float] | None = None

    @property
    def margin(self) -> float | None:
        """The lowest margin."""
        return self.checks[0].margin if self.checks else None
