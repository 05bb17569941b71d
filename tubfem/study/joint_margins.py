"""Margins of joints in the reduced model: line loads of its motion, judged by what holds the line, as a run judges it.

What is laid is counted: other tab plies, and thicker panels beside bolts and bonds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.findings.allowables import Allowables, allowables
from tubfem.findings.holding import KINDS, LineLoads, Means, demands, means_of, packed
from tubfem.findings.joint_strength import Line, line_sides, lines_of, region_side
from tubfem.findings.strains import Elements
from tubfem.tub.line_stiffness import Side
from tubfem.tub.model import LoadCaseSetup, TubModel, plain_joint


@dataclass(frozen=True, eq=False, slots=True)
class JointLines:
    """Every line of a tub's joints that can be judged (l), and its nodes (m), those of all ties in the model's order.

    Attributes
    ----------
    lines : (l), `first` (l,) the node that each begins with
    names : joints without their sides, and which of them each line is (l,)
    mean : (m, m) [1/m] times the forces of the nodes' springs is the load per length
    over : (m, 2) as in `LineLoads`
    scale : what the load case is times to get what margins are taken at
    means : what holds them in the unchanged tub
    line : (m,) of every node, -1 for none
    """

    model: TubModel
    lines: tuple[Line, ...]
    first: Ints
    names: tuple[str, ...]
    joint: Ints
    mean: sparse.csr_array
    over: Floats
    scale: float
    means: tuple[Means, ...]
    line: Ints
    allowables: Allowables


def joint_lines(model: TubModel, setup: LoadCaseSetup, elements: Elements) -> JointLines:
    """All lines under one twist."""
    known = {id(line.ties): line for own in lines_of(model, elements).values() for line in own}
    factors, asked = allowables(model.case.margins), model.case.margins.asked_torque
    lines, first, means, blocks, over = [], [], [], [], []
    node, of_node = 0, []
    sides: dict[str, Side] = {}
    for ties in model.joints:
        count, line = len(ties.pairs), known.get(id(ties))
        held = [] if line is None else _means(model.case, model, line, sides, factors, node)
        of_node += [len(lines) if held else -1] * count
        blocks.append(line.mean if held else np.zeros((count, count)))
        over.append(line.over if held else np.zeros((count, 2)))
        if held:
            lines.append(line)
            first.append(node)
            means += held
        node += count
    plain = [plain_joint(line.ties.name) for line in lines]
    names = tuple(dict.fromkeys(plain))
    return JointLines(
        model=model,
        lines=tuple(lines),
        first=np.array(first, dtype=np.int64),
        names=names,
        joint=np.array([names.index(name) for name in plain], dtype=np.int64),
        mean=sparse.csr_array(sparse.block_diag(blocks)) if blocks else sparse.csr_array((0, 0)),
        over=np.concatenate([np.zeros((0, 2)), *over]),
        scale=1.0 if asked is None else asked / setup.torsion.torque,
        means=tuple(packed(means)),
        line=np.array(of_node, dtype=np.int64),
        allowables=factors,
    )


def joint_margins(lines: JointLines, forces: Floats, laid: Case) -> dict[str, tuple[float, str]]:
    """Margin of every joint, by its name without sides, and what it is of.

    Parameters
    ----------
    forces : (m, 4) of the nodes' springs [N, N·m], as they are after the change
    laid : the case with all that was laid in regions and tabs
    """
    use = joint_uses(lines, forces, laid)
    greatest, kind = use.max(axis=1), use.argmax(axis=1)
    found: dict[str, tuple[float, str]] = {}
    for at in np.argsort(-greatest, kind="stable").tolist():
        name = lines.names[lines.joint[at]]
        if name not in found and greatest[at] > 0:
            found[name] = float(1 / greatest[at] - 1), KINDS[kind[at]]
    return found


def joint_uses(lines: JointLines, forces: Floats, laid: Case) -> Floats:
    """Greatest use (l, kinds) of every line by kind, see `joint_margins`."""
    loads = line_loads(lines, forces)
    use = uses_of(lines, lines.means, loads)
    touched = [number for number, line in enumerate(lines.lines) if _touched(lines.model, line, laid)]
    if touched:
        sides: dict[str, Side] = {}
        means = [
            each
            for k in touched
            for each in _means(laid, lines.model, lines.lines[k], sides, lines.allowables, int(lines.first[k]))
        ]
        use[touched] = uses_of(lines, packed(means), loads)[touched]
    return use


def line_loads(lines: JointLines, forces: Floats) -> LineLoads:
    """Averaged loads of all nodes under the forces (m, 4) of their springs, at the load that margins are taken at."""
    return LineLoads(*(lines.scale * (lines.mean @ forces)).T, lines.over)


def uses_of(lines: JointLines, means: Sequence[Means], loads: LineLoads) -> Floats:
    """Greatest use (l, kinds) of what holds the lines."""
    use = np.zeros((len(lines.lines), len(KINDS)))
    for demand in demands(means, loads, lines.allowables):
        for kind, own in demand.uses.items():
            np.maximum.at(use[:, KINDS.index(kind)], lines.line[demand.rows], own)
    return use


def _means(
    case: Case, model: TubModel, line: Line, sides: dict[str, Side], factors: Allowables, first: int
) -> list[Means]:
    regions, both = line_sides(model, line, sides, partial(region_side, case))
    return means_of(case, kind_named(case, _kind_name(case, model, line)), line.ties, regions, both, factors, first)


def _kind_name(case: Case, model: TubModel, line: Line) -> str:
    """The kind of a line: one of its own if the joint's tab was changed by its name."""
    name = plain_joint(line.ties.name)
    now = case.joints.get(name)
    return line.ties.means if now is None or now == model.case.joints.get(name) else now


def _touched(model: TubModel, line: Line, laid: Case) -> bool:
    """Whether what holds a line is other than in the model: `laid` shares with its case what was not changed."""
    case, name = model.case, _kind_name(laid, model, line)
    if name != line.ties.means or kind_named(laid, name) is not kind_named(case, name):
        return True
    regions = {model.mesh.panels[panel].region for panel in line.ties.panels}
    return any(laid.layups[region] is not case.layups[region] for region in regions)
