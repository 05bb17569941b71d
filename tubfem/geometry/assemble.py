"""The meshed half and how it becomes the tub: reflection node for node, names with sides, joints, mounts."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.plain import PlainMount, PlainTub
from tubfem.geometry.distance import nearest
from tubfem.geometry.draughtsman import Sides
from tubfem.geometry.mesh import Block, JointLine, Mount, Panel, TubMesh, centroids, vector_areas
from tubfem.geometry.shapes import Part
from tubfem.geometry.topology import chains, edge_table

REFLECT = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class HalfMesh:
    """What gmsh meshed: the half y >= 0, or all of a tub without mirror.

    Attributes
    ----------
    points : (p, 3) [m]
    conn : (e, 4)
    piece : (e,) piece of each element
    piece_part : (piece,) index into `parts`
    sides : by piece, where it exists
    parts : panels, recess bottoms and walls
    lines : line name -> (n, 2) node pairs
    """

    points: Floats
    conn: Ints
    piece: Ints
    piece_part: Ints
    sides: tuple[Sides, ...]
    parts: tuple[Part, ...]
    lines: dict[str, Ints]

    @property
    def part(self) -> Ints:
        """Part of each element (e,)."""
        return self.piece_part[self.piece]


def assemble(half: HalfMesh, tub: PlainTub) -> tuple[TubMesh, list[str]]:
    """The whole tub from its meshed half, and the faults: points and mounts that are not on the mesh."""
    points, conn, part, left = _both(half, tub.mirror)
    panels, panel_of = _panels(half, part, left, conn, points, tub.mirror)
    panel = panel_of[part, left.astype(int)]
    zero = np.array([p.panel.zero for p in half.parts], float)[part]
    mirrored = np.array([p.mirrored for p in panels])[panel]
    direction = np.where(mirrored[:, None], zero * REFLECT, zero)
    table, by_element = edge_table(conn)
    count = np.bincount(by_element.ravel(), minlength=len(table))
    faults: list[str] = []
    nodes_at = _named_points(points, conn, panel, panels, tub, faults)
    edges_at = _named_lines(half, points, table, tub.mirror, faults)
    mounts = _mounts(points, conn, panel, panels, tub, faults)
    mesh = TubMesh(
        points=frozen(points),
        blocks=(Block("quad4", frozen(conn), frozen(panel), frozen(direction)),),
        panels=panels,
        joints=_joints(points, table, by_element, panel),
        mounts=mounts,
        nodes_at=nodes_at,
        edges_at=edges_at,
        free_edges=frozen(table[count == 1]),
        size=tub.size,
    )
    return mesh, faults


def _both(half: HalfMesh, mirror: bool) -> tuple[Floats, Ints, Ints, np.ndarray]:
    """Points, connectivity, part and side (True: left) of both halves; nodes at y = 0 are shared."""
    right = np.array(["right" in sides for sides in half.sides])[half.piece]
    n = len(half.points)
    middle = half.points[:, 1] == 0.0
    left = np.array([mirror and "left" in sides for sides in half.sides])[half.piece]
    left &= ~(middle[half.conn].all(axis=1) & right)  # what lies in the middle plane is there once
    image = np.where(middle, np.arange(n), np.arange(n) + n)
    conn = np.concatenate([half.conn[right], image[half.conn[left]][:, [0, 3, 2, 1]]])
    part = np.concatenate([half.part[right], half.part[left]])
    side = np.repeat([False, True], [right.sum(), left.sum()])
    points = np.concatenate([half.points, half.points * REFLECT])
    used = np.unique(conn)
    place = np.full(2 * n, -1)
    place[used] = np.arange(len(used))
    return points[used], place[conn], part, side


def _panels(
    half: HalfMesh, part: Ints, left: np.ndarray, conn: Ints, points: Floats, mirror: bool
) -> tuple[tuple[Panel, ...], Ints]:
    """Panels in the case's order, and the panel of each (part, side)."""
    panels: list[Panel] = []
    panel_of = np.full((len(half.parts), 2), -1)
    for i, source in enumerate(half.parts):
        sides = [s for s in (0, 1) if np.any((part == i) & (left == bool(s)))]
        across = source.panel.side != "half"
        if source.recess is not None and mirror:  # a pocket is one piece only if it lies over the middle
            across = bool(np.any(points[conn[part == i].ravel(), 1] == 0.0))
        for s in sides:
            if s == 1 and across and panel_of[i, 0] >= 0:
                panel_of[i, 1] = panel_of[i, 0]
                continue
            doubled = mirror and not across and source.only is None
            name = source.name + (("", ".right", ".left")[1 + s] if doubled else "")
            panel_of[i, s] = len(panels)
            plain = source.panel
            panels.append(
                Panel(
                    name=name,
                    plain=source.name,
                    region=source.region,
                    mirrored=bool(s == 1 and not across),
                    shift=plain.shift,
                    section=plain.section,
                    removable=plain.removable,
                )
            )
    return tuple(panels), panel_of


