"""Openings and recesses: their loops on the meshed panel, and whether there is room for them."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.expansion import Expansion
from tubfem.case.frames import FACINGS, WORDS, unit
from tubfem.case.plain import Edge, Face, Opening, Recess
from tubfem.case.regions import recess_regions
from tubfem.case.schema import Case
from tubfem.case.shapes import Opening as OpeningTable
from tubfem.case.shapes import Recess as RecessTable
from tubfem.case.skeleton import MM
from tubfem.case.surfaces import foot, loop_points, segment_distance, surface
from tubfem.case.tape import Spot, is_near, off_text, spot

LEAN = np.cos(np.radians(60.0))  # a recess goes at most 60 degrees off the direction it is said to


def shape_loop(shape: OpeningTable, at: Spot, corners: list[Floats] | None = None) -> tuple[Edge, ...]:
    """The loop of an opening in the plane that touches its panel at its middle.

    Parameters
    ----------
    corners : of a polygon, (3,) each, dropped on to the panel; they are laid into the plane square to it
    """
    c, s = np.cos(shape.turn), np.sin(shape.turn)
    e1, e2 = c * at.first + s * at.second, c * at.second - s * at.first

    def place(u: float, v: float) -> tuple[float, float, float]:
        return tuple(float(x) for x in at.at + u * e1 + v * e2)

    if shape.circle is not None:
        r = 0.5 * shape.circle
        return (
            Edge("arc", (place(r, 0), place(0, r), place(-r, 0))),
            Edge("arc", (place(-r, 0), place(0, -r), place(r, 0))),
        )
    if shape.polygon is not None:
        flat = [point - ((point - at.at) @ at.normal) * at.normal for point in corners or []]
        points = [tuple(float(x) for x in point) for point in flat]
        return tuple(Edge("line", (p, q)) for p, q in zip(points, [*points[1:], points[0]], strict=True))
    if shape.slot is not None:
        length, width = shape.slot
        return _rounded_box(place, length, width, 0.5 * width)
    return _rounded_box(place, *shape.rectangle, shape.corner_radius)


def _rounded_box(place, length: float, width: float, radius: float) -> tuple[Edge, ...]:
    a, b = 0.5 * length, 0.5 * width
    k = radius * (1.0 - np.sqrt(0.5))
    edges = []
    for u, v, along in ((1, -1, "v"), (1, 1, "u"), (-1, 1, "v"), (-1, -1, "u")):
        # an arc round the corner (u, v), then the straight side that leaves it
        before = (u * (a - radius), v * b) if along == "v" else (u * a, v * (b - radius))
        after = (u * a, v * (b - radius)) if along == "v" else (u * (a - radius), v * b)
        far = (u * a, -v * (b - radius)) if along == "v" else (-u * (a - radius), v * b)
        if radius > 0.0:
            edges.append(Edge("arc", (place(*before), place(u * (a - k), v * (b - k)), place(*after))))
        if np.hypot(far[0] - after[0], far[1] - after[1]) > 1e-9:
            edges.append(Edge("line", (place(*after), place(*far))))
    return tuple(edges)


def words(whole: Expansion, name: str, hole: str, shape: OpeningTable, at: Spot) -> str:
    """An opening as cut, for `look`: "dash.legs: 330 mm across, 300 mm up; left and right"."""
    sheet, panel = whole.sheets[name], whole.case.panels[name]
    axes = ("along", "square off") if panel.origin else ("across", "up") if sheet.kind == "on" else ("aft", "out")
    if shape.circle is not None:
        size = f"{shape.circle * MM:g} mm wide"
    elif shape.polygon is not None:
        size = f"{len(shape.polygon)} corners"
    else:
        size = ", ".join(f"{x * MM:g} mm {axis}" for x, axis in zip(shape.slot or shape.rectangle, axes, strict=True))
    if shape.turn:
        size += f", turned {np.degrees(shape.turn):g} degrees"
    side = ""
    if sheet.side != "whole":
        middle = sheet.side == "across" and abs(at.at[1]) < 1e-9
        side = f"; {shape.only} only" if shape.only else "; one, over the middle" if middle else "; left and right"
    up = ""
    if sheet.kind == "on" and shape.at is not None and len(shape.at) == 2 and abs(at.normal[2]) > 1e-3:
        rise = shape.at[1] * whole.tapes[name][0].second[2]
        up = f"; {shape.at[1] * MM:g} mm up the slope is z = {rise * MM:.0f} mm"
    return f"{name}.{hole}: {size}{side}{up}"


def cut_panel(
    whole: Expansion, name: str, faults: list[str], notes: list[str]
) -> tuple[tuple[Opening, ...], tuple[Recess, ...]]:
    """Openings and recesses of a panel, in the order of the case."""
    case = whole.case
    panel = case.panels[name]
    openings, recesses = [], []
    loops: list[tuple[str, Floats, str | None]] = []
    for family, table in (("openings", panel.openings), ("recesses", panel.recesses)):
        for hole, shape in table.items():
            path = ("panels", name, family, hole)
            found = _middle(whole, name, shape, path, faults, notes)
            if found is None:
                continue
            edges = shape_loop(shape, *found)
            points = loop_points(edges, 8)
            if not _has_room(whole, name, shape, found[0], points, path, faults, notes):
                continue
            _check_others(case, path, points, found[0].normal, shape.only, loops, faults)
            loops.append((hole, points, shape.only))
            notes.append(words(whole, name, hole, shape, found[0]))
            notes += _undercut(whole, name, points, path)
            if family == "openings":
                openings.append(Opening(hole, edges, _tuple(found[0].normal), shape.only))
            else:
                recess = _recess(case, name, hole, shape, found[0], edges, faults)
                if recess is not None:
                    recesses.append(recess)
    return tuple(openings), tuple(recesses)


def _tuple(vector: Floats) -> tuple[float, float, float]:
    return tuple(float(x) for x in vector)


def _middle(
    whole: Expansion, name: str, shape: OpeningTable, path: tuple, faults: list[str], notes: list[str]
) -> tuple[Spot, list[Floats] | None] | None:
    """Where an opening's middle is on the meshed panel, and a polygon's corners; None after a fault."""
    numbers = shape.polygon if shape.polygon is not None else (shape.at,)
    if whole.tapes[name] is None and any(len(at) == 2 for at in numbers):
        text = 'two numbers need to know how the tape lies here: give the panel origin = "A" and along = "A-B"'
        faults.append(whole.case.message(path, text))
        return None
    before, after = whole.tapes[name] or (None, None)
    (as_measured, as_meshed), normals = whole.surfaces[name], whole.normals[name]
    spots = []
    for at in numbers:
        measured = spot(as_measured, normals, before, at)
        if not is_near(measured):
            faults.append(whole.case.message(path, off_text(measured, at, name)))
            return None
        if measured.off > 1e-4:
            notes.append(f"{path[-1]}: dropped {measured.off * MM:.1f} mm on to {name}")
        spots.append(spot(as_meshed, normals, after, at))
    if len(spots) == 1:
        return spots[0], None
    middle = np.mean([found.at for found in spots], axis=0)
    return spot(as_meshed, normals, after, middle), [found.at for found in spots]


def _has_room(
    whole: Expansion,
    name: str,
    shape: OpeningTable,
    at: Spot,
    points: Floats,
    path: tuple,
    faults: list[str],
    notes: list[str],
) -> bool:
    """Whether the loop stays inside its panel; a caution where two halves' holes meet over the middle."""
    case, sheet = whole.case, whole.sheets[name]
    least = case.defaults.joint_margin
    inside = points
    if sheet.side == "across" and points[:, 1].min() < -1e-9:
        crossing = abs(at.at[1]) > 1e-9
        if crossing and shape.only is not None:
            text = f"reaches over the middle; a hole on one side only must stay {least * MM:.0f} mm clear of it"
            faults.append(case.message(path, text))
            return False
        if crossing:
            both = f"{path[-1]}.left and {path[-1]}.right overlap"
            notes.append(f"caution: {'.'.join(path)}: {both}; one hole in the middle? at = [0, ...]")
        inside = points[points[:, 1] >= 0.0]
    panel = whole.surfaces[name][1]
    off = [not foot(panel, point, at.normal).inside for point in inside]
    gap, edge = whole.borders[name].nearest(inside)
    if not any(off) and gap >= least - 1e-6:
        return True
    reach = f"it comes within {gap * MM:.0f} mm of" if not any(off) else "it runs over"
    text = f"{_numbers(shape)} reaches {_ranges(points, at.normal)}; {reach} edge {edge}. Least {least * MM:.0f}"
    faults.append(case.message(path, text))
    return False


