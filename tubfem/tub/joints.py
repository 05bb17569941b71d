"""Joints of the case on the lines of the mesh: nodes parted, and springs that tie them."""

from collections.abc import Sequence
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
from tubfem.tub.model import JointTies
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
        corners = _corners(mesh, surface, at_edge, seam)
        angle = float(np.mean(corners))  # of a panel that stands on another a right angle
        standing = _standing_first(mesh, at_edge, seam, sides)
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


def _standing_first(
    mesh: TubMesh, at_edge: dict[tuple[int, int], list[int]], seam: Seam, sides: dict[str, Side]
) -> tuple[int, ...]:
    """The joint's panels: the one that ends at the line before the one that goes on.

    Of two alike the thicker stands: tabs on both its faces reach farther.
    """
    first = seam.edges[0].tolist()
    here = mesh.element_panel[at_edge[min(first), max(first)]].tolist()
    return tuple(
        sorted(seam.panels, key=lambda panel: (here.count(panel) > 1, -sides[mesh.panels[panel].region].thickness))
    )


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


def _corners(
    mesh: TubMesh, surface: Surface, at_edge: dict[tuple[int, int], list[int]], seam: Seam
) -> tuple[float, ...]:
    """Mean angle [rad] between the panels, to a degree; on either side of one that stands on another that goes on."""
    panel = mesh.element_panel
    first = seam.edges[0].tolist()
    here = panel[at_edge[min(first), max(first)]].tolist()
    goes_on = any(here.count(p) > 1 for p in seam.panels)
    along = mesh.points[seam.edges[:, 1]] - mesh.points[seam.edges[:, 0]]
    along = along / np.linalg.norm(along, axis=1)[:, None]
    middle = mesh.points[seam.edges].mean(1)
    into = surface.middle[seam.elements] - middle[:, None]
    into = into - np.einsum("eki,ei->ek", into, along)[..., None] * along[:, None]
    into = into / np.linalg.norm(into, axis=-1)[..., None]
    angle = np.arccos(np.clip((into[:, 0] * into[:, 1]).sum(-1), -1, 1)).mean()
    angle = float(np.radians(round(np.degrees(angle))))
    return (angle, np.pi - angle) if goes_on else (angle,)


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


def _filler_note(case: Case, kind: JointKind, corners: Sequence[float]) -> str:
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
