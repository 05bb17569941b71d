"""The findings that matter most, said in plain sentences."""

import re

from tubfem.findings.envelope import envelope
from tubfem.findings.hinges import HINGE
from tubfem.findings.joint_results import HardPoint
from tubfem.findings.results import Energy, JointFindings, LoadCaseFindings, Torsion, Worst
from tubfem.findings.tube_results import FrameFindings

SOFT = 0.05  # of the strain energy in one joint's springs: said to give way
LISTED = 3


def torsion_sentences(torsion: Torsion) -> tuple[str, ...]:
    """Softest bay, pickups' share, both in words."""
    found = []
    if torsion.softest is not None:
        bay, total = torsion.softest, torsion.curve_deg[-1]
        share = 100 * bay.twist_deg / total if total else 0.0
        found.append(
            f"The tub is softest between {bay.start} and {bay.end}: {abs(bay.twist_deg_per_m):.3g} deg/m there, "
            f"{share:.0f} % of the tub's twist on {bay.x[1] - bay.x[0]:.2f} m."
        )
    for axle, share in (("front", torsion.front_share), ("rear", torsion.rear_share)):
        if share is not None and abs(share) >= 0.05:
            found.append(
                f"{100 * share:.0f} % of the twist between the pickups is between the {axle} pickups and the tub "
                "beside them (mounts, subframe, panels round the mounts)."
            )
    return tuple(found)


def soft_sentences(energy: Energy) -> tuple[str, ...]:
    """Joints whose springs hold a large share of the strain energy, largest first."""
    large = sorted(((share, name) for name, share in energy.joints.items() if share >= SOFT), reverse=True)
    return tuple(
        f"Joint {name} is soft: {100 * share:.0f} % of the strain energy is in its bond or bolts."
        for share, name in large[:LISTED]
    )


def hinge_sentences(joints: dict[str, JointFindings]) -> tuple[str, ...]:
    """Joints that act as hinges, left and right together; those that are meant to be hinges are named apart."""
    hinges: dict[bool, dict[str, float]] = {True: {}, False: {}}
    for joint in joints.values():
        if joint.fixity is not None and joint.fixity.share < HINGE:
            name = re.sub(r"\.(left|right)(?=/|\.\d+$|$)", "", joint.name)
            group = hinges[joint.kind == "hinged"]
            group[name] = min(joint.fixity.share, group.get(name, 1.0))
    found = []
    if hinges[False]:
        listed = sorted(hinges[False].items(), key=lambda item: item[1])
        words = ", ".join(f"{name} ({100 * share:.0f} %)" for name, share in listed)
        found.append(
            f"Joints that act as hinges, giving less than {100 * HINGE:.0f} % of the moment of a built-in edge: "
            f"{words}."
        )
    if hinges[True]:
        found.append(f"Hinges as written: {', '.join(sorted(hinges[True]))}.")
    return tuple(found)


def pull_tests(points: dict[str, HardPoint]) -> tuple[str, ...]:
    """Mounts of which a sample has to be pulled, and those that fail a nominal check."""
    names = dict.fromkeys(_one_side(p.name) for p in points.values() if p.pull_test)
    found = [f"Pull test needed before anything hangs on: {', '.join(names)}."] if names else []
    weak: dict[str, HardPoint] = {}
    for point in sorted(points.values(), key=lambda point: point.margin):
        if point.margin < 0:
            weak.setdefault(_one_side(point.name), point)
    if weak:
        words = ", ".join(f"{name} ({p.margin:+.2f}, {p.checks[0].what})" for name, p in weak.items())
        found.append(f"Hard points that fail a nominal check: {words}.")
    return tuple(found)


def _one_side(name: str) -> str:
    return name.removesuffix(".left").removesuffix(".right")


def worst_sentence(worst: Worst, sign: bool) -> str:
    """Where a margin is lowest, in one sentence; `sign` says whether the hand of the torque matters."""
    x, y, z = (1000 * value for value in worst.position)
    hand = f", torque {'+' if worst.sign > 0 else '-'}" if sign else ""
    face = "" if worst.face is None else f" at its {'tool side' if worst.face == 'bottom' else 'far side'}"
    margin = f"{worst.margin:+.2f}" if abs(worst.margin) >= 0.01 else f"{worst.margin:+.4f}"
    mode = "" if worst.mode == worst.kind else f" ({worst.mode})"
    return (
        f"Lowest margin of plies and cores {margin}: {worst.kind}{mode} of {worst.ply}{face} in {worst.panel} at "
        f"x {x:.0f}, y {y:.0f}, z {z:.0f} mm{hand}."
    )


def lowest_margin(case: LoadCaseFindings) -> Worst | None:
    """The lowest margin of all regions in a load case."""
    found = [region.worst for region in case.regions.values() if region.worst is not None]
    return min(found, key=lambda worst: worst.margin, default=None)


def case_sentences(case: LoadCaseFindings) -> tuple[str, ...]:
    """All sentences of a load case."""
    found = list(torsion_sentences(case.torsion)) if case.torsion is not None else []
    found += soft_sentences(case.energy)
    found += hinge_sentences(case.joints)
    found += pull_tests(case.hard_points)
    worst = lowest_margin(case)
    if worst is not None:
        found.append(worst_sentence(worst, case.torsion is not None))
    found += attached_sentences(case)
    found += frame_sentences(case.frames)
    return tuple(found)


def attached_sentences(case: LoadCaseFindings) -> tuple[str, ...]:
    """The joint or hard point with the lowest margin, and what is low there."""
    found = [one for one in envelope({case.name: case}) if one.what in ("joint", "hard point")]
    if not found:
        return ()
    margin = "more than +10" if found[0].margin > 10 else f"{found[0].margin:+.2f}"
    return (f"Lowest margin of joints and hard points {margin}: {found[0].what} {found[0].name}, {found[0].governs}.",)


def frame_sentences(frames: dict[str, FrameFindings]) -> tuple[str, ...]:
    """The tube or stiffener with the lowest margin, and what it is of."""
    if not frames:
        return ()
    frame = min(frames.values(), key=lambda each: each.worst.margin)
    tube = frame.worst
    what = "its stress" if tube.governs == "strength" else f"buckling under {1e-3 * abs(tube.normal):.3g} kN of push"
    margin = "more than +10" if tube.margin > 10 else f"{tube.margin:+.2f}"
    return (
        f"Lowest margin of tubes and stiffeners {margin}: {what}, {tube.label} of {frame.name} "
        f"({tube.size} mm, {tube.material}).",
    )
