"""Joints of the case on the lines of the mesh: nodes parted, and springs that tie them."""

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.joining import JointKind
from tubfem.case.joint_table import Line, Part, kind_named, resolve_joints
from tubfem.case.schema import Case
from tubfem.geometry.mesh import JointLine, TubMesh
from tubfem.laminate.stack import make_stack
from tubfem.shell.model import Springs
from tubfem.tub.fillets import fillets, wedge_shear
from tubfem.tub.laps import laps
from tubfem.tub.line_stiffness import Side, line_springs, side_of
from tubfem.tub.model import Corners, JointTies
from tubfem.tub.plies import base_stacks
from tubfem.tub.split import Seam, SplitMesh, split_mesh
from tubfem.tub.surface import Surface, elements_at, surface_of
from tubfem.tub.tapers import tapers

ROWS = 4  # along, across, square, rotation


@dataclass(frozen=True, eq=False, slots=True)
class Joined:
    """The mesh with its joints.

    Attributes
    ----------
    split : nodes and connectivity with every body's own nodes
    springs : four rows for every pair of nodes that a joint ties
    ties : what the rows belong to
    kinds : "A/B" with sides -> continuous, tabbed, hinged, fastened or bonded, of every pair that meets
    cautions, notes : sentences for the report
    """

    split: SplitMesh
    springs: Springs
    ties: tuple[JointTies, ...]
    kinds: dict[str, str]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def join(case: Case, mesh: TubMesh) -> Joined:
    """Part the mesh along all joints that are not continuous and tie it again with their springs.

    Raises
    ------
    CaseError
        A line between regions has no joint, entries contradict each other, or name what does not meet.
    """
    resolved = resolve_joints(case, [_line(mesh, line) for line in mesh.joints])
    per_line, names = [], {}
    kinds: dict[str, str] = {}
    for line, found in zip(mesh.joints, resolved, strict=True):
        own = {}
        for i, j in combinations(range(len(line.panels)), 2):
            pair = line.panels[i], line.panels[j]
            what = kind_named(case, found.kinds[i, j]).kind
            own[pair] = None if what == "continuous" else found.kinds[i, j]
            names[pair] = found.names[i, j]
            if kinds.get(found.names[i, j], "continuous") == "continuous":
                kinds[found.names[i, j]] = what
        per_line.append(own)
    split = split_mesh(mesh, per_line)
    ties, springs, notes = _tie_seams(case, mesh, split, names)
    cautions = [
        f"{mesh.panels[cut].name} and {mesh.panels[whole].name} cross; the latter was taken to go through"
        for cut, whole in split.through
    ]
    return Joined(split, springs, ties, kinds, tuple(cautions), notes)


def _line(mesh: TubMesh, line: JointLine) -> Line:
    ends = mesh.points[line.edges]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    middle = ends.mean(1).T @ length / length.sum()
    panels = [mesh.panels[k] for k in line.panels]
    return Line(tuple(Part(p.name, p.plain, p.region) for p in panels), float(length.sum()), tuple(middle.tolist()))


def _tie_seams(
    case: Case, mesh: TubMesh, split: SplitMesh, names: dict[tuple[int, int], str]
) -> tuple[tuple[JointTies, ...], Springs, tuple[str, ...]]:
    surface, at_edge = surface_of(mesh), elements_at(mesh)
    stacks = base_stacks(case)
    sides = {
        region: side_of(make_stack([(layer.angle, layer.ply) for layer in stack])) for region, stack in stacks.items()
    }
    lapped = laps(case, mesh, stacks) + tapers(case, mesh) if split.seams else []
    ties, freedoms, coefficients, stiffness = [], [], [], []
    notes: dict[str, None] = {}
    rows = 0
    for seam in split.seams:
        seam = _first_named_first(mesh, seam, names[seam.panels])
        pairs, frames, lengths = _node_pairs(mesh, surface, seam)
        if not len(pairs):
            continue
        whole = _going_on(mesh, at_edge, seam)
        standing = _standing_first(mesh, seam, whole, sides)
        angle, corners = _angle(mesh, surface, seam, whole), _corners(mesh, surface, at_edge, seam, standing)
        a, b = (sides[mesh.panels[panel].region] for panel in standing)
        bridges = tuple((lap.bridge, lap.width) for lap in lapped if tuple(sorted(lap.panels)) in seam.pairs)
        kind = kind_named(case, seam.kind)
        per_length = line_springs(case, kind, a, b, angle=angle, bridges=bridges, corners=corners).values()
        notes[_note(mesh, seam, per_length) + _filler_note(case, kind, corners)] = None
        freedoms.append(_freedoms(pairs))
        coefficients.append(_coefficients(frames))
        stiffness.append((lengths[:, None] * per_length).ravel())
        numbers = rows + np.arange(ROWS * len(pairs)).reshape(-1, ROWS)
        rows += numbers.size
        name = names[tuple(sorted(seam.panels))]
        also = tuple(dict.fromkeys(names[pair] for pair in seam.pairs if names[pair] != name))
        springy = name, seam.panels, kind.kind, pairs, frames, lengths, numbers
        line = frozen(mesh.points[seam.edges])
        ties.append(JointTies(*springy, also, seam.kind, angle, bridges, standing, corners, line))
    springs = Springs(
        np.concatenate([np.zeros((0, 6), dtype=np.int64), *freedoms]),
        np.concatenate([np.zeros((0, 6)), *coefficients]),
        np.concatenate([np.zeros(0), *stiffness]),
    )
    return tuple(ties), springs, tuple(notes)


