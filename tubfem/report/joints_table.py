"""Joints, hinges, hard points and shares of the twist on the terminal."""

import re
from collections.abc import Iterable

from rich.console import Console

from tubfem.findings.results import JointFindings, LoadCaseFindings
from tubfem.findings.twist_shares import twist_shares
from tubfem.report.numbers import margin, percent, three
from tubfem.report.terminal import put, say, table_of

JOINTS_SHOWN, SHARES_SHOWN, CHECKS_SHOWN = 12, 14, 3
NAME_ROOM = 24  # of a joint beside its strength, 80 wide: a longer name goes on below
SIDES = r"\.(left|right)(?=/|\.\d+$|$)"  # of the parts of a joint's name


def print_joints(console: Console, load_case: LoadCaseFindings, mirrored: bool) -> None:
    """Joints on springs, left and right together: peaks of the worse side, summed lengths and energies."""
    tied = {key: both for key, both in _pairs(load_case, mirrored).items() if key[1] != "continuous"}
    ordered = sorted(tied.items(), key=lambda item: -sum(joint.twist_share or 0.0 for joint in item[1]))
    table = table_of("joint", "m", "shear", "across", "peel", "moment", "energy", right=range(1, 7))
    for (name, kind), both in ordered[:JOINTS_SHOWN]:
        flow, across = _peak(joint.peak_shear_flow for joint in both), _peak(joint.peak_normal for joint in both)
        peel, moment = _peak(joint.peak_peel for joint in both), _peak(joint.peak_moment for joint in both)
        shown = (*(_per_mm(load) for load in (flow, across, peel)), "-" if moment is None else three(moment))
        share = percent(sum(joint.twist_share or 0.0 for joint in both))
        length = f"{sum(joint.length for joint in both):.2f}"
        table.add_row(f"{name} ({kind})", length, *shown, share)
    put(console, "Joints on line springs, both sides together: peaks in N/mm and N·mm/mm, share of energy", table)
    if len(ordered) > JOINTS_SHOWN:
        say(console, f"and {len(ordered) - JOINTS_SHOWN} more in joints.csv")
    moulded = [joint for joint in load_case.joints.values() if joint.kind == "continuous"]
    if moulded:
        metres = sum(joint.length for joint in moulded)
        say(console, f"{len(moulded)} lines between regions, {metres:.1f} m, are moulded through.")
    _strengths(console, tied)


def _strengths(console: Console, tied: dict[tuple[str, str], list[JointFindings]]) -> None:
    """Margins of bonds, tab plies and bolts, lowest first; width a leg needs; how near to built in."""
    rows = []
    for (name, _), both in tied.items():
        judged = [joint for joint in both if joint.strength is not None and joint.margin is not None]
        if judged:
            rows.append((name, min(judged, key=lambda joint: joint.margin), judged))
    rows.sort(key=lambda row: row[1].margin)
    table = table_of("joint", "margin", "in", "peel", "leg, mm", "fixity", right=(1, 3, 4, 5))
    for name, worst, both in rows[:JOINTS_SHOWN]:
        strength = worst.strength
        kind = min(strength.margins, key=strength.margins.get)
        peel = min((j.strength.peel for j in both if j.strength.peel is not None), default=None)
        leg = "-"
        if strength.width is not None and strength.width_needed is not None:
            leg = f"{1e3 * strength.width:.0f}, needs {1e3 * strength.width_needed:.0f}"
        fixity = min((joint.fixity.share for joint in both if joint.fixity is not None), default=None)
        table.add_row(
            name if len(name) <= NAME_ROOM else name.replace("/", "/\n  ", 1),
            margin(worst.margin),
            kind,
            "-" if peel is None else margin(peel),
            leg,
            "-" if fixity is None else percent(fixity),
        )
    put(console, "Strength of the joints: bonds, tab plies, bolts; peel beside, by its elastic peak", table)
    if rows:
        say(
            console,
            "Needs: width of a leg for the plain design shear; shops use 50 mm and more. Peel: the trade counts on "
            "none at all, so a negative margin asks for a second tab, a wider fillet or bolts. Fixity: moment of a "
            "built-in edge that the joint gives.",
        )


