"""What is worst of all load cases besides regions: joints, hard points, tubes and stiffeners, one line each."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite

from tubfem.findings.results import LoadCaseFindings


@dataclass(frozen=True, slots=True)
class Enveloped:
    """The lowest margin of a part over all load cases, and in which.

    `what` is "joint", "hard point", "tube" or "stiffener"; `governs` the check that has it.
    """

    what: str
    name: str
    load_case: str
    margin: float
    governs: str


def envelope(load_cases: Mapping[str, LoadCaseFindings]) -> tuple[Enveloped, ...]:
    """Every joint, hard point, tube and stiffener that anything loads, lowest margin first."""
    lowest: dict[tuple[str, str], Enveloped] = {}
    for name, found in load_cases.items():
        for one in _parts(name, found):
            key = one.what, one.name
            if isfinite(one.margin) and (key not in lowest or one.margin < lowest[key].margin):
                lowest[key] = one
    return tuple(sorted(lowest.values(), key=lambda one: one.margin))


def _parts(load_case: str, found: LoadCaseFindings) -> Iterator[Enveloped]:
    for joint in found.joints.values():
        if joint.margin is not None:
            margins = {} if joint.strength is None else joint.strength.margins
            governs = min(margins, key=margins.__getitem__, default=joint.kind)
            yield Enveloped("joint", joint.name, load_case, joint.margin, governs)
    for point in found.hard_points.values():
        if point.checks:
            yield Enveloped("hard point", point.name, load_case, point.margin, point.checks[0].what)
    for frame in found.frames.values():
        kind = "tube" if frame.name.startswith("subframes.") else "stiffener"
        for tube in frame.tubes:
            yield Enveloped(kind, f"{frame.name} {tube.label}", load_case, tube.margin, tube.governs)