def _undercut(whole: Expansion, name: str, points: Floats, path: tuple) -> list[str]:
    """Cautions for a hole across the line on which a station panel stands."""
    cautions = []
    for other, sheet in whole.sheets.items():
        if sheet.kind != "on" or other == name:
            continue
        height = whole.meshed.planes[sheet.stations[0]].height(points)
        last = np.roll(points, -1, axis=0), np.roll(height, -1)
        crossing = np.flatnonzero((height < 0.0) != (last[1] < 0.0))
        for i in crossing:
            at = points[i] + (last[0][i] - points[i]) * height[i] / (height[i] - last[1][i])
            if foot(whole.surfaces[other][1], at).distance < 1e-3:
                cautions.append(f"caution: {'.'.join(path)} lies across the line where {other} stands on {name}")
                break
    return cautions


def _numbers(shape: OpeningTable) -> str:
    if shape.polygon is not None:
        return "the polygon"
    at = ", ".join(f"{x * MM:g}" for x in shape.at)
    if shape.circle is not None:
        return f"at [{at}], {shape.circle * MM:g} wide"
    return f"at [{at}], [{', '.join(f'{x * MM:g}' for x in shape.slot or shape.rectangle)}] wide"


def _ranges(points: Floats, normal: Floats) -> str:
    """Extent of a loop in the two vehicle axes that its panel shows best."""
    hidden = int(np.argmax(np.abs(normal)))
    low, high = points.min(axis=0) * MM, points.max(axis=0) * MM
    return ", ".join(f"{axis} = {low[i]:.0f}..{high[i]:.0f}" for i, axis in enumerate("xyz") if i != hidden)


