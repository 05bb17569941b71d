"""Bond shear, peel, tab plies and bolts of every joint that is not moulded: docs/theory.md, "Joint findings"."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.findings.allowables import Allowables
from tubfem.findings.hinges import fixity
from tubfem.findings.holding import Cured, Demand, LineLoads, demands, means_of, packed
from tubfem.findings.joint_results import JointStrength
from tubfem.findings.results import JointFindings
from tubfem.findings.strains import Elements
from tubfem.laminate.stack import make_stack
from tubfem.tub.line_stiffness import Side, side_of
from tubfem.tub.model import JointTies, TubModel
from tubfem.tub.plies import entry_layers


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """How the forces of one line's springs become the loads that it is judged by.

    `mean` (m, m) [1/m] times the forces of all nodes is the load per length over `length` [m], every node counting by
    its tributary length; `over` as in `LineLoads`.
    """

    ties: JointTies
    length: float
    mean: Floats
    over: Floats

    def loads(self, forces: Floats) -> LineLoads:
        """Loads under the forces (rows,) of all springs [N, N m]."""
        return LineLoads(*(self.mean @ forces[self.ties.rows]).T, self.over)


def lines_of(model: TubModel, elements: Elements) -> dict[str, list[Line]]:
    """The lines of every joint that a case speaks of, by its name with sides; others have springs alone."""
    parts: dict[str, list[JointTies]] = {}
    for ties in model.joints:
        if ties.means:
            parts.setdefault(ties.name, []).append(ties)
    points = model.states[0].shell.points
    found = {}
    for name, ties in parts.items():
        kind, normals = kind_named(model.case, ties[0].means), _normals(model, elements, ties)
        length = kind.width or kind.pitch or max((w for part in ties for _, w in part.bridges), default=0.0)
        found[name] = []
        for part in ties:
            at = points[part.pairs[:, 0]]
            near = np.linalg.norm(at[:, None] - at[None], axis=-1) <= 0.5 * length + 1e-9
            over = np.einsum("mkx,mx->mk", part.frames[:, 1:], normals[part.pairs[:, 1]])
            found[name].append(Line(part, length, near / (near @ part.lengths)[:, None], over))
    return found


def judged(
    model: TubModel, elements: Elements, joints: dict[str, JointFindings], forces: Floats, allowables: Allowables
) -> dict[str, JointFindings]:
    """The joints with their strength, margin and fixity; continuous ones as they are.

    Parameters
    ----------
    forces
        (rows,) of all springs at the load that margins are taken at [N, N m].
    """
    sides: dict[str, Side] = {}
    found = dict(joints)
    lines = lines_of(model, elements)
    for name in dict.fromkeys(ties.name for ties in model.joints):
        strength = joint_strength(model, lines.get(name, ()), forces, sides, allowables)
        margin = None if strength is None else min(strength.margins.values())
        fixed = fixity(model, elements, [ties for ties in model.joints if ties.name == name])
        found[name] = replace(found[name], strength=strength, margin=margin, fixity=fixed)
    return found


def joint_strength(
    model: TubModel, lines: Sequence[Line], forces: Floats, sides: dict[str, Side], allowables: Allowables
) -> JointStrength | None:
    """Strength of one joint; None if nothing of it can be judged (hinges).

    Parameters
    ----------
    lines
        All of the joint.
    forces
        (rows,) of all springs [N, N m].
    sides
        What a joint sees of each region's layup; regions that are not there yet are put there.
    """
    asked = []
    for line in lines:
        regions, both = line_sides(model, line, sides, partial(region_side, model.case))
        kind = kind_named(model.case, line.ties.means)
        means = packed(means_of(model.case, kind, line.ties, regions, both, allowables))
        asked += demands(means, line.loads(forces), allowables)
    return _strength(asked, lines[0].length) if asked else None


def line_sides(
    model: TubModel, line: Line, sides: dict[str, Side], seen: Callable[[str], Side]
) -> tuple[tuple[str, str], tuple[Side, Side]]:
    """Regions of a line's A and B, and what a joint sees of them: from `sides`, or `seen` and put there."""
    a, b = (model.mesh.panels[panel].region for panel in line.ties.panels)
    for region in (a, b):
        if region not in sides:
            sides[region] = seen(region)
    return (a, b), (sides[a], sides[b])


def region_side(case: Case, region: str, cured: Cured = tuple) -> Side:
    """What a joint sees of a region's layup; `cured` as in `means_of`."""
    layup = case.layups[region]
    layers = cured(entry_layers(case, layup.stack, layup=layup, label=region))
    return side_of(make_stack([(layer.angle, layer.ply) for layer in layers]))


def _strength(asked: Sequence[Demand], length: float) -> JointStrength:
    """The greatest demands and lowest margins of all that holds a joint."""
    margins: dict[str, float] = {}
    told: dict[str, float] = {}
    for each in asked:
        for kind, use in each.uses.items():
            margins[kind] = min(_margin(use), margins.get(kind, np.inf))
        for name, value in each.told.items():
            told[name] = max(float(value.max()), told.get(name, 0.0))
    peel = min((_margin(each.peel) for each in asked if each.peel is not None), default=None)
    return JointStrength(length, margins, **told, peel=peel)


def _margin(use: Floats) -> float:
    greatest = float(use.max())
    return 1 / greatest - 1 if greatest > 0 else np.inf


def _normals(model: TubModel, elements: Elements, ties: list[JointTies]) -> Floats:
    """Unit normals (P, 3) of B's surface at the shell nodes of its elements."""
    wanted = np.zeros(len(model.mesh.panels), dtype=bool)
    wanted[[part.panels[1] for part in ties]] = True
    total = np.zeros((len(model.mesh_node), 3))
    first = 0
    for block in model.states[0].shell.blocks:
        mine = np.flatnonzero(wanted[elements.panel[first : first + len(block.conn)]])
        for corner in block.conn[mine].T:
            np.add.at(total, corner, elements.normal[first + mine])
        first += len(block.conn)
    return total / np.maximum(np.sqrt((total * total).sum(axis=1)), 1e-12)[:, None]
