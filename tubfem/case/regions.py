"""Which region each wall and panel belongs to, and what is laid in it."""

from tubfem.case.schema import Case
from tubfem.case.shapes import Panel, Recess, Section
from tubfem.case.stuff import Layup, Stack, StackEntry


def wall_region(section_name: str, section: Section, wall: str) -> str:
    """Region of a section's wall (or "cap"): `regions` by wall, its "*", `region`, or the section's own name."""
    return section.regions.get(wall) or section.regions.get("*") or section.region or section_name


def bay_region(section_name: str, wall: str, start: str, end: str) -> str:
    """Region of the part of a wall that `layup_from` gives another schedule."""
    return f"{section_name}.{wall}.{start}-{end}"


def panel_region(panel_name: str, panel: Panel) -> str:
    """Region of a panel: `region`, or its own name."""
    return panel.region or panel_name


def recess_regions(panel_name: str, recess_name: str, recess: Recess) -> tuple[str, str]:
    """Regions of a recess's bottom and of its walls."""
    bottom = recess.layup or f"{panel_name}.{recess_name}"
    return bottom, recess.walls or bottom


def section_walls(section: Section) -> tuple[str, ...]:
    """Names of a section's walls, with "cap" if an end is closed."""
    return (*section.walls, *(("cap",) if section.cap else ()))


def regions(case: Case) -> dict[str, tuple[str, ...]]:
    """Every region and the panels, "SECTION.WALL" and "PANEL.RECESS" that belong to it, in the order of the file."""
    parts: dict[str, list[str]] = {}
    for name, section in case.sections.items():
        for wall in section_walls(section):
            if f"{name}.{wall}" in case.without:
                continue
            parts.setdefault(wall_region(name, section, wall), []).append(f"{name}.{wall}")
        for bay in section.layup_from:
            if f"{name}.{bay.wall}" in case.without:
                continue
            parts.setdefault(bay_region(name, bay.wall, bay.from_, bay.to), []).append(f"{name}.{bay.wall}")
    for name, panel in case.panels.items():
        parts.setdefault(panel_region(name, panel), []).append(name)
        for recess_name, recess in panel.recesses.items():
            bottom, walls = recess_regions(name, recess_name, recess)
            parts.setdefault(bottom, []).append(f"{name}.{recess_name}")
            if walls != bottom:
                parts.setdefault(walls, []).append(f"{name}.{recess_name}.walls")
    return {region: tuple(names) for region, names in parts.items()}


def core_under(case: Case, part: str) -> float:
    """Thickness of the cores laid on a panel or "SECTION.WALL" [m], the most where a wall has several schedules."""
    stacks = [
        case.layups[region].stack for region, parts in regions(case).items() if part in parts and region in case.layups
    ]
    return max((sum(entry.thickness for entry in stack if entry.is_core) for stack in stacks), default=0.0)


def without_core(stack: Stack) -> Stack:
    """The plies of a stack, without cores and without laps (those belong to the panel's own joints)."""
    return tuple(entry.model_copy(update={"laps": {}}) for entry in stack if not entry.is_core)


def laid_more(own: Stack, base: Stack) -> tuple[tuple[int, int], ...] | None:
    """What one schedule has more than another: (place in it, number of the other's entry that it lies over).

    None if it does not hold all of the other in its order. What a change has added to either is left out.
    """
    rest = [entry for entry in base if entry.added is None]
    found, under = [], 0
    for place, entry in enumerate(own):
        if entry.added is not None:
            continue
        if under < len(rest) and _same(entry, rest[under]):
            under += 1
        else:
            found.append((place, under))
    return tuple(found) if under == len(rest) else None


def _same(one: StackEntry, other: StackEntry) -> bool:
    return (one.name, one.count, one.angle, one.thickness) == (other.name, other.count, other.angle, other.thickness)


def schedule(layups: dict[str, Layup], name: str, seen: tuple[str, ...] = ()) -> Stack:
    """The stack of a layup with `same_as` followed and `add` laid on it; empty if it leads nowhere or in a circle."""
    layup = layups.get(name)
    if layup is None or name in seen:
        return ()
    base = schedule(layups, layup.same_as, (*seen, name)) if layup.same_as is not None else layup.stack
    return (*base, *layup.add)


def with_all_layups(case: Case) -> Case:
    """The same case with every layup complete and one for every bay and recess that takes its schedule elsewhere."""
    layups = {
        name: layup.model_copy(update={"stack": schedule(case.layups, name), "same_as": None, "add": ()})
        for name, layup in case.layups.items()
    }
    for name, section in case.sections.items():
        for bay in section.layup_from:
            if bay.layup in layups:
                layups.setdefault(bay_region(name, bay.wall, bay.from_, bay.to), layups[bay.layup])
    for name, panel in case.panels.items():
        own = layups.get(panel_region(name, panel))
        for recess_name, recess in panel.recesses.items():
            region = recess_regions(name, recess_name, recess)[0]
            if recess.layup is None and own is not None:
                plies = without_core(own.stack)
                layups.setdefault(region, own.model_copy(update={"stack": plies}))
    return case.model_copy(update={"layups": layups})