def _check_others(
    case: Case,
    path: tuple,
    points: Floats,
    normal: Floats,
    only: str | None,
    loops: list[tuple[str, Floats, str | None]],
    faults: list[str],
) -> None:
    """Two holes of one panel must leave a bridge between them."""
    least = case.defaults.joint_margin
    for other, others, side in loops:
        if only is not None and side is not None and only != side:
            continue
        gap = min(segment_distance(others, np.roll(others, -1, axis=0), point).min() for point in points)
        face = Face(
            tuple(Edge("line", (_tuple(p), _tuple(q))) for p, q in zip(others, np.roll(others, -1, 0), strict=True))
        )
        inner = foot(surface((face,)), points[0], normal).inside
        if inner or gap < least - 1e-6:
            words = f"overlaps {other}" if inner or gap < 1e-6 else f"comes within {gap * MM:.0f} mm of {other}"
            faults.append(case.message(path, f"{words}. Least {least * MM:.0f}"))


def _recess(
    case: Case, panel: str, name: str, table: RecessTable, at: Spot, edges: tuple[Edge, ...], faults: list[str]
) -> Recess | None:
    word = np.array(WORDS[table.towards])
    path = ("panels", panel, "recesses", name)
    if abs(at.normal @ word) < LEAN:
        looks = [word for word in FACINGS if abs(at.normal @ WORDS[word]) >= LEAN]
        choice = " or ".join(f'"{word}"' for word in looks)
        text = f'towards = "{table.towards}", but {panel} looks {" and ".join(looks)}; choose {choice}'
        faults.append(case.message(path, text))
        return None
    points = loop_points(edges)
    room = segment_distance(points, np.roll(points, -1, axis=0), at.at).min()
    if table.depth * np.tan(table.draft) >= 0.9 * room and table.polygon is None:
        text = (
            f"{table.depth * MM:g} deep with walls leaning {np.degrees(table.draft):g} degrees leaves no bottom; "
            "make it shallower or steeper"
        )
        faults.append(case.message(path, text))
        return None
    bottom, walls = recess_regions(panel, name, table)
    towards = unit(at.normal * np.sign(at.normal @ word))
    return Recess(name, edges, table.depth, _tuple(towards), table.draft, bottom, walls, table.only)
