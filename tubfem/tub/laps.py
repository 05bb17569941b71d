"""Plies that run on past a joint: where they lie on the neighbour, and at what angle to its zero."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.schema import Case
from tubfem.case.stuff import StackEntry
from tubfem.errors import CaseError
from tubfem.geometry.mesh import TubMesh
from tubfem.geometry.topology import chains
from tubfem.tub.cover import Field, one_side, strip
from tubfem.tub.plies import Layer, entry_numbers
from tubfem.tub.surface import Surface, elements_at, surface_of

AtEdge = dict[tuple[int, int], list[int]]


@dataclass(frozen=True, eq=False, slots=True)
class Cover:
    """Layers that lie on a part of one panel, or a core that is another one there.

    `layers` have their true angles about the element normal. `over` is the number of the base entry they lie on, None
    over all that is there; `core` names a material that takes the place of the core.
    """

    label: str
    panel: int
    field: Field
    layers: tuple[Layer, ...]
    over: int | None = None
    core: str | None = None


@dataclass(frozen=True, eq=False, slots=True)
class MeetingLine:
    """Where two panels meet: edges (m, 2) and the elements (m,) of the source and of the target beside each.

    `through` says that the target goes on beyond the line; its elements are then those on the far side of the source.
    """

    edges: Ints
    source: Ints
    target: Ints
    through: bool


@dataclass(frozen=True, eq=False, slots=True)
class Lapped:
    """One ply (or several of one width) that runs on from a panel over a neighbour.

    `layers` have their angles about the neighbour's normal, `bridge` the same layers theirs from the joint line.
    """

    panels: tuple[int, int]
    line: MeetingLine
    layers: tuple[Layer, ...]
    bridge: tuple[Layer, ...]
    width: float
    over: int | None
    label: str


def laps(case: Case, mesh: TubMesh, stacks: dict[str, tuple[Layer, ...]]) -> list[Lapped]:
    """Every ply that laps from a panel onto a neighbour, in the order of the case's layups.

    A ply keeps its angle to the joint line as it turns the corner. Each ply of an entry ends `stagger` short of the
    one before.

    Raises
    ------
    CaseError
        A region laps onto one that it does not meet.
    """
    found: list[Lapped] = []
    surface, at_edge = surface_of(mesh), elements_at(mesh)
    faults = []
    for region, layup in case.layups.items():
        for position, (number, entry) in enumerate(zip(entry_numbers(layup.stack), layup.stack, strict=True)):
            layers = [layer for layer in stacks[region] if layer.entry == number]
            for target, lap in entry.laps.items():
                lines = _lines(mesh, surface, at_edge, region, target)
                if not lines:
                    meets = ", ".join(sorted(_neighbours(mesh, region))) or "nothing"
                    text = f'laps onto "{target}", which {region} does not meet; it meets: {meets}'
                    faults.append(case.message(("layups", region, "stack", position), text))
                for panels, line in lines.items():
                    names = [mesh.panels[panel].name for panel in panels]
                    label = f"lap of {names[0]} {number} {entry.name} on {names[1]}"
                    for chosen, width in _widths(layers, entry, lap.width):
                        laid, bridge = run_on(mesh, surface, panels[0], line, chosen, "lap")
                        found.append(Lapped(panels, line, laid, bridge, width, lap.over, label))
    if faults:
        raise CaseError(faults)
    return found


def run_on(
    mesh: TubMesh, surface: Surface, source: int, line: MeetingLine, layers: Sequence[Layer], word: str
) -> tuple[tuple[Layer, ...], tuple[Layer, ...]]:
    """Layers of a panel as they lie beyond a line on its neighbour, and with their angles from the line."""
    mirror = -1.0 if mesh.panels[source].mirrored else 1.0
    laid, bridge = (
        tuple(
            replace(layer, angle=sign * mirror * layer.angle + turn, text=f"{word} of {layer.text}") for layer in layers
        )
        for sign, turn in unfold(mesh, surface, line)
    )
    return laid, bridge


def _widths(layers: list[Layer], entry: StackEntry, width: float) -> list[tuple[list[Layer], float]]:
    """Layers that end at the same width [m], and that width."""
    if entry.stagger == 0.0:
        return [(layers, width)]
    each = len(layers) // entry.count
    plies = [(layers[ply * each : (ply + 1) * each], width - ply * entry.stagger) for ply in range(entry.count)]
    return [(ply, width) for ply, width in plies if width > 0]


def lap_covers(mesh: TubMesh, lapped: Sequence[Lapped]) -> list[Cover]:
    """A cover for every lap.

    On a neighbour that goes through, it lies on the side that the source's far face looks to, where it is laid from.
    """
    surface = surface_of(mesh)
    return [
        Cover(lap.label, lap.panels[1], strip_beside(mesh, surface, lap.line, lap.width), lap.layers, lap.over)
        for lap in lapped
    ]


def meeting_line(
    mesh: TubMesh, surface: Surface, at_edge: AtEdge, edges: Ints, source: int, target: int
) -> MeetingLine:
    """The line along edges (m, 2) on which two panels meet, seen from the source."""
    own, others, through = [], [], False
    panel = mesh.element_panel
    for first, second in edges.tolist():
        here = at_edge[min(first, second), max(first, second)]
        mine = next(e for e in here if panel[e] == source)
        theirs = [e for e in here if panel[e] == target]
        through |= len(theirs) > 1
        middle = 0.5 * (mesh.points[first] + mesh.points[second])
        own.append(mine)
        others.append(max(theirs, key=lambda e: (surface.middle[e] - middle) @ surface.normal[mine]))
    return MeetingLine(edges, np.array(own), np.array(others), through)


def unfold(mesh: TubMesh, surface: Surface, line: MeetingLine) -> tuple[tuple[float, float], tuple[float, float]]:
    """(sign, turn) [rad] twice: a fibre at a on the source lies at sign·a + turn on the target, and from the line.

    The corner is unfolded about the line. Averaged along it, rounded to 0.1 degrees to keep stacks few.
    """
    along = mesh.points[line.edges[:, 1]] - mesh.points[line.edges[:, 0]]
    length, middle = np.linalg.norm(along, axis=1), mesh.points[line.edges].mean(1)
    normal_s, normal_t = surface.normal[line.source], surface.normal[line.target]
    out = np.einsum("ei,ei->e", np.cross(along, middle - surface.middle[line.source]), normal_s)
    into = np.einsum("ei,ei->e", np.cross(along, surface.middle[line.target] - middle), normal_t)
    sign = 1.0 if (np.sign(out) * np.sign(into)) @ length > 0 else -1.0
    on_source = _angle(surface, along, line.source)
    on_target = _angle(surface, along, line.target)
    turn = _mean_turn(on_target - sign * on_source, length)
    return (sign, turn), (1.0, _mean_turn(-on_source, length))


def _mean_turn(angle: Floats, length: Floats) -> float:
    doubled = np.exp(2j * angle) @ length  # a fibre has no head and no tail
    return float(np.radians(round(np.degrees(np.angle(doubled) / 2), 1)))


def _angle(surface: Surface, vectors: Floats, elements: Ints) -> Floats:
    zero, normal = surface.zero[elements], surface.normal[elements]
    return np.arctan2((vectors * np.cross(normal, zero)).sum(1), (vectors * zero).sum(1))


def strip_beside(mesh: TubMesh, surface: Surface, line: MeetingLine, width: float) -> Field:
    """The strip of the target beside the line, on one side only if the target goes through."""
    runs = [np.append(run[:, 0], run[-1, 1]) for run in chains(line.edges, mesh.points)]
    field = strip([mesh.points[run] for run in runs], width)
    if not line.through:
        return field
    return one_side(field, mesh.points[line.edges].mean((0, 1)), surface.normal[line.source].mean(0))


def _lines(
    mesh: TubMesh, surface: Surface, at_edge: AtEdge, region: str, target: str
) -> dict[tuple[int, int], MeetingLine]:
    edges: dict[tuple[int, int], list[Ints]] = defaultdict(list)
    for line in mesh.joints:
        for source in line.panels:
            for other in line.panels:
                if source != other and mesh.panels[source].region == region and mesh.panels[other].region == target:
                    edges[source, other].append(line.edges)
    return {
        pair: meeting_line(mesh, surface, at_edge, np.concatenate(found), *pair)
        for pair, found in sorted(edges.items())
    }


def _neighbours(mesh: TubMesh, region: str) -> set[str]:
    meeting = [{mesh.panels[p].region for p in line.panels} for line in mesh.joints]
    return {other for regions in meeting if region in regions for other in regions} - {region}
