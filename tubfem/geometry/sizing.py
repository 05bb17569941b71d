"""Element sizes: finer near openings, mounts and re-entrant corners; whole numbers of elements on every curve.

The mesh is made at twice the size and every element is then halved both ways, so that all are quadrilaterals.
Faces with four corners are meshed in rows and columns where the counts of their sides allow it; the counts come
from one small integer programme over all curves (HiGHS), nearest to what the sizes ask for.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from tubfem.arrays import Floats
from tubfem.case.plain import Opening, PlainTub
from tubfem.geometry.curves import densified, loop_length, loop_normal, sample_loop, unit
from tubfem.geometry.shapes import Shapes

GROWTH = 0.35  # how fast sizes may grow with distance from what is meshed finer
AROUND_FOOT = 6  # elements along the side of a small foot, at least
AROUND = 16  # elements round a hole or a mount, at least
RIM = 0.4  # of the mesh size round a hole, at most
SHARP = 0.1  # of the mesh size at a hole's sharp corners, where strains are singular
CORNER = np.radians(35)  # two curves that turn by more than this meet in a corner
COARSEST = 1.3  # no curve is divided more coarsely than this times the size asked for
TOWARDS_ENDS = 0.5  # gmsh's figure for elements that end at 0.6 of those in the middle
STRETCH = 1.6  # a row-and-column face may change the count of a side by no more than this factor


@dataclass(frozen=True, eq=False, slots=True)
class Curve:
    """A curve of the fragmented model: points (m, 3) along it at equal parameters, its ends' tags."""

    tag: int
    ends: tuple[int, ...]
    at: Floats

    @property
    def steps(self) -> Floats:
        """Chords (m-1, 3)."""
        return np.diff(self.at, axis=0)

    @property
    def turn(self) -> float:
        """Angle through which it turns [rad]."""
        length = np.linalg.norm(self.steps, axis=1)
        t = self.steps[length > 0] / length[length > 0, None]
        return float(np.arccos(np.clip(np.sum(t[1:] * t[:-1], axis=1), -1, 1)).sum())


@dataclass(frozen=True, eq=False, slots=True)
class Sources:
    """Points (n, 3) and the sizes (n,) asked for there [m]; `size` is asked for far from all of them."""

    at: Floats
    fine: Floats
    size: float

    def levels(self) -> list[tuple[float, Floats]]:
        """Each distinct size and its points."""
        return [(float(s), self.at[self.fine == s]) for s in np.unique(self.fine)]

    def __call__(self, points: Floats) -> Floats:
        """Size (m,) wanted at points (m, 3)."""
        h = np.full(len(points), self.size)
        for fine, at in self.levels():
            h = np.minimum(h, fine + GROWTH * cKDTree(at).query(points)[0])
        return h


def hole_size(length: float, size: float) -> float:
    """Size round an opening of the given circumference: `AROUND` elements, no coarser than `RIM` of the mesh size.

    A tiny hole gets eight rather than draw the mesh round it far below the mesh size.
    """
    return max(min(RIM * size, length / AROUND), min(size / 8, length / 8))


def turns(P: Floats) -> Floats:
    """Angle (n,) by which a closed loop of points (n, 3) turns at each of them, positive the loop's own way [rad]."""
    a, b = P - np.roll(P, 1, axis=0), np.roll(P, -1, axis=0) - P
    a, b = (v / np.linalg.norm(v, axis=1)[:, None] for v in (a, b))
    return np.arctan2(np.cross(a, b) @ loop_normal(P), np.sum(a * b, axis=1))


def sources(tub: PlainTub) -> Sources:
    """What asks for smaller elements: openings, recesses, mounts, re-entrant corners of outlines."""
    at, fine = [], []

    def ask(points: Floats, size: float) -> None:
        level = tub.size * 2 ** (-np.ceil(4 * np.log2(tub.size / size) - 1e-9) / 4)  # few distinct sizes: few fields
        at.append(points)
        fine.append(np.full(len(points), min(level, tub.size)))

    for panel in tub.panels:
        for feature in (*panel.openings, *panel.recesses):
            s = hole_size(loop_length(feature.edges), tub.size)
            P = sample_loop(feature.edges)
            if not isinstance(feature, Opening):
                s = max(s, 0.6 * tub.size)
            elif np.any(sharp := np.abs(turns(P)) > CORNER):
                ask(P[sharp], SHARP * tub.size)
            ask(densified(P, s), s)
        for face in panel.faces:
            P = sample_loop(face.edges)
            turn = turns(P)
            if np.any(turn < -CORNER):
                ask(P[turn < -CORNER], 0.6 * tub.size)
    for mount in tub.mounts:
        n = unit(mount.normal)
        e1 = unit(np.cross(n, [1.0, 0, 0] if abs(n[0]) < 0.7 else [0, 1.0, 0]))
        t = np.linspace(0, 2 * np.pi, 33)[:-1, None]
        rim = np.cos(t) * e1 + np.sin(t) * np.cross(n, e1)
        for radius, rows in ((mount.radius, AROUND), (mount.insert_radius, AROUND / 2)):  # the insert may be coarser
            ask(np.asarray(mount.centre) + radius * rim, min(0.6 * tub.size, 2 * np.pi * radius / rows))
    if not at:
        return Sources(np.zeros((0, 3)), np.zeros(0), tub.size)
    at, fine = np.concatenate(at), np.concatenate(fine)
    order = np.lexsort((*at.T, fine))
    return Sources(at[order], fine[order], tub.size)


