"""A case expanded to plain panels: stations, sections and tape measurements, on the surfaces that are meshed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.facing import check_facing, inward
from tubfem.case.frames import area_vector, unit
from tubfem.case.midsurface import Mover, moved_state, shifts, wanted_motion
from tubfem.case.outlines import Outliner, outline_sheet
from tubfem.case.plain import PlainPanel, PlainTub, Point
from tubfem.case.regions import bay_region, panel_region, regions, wall_region
from tubfem.case.rings import measured_state
from tubfem.case.schema import Case
from tubfem.case.sheets import between_sheet, cut_state, wall_sheets
from tubfem.case.skeleton import Sheet, State
from tubfem.case.surfaces import loop_points
from tubfem.errors import CaseError


@dataclass(frozen=True, eq=False, slots=True)
class Expansion:
    """A case's sheets, and where their vertices are as measured and as meshed.

    normals: per sheet the unit normals (patch, 3) from the tool face into the laminate. shift: per sheet [m].
    """

    case: Case
    measured: State
    meshed: State
    sheets: Mapping[str, Sheet]
    normals: Mapping[str, Floats]
    shift: Mapping[str, float]
    notes: tuple[str, ...]


def plain_tub(case: Case, thickness: Mapping[str, float]) -> PlainTub:
    """The case's panels as they are meshed: on the middle of their base stacks as far as their neighbours let them.

    Parameters
    ----------
    case : as read
    thickness : total thickness of each region's base stack [m]; a region not named has none and stays on its
        measured face

    Raises
    ------
    CaseError
        Every fault of the geometry that was found, each with its place in the file.
    """
    return plain(expand(case, thickness))


def expand(case: Case, thickness: Mapping[str, float]) -> Expansion:
    """Sheets of all walls and panels, as measured and as meshed; errors as `plain_tub`."""
    reader = Outliner(case, measured_state(case))
    outlined = {name: outline_sheet(reader, name) for name, panel in case.panels.items() if panel.outline}
    standing = [sheet for sheet in outlined.values() if sheet is not None and sheet.kind == "on"]
    cautions: list[str] = []
    state = cut_state(case, reader.state, standing, reader.faults, cautions)
    sheets = {sheet.name: sheet for sheet in wall_sheets(case, state, reader.faults)}
    for name, panel in case.panels.items():
        sheet = between_sheet(case, state, name, standing, reader.faults) if panel.between else outlined[name]
        if sheet is not None:
            sheets[name] = sheet
    if not reader.faults:
        reader.faults += check_facing(case, state, list(sheets.values()))
    if reader.faults:
        raise CaseError(reader.faults)
    normals = {name: inward(case, state, sheet) for name, sheet in sheets.items()}
    motions = {
        name: wanted_motion(_measured(case, sheet), thickness.get(motion_region(case, sheet), 0.0))
        for name, sheet in sheets.items()
    }
    mover = Mover(case, state, sheets, normals, motions)
    meshed = moved_state(mover)
    shift, uneven = shifts(mover, meshed)
    return Expansion(case, state, meshed, sheets, normals, shift, tuple([*cautions, *reader.notes, *uneven]))


def plain(expansion: Expansion) -> PlainTub:
    """The plain panels of an expansion."""
    case, meshed = expansion.case, expansion.meshed
    panels = [_plain_panel(expansion, sheet) for sheet in expansion.sheets.values()]
    stations = tuple((name, _point(plane.point), _point(plane.normal)) for name, plane in meshed.planes.items())
    return PlainTub(
        panels=tuple(panels),
        mounts=(),
        points=(),
        lines=(),
        mirror=case.mirror is not None,
        size=case.mesh.size,
        stations=stations,
    )


def _measured(case: Case, sheet: Sheet) -> str:
    return (case.sections[sheet.owner] if sheet.kind in ("wall", "cap") else case.panels[sheet.name]).measured


def sheet_region(case: Case, sheet: Sheet) -> str:
    """Region of a sheet."""
    if sheet.kind not in ("wall", "cap"):
        return panel_region(sheet.name, case.panels[sheet.name])
    wall = sheet.name.split(".")[1]
    if sheet.kind == "wall":
        for bay in case.sections[sheet.owner].layup_from:
            if bay_region(sheet.owner, bay.wall, bay.from_, bay.to) == sheet.name:
                return sheet.name
    return wall_region(sheet.owner, case.sections[sheet.owner], wall)


def motion_region(case: Case, sheet: Sheet) -> str:
    """Region whose thickness moves a sheet: a wall moves as one, also where another layup is laid over a part."""
    if sheet.kind == "wall":
        return wall_region(sheet.owner, case.sections[sheet.owner], sheet.name.split(".")[1])
    return sheet_region(case, sheet)


def regions_of(case: Case) -> dict[str, tuple[str, ...]]:
    """Every region and the names of its plain panels, without sides."""
    bays = {
        bay_region(name, bay.wall, bay.from_, bay.to)
        for name, section in case.sections.items()
        for bay in section.layup_from
    }
    return {region: (region,) if region in bays else names for region, names in regions(case).items()}


def _plain_panel(expansion: Expansion, sheet: Sheet) -> PlainPanel:
    case, meshed = expansion.case, expansion.meshed
    faces = tuple(face for face in meshed.faces(sheet) if len(face.edges) > 2 or _has_area(face))
    normals = expansion.normals[sheet.name]
    weights = [np.linalg.norm(area_vector(loop_points(face.edges))) for face in meshed.faces(sheet)]
    into = unit(np.asarray(weights) @ normals)
    if sheet.side == "across":
        into = unit(into * [1.0, 0.0, 1.0])
    table = case.panels.get(sheet.name)
    return PlainPanel(
        name=sheet.name,
        region=sheet_region(case, sheet),
        faces=faces,
        side=sheet.side,
        tool=_point(-into),
        zero=(1.0, 0.0, 0.0),
        shift=expansion.shift[sheet.name],
        section=sheet.kind == "wall",
        removable=table is not None and table.removable,
    )


def _has_area(face) -> bool:
    return len(face.edges) > 1 and float(np.linalg.norm(area_vector(loop_points(face.edges)))) > 1e-12


def _point(vector: Floats) -> Point:
    return tuple(float(x) for x in vector)
