"""A case expanded to plain panels: stations, sections and tape measurements, on the surfaces that are meshed."""

from collections.abc import Mapping

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.expansion import Expansion, border
from tubfem.case.facing import check_facing, inward
from tubfem.case.frames import area_vector, unit
from tubfem.case.holes import cut_panel
from tubfem.case.hung import named_targets, plain_mounts
from tubfem.case.midsurface import Mover, moved_state, shifts, wanted_motion, with_standing_rows
from tubfem.case.outlines import Outliner, outline_sheet
from tubfem.case.plain import PlainPanel, PlainTub, Point
from tubfem.case.regions import bay_region, panel_region, recess_regions, regions, wall_region
from tubfem.case.rings import measured_state
from tubfem.case.schema import Case
from tubfem.case.sheets import between_sheet, cut_state, wall_sheets
from tubfem.case.skeleton import Sheet, State
from tubfem.case.standing import places_of, standing_bays
from tubfem.case.surfaces import Surface, loop_points, surface
from tubfem.case.tape import Tape, moved_tape, tape_ends, tape_on
from tubfem.case.zeros import zero_direction
from tubfem.errors import CaseError


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
    return plain_tub_with_notes(case, thickness)[0]


def plain_tub_with_notes(case: Case, thickness: Mapping[str, float]) -> tuple[PlainTub, tuple[str, ...]]:
    """As `plain_tub`, with lines for `look`: sizes of openings, dropped distances, uneven shifts, cautions."""
    return plain_of(expand(case, thickness))


def plain_of(whole: Expansion) -> tuple[PlainTub, tuple[str, ...]]:
    """As `plain_tub_with_notes`, of a case that is expanded already."""
    case, faults, notes = whole.case, [], list(whole.notes)
    panels = {name: _plain_panel(whole, sheet, faults, notes) for name, sheet in whole.sheets.items()}
    mounts = plain_mounts(whole, panels, faults, notes)
    points, lines = named_targets(whole, faults)
    if faults:
        raise CaseError(faults)
    planes = whole.meshed.planes.items()
    tub = PlainTub(
        panels=tuple(panels.values()),
        mounts=mounts,
        points=points,
        lines=lines,
        mirror=case.mirror is not None,
        size=case.mesh.size,
        stations=tuple((name, _tuple(plane.point), _tuple(plane.normal)) for name, plane in planes),
    )
    return tub, tuple(notes)


def expand(case: Case, thickness: Mapping[str, float]) -> Expansion:
    """Sheets of all walls and panels, as measured and as meshed; errors as `plain_tub`."""
    written = {f"points.{name}": np.array(point) for name, point in case.points.items()}
    written |= {
        f"{name}.origin": np.array(panel.origin)
        for name, panel in case.panels.items()
        if isinstance(panel.origin, tuple)
    }
    reader, state, sheets, cautions = _sheets(case, measured_state(case).with_points(written), written)
    as_measured = {name: surface(state.faces(sheet)) for name, sheet in sheets.items()}
    bays = standing_bays(state, sheets, places_of(state, sheets, as_measured))
    if bays:
        finer = with_standing_rows(state, as_measured, bays)
        reader, state, sheets, cautions = _sheets(case, finer, written)
        as_measured = {name: surface(state.faces(sheet)) for name, sheet in sheets.items()}
    normals = {name: inward(case, state, sheet) for name, sheet in sheets.items()}
    motions = {
        name: wanted_motion(_measured(case, sheet), thickness.get(motion_region(case, sheet), 0.0))
        for name, sheet in sheets.items()
    }
    mover = Mover(case, state, sheets, as_measured, normals, motions)
    meshed = moved_state(mover)
    sharp = [
        case.message(
            ("sections", section, "corner_radius"),
            f'"{corner}" keeps no radius in the middle of the laminate; leave it out, the corner is then sharp',
        )
        for section, radii in meshed.radius.items()
        for corner, radius in radii.items()
        if state.rings[section].radius[corner] and radius < 1e-3
    ]
    if sharp:
        raise CaseError(sharp)
    shift, uneven = shifts(mover, meshed)
    sheets = {name: sheet for name, sheet in sheets.items() if not _taken_off(case, sheet)}
    surfaces = {name: (as_measured[name], surface(meshed.faces(sheet))) for name, sheet in sheets.items()}
    return Expansion(
        case=case,
        measured=state,
        meshed=meshed,
        sheets=sheets,
        surfaces=surfaces,
        normals=normals,
        tapes={
            name: _tapes(case, state, meshed, sheet, surfaces[name], normals[name]) for name, sheet in sheets.items()
        },
        borders={name: border(meshed, sheet, surfaces[name][1].faces) for name, sheet in sheets.items()},
        shift=shift,
        notes=(*cautions, *reader.notes, *uneven),
    )


def _taken_off(case: Case, sheet: Sheet) -> bool:
    """Whether a wall or cap is left out by a change; its corners and what stands on them stay where they were."""
    return sheet.kind in ("wall", "cap") and ".".join(sheet.name.split(".")[:2]) in case.without


def _sheets(
    case: Case, state: State, written: dict[str, Floats]
) -> tuple[Outliner, State, dict[str, Sheet], list[str]]:
    """All sheets of a case as measured, the state with its sections cut, and cautions."""
    reader = Outliner(case, state, dict(written))
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
    return reader, state, sheets, cautions


def _tapes(
    case: Case, state: State, meshed: State, sheet: Sheet, surfaces: tuple[Surface, Surface], normals: Floats
) -> tuple[Tape, Tape] | None:
    ends = tape_ends(case, sheet.name)
    measured = tape_on(state, sheet, surfaces[0].faces, normals, ends)
    if measured is None:
        return None
    return measured, moved_tape(measured, tape_on(meshed, sheet, surfaces[1].faces, normals, ends) or measured)


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
    caps = {f"{name}.cap": section.cap for name, section in case.sections.items() if len(section.cap) > 1}
    walls = {
        f"{name}.{recess_name}": (f"{name}.{recess_name}.walls",)
        for name, panel in case.panels.items()
        for recess_name, recess in panel.recesses.items()
        if len(set(recess_regions(name, recess_name, recess))) == 1
    }
    found = {}
    for region, names in regions(case).items():
        own: list[str] = [region] if region in bays else []
        for name in () if region in bays else names:
            own += [f"{name}.{station}" for station in caps[name]] if name in caps else [name, *walls.get(name, ())]
        found[region] = tuple(own)
    return found


def _plain_panel(whole: Expansion, sheet: Sheet, faults: list[str], notes: list[str]) -> PlainPanel:
    faces = whole.surfaces[sheet.name][1].faces
    weights = np.array([np.linalg.norm(area_vector(loop_points(face.edges))) for face in faces])
    into = weights @ whole.normals[sheet.name]
    if sheet.side == "across":
        into = into * [1.0, 0.0, 1.0]
    table = whole.case.panels.get(sheet.name)
    openings, recesses = cut_panel(whole, sheet.name, faults, notes) if table is not None else ((), ())
    return PlainPanel(
        name=sheet.name,
        region=sheet_region(whole.case, sheet),
        faces=faces,
        side=sheet.side,
        tool=_tuple(-unit(into)),
        zero=_tuple(zero_direction(whole.case, whole.measured, sheet, faults)),
        shift=whole.shift[sheet.name],
        section=sheet.kind == "wall",
        removable=table is not None and table.removable,
        openings=openings,
        recesses=recesses,
    )


def _tuple(vector: Floats) -> Point:
    return tuple(float(x) for x in vector)
