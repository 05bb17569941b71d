"""Margins of joints over many draws of a tub: line loads of the small model, uses by what holds the line as drawn.

As with elements, the nodes that are most used are followed, and what a parameter does to a use at the same load is a
parabola of its logarithm (S.5).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import exp

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.joint_table import kind_named
from tubfem.findings.holding import LineLoads, Means, demands, means_of, packed, some_of
from tubfem.findings.joint_strength import line_sides, region_side
from tubfem.findings.strains import describe_elements
from tubfem.shell.model import ShellModel
from tubfem.study.basis import spring_root
from tubfem.study.joint_margins import JointLines, joint_lines, line_loads, uses_of
from tubfem.study.scatter import BONDS, CORE, FRACTION, JOINTS, MOUNTS, Scatter
from tubfem.study.scattered import Drawn, Source, drawn_layers
from tubfem.tub.line_stiffness import Side
from tubfem.tub.model import LoadCaseSetup

EACH = 3  # nodes of every joint and kind
USED = 1e-6  # a smaller use is rounding


@dataclass(frozen=True, eq=False, slots=True)
class FollowedJoints:
    """The nodes (m) of joints whose uses are followed.

    Attributes
    ----------
    names : joints without their sides
    own : (m, 4, n) averaged line loads in the basis, at the torque that margins are taken at
    over : (m, 2) as in `LineLoads`
    tie : (m,) the parameter that their springs' stiffness is, -1 where it is certain; `sd` (m,) of its logarithm
    means : what holds them in the tub as it is
    joint : (u,) of every use, `use` (2, p, u) of its logarithm with z and z²/2
    """

    names: tuple[str, ...]
    own: Floats
    over: Floats
    tie: Ints
    sd: Floats
    means: tuple[Means, ...]
    lines: JointLines
    joint: Ints
    use: Floats


def follow_joints(
    source: Source, shell: ShellModel, setup: LoadCaseSetup, V: Floats, load: Floats, scatter: Scatter, step: float
) -> FollowedJoints:
    """The most used nodes of every joint and kind.

    Parameters
    ----------
    V : (d, n) the basis; `load` (n,) the unchanged tub's amounts
    step : standard deviations to either side that each parameter is tried at
    """
    model = source.model
    lines = joint_lines(model, setup, describe_elements(model))
    forces = node_forces(source, shell, V)
    flat = forces.reshape(len(forces), 4 * V.shape[1])
    every = lines.scale * (lines.mean @ flat).reshape(forces.shape)
    nodes = _most_used(lines, LineLoads(*(every @ load).T, lines.over))
    own, over = every[nodes], lines.over[nodes]
    loads = LineLoads(*(own @ load).T, over)
    number = {(p.key, p.name): k for k, p in enumerate(scatter.parameters)}
    names = [lines.lines[lines.line[node]].ties.means for node in nodes.tolist()]
    tie = np.array([number.get((JOINTS, name), -1) for name in names], dtype=np.int64)
    sd = np.array([scatter.parameters[k].sd if k >= 0 else 0.0 for k in tie.tolist()])
    means = tuple(some_of(each, nodes) for each in lines.means)
    base = _flat(means, loads, lines)
    plain = [_line_means(source, lines, k, {}, {}) for k in range(len(lines.lines))]
    slopes = np.zeros((2, len(scatter.parameters), len(base)))
    for p, parameter in enumerate(scatter.parameters):
        if parameter.key in (JOINTS, MOUNTS, CORE):
            continue
        logs = []
        for z in (step, -step):
            held = drawn_means(source, lines, {(parameter.key, parameter.name): z * parameter.sd}, plain)
            logs.append(logarithm(_flat([some_of(each, nodes) for each in held], loads, lines), base))
        slopes[0, p] = (logs[0] - logs[1]) / (2 * step)
        slopes[1, p] = (logs[0] + logs[1]) / step**2
    joint = [
        lines.joint[lines.line[nodes[demand.rows]]]
        for demand in demands(means, loads, lines.allowables)
        for _ in demand.uses
    ]
    joint = np.concatenate([np.zeros(0, dtype=np.int64), *joint])
    return FollowedJoints(lines.names, own, over, tie, sd, means, lines, joint, slopes)


def uses_of_joints(followed: FollowedJoints, Z: Floats, amounts: Floats) -> Floats:
    """Greatest use (s, joints) of draws Z (s, p), whose motion is `amounts` (s, n) of the basis."""
    loads = np.einsum("mcn,sn->csm", followed.own, amounts, optimize=True)
    loads *= np.where(followed.tie >= 0, np.exp(Z[:, followed.tie] * followed.sd), 1.0)
    uses = _flat(followed.means, LineLoads(*loads, followed.over), followed.lines)
    uses = uses * np.exp(Z @ followed.use[0] + Z**2 / 2 @ followed.use[1])
    by_joint = [uses[:, followed.joint == j].max(axis=1, initial=0.0) for j in range(len(followed.names))]
    return np.array(by_joint).reshape(-1, len(Z)).T


def uses_in_full(source: Source, lines: JointLines, forces: Floats, drawn: Drawn) -> dict[str, float]:
    """Greatest use of every joint of a draw under the forces (m, 4) of its nodes' springs, by its name."""
    use = uses_of(lines, drawn_means(source, lines, drawn), line_loads(lines, forces)).max(axis=1, initial=0.0)
    return {name: float(use[lines.joint == j].max()) for j, name in enumerate(lines.names)}


