"""Mounts, and the points and lines that load cases name, on the meshed panels."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.check_laid import deep_insert
from tubfem.case.expansion import Expansion
from tubfem.case.joining import Mount
from tubfem.case.loads import Static
from tubfem.case.plain import Edge, PlainLine, PlainMount, PlainPanel, PlainPoint, Point
from tubfem.case.road import Jacking, Towing
from tubfem.case.sheets import TOUCH
from tubfem.case.skeleton import MM, CornerAt, Stroke
from tubfem.case.surfaces import foot, loop_points, segment_distance
from tubfem.case.tape import Spot, is_near, off_text, spot, vertex_of
from tubfem.case.targets import Target, read_target

BESIDE = 5e-3  # [m]: a mount or point without a panel's name belongs to the panel this near


def plain_mounts(
    whole: Expansion, panels: dict[str, PlainPanel], faults: list[str], notes: list[str]
) -> tuple[PlainMount, ...]:
    """The case's mounts on their panels.

    A mount must lie on its panel with its whole radius, clear of openings and recesses.
    """
    mounts = []
    for name, mount in whole.case.mounts.items():
        path = ("mounts", name)
        panel = mount.on if mount.on is not None else _panel_beside(whole, name, mount, faults)
        if panel is None:
            continue
        if panel not in whole.sheets:
            faults.append(whole.case.message((*path, "on"), f'no panel or wall "{panel}"'))
            continue
        if mount.on is None and (text := deep_insert(whole.case, mount, panel)):
            faults.append(whole.case.message((*path, "insert", "depth"), text))
        found = _mount_spot(whole, name, mount, panel, faults, notes)
        if found is None or not _has_room(whole, panels[panel], mount, found, path, faults):
            continue
        mounts.append(
            PlainMount(
                name, panel, _tuple(found.at), _tuple(found.normal), mount.insert_radius, mount.radius, mount.only
            )
        )
    return tuple(mounts)


def _tuple(vector: Floats) -> Point:
    return tuple(float(x) for x in vector)


def _panel_beside(whole: Expansion, name: str, mount: Mount, faults: list[str]) -> str | None:
    path = ("mounts", name)
    if len(mount.at) == 2:
        faults.append(whole.case.message(path, "two numbers are measured on a panel; write on = PANEL"))
        return None
    near = _beside(whole, np.array(mount.at))
    if len(near) == 1:
        return near[0]
    if near:
        text = f'{" and ".join(near)} are both within 5 mm; write on = "{near[0]}"'
    else:
        gaps = {panel: foot(surfaces[0], np.array(mount.at)).distance for panel, surfaces in whole.surfaces.items()}
        panel = min(gaps, key=gaps.__getitem__)
        text = f"lies on no panel (nearest: {panel}, {gaps[panel] * MM:.0f} mm); write on = PANEL or move it"
    faults.append(whole.case.message(path, text))
    return None


def _beside(whole: Expansion, point: Floats) -> list[str]:
    """Sheets within 5 mm of a measured point."""
    return [name for name, (surface, _) in whole.surfaces.items() if foot(surface, point).distance <= BESIDE]


def _mount_spot(
    whole: Expansion, name: str, mount: Mount, panel: str, faults: list[str], notes: list[str]
) -> Spot | None:
    path = ("mounts", name)
    if whole.tapes[panel] is None and len(mount.at) == 2:
        text = (
            f'two numbers need to know how the tape lies on {panel}: give it origin = "A" and along = "A-B", or three'
        )
        faults.append(whole.case.message(path, text))
        return None
    before, after = whole.tapes[panel] or (None, None)
    measured = spot(whole.surfaces[panel][0], whole.normals[panel], before, mount.at)
    if not is_near(measured):
        faults.append(whole.case.message(path, off_text(measured, mount.at, panel)))
        return None
    if measured.off > 1e-4:
        notes.append(f"{name}: dropped {measured.off * MM:.1f} mm on to {panel}")
    return spot(whole.surfaces[panel][1], whole.normals[panel], after, mount.at)


def _has_room(whole: Expansion, panel: PlainPanel, mount: Mount, found: Spot, path: tuple, faults: list[str]) -> bool:
    """Whether a mount's circle lies on its panel, clear of border, openings and recesses."""
    before = len(faults)
    radius = f"{mount.radius * MM:.0f} mm radius"
    if not found.inside:
        gap, edge = whole.borders[panel.name].nearest(found.at[None])
        text = f"lies {gap * MM:.0f} mm outside {panel.name}, past its edge {edge}"
        faults.append(whole.case.message(path, text))
        return False
    gap, edge = whole.borders[panel.name].nearest(found.at[None])
    if gap < mount.radius:
        faults.append(
            whole.case.message(path, f"its {radius} reaches {(mount.radius - gap) * MM:.0f} mm over edge {edge}")
        )
    for kind, holes in (("opening", panel.openings), ("recess", panel.recesses)):
        for hole in holes:
            if mount.only is not None and hole.only is not None and mount.only != hole.only:
                continue
            loop = loop_points(hole.edges)
            gap = segment_distance(loop, np.roll(loop, -1, axis=0), found.at).min()
            middle = np.linalg.norm(loop.mean(axis=0) - found.at)
            if gap < mount.radius or middle < np.linalg.norm(loop - loop.mean(axis=0), axis=1).min():
                faults.append(whole.case.message(path, f'its {radius} reaches into {kind} "{hole.name}"'))
    return len(faults) == before


