"""Which sections are closed cells, and by what: read from cuts through the mesh, told in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.case.shapes import Section
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.geometry.rings import Cell, Cut, cut
from tubfem.report.views import corners
from tubfem.tub.model import TubModel

INSIDE = 0.6  # share of a cell that a panel in its plane must fill to be a wall in it


@dataclass(frozen=True, slots=True)
class Bay:
    """A section between two of the marks along it: closed by `closers` (nothing for a ring of its own), or open.

    `area` is the closed cell's [m2], None where the section is open.
    """

    start: str
    end: str
    closers: tuple[str, ...]
    area: float | None


def section_words(model: TubModel) -> list[str]:
    """One sentence a section: ring or hat, closed by what along its length, walls at its ends and inside."""
    case, words = model.case, []
    for name, section in case.sections.items():
        marks = _marks(case, model.mesh, name, section)
        bays = [_bay(model.mesh, name, a, b) for a, b in pairwise(marks)]
        kind = "ring" if _is_ring(section) else "hat"
        text = [kind + (f", {section.fill} inside" if section.fill else ""), *_bay_words(model, name, bays)]
        text.append(_end_words(model, name, marks))
        if not any(f"{name}.{wall}" in {p.name for p in model.mesh.panels} for wall in section.walls):
            text.append("left and right" if case.mirror else "")
        words.append(f"{name}: {'; '.join(part for part in text if part)}")
    return words


@dataclass(frozen=True, eq=False, slots=True)
class _Mark:
    """A plane across a section: its name, a point of it, its normal along the section."""

    name: str
    origin: Floats
    normal: Floats


def _is_ring(section: Section) -> bool:
    ends: dict[str, int] = {}
    for a, b in section.walls.values():
        for corner in (a, b):
            ends[corner] = ends.get(corner, 0) + 1
    return all(count == 2 for count in ends.values()) and all(a != b for a, b in section.walls.values())


def _marks(case: Case, mesh: TubMesh, name: str, section: Section) -> list[_Mark]:
    """Planes of the stations that a section is measured at, and of other stations within its length, in order."""
    middles = {s: np.mean([point for point in at.values()], axis=0) for s, at in section.at.items()}
    if all(len(middle) == 3 for middle in middles.values()):
        names = list(middles)
        along = [middles[b] - middles[a] for a, b in pairwise(names)]
        normals = [along[0], *(a + b for a, b in pairwise(along)), along[-1]]
        return [_Mark(s, middles[s], n / np.linalg.norm(n)) for s, n in zip(names, normals, strict=True)]
    height = float(np.mean([middle[1] for middle in middles.values()]))
    x = {station: case.stations[station].x_at(height) for station in case.stations}
    first, last = min(x[s] for s in middles), max(x[s] for s in middles)
    marks = []
    for station in sorted(x, key=x.__getitem__):
        if first <= x[station] <= last:
            up = case.stations[station].slope
            marks.append(_Mark(station, np.array([x[station], 0.0, height]), np.array([up[1], 0.0, -up[0]])))
    return marks


def _bay(mesh: TubMesh, name: str, start: _Mark, end: _Mark) -> Bay:
    """What closes a section halfway between two marks."""
    normal = start.normal + end.normal
    section = cut(mesh, tuple(0.5 * (start.origin + end.origin)), tuple(normal / np.linalg.norm(normal)))
    cell = _own_cell(section, mesh, name)
    if cell is None:
        return Bay(start.name, end.name, (), None)
    plain = plain_names(mesh)
    others = dict.fromkeys(plain[panel] for panel in cell.panels if not plain[panel].startswith(f"{name}."))
    return Bay(start.name, end.name, tuple(others), cell.area)


def _own_cell(section: Cut, mesh: TubMesh, name: str) -> Cell | None:
    """The closed cell that most of a section's wall length bounds, on one side; the smallest if they tie."""

    def own(cell: Cell) -> float:
        mine = [i for i, panel in enumerate(mesh.panels) if panel.plain.startswith(f"{name}.") and not panel.mirrored]
        of = np.isin(section.panel[cell.segments], mine)
        return float(section.length[cell.segments][of].sum())

    found = [cell for cell in section.cells if own(cell) > 0.0]
    return max(found, key=lambda cell: (round(own(cell), 4), -cell.area), default=None)


def plain_names(mesh: TubMesh) -> dict[str, str]:
    """Name of every panel -> its name without side."""
    return {panel.name: panel.plain for panel in mesh.panels}