def _first_named_first(mesh: TubMesh, seam: Seam, name: str) -> Seam:
    """The seam with A the panel that the joint's name starts with."""
    if name.startswith(mesh.panels[seam.panels[0]].name + "/"):
        return seam
    return replace(seam, panels=seam.panels[::-1], a=seam.b, b=seam.a, elements=seam.elements[:, ::-1])


def _going_on(mesh: TubMesh, at_edge: dict[tuple[int, int], list[int]], seam: Seam) -> set[int]:
    """Which of the joint's panels go on beyond the line, along more than half of it."""
    length = np.linalg.norm(mesh.points[seam.edges[:, 1]] - mesh.points[seam.edges[:, 0]], axis=1)
    beyond = dict.fromkeys(seam.panels, 0.0)
    for edge, own in zip(seam.edges.tolist(), length.tolist(), strict=True):
        here = mesh.element_panel[at_edge[min(edge), max(edge)]].tolist()
        for panel in seam.panels:
            beyond[panel] += own * (here.count(panel) > 1)
    return {panel for panel, metres in beyond.items() if metres > 0.5 * length.sum()}


def _standing_first(mesh: TubMesh, seam: Seam, whole: set[int], sides: dict[str, Side]) -> tuple[int, ...]:
    """The joint's panels: the one that ends at the line before the one that goes on.

    Of two alike the thicker stands: tabs on both its faces reach farther.
    """
    return tuple(sorted(seam.panels, key=lambda panel: (panel in whole, -sides[mesh.panels[panel].region].thickness)))


def _node_pairs(mesh: TubMesh, surface: Surface, seam: Seam) -> tuple[Ints, Floats, Floats]:
    """Node pairs (m, 2) that come apart, frames (m, 3, 3) and tributary lengths (m,) [m]."""
    along = mesh.points[seam.edges[:, 1]] - mesh.points[seam.edges[:, 0]]
    length = np.linalg.norm(along, axis=1)
    normal = surface.normal[seam.elements[:, 0]]
    both = np.stack([seam.a.ravel(), seam.b.ravel()], -1)
    apart = both[:, 0] != both[:, 1]
    pairs, back = np.unique(both[apart], axis=0, return_inverse=True)
    back = back.ravel()

    def gathered(per_edge: Floats) -> Floats:
        per_end = np.repeat(per_edge, 2, axis=0)[apart]
        total = np.zeros((len(pairs), *per_edge.shape[1:]))
        np.add.at(total, back, per_end)
        return total

    e1 = gathered(along)
    e1 = e1 / np.linalg.norm(e1, axis=1)[:, None]
    e3 = gathered(normal * length[:, None])
    e3 = e3 - (e3 * e1).sum(1)[:, None] * e1
    e3 = e3 / np.linalg.norm(e3, axis=1)[:, None]
    frames = np.stack([e1, np.cross(e3, e1), e3], axis=1)
    return frozen(pairs), frozen(frames), frozen(gathered(0.5 * length))


def _angle(mesh: TubMesh, surface: Surface, seam: Seam, whole: set[int]) -> float:
    """Mean angle [rad] between the panels, to a degree; a quarter turn where one stands on another that goes on."""
    if whole:
        return np.pi / 2
    into = _into(mesh, surface, seam.edges[:, None], seam.elements)
    angle = np.arccos(np.clip((into[:, 0] * into[:, 1]).sum(-1), -1, 1)).mean()
    return float(np.radians(round(np.degrees(angle))))