def node_forces(source: Source, shell: ShellModel, V: Floats) -> Floats:
    """Forces (m, 4, n) of the springs of all joints' nodes in motions V (d, n)."""
    rows = np.concatenate([np.zeros(0, dtype=np.int64), *(ties.rows.ravel() for ties in source.model.joints)])
    stiffness = np.concatenate([np.zeros(0), *(springs.stiffness for springs in shell.springs)])
    forces = np.sqrt(stiffness)[rows, None] * (spring_root(shell)[rows] @ V)
    return forces.reshape(-1, 4, V.shape[1])


def drawn_means(
    source: Source, lines: JointLines, drawn: Drawn, plain: Sequence[Sequence[Means]] | None = None
) -> list[Means]:
    """What holds all lines as drawn; the fibre fraction of tabs and lapped plies is certain.

    Parameters
    ----------
    plain : what holds each line in the tub as it is: where nothing drawn touches a line that is it
    """
    sides: dict[str, Side] = {}
    found: list[Means] = []
    for k in range(len(lines.lines)):
        kept = plain is not None and not _touches(source, lines, k, drawn)
        found += plain[k] if kept else _line_means(source, lines, k, sides, drawn)
    return packed(found)


def _touches(source: Source, lines: JointLines, k: int, drawn: Drawn) -> bool:
    ties = lines.lines[k].ties
    regions = {source.model.mesh.panels[panel].region for panel in ties.panels}
    own = {FRACTION: regions, BONDS: {ties.means}}
    return any(key not in own or name in own[key] for key, name in drawn)


def _line_means(source: Source, lines: JointLines, k: int, sides: dict[str, Side], drawn: Drawn) -> list[Means]:
    case, line = source.model.case, lines.lines[k]

    def seen(region: str) -> Side:
        return region_side(case, region, partial(drawn_layers, source, region, drawn))

    regions, both = line_sides(source.model, line, sides, seen)
    return means_of(
        case,
        kind_named(case, line.ties.means),
        line.ties,
        regions,
        both,
        lines.allowables,
        int(lines.first[k]),
        cured=partial(drawn_layers, source, "", drawn),
        strength=exp(drawn.get((BONDS, line.ties.means), 0.0)),
    )


def _most_used(lines: JointLines, loads: LineLoads) -> Ints:
    chosen: set[int] = set()
    for demand in demands(lines.means, loads, lines.allowables):
        joint = lines.joint[lines.line[demand.rows]]
        for use in demand.uses.values():
            for j in np.unique(joint):
                own = np.flatnonzero(joint == j)
                chosen.update(demand.rows[own[np.argsort(-use[own], kind="stable")[:EACH]]].tolist())
    return np.array(sorted(chosen), dtype=np.int64)


def _flat(means: Sequence[Means], loads: LineLoads, lines: JointLines) -> Floats:
    """Uses (.., u) of all kinds of all that holds the nodes."""
    uses = [use for demand in demands(means, loads, lines.allowables) for use in demand.uses.values()]
    return np.concatenate([np.zeros((*loads.along.shape[:-1], 0)), *uses], axis=-1)


def logarithm(now: Floats, before: Floats) -> Floats:
    """Logarithm of uses over what they were; none where either is rounding."""
    used = (now > USED) & (before > USED)
    return np.log(np.where(used, now, 1.0) / np.where(used, before, 1.0))
