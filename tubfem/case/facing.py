"""Which way each surface looks: tool faces as inward normals (from the tool face into the laminate)."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.frames import FACINGS, WORDS, area_vector, unit
from tubfem.case.schema import Case
from tubfem.case.skeleton import MIRROR, Ring, Sheet, State, chain
from tubfem.case.surfaces import loop_points

SQUARE = np.sin(np.radians(20.0))  # a face within 20 degrees of edge-on to a direction does not look that way


def outward_area(state: State, ring: Ring, station: str) -> tuple[Floats, tuple[str, ...]] | None:
    """Area vector (3,) [m^2] of the ring, or of the hat closed straight or over the middle, and its corners in order.

    None if its walls branch. By the right hand over that order, so that edge x area looks out of the ring.
    """
    found = chain(ring)
    if found is None:
        return None
    order, closing = found
    points = np.array([state.sharp(ring.name, corner, station) for corner in order])
    on_middle = [bool(abs(points[i][1]) < 1e-9) for i in (0, -1)]
    if closing == "open" and len(order) > 1 and on_middle[0] and not on_middle[1]:
        order, points = order[::-1], points[::-1]
    if closing in ("mirrored", "both") or (closing == "open" and any(on_middle)):
        points = np.concatenate([points, points[::-1] * MIRROR])
    return area_vector(points), order


def wall_inward(case: Case, state: State, ring: Ring, wall: str, corner: str, station: str) -> Floats:
    """Unit normal (3,) of a wall at one of its corners at an own station, from its tool face into the laminate.

    Its direction along the section is the mean of the bays before and after.
    """
    a, b = state.wall_ends(ring.name, wall, station)
    i = ring.own.index(station)
    line = np.array([state.rows[ring.name][own][corner] for own in ring.own])
    along = sum(unit(line[j + 1] - line[j]) for j in (i - 1, i) if 0 <= j < len(line) - 1)
    normal = unit(np.cross(b - a, along))
    tool = case.sections[ring.name].tool
    if tool in ("out", "in"):
        out = _out_of_ring(state, ring, wall, station)
        sign = np.sign(normal @ out) * (1.0 if tool == "out" else -1.0)
    else:
        sign = np.sign(normal @ np.array(WORDS[tool]))
    return -sign * normal


def _out_of_ring(state: State, ring: Ring, wall: str, station: str) -> Floats:
    """A vector (3,) that looks out of the ring or hat at a wall; zero if the section has no inside."""
    a, b = state.wall_ends(ring.name, wall, station)
    found = outward_area(state, ring, station)
    if found is None:
        middle = np.mean([state.sharp(ring.name, corner, station) for corner in ring.corners], axis=0)
        if any(one == other for one, other in ring.walls.values()):
            middle = middle * [1.0, 0.0, 1.0]
        return 0.5 * (a + b) - middle
    area, order = found
    first, second = ring.walls[wall]
    if first == second:
        forward = order.index(first) == len(order) - 1
    else:
        forward = (order.index(second) - order.index(first)) % len(order) == 1 or (
            len(order) == 2 and order.index(first) == 0
        )
    return np.cross(b - a if forward else a - b, area)


def inward(case: Case, state: State, sheet: Sheet) -> Floats:
    """Mean unit normal of each patch (n, 3), from the tool face into the laminate."""
    areas = np.array([unit(area_vector(loop_points(face.edges))) for face in state.faces(sheet)])
    if sheet.kind == "wall":
        return _turned(areas, _wall_direction(case, state, sheet))
    if sheet.kind == "cap":
        ring = state.rings[sheet.owner]
        other = ring.own[-1] if sheet.stations[0] == ring.own[0] else ring.own[0]
        ends = [
            np.mean([state.sharp(ring.name, corner, own) for corner in ring.corners], axis=0)
            for own in (sheet.stations[0], other)
        ]
        return _turned(areas, (ends[1] - ends[0]) * (-1.0 if case.sections[ring.name].tool == "in" else 1.0))
    return _turned(areas, -np.array(WORDS[case.panels[sheet.name].tool]))


def _wall_direction(case: Case, state: State, sheet: Sheet) -> Floats:
    ring = state.rings[sheet.owner]
    wall = sheet.name.split(".")[1]
    corners = dict.fromkeys(ring.walls[wall])
    normals = [wall_inward(case, state, ring, wall, corner, own) for corner in corners for own in ring.own]
    if ring.walls[wall][0] == ring.walls[wall][1]:
        normals = [normal * [1.0, 0.0, 1.0] for normal in normals]
    return unit(np.sum(normals, axis=0))


def _turned(normals: Floats, towards: Floats) -> Floats:
    sign = np.where(normals @ towards < 0.0, -1.0, 1.0)
    return normals * sign[:, None]


def check_facing(case: Case, state: State, sheets: list[Sheet]) -> list[str]:
    """Messages for tool faces and zero directions that a panel or wall cannot have."""
    faults = []
    for sheet in sheets:
        normals = np.array([area_vector(loop_points(face.edges)) for face in state.faces(sheet)])
        size = np.abs(unit(normals).T @ np.linalg.norm(normals, axis=1)) / np.linalg.norm(normals, axis=1).sum()
        panel = sheet.kind in ("on", "between", "free")
        table = case.panels[sheet.name] if panel else case.sections[sheet.owner]
        path = ("panels", sheet.name) if panel else ("sections", sheet.owner)
        if panel or table.tool not in ("out", "in"):
            along = np.abs(unit(normals) @ np.array(WORDS[table.tool]))
            if sheet.kind != "cap" and along.min() < SQUARE:
                good = [f'"{word}"' for word in FACINGS if size @ np.abs(WORDS[word]) > 0.5]
                looks = " and ".join(word.strip('"') for word in good)
                what = "the " + (sheet.name if panel else f"wall {sheet.name}")
                text = f'tool = "{table.tool}", but {what} looks {looks}; choose {" or ".join(good)}'
                faults.append(case.message(path, text))
        elif sheet.kind == "wall":
            ring = state.rings[sheet.owner]
            area = outward_area(state, ring, ring.own[0])
            if area is not None and np.linalg.norm(area[0]) < 1e-6:
                text = f'tool = "{table.tool}": these walls have no inside; say which way they look, for example "up"'
                faults.append(case.message(path, text))
    return list(dict.fromkeys(faults))