def named_targets(whole: Expansion, faults: list[str]) -> tuple[tuple[PlainPoint, ...], tuple[PlainLine, ...]]:
    """Points and edges that supports, loads, rigid sets and probes of the load cases name, and stiffeners' paths."""
    points: dict[str, PlainPoint] = {}
    lines: dict[str, PlainLine] = {}
    for path, text, target in _targets(whole):
        if target.kind == "point":
            name = target.names[0]
            at = _on_mesh(whole, name)
            if at is None:
                faults.append(whole.case.message(path, f'"{text}" lies on no panel'))
            else:
                points[name] = PlainPoint(name, _tuple(at))
        elif target.kind == "edge":
            name = "-".join(target.names)
            edges = _edge_between(whole, *target.names)
            if edges is None:
                faults.append(whole.case.message(path, f'"{text}": no panel has an edge between these points'))
            else:
                lines[name] = PlainLine(name, edges)
    return tuple(points.values()), tuple(lines.values())


def _targets(whole: Expansion) -> Iterator[tuple[tuple, str, Target]]:
    for name, stiffener in whole.case.stiffeners.items():
        for index, point in enumerate(stiffener.path):
            if isinstance(point, str):
                yield ("stiffeners", name, "path", index), point, read_target(whole.case, point)
    for name, load_case in whole.case.load_cases.items():
        path = ("load_cases", name)
        if not isinstance(load_case, Static):
            probes = [(("probes", probe), (point,)) for probe, point in getattr(load_case, "probes", {}).items()]
            acting = [(("on",), load_case.on)] if isinstance(load_case, Jacking | Towing) else []
            for key, texts in (*acting, *probes):
                for text in texts:
                    yield (*path, *key), text, read_target(whole.case, text)
            continue
        acting = [(("supports", i), support.on) for i, support in enumerate(load_case.supports)]
        acting += [(("forces", i), load.on) for i, load in enumerate(load_case.forces)]
        acting += [(("masses", mass), carried.on) for mass, carried in load_case.masses.items()]
        acting += [(("rigid", rigid), body.on) for rigid, body in load_case.rigid.items()]
        acting += [(("probes", probe), (point,)) for probe, point in load_case.probes.items()]
        for key, texts in acting:
            for text in texts:
                yield (*path, *key), text, read_target(whole.case, text, tuple(load_case.rigid))
    for table in ("vehicle", "modes"):
        masses = {} if getattr(whole.case, table) is None else getattr(whole.case, table).masses
        for name, carried in masses.items():
            for text in carried.on:
                yield (table, "masses", name, "on"), text, read_target(whole.case, text)


def _on_mesh(whole: Expansion, name: str) -> Floats | None:
    """Where a named point is on the meshed panels; None if it lies on none."""
    vertex = vertex_of(whole.case, name)
    used = any(vertex in sheet.vertices for sheet in whole.sheets.values())
    if used or isinstance(vertex, CornerAt):
        return whole.meshed.locate(vertex)
    at = whole.measured.locate(vertex)
    near = _beside(whole, at)
    if not near:
        return None
    moved = at
    for panel in near:  # on the line of two panels: on both as meshed
        feet = foot(whole.surfaces[panel][1], moved)
        moved = moved + feet.normal * ((feet.at - moved) @ feet.normal)
    return moved


def _edge_between(whole: Expansion, first: str, last: str) -> tuple[Edge, ...] | None:
    """The edge of a panel, or the part of a corner line, between two named points, on the meshed panels."""
    a, b = vertex_of(whole.case, first), vertex_of(whole.case, last)
    if isinstance(a, CornerAt) and isinstance(b, CornerAt) and (a.section, a.corner) == (b.section, b.corner):
        cuts = whole.measured.rings[a.section].cuts
        if a.station in cuts and b.station in cuts:
            i, j = sorted((cuts.index(a.station), cuts.index(b.station)))
            strokes = [
                ("line", (CornerAt(a.section, a.corner, one), CornerAt(a.section, a.corner, other)))
                for one, other in pairwise(cuts[i : j + 1])
            ]
            return _drawn(whole, strokes)
    ends = [whole.measured.locate(vertex) for vertex in (a, b)]
    for sheet in whole.sheets.values():
        for patch in sheet.patches:
            found = _run_between(whole, patch, *ends)
            if found is not None:
                return _drawn(whole, found)
    return _straight_part(whole, first, last)


def _run_between(whole: Expansion, patch: tuple[Stroke, ...], start: Floats, end: Floats) -> list[Stroke] | None:
    """Strokes of a patch from one measured place to another: one edge, or straight bits of one edge."""
    at = [np.array([whole.measured.locate(v) for v in (vertices[0], vertices[-1])]) for _, vertices in patch]
    count = len(patch)
    for i in range(count):
        for turn in (1, -1):
            run = []
            for k in range(count):
                j = (i + turn * k) % count
                run.append(patch[j])
                here = at[j] if turn == 1 else at[j][::-1]
                if k == 0 and np.linalg.norm(here[0] - start) > TOUCH:
                    break
                if np.linalg.norm(here[1] - end) <= TOUCH:
                    return run if turn == 1 else run[::-1]
                bends = segment_distance(start[None], end[None], here[1])[0] > TOUCH
                if bends or patch[j][0] != "line":
                    break
    return None


def _straight_part(whole: Expansion, first: str, last: str) -> tuple[Edge, ...] | None:
    """A straight stretch of a panel's border that starts or ends within an edge."""
    moved = [_on_mesh(whole, point) for point in (first, last)]
    if any(point is None for point in moved):
        return None
    along = np.linspace(*moved, 9)
    for border in whole.borders.values():
        if all(segment_distance(border.starts, border.ends, point).min() < TOUCH for point in along):
            return (Edge("line", (_tuple(moved[0]), _tuple(moved[1]))),)
    return None


def _drawn(whole: Expansion, strokes: list[Stroke]) -> tuple[Edge, ...]:
    return tuple(
        Edge(kind, tuple(_tuple(whole.meshed.locate(vertex)) for vertex in vertices)) for kind, vertices in strokes
    )
