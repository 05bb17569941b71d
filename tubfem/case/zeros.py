"""Where 0 degrees points on each panel and wall."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.check_shapes import split_line
from tubfem.case.facing import SQUARE
from tubfem.case.frames import LYING, WORDS, area_vector, unit
from tubfem.case.schema import Case
from tubfem.case.shapes import AlongZero
from tubfem.case.skeleton import CornerAt, Sheet, State
from tubfem.case.surfaces import loop_points
from tubfem.case.tape import vertex_of


def zero_direction(case: Case, state: State, sheet: Sheet, faults: list[str]) -> Floats:
    """Unit direction (3,) of 0 degrees, to be dropped square on to the sheet.

    Unless the case says otherwise: along a wall's first corner line, across a station panel or a cap, aft on a lying
    panel, and aft on any other.
    """
    wall = sheet.kind in ("wall", "cap")
    given = case.sections[sheet.owner].zero if wall else case.panels[sheet.name].zero
    path = ("sections", sheet.owner, "zero") if wall else ("panels", sheet.name, "zero")
    areas = np.array([area_vector(loop_points(face.edges)) for face in state.faces(sheet)])
    normal = unit((areas * np.where(areas @ areas[0] < 0.0, -1.0, 1.0)[:, None]).sum(axis=0))
    if given is None:
        direction, word = _usual(state, sheet, normal)
    elif isinstance(given, AlongZero):
        ends = [
            state.locate(vertex_of(case, end, None if wall else case.panels[sheet.name].on))
            for end in split_line(case, given.along)
        ]
        direction, word = unit(ends[1] - ends[0]), f'{{ along = "{given.along}" }}'
    elif isinstance(given, str):
        direction, word = np.array(WORDS[given]), f'"{given}"'
    else:
        direction, word = unit(np.array(given)), str(list(given))
    lean = np.linalg.norm(direction - (direction @ normal) * normal)
    if lean < SQUARE:
        others = [f'"{name}"' for name in ("aft", "across", "up") if abs(normal @ WORDS[name]) < LYING]
        degrees = np.degrees(np.arcsin(min(lean, 1.0)))
        faults.append(
            case.message(
                path,
                f"zero = {word} stands square to {sheet.name} ({degrees:.0f} degrees off); use {' or '.join(others)}",
            )
        )
    return direction


def _usual(state: State, sheet: Sheet, normal: Floats) -> tuple[Floats, str]:
    if sheet.kind == "wall":
        ring = state.rings[sheet.owner]
        corner = ring.walls[sheet.name.split(".")[1]][0]
        ends = [state.locate(CornerAt(ring.name, corner, ring.own[i])) for i in (0, -1)]
        along = ends[1] - ends[0]
        # A wall over the middle is one piece: its zero lies in the middle plane, the same on both sides.
        return unit(along * [1.0, 0.0, 1.0] if sheet.side == "across" else along), "its first corner line"
    if sheet.kind == "on" or (sheet.kind == "cap" and abs(normal[0]) > 1.0 - SQUARE):
        return np.array([0.0, 1.0, 0.0]), '"across"'
    return np.array([1.0, 0.0, 0.0]), '"aft"'
