"""What is wrong with the panels, found on the fragmented shapes and on the meshed half, named with sizes in mm."""

from typing import Any

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.plain import PlainMount, PlainTub
from tubfem.geometry.assemble import HalfMesh
from tubfem.geometry.curves import SAME
from tubfem.geometry.distance import nearest
from tubfem.geometry.shapes import Shapes
from tubfem.geometry.topology import chains, edge_table

NARROW = 0.1  # a strip narrower than this times the mesh size, and eight times as long, is a sliver
NEAR = 0.5  # an edge that runs closer than this times the mesh size to what it does not touch leaves a gap
RUN = 4.0  # how many times longer than its gap such a run is at least


def _mount_over(tub: PlainTub, panel: str, at: tuple[float, ...]) -> PlainMount | None:
    """The mount of a panel whose circle is over a place, its mirror image with it."""
    over = [
        mount
        for mount in tub.mounts
        if mount.panel == panel
        and any(
            np.linalg.norm(np.multiply(mount.centre, (1, hand, 1)) - at) < mount.radius
            for hand in ((1, -1) if tub.mirror else (1,))
        )
    ]
    return over[0] if over else None


def _rims_too_near(mount: PlainMount, size: float) -> str:
    apart = (mount.radius - mount.insert_radius) * 1e3
    return (
        f"mounts.{mount.name}: the rims of insert and washer are {apart:.3g} mm apart, too near for elements of "
        f"{size * 1e3:g} mm; make the insert smaller or the radius larger"
    )


def shape_faults(model: Any, shapes: Shapes, tub: PlainTub) -> list[str]:
    """Overlapping panels with the area, and strips too narrow to mesh with their width."""
    faults, rims, owners = [], {}, {}
    for piece in shapes.pieces:
        owners.setdefault(piece.tag, []).append(piece)
    overlap: dict[tuple[str, str], float] = {}
    for tag, pieces in owners.items():
        area = model.occ.getMass(2, tag)
        for i, a in enumerate(pieces):
            for b in pieces[i + 1 :]:
                if a.sides & b.sides:
                    pair = tuple(sorted((shapes.parts[a.part].name, shapes.parts[b.part].name)))
                    overlap[pair] = overlap.get(pair, 0.0) + area
        curves = [int(t) for t in model.getAdjacencies(2, tag)[1]]
        perimeter = sum(model.occ.getMass(1, t) for t in curves)
        width = 2 * area / perimeter
        if width < NARROW * tub.size and perimeter / 2 > 8 * width:
            name = shapes.parts[pieces[0].part].name
            beside = sorted(
                {
                    shapes.parts[p.part].name
                    for t in curves
                    for face in model.getAdjacencies(1, t)[0]
                    for p in owners[int(face)]
                }
                - {name}
            )
            where = _mm(model.occ.getCenterOfMass(2, tag))
            mount = None if beside else _mount_over(tub, name, model.occ.getCenterOfMass(2, tag))
            if mount is not None:
                rims[mount.name] = _rims_too_near(mount, tub.size)
                continue
            faults.append(
                f"panels.{name}: a strip {width * 1e3:.1f} mm wide and {perimeter / 2 * 1e3:.0f} mm long is left "
                f"beside {' and '.join(beside) or 'itself'} at {where}; end the panel on the "
                "other, or move one so that at least a tenth of the mesh size remains"
            )
    faults += rims.values()
    for (a, b), area in sorted(overlap.items()):
        who = f"panels {a} and {b} overlap" if a != b else f"panel {a} overlaps itself"
        faults.append(f"{who} over {area * 1e4:.1f} cm^2; end one where the other begins, or cut an opening in it")
    return faults


def half_faults(half: HalfMesh, tub: PlainTub) -> list[str]:
    """Panels that touch nothing, with the nearest one, and edges that run beside a panel without touching it."""
    names = [panel.name for panel in tub.panels]
    owner = np.array([names.index(part.panel.name) for part in half.parts])[half.part]
    if len(names) == 1:
        return []
    table, by_element = edge_table(half.conn)
    pairs = np.unique(np.stack([by_element.ravel(), np.repeat(owner, 4)], -1), axis=0)
    shared = np.bincount(pairs[:, 0], minlength=len(table))
    joined = set(pairs[shared[pairs[:, 0]] > 1, 1].tolist())
    faults = []
    for i in range(len(names)):
        if i in joined or not np.any(owner == i):
            continue
        own, others = np.unique(half.conn[owner == i]), half.conn[owner != i]
        distance, _, element = nearest(half.points[own], half.points, others, np.inf)
        who = names[owner[owner != i][element[np.argmin(distance)]]]
        gap = distance.min() * 1e3
        touch = f"nearest: {who}, {gap:.1f} mm" if gap > 2e3 * SAME else f"it meets {who} only at a point"
        faults.append(f"panels.{names[i]} touches no other panel ({touch})")
    count = np.bincount(by_element.ravel(), minlength=len(table))
    free = count == 1
    if tub.mirror:
        free &= np.any(half.points[table, 1] != 0.0, axis=1)
    holder = np.zeros(len(table), np.int64)
    holder[by_element.ravel()] = np.repeat(owner, 4)
    gaps: dict[frozenset[str], tuple[float, str]] = {}  # two panels with a gap see each other: the longer run speaks
    for i, name in enumerate(names):
        if i in joined and np.any(free & (holder == i)):
            for beside, length, message in _gaps(half, tub, owner, i, name, names, table[free & (holder == i)]):
                pair = frozenset({name, beside})
                gaps[pair] = max(gaps.get(pair, (0.0, "")), (length, message))
    return faults + [message for _, message in gaps.values()]


def _gaps(
    half: HalfMesh, tub: PlainTub, owner: Ints, i: int, name: str, names: list[str], edges: Ints
) -> list[tuple[str, float, str]]:
    """Runs of a panel's free edges beside another panel, where nothing of its own reaches across.

    What they run beside, their length [m] and the message.
    """
    faults, near = [], NEAR * tub.size
    others, own = half.conn[owner != i], half.conn[owner == i]
    whose = owner[owner != i]
    for line in chains(edges, half.points):
        middle = half.points[line].mean(axis=1)
        length = np.linalg.norm(half.points[line[:, 1]] - half.points[line[:, 0]], axis=1)
        gap, foot, element = nearest(middle, half.points, others, near)
        bridged = nearest(foot, half.points, own, near)[0] if np.any(element >= 0) else gap
        who = np.where((element >= 0) & (gap > 2 * SAME) & (bridged > 0.5 * gap), whose[element], -1)
        if tub.mirror:
            twin = (middle[:, 1] < near / 2) & (who < 0)
            gap, who = np.where(twin, 2 * middle[:, 1], gap), np.where(twin, len(names), who)
        for run in np.split(np.arange(len(who)), np.flatnonzero(np.diff(who)) + 1):
            other = int(who[run[0]])
            total, mean = length[run].sum(), gap[run].mean()
            if other >= 0 and total > RUN * mean:
                beside = names[other] if other < len(names) else "its own mirror image"
                message = (
                    f"panels.{name}: an edge runs {mean * 1e3:.1f} mm beside {beside} for {total * 1e3:.0f} mm near "
                    f"{_mm(middle[run].mean(axis=0))} without touching it; end it on {beside}, or move it "
                    f"{near * 1e3:.0f} mm clear"
                )
                faults.append((beside, round(float(total), 6), message))
    return faults


def _mm(at: Floats) -> str:
    return "({:.0f}, {:.0f}, {:.0f})".format(*(np.asarray(at) * 1e3))