def print_connections(console: Console, load_case: LoadCaseFindings) -> None:
    """What each path of every connection carries, and the turning stiffness with all of them and without each."""
    for connection in load_case.connections.values():
        axis = max(range(3), key=lambda k: abs(connection.moment[k]))
        table = table_of("path", "m", "force", "moment", f"without it, about {'xyz'[axis]}", right=(1, 2, 3, 4))
        for path in connection.paths:
            shares = ("-" if s is None else percent(s) for s in (path.force_share, path.moment_share))
            table.add_row(f"{path.joint} ({path.kind})", three(path.length), *shares, _stiffness(path.without, axis))
        force, moment = (
            three(float((v @ v) ** 0.5)) if any(getattr(path, share) is not None for path in connection.paths) else "no"
            for v, share in ((connection.force, "force_share"), (connection.moment, "moment_share"))
        )
        put(console, f"Connection {connection.name}, load case {load_case.name}: {force} N, {moment} N·m", table)
        whole = _stiffness(connection.turning, axis)
        say(console, f"All together {whole} N·m/rad about {'xyz'[axis]}, of the joints alone, both parts rigid.")


def _stiffness(turning: tuple[float, float, float] | None, axis: int) -> str:
    return "moulded" if turning is None else three(turning[axis])


def print_hard_points(console: Console, load_case: LoadCaseFindings, mirrored: bool) -> None:
    """Mounts with their loads and their lowest checks, both sides together."""
    pairs: dict[str, list] = {}
    for point in load_case.hard_points.values():
        pairs.setdefault(re.sub(SIDES, "", point.name) if mirrored else point.name, []).append(point)
    table = table_of("mount", "shear, N", "axial, N", "tip, N·m", "margin", "lowest checks", right=(1, 2, 3, 4))
    tests: dict[str, list[str]] = {}
    for name, both in sorted(pairs.items(), key=lambda item: min(point.margin for point in item[1])):
        worst = min(both, key=lambda point: point.margin)
        loads = (three(max(abs(getattr(p, what)) for p in both)) for what in ("shear", "axial", "tipping"))
        lowest = "; ".join(f"{check.what} {margin(check.margin)}" for check in worst.checks[:CHECKS_SHOWN])
        table.add_row(name, *loads, margin(worst.margin), f"{worst.construction}: {lowest}")
        if worst.pull_test:
            tests.setdefault(worst.pull_test, []).append(name)
    put(console, f"Hard points, load case {load_case.name}: nominal checks, bolts' own tension not counted", table)
    for why, names in tests.items():
        say(console, f"Pull test needed: {', '.join(names)}: {why}.")


def print_twist_shares(console: Console, load_case: LoadCaseFindings, mirrored: bool) -> None:
    """What the twist is made of, largest first, left and right together; all of it is 100 %."""
    shares: dict[tuple[str, str], float] = {}
    for (kind, name), share in twist_shares(load_case.energy).items():
        plain = re.sub(SIDES, "", name) if mirrored else name
        shares[kind, plain] = shares.get((kind, plain), 0.0) + share
    ordered = sorted(shares.items(), key=lambda item: -item[1])
    table = table_of("part", "", "share", right=(2,))
    for (kind, name), share in ordered[:SHARES_SHOWN]:
        table.add_row(name, kind, percent(share))
    rest = ordered[SHARES_SHOWN:]
    if rest:
        table.add_row(f"{len(rest)} more", "", percent(sum(share for _, share in rest)))
    table.add_row("together", "", percent(sum(shares.values())))
    what = "What the twist is made of" if load_case.torsion is not None else "Where the strain energy is"
    put(console, f"{what}, load case {load_case.name} (from strain energy)", table)


def _pairs(load_case: LoadCaseFindings, mirrored: bool) -> dict[tuple[str, str], list[JointFindings]]:
    pairs: dict[tuple[str, str], list[JointFindings]] = {}
    for joint in load_case.joints.values():
        plain = re.sub(SIDES, "", joint.name) if mirrored else joint.name
        pairs.setdefault((plain, joint.kind), []).append(joint)
    return pairs


def _peak(values: Iterable[float | None]) -> float | None:
    return max((value for value in values if value is not None), key=abs, default=None)


def _per_mm(value: float | None) -> str:
    return "-" if value is None else three(1e-3 * value)