def _corners(
    mesh: TubMesh, surface: Surface, at_edge: dict[tuple[int, int], list[int]], seam: Seam, standing: tuple[int, ...]
) -> Corners:
    """Angles [rad] from the panel that ends at the line to the nearest of the other body on either of its sides.

    Pi on a side where nothing of that body lies; edges with the same angles together, with their share of the line.
    """
    alone = [panel for panel in standing if all(panel in pair for pair in seam.pairs)]  # moulded to no other there
    other = {panel: {one + two - panel for one, two in seam.pairs if panel in (one, two)} for panel in seam.panels}
    rows, elements, others = [], [], []
    for row, (edge, both) in enumerate(zip(seam.edges.tolist(), seam.elements.tolist(), strict=True)):
        here = at_edge[min(edge), max(edge)]
        panels = mesh.element_panel[here].tolist()
        own = next((panel for panel in alone if panels.count(panel) == 1), (alone or standing)[0])
        there = [element for element, panel in zip(here, panels, strict=True) if panel in other[own]]
        rows += [row] * len(there)
        elements += [both[seam.panels.index(own)]] * len(there)
        others += there
    into, away = (_into(mesh, surface, seam.edges[rows], np.array(each)) for each in (elements, others))
    over = (surface.normal[elements] * away).sum(-1) > 0
    nearest = np.full((len(seam.edges), 2), np.pi)
    np.minimum.at(nearest, (rows, over.astype(int)), np.arccos(np.clip((into * away).sum(-1), -1, 1)))
    length = np.linalg.norm(mesh.points[seam.edges[:, 1]] - mesh.points[seam.edges[:, 0]], axis=1)
    shares: dict[tuple[float, ...], float] = defaultdict(float)
    for angles, share in zip(np.sort(np.degrees(nearest).round(3)).tolist(), length / length.sum(), strict=True):
        shares[tuple(np.radians(angles).tolist())] += float(share)
    return tuple(shares.items())


def _into(mesh: TubMesh, surface: Surface, edges: Ints, elements: Ints) -> Floats:
    """Unit vectors (..., 3) from edges (..., 2) into elements (...) that end there, square to the edge."""
    ends = mesh.points[edges]
    along = ends[..., 1, :] - ends[..., 0, :]
    along = along / np.linalg.norm(along, axis=-1, keepdims=True)
    into = surface.middle[elements] - ends.mean(-2)
    into = into - (into * along).sum(-1, keepdims=True) * along
    return into / np.linalg.norm(into, axis=-1, keepdims=True)


def _freedoms(pairs: Ints) -> Ints:
    """Freedoms (4 m, 6) that the rows of each pair read: three motions of A's node and of B's, then rotations."""
    component = np.arange(3)
    moved = np.concatenate([6 * pairs[:, [0]] + component, 6 * pairs[:, [1]] + component], axis=1)
    return np.stack([moved, moved, moved, moved + 3], axis=1).reshape(-1, 6)


def _coefficients(frames: Floats) -> Floats:
    """Coefficients (4 m, 6): motion of A's node less B's in the frame, and rotation about the line."""
    rows = np.concatenate([frames, frames[:, :1]], axis=1)
    return np.concatenate([rows, -rows], axis=-1).reshape(-1, 6)


def _note(mesh: TubMesh, seam: Seam, per_length: Floats) -> str:
    a, b = (mesh.panels[panel].plain for panel in seam.panels)
    along, across, square, turning = map(_three, per_length * np.array([1e-6, 1e-6, 1e-6, np.pi / 180]))
    return (
        f"joint {a}/{b}, {seam.kind}: {along} N/mm per mm along, {across} N/mm per mm across, "
        f"{square} N/mm per mm square, {turning} N·mm/mm per degree"
    )


def _filler_note(case: Case, kind: JointKind, corners: Corners) -> str:
    """What a named filler adds to that, or that it has no place."""
    if kind.filler is None:
        return ""
    if not any(fillets(kind, corners)):
        return f"; its panels lie in line, so there is no fillet and no {kind.filler} is counted"
    if kind.stiffness is not None and kind.stiffness.along is not None:
        return ""
    return f"; {_three(1e-6 * wedge_shear(case, kind, corners))} N/mm per mm of that along by {kind.filler}"


def _three(value: float) -> str:
    """Three digits, without an exponent."""
    return f"{float(f'{value:.3g}'):g}"
