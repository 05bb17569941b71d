"""What the command `look` says: the things about a case that no error can catch, in words."""

import re
from collections import defaultdict
from collections.abc import Sequence
from math import degrees

import numpy as np

from tubfem.case.joining import JointKind
from tubfem.case.schema import Case
from tubfem.case.stuff import StackEntry
from tubfem.geometry.mesh import TubMesh
from tubfem.geometry.quality import quality
from tubfem.geometry.rings import free_lengths
from tubfem.materials.library import architecture
from tubfem.report.cells import section_words
from tubfem.report.numbers import percent
from tubfem.report.road_words import wheel_words
from tubfem.tub.drops import ply_drops
from tubfem.tub.model import TubModel

SIDE = r"\.(left|right)\b"
JOINT_NOTE = re.compile(r"joint (?P<joint>[^,]+), (?P<rest>[^:]+: .*per degree.*)")
POOR_SINE, POOR_ASPECT, POOR_TRIANGLES = 0.2, 20.0, 0.03


def look_words(model: TubModel) -> dict[str, list[str]]:
    """Lines by heading."""
    merged = both_sides if model.case.mirror else list
    return {
        "Sections": section_words(model),
        "Joints": joint_words(model),
        "Free edges": free_edge_words(model.mesh),
        "Fibre directions": fibre_words(model.case),
        "Tabs": tab_words(model.case),
        "Ply drops": [drop.words for drop in ply_drops(model.case)],
        "On wheels": wheel_words(model),
        "Mesh": mesh_words(model.mesh),
        "Notes": alike(merged(model.notes)),
        "Cautions": merged((*model.case.cautions, *model.cautions)) + poor_elements(model.mesh),
    }


def both_sides(lines: Sequence[str]) -> list[str]:
    """Lines that differ only in .left and .right, once and without the side."""
    known = set(lines)
    merged = []
    for line in lines:
        twin = _swapped(line)
        if twin != line and twin in known:
            line = f"{re.sub(SIDE, '', line)}, each side"
        merged.append(line)
    return list(dict.fromkeys(merged))


def alike(lines: Sequence[str]) -> list[str]:
    """Joints of one kind whose springs are the same in one line, where the first of them stood."""
    joints: dict[str, list[str]] = {}
    for line in lines:
        if found := JOINT_NOTE.fullmatch(line):
            joints.setdefault(found["rest"], []).append(found["joint"])
    merged = [
        f"{found['rest']}: {', '.join(joints[found['rest']])}" if (found := JOINT_NOTE.fullmatch(line)) else line
        for line in lines
    ]
    return list(dict.fromkeys(merged))


def _swapped(line: str) -> str:
    return re.sub(SIDE, lambda side: ".right" if side[1] == "left" else ".left", line)


def joint_words(model: TubModel) -> list[str]:
    """Metres of line between regions by kind, and which lines each kind holds."""
    mesh = model.mesh
    metres: dict[str, float] = defaultdict(float)
    lines: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    kinds = {frozenset(name.split("/")): kind for name, kind in model.joint_kinds.items()}
    for line in mesh.joints:
        ends = mesh.points[line.edges]
        length = float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())
        panels = [mesh.panels[i] for i in line.panels]
        for i, a in enumerate(panels):
            for b in panels[i + 1 :]:
                kind = kinds.get(frozenset((a.name, b.name)))
                if kind is None or a.region == b.region:
                    continue
                metres[kind] += length
                lines[kind]["/".join(sorted((a.region, b.region)))] += length
    words = []
    for kind, total in sorted(metres.items(), key=lambda item: -item[1]):
        which = ", ".join(f"{pair} {m:.2f} m" for pair, m in sorted(lines[kind].items(), key=lambda item: -item[1]))
        words.append(f"{kind} {total:.1f} m: {which}")
    return words


def free_edge_words(mesh: TubMesh) -> list[str]:
    """Metres of free edge by panel, both sides together, openings included."""
    metres: dict[str, float] = defaultdict(float)
    plain = {panel.name: panel.plain for panel in mesh.panels}
    for name, length in free_lengths(mesh).items():
        metres[plain[name]] += length
    if not metres:
        return ["none"]
    which = ", ".join(f"{name} {length:.2f} m" for name, length in sorted(metres.items(), key=lambda item: -item[1]))
    return [f"{sum(metres.values()):.1f} m, edges of openings included: {which}"]


