"""A tub seen from a place: projection, painter's order, light. Arrays only; nothing is drawn here."""

from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_cdt

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh
from tubfem.tub.model import TubModel

PIXELS = 400  # along the longer side of the paper, for telling what is in sight
SAMPLES = 8  # points along each side of an element, at most; it is at most half as large again as the mesh size


@dataclass(frozen=True, eq=False, slots=True)
class View:
    """An orthographic view: unit vectors (3,) to the right and up on the paper, and towards the eye."""

    right: Floats
    up: Floats
    towards: Floats


def view_from(direction: tuple[float, float, float]) -> View:
    """The view of an eye far away in `direction` (vehicle axes, not straight above), z upwards on the paper."""
    towards = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    right = np.cross([0.0, 0.0, 1.0], towards)
    right /= np.linalg.norm(right)
    return View(right, np.cross(towards, right), towards)


ABOVE = view_from((-1.0, 0.95, 0.85))  # from the front, right: the inside is in sight
BELOW = view_from((1.0, 0.95, -0.75))  # from the rear, right
SIDE = view_from((0.0, 1.0, 0.0))


def project(points: Floats, view: View) -> tuple[Floats, Floats]:
    """Paper coordinates (p, 2) [m] and nearness to the eye (p,) [m] of points (p, 3)."""
    return points @ np.stack([view.right, view.up], axis=1), points @ view.towards


def corners(mesh: TubMesh) -> Ints:
    """Nodes (e, 4) of all elements through the blocks in order; a triangle's last node stands twice."""
    return np.concatenate([b.conn if b.conn.shape[1] == 4 else b.conn[:, [0, 1, 2, 2]] for b in mesh.blocks])


def brightness(points: Floats, quads: Ints, view: View) -> Floats:
    """How light each face (e,) appears, 0.82 to 1: lit from over the viewer's left shoulder, both faces alike."""
    a, b, c, d = (points[quads[:, k]] for k in range(4))
    normal = np.cross(c - a, d - b)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    light = view.towards + 0.9 * view.up - 0.5 * view.right
    return 0.82 + 0.18 * np.abs(normal @ light) / np.linalg.norm(light)


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """Polygons in the order to paint them, far ones first.

    polygons (n, 4, 2) [m on paper]; `source` (n,) says what each was: 0..e-1 an element, e.. a line edge, in the order
    given to `arrange`.
    """

    polygons: Floats
    source: Ints


def arrange(points: Floats, quads: Ints, edges: Ints, widths: Floats, view: View) -> Drawing:
    """Elements (e, 4) and line edges (n, 2) in painter's order; an edge comes right after the elements it bounds.

    widths : (n,) of the edges' strokes [m on paper]
    """
    flat, near = project(points, view)
    of_element = near[quads].mean(axis=1)
    depth = np.concatenate([of_element, _edge_depth(len(points), quads, of_element, edges, near[edges].mean(axis=1))])
    order = np.argsort(depth, kind="stable")
    return Drawing(np.concatenate([flat[quads], _strokes(flat[edges], widths)])[order], order)


def _strokes(ends: Floats, widths: Floats) -> Floats:
    """Rectangles (n, 4, 2) along edges (n, 2, 2), half a width longer at both ends."""
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1, keepdims=True)
    along = along / np.where(length > 0, length, 1.0) * widths[:, None] / 2
    across = along @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    a, b = ends[:, 0] - along, ends[:, 1] + along
    return np.stack([a + across, a - across, b - across, b + across], axis=1)


def _edge_depth(nodes: int, quads: Ints, of_element: Floats, edges: Ints, own: Floats) -> Floats:
    """Nearness (n,) of the nearest element that each edge bounds, or the edge's own if that is nearer."""
    sides = np.sort(np.stack([quads, np.roll(quads, -1, axis=1)], -1), axis=-1).reshape(-1, 2)
    key = sides[:, 0] * nodes + sides[:, 1]
    wanted = np.sort(edges, axis=1) @ np.array([nodes, 1])
    distinct, where = np.unique(wanted, return_inverse=True)
    at = np.minimum(np.searchsorted(distinct, key), max(len(distinct) - 1, 0))
    found = distinct[at] == key if len(distinct) else np.zeros(len(key), dtype=bool)
    nearest = np.full(len(distinct), -np.inf)
    np.maximum.at(nearest, at[found], np.repeat(of_element, 4)[found])
    return np.maximum(nearest[where], own)


@dataclass(frozen=True, eq=False, slots=True)
class Sight:
    """What a view shows: the element (rows, columns) at each pixel, -1 for none, and how near it is [m].

    `low` is the paper's lower left corner and `pixel` the side of a pixel [m]; row 0 lies there. `bare` (e,) tells
    the elements that are at some pixel no more than a mesh size behind the nearest, and their neighbours, of which a
    sliver may show between pixels: nothing else need be painted.
    """

    view: View
    element: Ints
    near: Floats
    low: Floats
    pixel: float
    bare: NDArray[np.bool_]

    def hides(self, places: Floats, *, tolerance: float) -> NDArray[np.bool_]:
        """Whether something stands more than `tolerance` [m] before each of these places (n, 3)."""
        spots, near = project(places, self.view)
        column, row = ((spots - self.low) / self.pixel).astype(np.int64).T
        inside = (spots >= self.low).all(axis=1) & (row < self.element.shape[0]) & (column < self.element.shape[1])
        hidden = np.zeros(len(places), dtype=bool)
        hidden[inside] = self.near[row[inside], column[inside]] > near[inside] + tolerance
        return hidden

    def middles(self, group: Ints, count: int, *, least: int) -> dict[int, Floats]:
        """Of each group of elements (e,) the paper point deepest in its largest part in sight, `least` pixels deep."""
        of_pixel = np.append(group, -1)[self.element]
        found = {}
        for index in range(count):
            depth = distance_transform_cdt(np.pad(of_pixel == index, 1))[1:-1, 1:-1]
            if depth.max() >= least:
                row, column = np.unravel_index(int(depth.argmax()), depth.shape)
                found[index] = self.low + self.pixel * (np.array([column, row]) + 0.5)
        return found


