"""What the findings say of the edges of cores. SI unless a name says otherwise."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CoreEdge:
    """The worst place of a line on which a core ends: a weak estimate that stands beside the margins.

    Attributes
    ----------
    joint, region, panel : the line, and whose core ends there; `position` [m] on the line
    where : "crest, off the core" or "foot, off the laminate"
    force : of the chamfered skin, square to the edge [N/m], positive when it pulls
    chamfer : angle of the core's edge [rad]
    demand, allowable : peel stress [Pa]
    test_needed : the margin is below 1
    """

    joint: str
    region: str
    panel: str
    position: tuple[float, float, float]
    where: str
    force: float
    chamfer: float
    demand: float
    allowable: float
    margin: float
    test_needed: bool
