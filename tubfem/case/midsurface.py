"""The mid-surface rule: every surface moved from the face that was measured to the middle of its base stack.

A point moves so that it satisfies, in this order, (1) what it must stay on: its station's plane, the middle plane, the
other surfaces it stood on as measured; (2) the distances its own walls or panels want to move; (3) what is left stays
where it is. Corner lines are so re-intersected from the moved walls, a hat's ends move square to their only wall, and a
pillar's foot is run on along its corner lines to the moved sill.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.facing import wall_inward
from tubfem.case.frames import area_vector, unit
from tubfem.case.plain import Face
from tubfem.case.schema import Case
from tubfem.case.skeleton import MM, CornerAt, Pinned, Ring, Sheet, State, chain
from tubfem.case.standing import Bays, on_station, order_of, pins, places_of, twins
from tubfem.case.surfaces import Surface, foot, loop_points, surface

Drawn = Mapping[str, Surface]  # faces of the sheets that have been moved
Wish = tuple[Floats, float]  # a unit normal and the distance to move along it [m]
UNEVEN = 2e-3  # [m]: a panel whose points move less alike than this is worth a note


@dataclass(frozen=True, slots=True)
class Motion:
    """How far a sheet should move into its laminate, and how far in the measured face lay already [m]."""

    distance: float
    base: float


def wanted_motion(measured: str, thickness: float) -> Motion:
    """From the face that was measured ("tool", "far" or "middle") to the middle of the thickness [m]."""
    base = {"tool": 0.0, "middle": 0.5, "far": 1.0}[measured] * thickness
    return Motion(0.5 * thickness - base, base)


def follow(tiers: Iterable[list[Wish]], cutoffs: Iterable[float]) -> Floats:
    """The motion (3,) [m] that satisfies the first tier of wishes, then the next as far as it may, and so on.

    Wishes of one tier that nearly agree in direction (singular values below the tier's cutoff times the largest) are
    averaged rather than intersected far away.
    """
    delta, free = np.zeros(3), np.eye(3)
    for wishes, cutoff in zip(tiers, cutoffs, strict=True):
        if not wishes or free.shape[1] == 0:
            continue
        N = np.array([normal for normal, _ in wishes])
        gap = np.array([distance for _, distance in wishes]) - N @ delta
        U, S, Vt = np.linalg.svd(N @ free)
        rank = int(np.count_nonzero(S > cutoff * max(S.max(), 1e-3)))
        delta = delta + free @ (Vt[:rank].T @ ((U.T @ gap)[:rank] / S[:rank]))
        free = free @ Vt[rank:].T
    return delta


@dataclass(frozen=True, eq=False, slots=True)
class Mover:
    """What moving needs to know: the case as measured, its sheets with their inward normals and wanted motions."""

    case: Case
    state: State
    sheets: Mapping[str, Sheet]
    surfaces: Mapping[str, Surface]
    normals: Mapping[str, Floats]
    motions: Mapping[str, Motion]

    def station_motion(self, station: str) -> float:
        """How far a station's plane moves along its normal [m]: the mean, by area, of the panels that lie in it."""
        total = area = 0.0
        for sheet in self.sheets.values():
            if sheet.kind == "on" and sheet.stations[0] == station:
                size = float(np.linalg.norm(area_vector(loop_points(self.surfaces[sheet.name].faces[0].edges))))
                sign = float(np.sign(self.normals[sheet.name][0] @ self.state.planes[station].normal))
                total += size * sign * self.motions[sheet.name].distance
                area += size
        return total / area if area else 0.0


def moved_state(mover: Mover) -> State:
    """The state as meshed: every surface on the middle of its base stack, as far as its neighbours let it."""
    case, state = mover.case, mover.state
    planes = {name: plane.moved(mover.station_motion(name)) for name, plane in state.planes.items()}
    new = State(planes, state.rings, {}, {}, {})
    places = places_of(state, mover.sheets, mover.surfaces)
    drawn: dict[str, Surface] = {}
    for body in order_of(state, mover.sheets, places):
        if body in state.rings:
            ring = state.rings[body]
            new.rows[body] = {station: {} for station in ring.own}
            for station in ring.own:
                for corner in ring.corners:
                    hosts = places[body][station, corner]
                    new.rows[body][station][corner] = _moved_corner(mover, drawn, ring, station, corner, hosts)
            new.radius[body] = _moved_radii(mover, ring)
        else:
            for key, hosts in places[body].items():
                if key not in new.points:
                    new.points[key] = _moved_pin(mover, drawn, key, hosts)
        for sheet in mover.sheets.values():
            if sheet.owner == body:
                drawn[sheet.name] = surface(new.faces(sheet))
    for key, point in state.points.items():
        new.points.setdefault(key, point)
    if case.mirror:
        for rows in new.rows.values():
            for row in rows.values():
                for point in row.values():
                    point[1] = max(point[1], 0.0)
    return new


def _stay_on(drawn: Drawn, point: Floats, hosts: tuple[str, ...]) -> list[Wish]:
    """Wishes that bring a point (3,) on to its hosts as moved."""
    wishes = []
    for host in hosts:
        found = foot(drawn[host], point)
        wishes.append((found.normal, float((found.at - point) @ found.normal)))
    return wishes


def _settle(drawn: Drawn, at: Floats, hosts: tuple[str, ...], tiers, cutoffs) -> Floats:
    """The point `at` moved; the hosts' own shape is followed by repeating."""
    hard, *soft = tiers
    delta = np.zeros(3)
    for _ in range(6 if hosts else 1):
        on = [(normal, gap + float(normal @ delta)) for normal, gap in _stay_on(drawn, at + delta, hosts)]
        step = follow([[*hard, *on], *soft], cutoffs)
        if np.abs(step - delta).max() < 1e-13:
            break
        delta = step
    return at + delta


def _moved_corner(mover: Mover, drawn: Drawn, ring: Ring, station: str, corner: str, hosts: tuple[str, ...]) -> Floats:
    case, state = mover.case, mover.state
    at = state.rows[ring.name][station][corner]
    walls = [
        (wall_inward(case, state, ring, wall, corner, station), mover.motions[f"{ring.name}.{wall}"].distance)
        for wall in ring.walls_at(corner)
    ]
    walls += _closing(mover, ring, station, corner)
    hard = [(np.array([0.0, 1.0, 0.0]), 0.0)] if case.mirror and abs(at[1]) < 1e-9 else []
    cap = next(
        (s for s in mover.sheets.values() if s.kind == "cap" and s.owner == ring.name and s.stations[0] == station),
        None,
    )
    capped = [(mover.normals[cap.name][0], mover.motions[cap.name].distance)] if cap else []
    if ring.upward:
        return _settle(drawn, at, hosts, [hard, walls, capped or _row_plane(state, ring, station)], (0.05, 0.15, 0.05))
    plane = state.planes[station]
    shift = (
        capped[0] if capped and not on_station(mover.sheets, station) else (plane.normal, mover.station_motion(station))
    )
    return _settle(drawn, at, hosts, [[*hard, shift], walls], (0.05, 0.15))


def with_standing_rows(state: State, surfaces: Drawn, bays: Bays) -> State:
    """The measured state with rows at the stations where corner lines stand on others (`standing.standing_bays`).

    Between its own stations such a line was never measured: it is brought on to what it stands on, in the station's
    plane and along its own wall.
    """
    rows, rings = dict(state.rows), dict(state.rings)
    for name, stations in bays.items():
        ring = state.rings[name]
        more = {
            station: {corner: state.sharp(name, corner, station) for corner in ring.corners} for station in stations
        }
        for station, standing in stations.items():
            plane = [(state.planes[station].normal, 0.0)]
            for corner, hosts in standing.items():
                walls = []
                for wall in ring.walls_at(corner):
                    a, b = state.wall_ends(name, wall, station)
                    walls.append((unit(np.cross(b - a, state.planes[station].normal)), 0.0))
                more[station][corner] = _settle(surfaces, more[station][corner], hosts, [plane, walls], (0.05, 0.15))
        joined = {**state.rows[name], **more}
        rows[name] = dict(sorted(joined.items(), key=lambda row: np.mean([point[0] for point in row[1].values()])))
        rings[name] = replace(ring, own=tuple(rows[name]), cuts=tuple(rows[name]))
    return replace(state, rows=rows, rings=rings)


def _row_plane(state: State, ring: Ring, station: str) -> list[Wish]:
    """Corners of a section that runs upwards stay in the plane they were measured in, if they have one."""
    found = chain(ring)
    order = found[0] if found else ring.corners
    area = area_vector(np.array([state.rows[ring.name][station][corner] for corner in order]))
    return [(unit(area), 0.0)] if np.linalg.norm(area) > 1e-8 else []


def _closing(mover: Mover, ring: Ring, station: str, corner: str) -> list[Wish]:
    """A panel between hats' ends only takes these along their walls to its own middle.

    At a corner of two walls there is no room for that: such a panel follows, and its `shift` says where it lies.
    """
    wishes = []
    if len(ring.walls_at(corner)) == 1:
        at = mover.state.rows[ring.name][station][corner]
        for sheet in mover.sheets.values():
            if sheet.kind != "between":
                continue
            lines = [line.partition(".")[::2] for line in mover.case.panels[sheet.name].between]
            ends = all(len(mover.state.rings[section].walls_at(end)) == 1 for section, end in lines)
            if (ring.name, corner) in lines and ends and station in sheet.stations:
                found = foot(mover.surfaces[sheet.name], at)
                sign = np.sign(found.normal @ mover.normals[sheet.name].sum(axis=0))
                wishes.append((sign * found.normal, mover.motions[sheet.name].distance))
    return wishes


def _moved_radii(mover: Mover, ring: Ring) -> dict[str, float]:
    """Radii of a ring's corners on the moved walls [m]: smaller if these moved towards the arc's middle."""
    radii = {}
    station = ring.own[0]
    for corner, radius in ring.radius.items():
        walls = ring.walls_at(corner)
        if radius and len(walls) == 2:
            moved = np.mean([mover.motions[f"{ring.name}.{wall}"].distance for wall in walls])
            centre = mover.state.locate(CornerAt(ring.name, corner, station)) - mover.state.sharp(
                ring.name, corner, station
            )
            normal = wall_inward(mover.case, mover.state, ring, walls[0], corner, station)
            radius = radius - float(np.sign(normal @ centre)) * float(moved)
        radii[corner] = radius
    return radii


def _moved_pin(mover: Mover, drawn: Drawn, key: str, hosts: tuple[str, ...]) -> Floats:
    case, state = mover.case, mover.state
    at = state.points[key]
    hard = [(np.array([0.0, 1.0, 0.0]), 0.0)] if case.mirror and abs(at[1]) < 1e-9 else []
    edges: list[Wish] = []
    wishes: list[Wish] = []
    for sheet in mover.sheets.values():
        if sheet.kind not in ("on", "free"):
            continue
        here = [twin for twin in twins(state, key) if twin in pins(sheet)]
        if not here:
            continue
        if sheet.kind == "on":
            plane = state.planes[sheet.stations[0]]
            hard.append((plane.normal, mover.station_motion(sheet.stations[0])))
            edges += _edges_kept(drawn, mover, sheet, here[0], hosts, plane.normal)
        elif movable(mover.surfaces[sheet.name].faces):
            wishes.append((mover.normals[sheet.name][0], mover.motions[sheet.name].distance))
    return _settle(drawn, at, hosts, [hard, wishes, edges], (0.05, 0.15, 0.15))


def _edges_kept(
    drawn: Drawn, mover: Mover, sheet: Sheet, key: str, hosts: tuple[str, ...], normal: Floats
) -> list[Wish]:
    """A point that follows its hosts slides along those straight edges of its panel that leave them."""
    state = mover.state
    at = state.points[key]
    walls = [foot(drawn[host], at).normal for host in hosts]
    wishes = []
    for kind, (start, *_, end) in sheet.patches[0]:
        if kind == "line" and Pinned(key) in (start, end):
            along = unit(state.locate(end) - state.locate(start))
            if all(abs(along @ wall) > 0.34 for wall in walls):  # sin 20 degrees: not an edge along the wall
                wishes.append((np.cross(normal, along), 0.0))
    return wishes


def movable(faces: tuple[Face, ...]) -> bool:
    """Whether a free panel can move along one normal: it is flat to 5 mm."""
    points = loop_points(faces[0].edges)
    normal = unit(area_vector(points))
    return bool(np.abs((points - points.mean(axis=0)) @ normal).max() < 5e-3)


def shifts(mover: Mover, new: State) -> tuple[dict[str, float], list[str]]:
    """How far each meshed sheet lies from its tool face, into the laminate [m], and notes on uneven ones."""
    found, notes = {}, []
    for name, sheet in mover.sheets.items():
        moved = np.concatenate(
            [
                [(new.locate(v) - mover.state.locate(v)) @ normal for _, vertices in patch for v in vertices[:-1]]
                for patch, normal in zip(sheet.patches, mover.normals[name], strict=True)
            ]
        )
        motion = mover.motions[name]
        found[name] = motion.base + float(moved.mean())
        middle = motion.base + motion.distance
        bent = sheet.kind == "free" and pins(sheet) and not movable(mover.surfaces[name].faces)
        why = f"{name} {'is not flat, so it stays as measured' if bent else 'follows its neighbours'}"
        middle_words = f"(middle of its laminate: {middle * MM:.1f} mm)"
        if np.ptp(moved) > UNEVEN:
            low, high = ((motion.base + moved.min()) * MM, (motion.base + moved.max()) * MM)
            taken = f"taken as {found[name] * MM:.1f} mm {middle_words}"
            notes.append(f"{why}: meshed {low:.1f} to {high:.1f} mm inside its tool face, {taken}")
        elif abs(found[name] - middle) > UNEVEN:
            notes.append(
                f"{why}: meshed {found[name] * MM:.1f} mm inside its tool face {middle_words}. "
                "A closed cell with all its walls of sandwich so held comes out 12 to 14 % soft in torsion"
            )
    return found, notes