def look_from(mesh: TubMesh, view: View, points: Floats | None = None) -> Sight:
    """The nearest element at each pixel, from points spread evenly over every element.

    points : (p, 3) of the deformed mesh, the mesh's own by default [m]
    """
    flat, near = project(mesh.points if points is None else points, view)
    low, high = flat.min(axis=0), flat.max(axis=0)
    pixel = max(float((high - low).max()) / PIXELS, mesh.size / SAMPLES * 1.5)
    samples = int(np.ceil(1.5 * mesh.size / pixel))
    s = (np.arange(samples) + 0.5) / samples
    a, b = (each.ravel() for each in np.meshgrid(s, s))
    shape = np.stack([(1 - a) * (1 - b), a * (1 - b), a * b, (1 - a) * b], axis=-1)
    quads = corners(mesh)
    near = near[quads] @ shape.T  # (e, samples)
    columns, rows = ((high - low) / pixel).astype(np.int64) + 1
    column, row = (((flat[:, k] - low[k]) / pixel)[quads] @ shape.T for k in (0, 1))
    at = row.astype(np.int64) * columns + column.astype(np.int64)
    nearest = np.full(rows * columns, -np.inf)
    np.maximum.at(nearest, at.ravel(), near.ravel())
    behind = nearest[at] - near
    element = np.full(rows * columns, -1, dtype=np.int64)
    foremost = np.nonzero(behind <= 0)
    element[at[foremost]] = foremost[0]
    quads = corners(mesh)
    shown = np.zeros(len(mesh.points), dtype=bool)
    shown[quads[(behind <= mesh.size).any(axis=1)]] = True
    bare = shown[quads].any(axis=1)
    return Sight(view, element.reshape(rows, columns), nearest.reshape(rows, columns), low, pixel, bare)


@lru_cache(maxsize=2)
def sight(mesh: TubMesh, view: View) -> Sight:
    """What a view of the undeformed tub shows, kept for the next picture."""
    return look_from(mesh, view)


def feature_edges(mesh: TubMesh) -> Ints:
    """Edges (n, 2) that show the shape: joints, and edges that belong to one element only."""
    return np.concatenate([mesh.free_edges.reshape(-1, 2), *(line.edges for line in mesh.joints)])


def region_of_elements(mesh: TubMesh) -> tuple[tuple[str, ...], Ints]:
    """Region names in order of first appearance, and each element's index (e,) into them."""
    names = tuple(dict.fromkeys(panel.region for panel in mesh.panels))
    of_panel = np.array([names.index(panel.region) for panel in mesh.panels], dtype=np.int64)
    return names, of_panel[mesh.element_panel]


def round_scale(factor: float) -> float:
    """The nearest of 1, 2, 5 x 10^n below or at `factor`."""
    power = 10.0 ** np.floor(np.log10(factor))
    return float(power * max(step for step in (1, 2, 5) if step * power <= factor * (1 + 1e-12)))


def motion_of_mesh(model: TubModel, displacement: Floats) -> Floats:
    """Translations (p, 3) of the mesh's own nodes; where a joint splits a node, those of its first copy."""
    return displacement[: len(model.mesh.points), :3]


def tied_edges(model: TubModel) -> Ints:
    """Edges (n, 2) of all joint lines on which any two panels are held by springs rather than moulded through."""
    tied = {frozenset(name.split("/")) for name, kind in model.joint_kinds.items() if kind != "continuous"}
    panels = [panel.name for panel in model.mesh.panels]
    found = [
        line.edges
        for line in model.mesh.joints
        if any(frozenset((panels[a], panels[b])) in tied for a in line.panels for b in line.panels if a < b)
    ]
    return np.concatenate([np.empty((0, 2), dtype=np.int64), *found])


def plain_edges(model: TubModel) -> Ints:
    """Edges (n, 2) that show the shape and are not tied: moulded lines and free edges."""
    edges, tied = np.sort(feature_edges(model.mesh), axis=1), np.sort(tied_edges(model), axis=1)
    key = np.array([len(model.mesh.points), 1])
    return edges[~np.isin(edges @ key, tied @ key)]


def pickup_places(model: TubModel) -> Floats:
    """Where the pickups are (n, 3) [m]."""
    return model.states[0].shell.points[np.array(list(model.pickups.values()), dtype=np.int64)]


def carriers(model: TubModel) -> list[tuple[Floats, Floats]]:
    """From every pickup to what carries it, mounts of its own or its rigid subframe's, or a node of its tubes.

    Pairs of points (3,) [m].
    """
    case, places = model.case, {mount.name: mount.centre for mount in model.mesh.mounts}
    lines = []
    for name, node in model.pickups.items():
        plain, dot, side = name.rpartition(".")
        table = case.pickups.get(plain if dot and side in ("left", "right") else name)
        if table is None:
            continue
        points = model.states[0].shell.points
        nodes = [frame.carries[name] for frame in model.frames if name in frame.carries]
        if nodes:
            lines += [(points[node], points[k]) for k in nodes]
            continue
        patterns = table.carried_by or case.subframes[(table.on or "").removeprefix("subframes.")].bolts
        for mount, place in places.items():
            stem, _, mount_side = mount.rpartition(".")
            if any(fnmatchcase(stem, each) or fnmatchcase(mount, each) for each in patterns) and side == mount_side:
                lines.append((points[node], place))
    return lines