def _bay_words(model: TubModel, name: str, bays: Sequence[Bay]) -> list[str]:
    """Sentences such as: closed by floor from front to rear; runs of like bays are told together."""
    words = []
    for (closers, is_open), run in groupby(bays, key=lambda bay: (bay.closers, bay.area is None)):
        same = list(run)
        where = f" from {same[0].start} to {same[-1].end}" if len(same) < len(bays) else ""
        if is_open:
            words.append(f"OPEN{where}: no closed cell")
            continue
        sizes = sorted(1e4 * bay.area for bay in same if bay.area is not None)
        area = f"{sizes[0]:.0f}" if sizes[-1] < 1.02 * sizes[0] else f"{sizes[0]:.0f} to {sizes[-1]:.0f}"
        by = f" by {_and([closer + _held(model, name, closer) for closer in closers])}" if closers else " in itself"
        words.append(f"closed{by}{where}, cell of {area} cm²")
    return words


def _held(model: TubModel, name: str, closer: str) -> str:
    """How a panel is held to the section it closes, where they touch and it is not moulded on: " (fastened)"."""
    kinds, plain = set(), plain_names(model.mesh)
    for joint, kind in model.joint_kinds.items():
        a, b = (plain.get(part, part) for part in joint.split("/"))
        if {a, b} & {closer} and any(part.startswith(f"{name}.") for part in (a, b)):
            kinds.add(kind)
    kinds.discard("continuous")
    return f" ({', '.join(sorted(kinds))})" if kinds else ""


def _end_words(model: TubModel, name: str, marks: Sequence[_Mark]) -> str:
    """Panels that stand across the section's cell: at its ends and inside."""
    across = [_across(model.mesh, name, mark, inward) for mark, inward in zip(marks, _inwards(marks), strict=True)]
    ends = [
        f"{mark.name} end {'closed by ' + found if found else 'open'}"
        for mark, found in ((marks[0], across[0]), (marks[-1], across[-1]))
    ]
    inside = [f"{found} at {mark.name}" for mark, found in zip(marks[1:-1], across[1:-1], strict=True) if found]
    return ", ".join(ends) + (f"; walls in it: {_and(inside)}" if inside else "")


def _inwards(marks: Sequence[_Mark]) -> list[float]:
    return [1.0, *(1.0 for _ in marks[1:-1]), -1.0]


def _across(mesh: TubMesh, name: str, mark: _Mark, inward: float) -> str | None:
    """The panel that fills the section's cell at a mark, if one does."""
    step = 0.5 * mesh.size
    section = cut(mesh, tuple(mark.origin + inward * step * mark.normal), tuple(mark.normal))
    cell = _own_cell(section, mesh, name)
    if cell is None:
        return None
    e1 = np.array([0.0, 1.0, 0.0]) if abs(mark.normal[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
    e1 = e1 - e1 @ mark.normal * mark.normal
    e1 /= np.linalg.norm(e1)
    frame = np.stack([e1, np.cross(mark.normal, e1)])
    middles = mesh.points[corners(mesh)].mean(axis=1)
    away = (middles - mark.origin) @ mark.normal
    walls = [panel.plain.startswith(f"{name}.") and panel.plain != f"{name}.cap" for panel in mesh.panels]
    own = np.array(walls)[mesh.element_panel]
    near = np.flatnonzero((np.abs(away) < 1.2 * step) & ~own)
    origin = mark.origin + inward * step * mark.normal
    inside = near[_within((middles[near] - origin) @ frame.T, section.nodes[section.segments[cell.segments]])]
    share = np.bincount(mesh.element_panel[inside], areas(mesh)[inside], minlength=len(mesh.panels)) / cell.area
    best = int(share.argmax())
    return mesh.panels[best].plain.replace(f"{name}.cap", "its cap") if share[best] > INSIDE else None


def _within(points: Floats, segments: Floats) -> np.ndarray:
    """Which points (p, 2) lie inside the outline that segments (s, 2, 2) make: an odd number lies to their right."""
    (ax, ay), (bx, by) = segments[:, 0].T, segments[:, 1].T
    px, py = points[:, :1], points[:, 1:]
    spans = (ay > py) != (by > py)
    rise = np.where(by == ay, 1.0, by - ay)
    return (spans & (px < ax + (py - ay) / rise * (bx - ax))).sum(axis=1) % 2 == 1


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
