"""Where another schedule over part of a wall ends: the plies it has more run out one after another."""

import numpy as np

from tubfem.case.regions import bay_region, laid_more, wall_region
from tubfem.case.schema import Case
from tubfem.case.shapes import LayupFrom, Section
from tubfem.geometry.mesh import TubMesh
from tubfem.tub.laps import Lapped, meeting_line, run_on
from tubfem.tub.plies import Layer, entry_plies
from tubfem.tub.surface import elements_at, surface_of


def tapers(case: Case, mesh: TubMesh) -> list[Lapped]:
    """Every ply that runs on from a `layup_from` with a taper over the rest of its wall.

    Of n plies the first laid ends at the taper's length from the station, each next one a n-th of it sooner, so that
    the last one still runs on by one step.
    """
    bays = [
        (name, section, bay)
        for name, section in case.sections.items()
        for bay in section.layup_from
        if bay.taper is not None
    ]
    if not bays:
        return []
    surface, at_edge = surface_of(mesh), elements_at(mesh)
    found = []
    for name, section, bay in bays:
        own = bay_region(name, bay.wall, bay.from_, bay.to)
        plies = more_plies(case, name, section, bay)
        for panels, edges in _ends(mesh, own, f"{name}.{bay.wall}"):
            line = meeting_line(mesh, surface, at_edge, edges, *panels)
            label = f"taper of {mesh.panels[panels[0]].name} on {mesh.panels[panels[1]].name}"
            for step, (layers, over) in enumerate(plies):
                laid, bridge = run_on(mesh, surface, panels[0], line, layers, "taper")
                width = bay.taper * (len(plies) - step) / len(plies)
                found.append(Lapped(panels, line, laid, bridge, width, over, label))
    return found


def more_plies(case: Case, name: str, section: Section, bay: LayupFrom) -> list[tuple[tuple[Layer, ...], int | None]]:
    """Plies that the schedule of a bay has more than its wall, in laying order: (layers, entry they lie over).

    None instead of an entry's number: over all that the wall has.
    """
    region, base = bay_region(name, bay.wall, bay.from_, bay.to), wall_region(name, section, bay.wall)
    layup, under = case.layups[region], case.layups[base].stack
    entries = entry_plies(case, layup.stack, label=region, layup=layup)
    last = sum(entry.added is None for entry in under)
    plies = []
    for place, over in laid_more(layup.stack, under) or ():
        plies += [(ply, over if over < last else None) for ply in entries[place]]
    return plies


def _ends(mesh: TubMesh, own: str, wall: str) -> list[tuple[tuple[int, int], np.ndarray]]:
    """Where a part of a wall meets the rest of it: panels (part, rest) and edges (m, 2) of every such line."""
    found = []
    for line in mesh.joints:
        for part in line.panels:
            for rest in line.panels:
                if mesh.panels[part].plain == own and mesh.panels[rest].plain == wall:
                    found.append(((part, rest), line.edges))
    return found