def curves_of(model: Any) -> dict[int, Curve]:
    """All curves with 17 points each."""
    result = {}
    for _, tag in model.getEntities(1):
        low, high = model.getParametrizationBounds(1, tag)
        at = np.array(model.getValue(1, tag, np.linspace(low[0], high[0], 17))).reshape(-1, 3)
        result[tag] = Curve(tag, tuple(int(t) for t in model.getAdjacencies(1, tag)[1]), at)
    return result


def sides_of(model: Any, face: int, curves: dict[int, Curve]) -> tuple[list[list[int]], list[int]] | None:
    """The four sides of a face as lists of curves in order, and its corner points; None if it has not four corners."""
    around = [int(t) for t in model.getAdjacencies(2, face)[1]]
    if len(around) < 4 or any(len(curves[t].ends) != 2 for t in around):
        return None
    left = {t: curves[t] for t in around}
    if len(left) != len(around):
        return None  # a seam
    tag = around[0]
    start, node = curves[tag].ends
    chain, starts, tangents = [], [], []
    while True:
        curve = left.pop(tag)
        forward = curve.ends[1] == node
        at = curve.at if forward else curve.at[::-1]
        chain.append(tag)
        starts.append(curve.ends[0] if forward else curve.ends[1])
        tangents.append((unit(at[1] - at[0]), unit(at[-1] - at[-2])))
        if node == start:
            break
        onward = [t for t, c in left.items() if node in c.ends]
        if len(onward) != 1:
            return None
        tag = onward[0]
        node = next(e for e in curves[tag].ends if e != node) if len(set(curves[tag].ends)) == 2 else node
    if left:
        return None  # a second loop or an embedded curve
    n = len(chain)
    outline = np.concatenate(
        [
            curves[t].at[:-1] if curves[t].ends[0] == s else curves[t].at[:0:-1]
            for t, s in zip(chain, starts, strict=True)
        ]
    )
    normal = loop_normal(outline)
    turn = np.array(
        [
            np.arctan2(np.cross(tangents[i - 1][1], tangents[i][0]) @ normal, tangents[i - 1][1] @ tangents[i][0])
            for i in range(n)
        ]
    )
    corners = np.flatnonzero(turn > CORNER)
    if len(corners) != 4 or np.any(turn < -CORNER / 2) or np.any(turn > np.radians(150)):
        return None
    run = chain[corners[0] :] + chain[: corners[0]]
    bounds = [*(corners - corners[0]), n]
    return [run[bounds[k] : bounds[k + 1]] for k in range(4)], [starts[c] for c in corners]


