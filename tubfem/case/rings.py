"""Stations and sections of a case as planes, rings and measured corner lines, with what can be wrong about them."""

from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.frames import Plane, station_plane
from tubfem.case.schema import Case
from tubfem.case.shapes import Section
from tubfem.case.skeleton import MM, Ring, State
from tubfem.errors import CaseError


def station_planes(case: Case) -> dict[str, Plane]:
    """The planes of the case's stations, by name, foremost first."""
    planes = {
        name: station_plane(station.first) if station.slope[0] == 0.0 else station_plane(station.first, station.second)
        for name, station in case.stations.items()
    }
    return dict(sorted(planes.items(), key=lambda item: item[1].point[0]))


def measured_state(case: Case) -> State:
    """Rings and corner lines as measured; cuts are the sections' own stations.

    Raises
    ------
    CaseError
        Leaning stations that cross inside a section; all of them together.
    """
    planes = station_planes(case)
    faults: list[str] = []
    rings: dict[str, Ring] = {}
    rows: dict[str, dict[str, dict[str, Floats]]] = {}
    for name, section in case.sections.items():
        upward, rows[name] = _rows(section, planes)
        own = tuple(rows[name])
        radius = {corner: _radius(section, corner) for corner in section.corners}
        rings[name] = Ring(name, dict(section.walls), own, upward, own, radius)
        if not upward:
            _check_order(case, name, own, rows[name], planes, faults)
    if faults:
        raise CaseError(faults)
    return State(planes, rings, rows, radius={name: ring.radius for name, ring in rings.items()})


def _radius(section: Section, corner: str) -> float:
    radius = section.corner_radius
    return radius.get(corner, 0.0) if isinstance(radius, dict) else radius


def _rows(section: Section, planes: dict[str, Plane]) -> tuple[bool, dict[str, dict[str, Floats]]]:
    """Whether the section runs upwards, and its corners (3,) [m] by station, in order along it."""
    upward = all(len(point) == 3 for corners in section.at.values() for point in corners.values())
    rows = {
        station: {
            corner: np.array(point) if upward else planes[station].at(*point) for corner, point in corners.items()
        }
        for station, corners in section.at.items()
    }
    if not upward:
        rows = dict(sorted(rows.items(), key=lambda row: np.mean([point[0] for point in row[1].values()])))
    return upward, rows


def _check_order(
    case: Case,
    name: str,
    stations: tuple[str, ...],
    rows: dict[str, dict[str, Floats]],
    planes: dict[str, Plane],
    faults: list[str],
) -> None:
    """Every corner must come to the stations in the same order."""
    for before, after in pairwise(stations):
        for corner, point in rows[before].items():
            if planes[after].height(point) >= 0.0 or planes[before].height(rows[after][corner]) <= 0.0:
                faults.append(case.message(("stations",), crossing(before, after, planes, name)))
                break


def crossing(one: str, other: str, planes: dict[str, Plane], section: str) -> str:
    """Words for two stations that cross inside a section."""
    a, b = planes[one], planes[other]
    lean_a, lean_b = a.normal[2] / a.normal[0], b.normal[2] / b.normal[0]
    where = ""
    if abs(lean_a - lean_b) > 1e-9:
        where = f" at z = {(a.point[0] - b.point[0]) / (lean_a - lean_b) * MM:.0f}"
    return f"stations {one} and {other} cross{where}, inside sections.{section}: the section would be cut twice there"


def ordered_cuts(state: State, ring: Ring, stations: set[str]) -> tuple[tuple[str, ...], tuple[str, str] | None]:
    """Stations in their order along a ring, and the first two that cross inside it, if any."""
    corners = np.array([[state.sharp(ring.name, corner, s)[0] for corner in ring.corners] for s in sorted(stations)])
    order = np.argsort(corners.mean(axis=1))
    names = [sorted(stations)[i] for i in order]
    for (i, one), (j, other) in pairwise(zip(order, names, strict=True)):
        if (corners[j] - corners[i]).min() <= 1e-9:
            return tuple(names), (one, other)
    return tuple(names), None