def fibre_words(case: Case) -> list[str]:
    """Where the fibres of every cloth run at every angle it is laid at, and in which layups."""
    laid: dict[tuple[str, float], list[str]] = defaultdict(list)
    for region, layup in case.layups.items():
        for entry in layup.stack:
            if not entry.is_core and region not in laid[entry.name, entry.angle]:
                laid[entry.name, entry.angle].append(region)
    return [
        f"{name} @ {_degrees(angle)}: {_fibres(case, name, angle)} ({', '.join(regions)})"
        for (name, angle), regions in laid.items()
    ]


def tab_words(case: Case) -> list[str]:
    """Where the fibres of every kind of tab run, measured from the joint line."""
    return [
        f"{name}: {_tab(kind)}: " + "; ".join(_across(case, entry) for entry in kind.tab)
        for name, kind in case.joint_kinds.items()
        if kind.tab
    ]


def mesh_words(mesh: TubMesh) -> list[str]:
    """Size and quality of the mesh."""
    q = quality(mesh)
    return [
        f"{q.quads} quadrilaterals and {q.triangles} triangles ({percent(q.triangle_share)} of the area), "
        f"asked size {1e3 * mesh.size:.3g} mm",
        f"least corner sine {q.scaled_jacobian:.2f} ({q.worst_jacobian}), greatest aspect ratio "
        f"{q.aspect_ratio:.1f} ({q.worst_aspect}), greatest warp {q.warp:.3f} ({q.worst_warp})",
    ]


def poor_elements(mesh: TubMesh) -> list[str]:
    """What is poor about the elements, in words; nothing if they are good."""
    q = quality(mesh)
    words = []
    if q.scaled_jacobian < POOR_SINE:
        words.append(f"poor elements: a corner of sine {q.scaled_jacobian:.2f} in {q.worst_jacobian}")
    if q.aspect_ratio > POOR_ASPECT:
        words.append(f"poor elements: an aspect ratio of {q.aspect_ratio:.0f} in {q.worst_aspect}")
    if q.triangle_share > POOR_TRIANGLES:
        words.append(f"poor elements: triangles hold {percent(q.triangle_share)} of the area")
    return [f"{text}; try another mesh size, or move seams and holes apart" for text in words]


def _tab(kind: JointKind) -> str:
    sides = "one side" if kind.sides == 1 else "both sides"
    tab = f"{' + '.join(entry.text for entry in kind.tab)}, {1e3 * (kind.width or 0.0):.0f} mm wide, {sides}"
    return tab if kind.filler is None else f"{tab}, {1e3 * kind.fillet:.3g} mm fillet of {kind.filler}"


def _across(case: Case, entry: StackEntry) -> str:
    """Where a tab's fibres run to the joint line, which is its zero."""
    angles = {round(abs(degrees(angle)) % 180, 6) for angle in _angles(case, entry.name, entry.angle)}
    if angles <= {0.0, 90.0}:
        along = "along" * (0.0 in angles) + " and " * (len(angles) == 2) + "across" * (90.0 in angles)
        doubt = "   <- meant?" if _is_diagonal(case, entry.name) else ""
        return f"fibres {along} the line{doubt}"
    return f"fibres at {' and '.join(f'{angle:g}' for angle in sorted(min(a, 180 - a) for a in angles))} degrees to it"


def _is_diagonal(case: Case, name: str) -> bool:
    """Whether a cloth's own fibres run at 45 degrees to its roll."""
    return all(abs(abs(degrees(angle)) - 45) < 1e-6 for angle in _angles(case, name, 0.0))


def _fibres(case: Case, name: str, angle: float) -> str:
    if case.plies[name].E is not None:
        return "the same in all directions"
    table = case.plies[name]
    if table.is_cloth and "mat" in (table.architecture or ""):
        return "fibres in all directions"
    found = sorted(_angles(case, name, angle), key=lambda a: (abs(a), -a))
    return f"fibres at {' and '.join(_degrees(a) for a in found)}"


def _angles(case: Case, name: str, angle: float) -> tuple[float, ...]:
    """Directions of a cloth's fibres from the zero direction [rad], between -90 and +90 degrees."""
    table = case.plies[name]
    own = [0.0]
    if table.is_cloth:
        found = architecture(table.architecture)
        own = [a for a, _ in found.layers]
        if found.kind == "woven" and len(own) == 1:
            own = [0.0, np.pi / 2]
    turned = [(a + angle + np.pi / 2) % np.pi - np.pi / 2 for a in own]
    return tuple(dict.fromkeys(np.pi / 2 if abs(a + np.pi / 2) < 1e-9 else a for a in turned))


def _degrees(angle: float) -> str:
    value = round(degrees(angle), 3) + 0.0
    return f"{value:+g}" if value and abs(value) != 90 else f"{abs(value):g}"
