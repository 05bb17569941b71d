"""Gauge pairs along a tub, the rotation they read, and the bays between named marks."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.shapes import Station
from tubfem.findings.results import Bay
from tubfem.geometry.mesh import TubMesh

GAUGES = 21  # places asked along the tub; those without a wide pair of nodes fall away
WIDE = 0.4  # of the widest pair: a narrower one reads its own panel's bending
LONG = 0.4  # of the tub: a longer bay is halved
EDGE = 0.06  # of the width at a station: how far from the outermost node a gauge may stand


@dataclass(frozen=True, eq=False, slots=True)
class Gauges:
    """Paired nodes left and right along the tub, foremost first: `pairs` (m, 2), `x` (m,) [m], `z` (m,) [m]."""

    pairs: Ints
    x: Floats
    z: Floats


def place_gauges(mesh: TubMesh, stations: dict[str, Station]) -> Gauges:
    """Gauge pairs at even distances along the tub and at every station that crosses it.

    Gauges stand on lines where panels meet, which do not bulge; the pair is the outermost there that matches best in
    x and z. A mesh without such lines lends all its nodes. Places with no wide pair have no gauge.
    """
    on_lines = [line.edges.ravel() for line in mesh.joints]
    nodes = np.unique(np.concatenate(on_lines)) if on_lines else np.arange(len(mesh.points))
    X = mesh.points[nodes]
    low, high = X[:, 0].min(), X[:, 0].max()
    height = float(np.median(X[:, 2]))
    asked = [*np.linspace(low, high, GAUGES), *(station.x_at(height) for station in stations.values())]
    found = {}
    for x in asked:
        pair = _pair_at(X, x, 0.75 * mesh.size)
        if pair is not None:
            found[tuple(nodes[list(pair)].tolist())] = None
    pairs = np.array(list(found), dtype=np.int64).reshape(-1, 2)
    width = mesh.points[pairs[:, 1], 1] - mesh.points[pairs[:, 0], 1]
    pairs = pairs[width >= WIDE * width.max(initial=0.0)]
    middle = mesh.points[pairs].mean(axis=1)
    _, first = np.unique(np.round(middle[:, 0], 6), return_index=True)  # sorted, and one pair a place
    return Gauges(pairs[first], middle[first, 0], middle[first, 2])


def _pair_at(X: Floats, x: float, reach: float) -> tuple[int, int] | None:
    """The left and right node near a station that stand farthest out and match in x and z."""
    near = np.flatnonzero(np.abs(X[:, 0] - x) <= reach)
    if len(near) < 2:
        return None
    y = X[near, 1]
    width = y.max() - y.min()
    left, right = near[y <= y.min() + EDGE * width], near[y >= y.max() - EDGE * width]
    inwards = (X[left, None, 1] - y.min()) + (y.max() - X[None, right, 1])
    apart = np.abs(X[left, None, 0] - X[None, right, 0]) + np.abs(X[left, None, 2] - X[None, right, 2])
    off = np.abs(X[left, None, 0] - x) + np.abs(X[None, right, 0] - x)
    i, j = np.unravel_index(np.argmin(apart + inwards + 0.5 * off), apart.shape)
    return (int(left[i]), int(right[j])) if X[right[j], 1] > X[left[i], 1] else None


def rotation(points: Floats, motion: Floats, pairs: Ints) -> Floats:
    """Rotation (...) [rad] about x of node pairs (..., 2) left, right: difference of vertical movement over distance.

    ``points`` (p, 3) and ``motion`` (p, 6).
    """
    left, right = pairs[..., 0], pairs[..., 1]
    return (motion[right, 2] - motion[left, 2]) / (points[right, 1] - points[left, 1])


def bays(gauges: Gauges, curve_deg: Floats, stations: dict[str, Station], size: float) -> tuple[Bay, ...]:
    """Twist between neighbouring marks: the stations that cross the tub, its ends, and places between far ones.

    Marks nearer than two elements count once: the twist of one element is not a bay's. A stretch of more than
    two fifths of the tub without a station is halved until it is shorter.
    """
    x = gauges.x
    heights = {name: float(np.interp(station.x_at(0.0), x, gauges.z)) for name, station in stations.items()}
    named = sorted((station.x_at(heights[name]), name) for name, station in stations.items())
    marks = _apart([mark for mark in named if x[0] - size < mark[0] < x[-1] + size], 2 * size)
    if not marks or marks[0][0] - x[0] >= 2 * size:
        marks.insert(0, (float(x[0]), "the front end"))
    if x[-1] - marks[-1][0] >= 2 * size:
        marks.append((float(x[-1]), "the rear end"))
    longest = LONG * (marks[-1][0] - marks[0][0])
    found = []
    for (x0, start), (x1, end) in pairwise(marks):
        parts = 2 ** max(0, int(np.ceil(np.log2((x1 - x0) / longest))))
        edges = np.linspace(x0, x1, parts + 1).tolist()
        names = [start, *(f"x = {edge:.2f} m" for edge in edges[1:-1]), end]
        twist = np.diff(np.interp(edges, x, curve_deg))
        for k in range(parts):
            length = edges[k + 1] - edges[k]
            found.append(
                Bay(names[k], names[k + 1], (edges[k], edges[k + 1]), float(twist[k]), float(twist[k] / length))
            )
    return tuple(found)


def _apart(marks: list[tuple[float, str]], distance: float) -> list[tuple[float, str]]:
    """Marks, foremost first, without those nearer than a distance to the one kept before."""
    kept: list[tuple[float, str]] = []
    for mark in marks:
        if not kept or mark[0] - kept[-1][0] >= distance:
            kept.append(mark)
    return kept


def softest(found: tuple[Bay, ...]) -> Bay | None:
    """The bay with the most twist per metre, whichever way."""
    return max(found, key=lambda bay: abs(bay.twist_deg_per_m), default=None)