def counts(curves: dict[int, Curve], faces: dict[int, list[list[int]]], wanted: dict[int, float]) -> dict[int, int]:
    """Whole numbers of elements by curve, nearest to those wanted, with opposite sides of the given faces equal."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # loaded by then where `run.load_rest` went ahead

    tags = list(curves)
    column = {tag: i for i, tag in enumerate(tags)}
    n = len(tags)
    want = np.array([wanted[tag] for tag in tags])
    rows, cols, values = [], [], []
    for k, sides in enumerate(faces.values()):
        for pair in (0, 1):
            for side, sign in ((sides[pair], 1.0), (sides[pair + 2], -1.0)):
                rows += [2 * k + pair] * len(side)
                cols += [column[tag] for tag in side]
                values += [sign] * len(side)
    # count - over + under = wanted, least sum of (over + under)/wanted
    eye = csr_array((np.ones(n), (np.arange(n), np.arange(n))), shape=(n, n))
    balance = csr_array(np.concatenate([eye.toarray(), -np.eye(n), np.eye(n)], axis=1))
    limits = [LinearConstraint(balance, want, want)]
    if faces:
        equal = csr_array((values, (rows, cols)), shape=(2 * len(faces), 3 * n))
        limits.append(LinearConstraint(equal, 0, 0))
    least = np.concatenate([np.ceil(want / COARSEST).clip(1), np.zeros(2 * n)])
    cost = np.concatenate([np.zeros(n), 1 / want, 1 / want])
    found = milp(
        cost,
        integrality=np.repeat([1, 0, 0], n),
        bounds=Bounds(least, np.inf),
        constraints=limits,
        options={"mip_rel_gap": 0.02},
    )
    return dict(zip(tags, np.round(found.x[:n]).astype(int).tolist(), strict=True))


def joint_ends(model: Any, shapes: Shapes, curves: dict[int, Curve]) -> set[int]:
    """Points at which a joint ends: curves between them get finer towards both."""
    part = {piece.tag: piece.part for piece in shapes.pieces}
    joints = [c for c in curves.values() if len({part[int(f)] for f in model.getAdjacencies(1, c.tag)[0]}) > 1]
    return {end for curve in joints for end in curve.ends}


def with_feet(found: Sources, model: Any, shapes: Shapes, curves: dict[int, Curve]) -> Sources:
    """Sources with those along short lines on which a part stands inside a panel that goes on beyond them.

    The panel bends round such a foot, over lengths that go with the foot's size and not with the mesh's.
    """
    part = {piece.tag: piece.part for piece in shapes.pieces}
    at, fine = [found.at], [found.fine]
    for curve in curves.values():
        beside = [part[int(face)] for face in model.getAdjacencies(1, curve.tag)[0]]
        if len(set(beside)) < 2 or len(set(beside)) == len(beside):
            continue
        size = max(float(np.linalg.norm(curve.steps, axis=1).sum()) / AROUND_FOOT, found.size / 4)
        if size < 0.6 * found.size:
            level = found.size * 2 ** (-np.ceil(4 * np.log2(found.size / size) - 1e-9) / 4)
            points = densified(np.round(curve.at, 9), level)
            at.append(points)
            fine.append(np.full(len(points), level))
    at, fine = np.concatenate(at), np.concatenate(fine)
    order = np.lexsort((*at.T, fine))
    return Sources(at[order], fine[order], found.size)


def set_sizes(model: Any, shapes: Shapes, tub: PlainTub) -> list[int]:
    """Give every curve its count, rows and columns to the faces that can have them, and a size field to the rest.

    The tags of the rest are returned.
    """
    curves = curves_of(model)
    want_size = with_feet(sources(tub), model, shapes, curves)
    wanted = {}
    for tag, curve in curves.items():
        length = np.linalg.norm(curve.steps, axis=1)
        here = want_size((curve.at[1:] + curve.at[:-1]) / 2)
        wanted[tag] = max(float(np.sum(length / (2 * here))), np.round(curve.turn / (np.pi / 4)), 0.5)
    tags = sorted({piece.tag for piece in shapes.pieces})
    embedded = {tag for tag in tags if len(model.mesh.getEmbedded(2, tag))}
    found = {tag: sides_of(model, tag, curves) for tag in tags if tag not in embedded}
    regular = {tag: sides for tag, sides in found.items() if sides is not None}
    while True:
        n = counts(curves, {tag: sides for tag, (sides, _) in regular.items()}, wanted)
        misfit = {}
        for tag, (sides, _) in regular.items():
            asked = np.array([max(sum(wanted[t] for t in side), 1) for side in sides])
            got = np.array([sum(n[t] for t in side) for side in sides])
            misfit[tag] = float(np.max(np.maximum((got + 0.0) / asked, asked / got)))
        worst = max(misfit, key=lambda tag: (round(misfit[tag], 6), tag), default=None)
        if worst is None or misfit[worst] <= STRETCH:
            break
        limit = max(STRETCH, 0.8 * misfit[worst])
        regular = {tag: entry for tag, entry in regular.items() if misfit[tag] <= limit}
    joined = joint_ends(model, shapes, curves)
    for tag, count in n.items():
        graded = count >= 4 and curves[tag].turn < CORNER and joined.issuperset(curves[tag].ends)
        model.mesh.setTransfiniteCurve(tag, count + 1, "Bump", TOWARDS_ENDS if graded else 1.0)
    for tag, (_, corners) in regular.items():
        model.mesh.setTransfiniteSurface(tag, cornerTags=corners)
    field = model.mesh.field
    thresholds = []
    for fine, at in want_size.levels():
        occ_points = [model.geo.addPoint(*p) for p in at.tolist()]
        model.geo.synchronize()
        distance = field.add("Distance")
        field.setNumbers(distance, "PointsList", occ_points)
        threshold = field.add("Threshold")
        for key, value in (
            ("InField", distance),
            ("SizeMin", 2 * fine),
            ("SizeMax", 2 * tub.size),
            ("DistMin", 0),
            ("DistMax", max((tub.size - fine) / GROWTH, 1e-9)),
        ):
            field.setNumber(threshold, key, value)
        thresholds.append(threshold)
    least = field.add("Min")
    field.setNumbers(least, "FieldsList", thresholds)
    if thresholds:
        field.setAsBackgroundMesh(least)
    return [tag for tag in tags if tag not in regular]