def _joints(points: Floats, table: Ints, by_element: Ints, panel: Ints) -> tuple[JointLine, ...]:
    """Edges where elements of two or more panels meet, grouped by who meets, in connected lines by z, y, x."""
    pairs = np.unique(np.stack([by_element.ravel(), np.repeat(panel, by_element.shape[1])], -1), axis=0)
    count = np.bincount(pairs[:, 0], minlength=len(table))
    met: dict[tuple[int, ...], list[int]] = {}
    start = np.concatenate([[0], np.cumsum(count)])
    for edge in np.flatnonzero(count > 1):
        met.setdefault(tuple(pairs[start[edge] : start[edge + 1], 1].tolist()), []).append(int(edge))
    lines = [JointLine(who, frozen(line)) for who, edges in met.items() for line in chains(table[edges], points)]
    return tuple(sorted(lines, key=lambda line: _zyx(points, line.edges)))


def _zyx(points: Floats, edges: Ints) -> tuple[float, ...]:
    """What lines are ordered by: the middle of the line, height first."""
    return tuple(np.round(points[edges].mean(axis=(0, 1))[::-1], 6).tolist())


def _named_points(
    points: Floats, conn: Ints, panel: Ints, panels: tuple[Panel, ...], tub: PlainTub, faults: list[str]
) -> dict[str, int]:
    """Node of every named point; `.right` and `.left` where it exists twice."""
    tree, found = cKDTree(points), {}
    for point in tub.points:
        at = np.asarray(point.at, float)
        twice = tub.mirror and abs(at[1]) > 1e-6
        for suffix, place in ((".right", at), (".left", at * REFLECT)) if twice else (("", at),):
            distance, node = tree.query(place)
            if distance > 1e-4:
                off, _, element = nearest(place[None], points, conn, np.inf)
                faults.append(
                    f"points.{point.name}: lies {off[0] * 1e3:.1f} mm off the nearest panel, "
                    f"{panels[panel[element[0]]].plain}; put it on one"
                )
                break
            found[point.name + suffix] = int(node)
    return found


def _named_lines(half: HalfMesh, points: Floats, table: Ints, mirror: bool, faults: list[str]) -> dict[str, Ints]:
    """Node pairs of every named line, ordered along it; `.right` and `.left` where it exists twice."""
    tree, found = cKDTree(points), {}
    span = (len(points), 1)
    for name, edges in half.lines.items():
        at = half.points[edges]
        twice = mirror and bool(np.any(at[:, :, 1] != 0.0))
        for suffix, place in ((".right", at), (".left", at * REFLECT)) if twice else (("", at),):
            nodes = tree.query(place)[1].astype(np.int64)
            off = ~np.isin(np.sort(nodes, axis=1) @ span, table @ span)
            if np.any(off):
                x, y, z = place[off][0].mean(axis=0) * 1e3
                faults.append(f"lines.{name}: leaves the panels near ({x:.0f}, {y:.0f}, {z:.0f}); draw it on one")
                break
            found[name + suffix] = frozen(np.concatenate(chains(nodes, points)))
    return found


def _mounts(
    points: Floats, conn: Ints, panel: Ints, panels: tuple[Panel, ...], tub: PlainTub, faults: list[str]
) -> tuple[Mount, ...]:
    """Elements under every mount, by their centroids' distance from its axis."""
    middle = centroids(points, conn)
    area = vector_areas(points, conn)
    mounts = []
    for mount in tub.mounts:
        for suffix, sign in _mount_sides(mount, tub.mirror):
            centre, axis = np.asarray(mount.centre) * sign, np.asarray(mount.normal) * sign
            axis = axis / np.linalg.norm(axis)
            off = middle - centre
            along = off @ axis
            radius = np.linalg.norm(off - along[:, None] * axis, axis=1)
            on = np.array([p.plain == mount.panel for p in panels])[panel] & (np.abs(along) < 0.25 * mount.radius)
            pad = np.flatnonzero(on & (radius < mount.radius))
            insert = np.flatnonzero(on & (radius < mount.insert_radius))
            covered = np.linalg.norm(area[pad], axis=1).sum() / (np.pi * mount.radius**2)
            if covered < 0.9 or len(pad) < 12 or not len(insert):
                faults.append(
                    f"mounts.{mount.name}: only {100 * covered:.0f} % of its pad lies on {mount.panel}; move it "
                    "clear of edges and openings, or make its radius smaller"
                )
                break
            mounts.append(
                Mount(
                    name=mount.name + suffix,
                    panel=int(panel[insert[0]]),
                    insert=frozen(insert),
                    pad=frozen(pad),
                    centre=frozen(centre),
                    normal=frozen(area[insert].sum(axis=0) / np.linalg.norm(area[insert].sum(axis=0))),
                )
            )
    return tuple(mounts)


def _mount_sides(mount: PlainMount, mirror: bool) -> tuple[tuple[str, Floats], ...]:
    both = (("right", np.ones(3)), ("left", REFLECT))
    if not mirror or abs(mount.centre[1]) < 1e-6:
        return (("", np.ones(3)),)
    if mount.only:
        return (("", dict(both)[mount.only]),)
    return tuple((f".{side}", sign) for side, sign in both)
