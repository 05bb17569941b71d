"""The lowest margin of a tub's regions and that of its joints: in the reduced model, and in a run in full."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.findings.results import LoadCaseFindings
from tubfem.laminate.stack import Stack
from tubfem.study.family import Change
from tubfem.study.hot import lowest_margin
from tubfem.study.joint_margins import joint_margins
from tubfem.study.outputs import joint_forces
from tubfem.study.store import Ready
from tubfem.tub.model import plain_joint

JOINT = "joint "  # before the name of one, where a margin's place is told
Lowest = tuple[float | None, str, str]  # margin, name, what it is of; None, "" and "" where nothing is judged
NOTHING: Lowest = (None, "", "")


@dataclass(frozen=True, slots=True)
class Weakest:
    """The lowest margin of plies and cores with its region, and that of joints with the joint's name without sides."""

    region: Lowest
    joint: Lowest

    @property
    def margin(self) -> float | None:
        """The lower of both; None where nothing is judged."""
        return self._governs[0]

    @property
    def place(self) -> str:
        """What governs: a region, or "joint A/B"."""
        margin, name, _ = self._governs
        return JOINT + name if margin is not None and self._governs is self.joint else name

    @property
    def kind(self) -> str:
        """What the lower margin is of."""
        return self._governs[2]

    @property
    def _governs(self) -> Lowest:
        if self.region[0] is None or (self.joint[0] is not None and self.joint[0] < self.region[0]):
            return self.joint
        return self.region


def weakest_now(tub: Ready, b: Floats, change: Change, stacks: Mapping[tuple[int, bool], Stack], laid: Case) -> Weakest:
    """The weakest of the reduced model; arguments as of `lowest_margin`, `joint_forces` and `joint_margins`."""
    return Weakest(_judged(lowest_margin(tub.hot, b, stacks)), _least(margins_of_joints(tub, b, change, laid)))


def margins_of_joints(tub: Ready, b: Floats, change: Change, laid: Case) -> dict[str, tuple[float, str]]:
    """Margin of every joint in the reduced model and what it is of."""
    return joint_margins(tub.lines, joint_forces(tub.outputs, tub.family, b, change), laid)


def weakest_of(found: LoadCaseFindings) -> Weakest:
    """The weakest of a run in full."""
    worst = [region.worst for region in found.regions.values() if region.worst is not None]
    regions = {w.region: (w.margin, w.kind) for w in sorted(worst, key=lambda w: w.margin)[:1]}
    return Weakest(_least(regions), _least(joints_of(found)))


def joints_of(found: LoadCaseFindings) -> dict[str, tuple[float, str]]:
    """Margin of every joint that is judged in a run, by its name without sides, and what it is of."""
    joints: dict[str, tuple[float, str]] = {}
    for name, joint in found.joints.items():
        plain = plain_joint(name)
        if joint.margin is not None and joint.margin < joints.get(plain, (math.inf, ""))[0]:
            of = joint.strength.margins if joint.strength is not None else {}
            joints[plain] = joint.margin, min(of, key=lambda kind: of[kind], default="")
    return joints


def _least(margins: Mapping[str, tuple[float, str]]) -> Lowest:
    name = min(margins, key=lambda each: margins[each][0], default="")
    return _judged((margins[name][0], name, margins[name][1])) if name else NOTHING


def _judged(lowest: Lowest) -> Lowest:
    """A lowest margin, or none of it where nothing can fail that has a limit."""
    return lowest if lowest[0] is not None and math.isfinite(lowest[0]) else NOTHING
