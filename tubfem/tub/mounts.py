"""Plies round mounts, inserts in the core, strips up a wall: what lies on a part of one panel."""

from collections.abc import Iterator
from dataclasses import replace
from math import atan2

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joining import Mount as MountTable
from tubfem.case.joining import Stiffener
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.geometry.mesh import Mount, TubMesh
from tubfem.materials import library
from tubfem.materials.ply import solid_ply
from tubfem.tub.cover import circle, strip
from tubfem.tub.laps import Cover
from tubfem.tub.plies import Layer, marked, patch_plies
from tubfem.tub.surface import Surface, surface_of

SIDES = (".left", ".right")


def plain_name(name: str) -> str:
    """A name without its side."""
    return name.removesuffix(".left").removesuffix(".right")


def mount_covers(case: Case, mesh: TubMesh, further: int = 0) -> list[Cover]:
    """Patches round mounts, one ply after another, and inserts of their own material in the core.

    With `further`, the beginning of each patch and its next ply are marked.
    """
    covers: list[Cover] = []
    for mount in mesh.mounts:
        table = case.mounts[plain_name(mount.name)]
        covers += _mount_patch(case, mesh, mount, table, further)
        if table.insert is not None and table.insert.material is not None:
            try:
                library.solid(table.insert.material)
            except CaseError as error:
                path = ("mounts", plain_name(mount.name), "insert")
                raise CaseError([case.message(path, message) for message in error.messages]) from None
            field = circle(mount.centre, table.insert_radius)
            label = f"insert of {mount.name} in {mesh.panels[mount.panel].name}"
            covers.append(Cover(label, mount.panel, field, (), core=table.insert.material))
    return covers


def _mount_patch(case: Case, mesh: TubMesh, mount: Mount, table: MountTable, further: int) -> Iterator[Cover]:
    name = f"patch of {plain_name(mount.name)}"
    plies = patch_plies(case, table.patch, name)
    radii = table.patch_radius if len(table.patch_radius) > 1 else table.patch_radius * len(plies)
    panel = mesh.panels[mount.panel]
    if further and plies:
        radii = (radii[0], *radii, radii[-1])
        plies = [marked(plies, name, 0), *plies, marked(plies, name, 1)]
    for radius, layers in zip(radii, plies, strict=True):
        laid = turned(layers, mirror_sign(case, mount.centre))
        label = f"patch of {mount.name} on {panel.name}, radius {1e3 * radius:g} mm"
        yield Cover(label, mount.panel, circle(mount.centre, radius), laid)


def mirror_sign(case: Case, place: Floats) -> float:
    """How angles turn at a place: the left half is the mirror image, on a panel across the middle as well."""
    return -1.0 if case.mirror is not None and place[1] < -1e-6 else 1.0


def turned(layers: tuple[Layer, ...], sign: float, turn: float = 0.0) -> tuple[Layer, ...]:
    """The layers at sign·angle + turn [rad]."""
    return tuple(replace(layer, angle=sign * layer.angle + turn) for layer in layers)


def strip_covers(case: Case, mesh: TubMesh) -> list[Cover]:
    """Strips bonded on a section's wall, up its middle, on the face last laid; fibres along the strip.

    Raises
    ------
    CaseError
        The wall is not there.
    """
    covers = []
    surface = surface_of(mesh)
    for name, table in case.stiffeners.items():
        if table.is_beam:
            continue
        width, thickness = table.strip
        ply = solid_ply(library.solid(table.material), thickness)
        for wall in stiffened_walls(case, mesh, name):
            line = wall_middle(case, mesh, surface, wall)
            angle = _strip_angle(mesh, surface, wall, line)
            layer = Layer(angle, ply, 0, f"stiffener {name} {table.material}")
            label = f"stiffener {name} on {mesh.panels[wall].name}"
            covers.append(Cover(label, wall, strip([line], width / 2), (layer,)))
    return covers


def stiffened_walls(case: Case, mesh: TubMesh, name: str) -> list[int]:
    """Meshed panels of the section's wall that a stiffener runs up, of the side that it asks for."""
    table = case.stiffeners[name]
    walls = [
        k
        for k, panel in enumerate(mesh.panels)
        if panel.section and panel.plain == table.on and _on_side(panel.name, table)
    ]
    if not walls:
        known = ", ".join(sorted({panel.plain for panel in mesh.panels if panel.section}))
        raise CaseError(case.message(("stiffeners", name, "on"), f'no wall "{table.on}"; walls: {known}'))
    return walls


def _on_side(panel: str, table: Stiffener) -> bool:
    return table.only is None or panel.endswith(f".{table.only}") or not panel.endswith(SIDES)


def wall_middle(case: Case, mesh: TubMesh, surface: Surface, wall: int) -> Floats:
    """The line (n, 3) half-way between a wall's corners at every station, dropped on to the mesh."""
    section_name, wall_name = mesh.panels[wall].plain.split(".", 1)
    section = case.sections[section_name]
    first, second = section.walls[wall_name]
    side = np.array([1.0, -1.0 if mesh.panels[wall].mirrored else 1.0, 1.0])
    points = [0.5 * (_corner(case, at[first], s) + _corner(case, at[second], s)) for s, at in section.at.items()]
    own = np.flatnonzero(mesh.element_panel == wall)
    dropped = []
    for point in np.array(points) * side:
        nearest = own[np.argmin(np.linalg.norm(surface.middle[own] - point, axis=1))]
        normal = surface.normal[nearest]
        dropped.append(point - (point - surface.middle[nearest]) @ normal * normal)
    line = np.array(dropped)
    return line[np.argsort((line - line[0]) @ (line[-1] - line[0]))]


def _corner(case: Case, corner: tuple[float, ...], station: str) -> Floats:
    if len(corner) == 3:
        return np.array(corner)
    y, z = corner
    return np.array([case.stations[station].x_at(z), y, z])


def _strip_angle(mesh: TubMesh, surface: Surface, wall: int, line: Floats) -> float:
    """Angle [rad] of a line from the wall's zero, to 0.1 degrees."""
    own = mesh.element_panel == wall
    normal, zero = surface.normal[own].mean(0), surface.zero[own].mean(0)
    along = line[-1] - line[0]
    return float(np.radians(round(np.degrees(atan2(along @ np.cross(normal, zero), along @ zero)), 1)))
