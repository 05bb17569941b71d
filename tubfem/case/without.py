"""A panel, wall or section taken off (--without), with everything that names it."""

from collections.abc import Iterator
from typing import Any

from tubfem.case.faults import nearest
from tubfem.case.joint_table import joint_parts
from tubfem.case.lines import Path
from tubfem.case.loads import Static
from tubfem.case.regions import regions, section_walls
from tubfem.case.schema import Case, dotted
from tubfem.case.targets import mates, read_target
from tubfem.errors import CaseError


def take_off(case: Case, name: str) -> Case:
    """The case without a panel, a wall ("tunnel.top") or a section.

    Joints, laps, mounts, patches and stiffeners on it go with it; a wall's corners stay, so that other panels can
    still end on them.

    Raises
    ------
    CaseError
        Nothing of that name (with the nearest spelling), or a pickup or load would lose what carries it.
    """
    panels, walls = _parts(case, name)
    before = regions(case)
    smaller = case.model_copy(
        update={
            "panels": {each: panel for each, panel in case.panels.items() if each not in panels},
            "without": (*case.without, *walls),
        }
    )
    gone = {*panels, *walls, *(set(before) - set(regions(smaller)))}
    gone |= {f"{panel}.{recess}" for panel in panels for recess in case.panels[panel].recesses}
    gone |= {f"{panel}.{recess}.walls" for panel in panels for recess in case.panels[panel].recesses}
    if name in case.sections:
        gone.add(name)
    mounts = {each: mount for each, mount in case.mounts.items() if mount.on not in gone}
    faults = [
        *_unfilled(case, walls),
        *_lost(case, mounts),
        *_acting(case, {*panels, *walls}),
    ]
    if faults:
        raise CaseError([f"--without {name}: {fault}" for fault in faults])
    return smaller.model_copy(
        update={
            "layups": {
                region: layup.model_copy(update={"stack": tuple(_without_laps(entry, gone) for entry in layup.stack)})
                for region, layup in case.layups.items()
                if region not in gone
            },
            "joints": {joint: kind for joint, kind in case.joints.items() if not set(joint_parts(joint)[:2]) & gone},
            "mounts": mounts,
            "patches": _kept(case.patches, gone),
            "stiffeners": _kept(case.stiffeners, gone),
        }
    )


def _parts(case: Case, name: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Panels and walls that a name means and that are still there."""
    if name in case.panels:
        return (name,), ()
    section_name, _, wall = name.partition(".")
    section = case.sections.get(section_name)
    if section is not None:
        walls = section_walls(section) if not wall else (wall,) if wall in section_walls(section) else ()
        there = tuple(f"{section_name}.{each}" for each in walls if f"{section_name}.{each}" not in case.without)
        if there:
            return (), there
    known = [*case.panels, *case.sections]
    known += [f"{each}.{wall}" for each, other in case.sections.items() for wall in section_walls(other)]
    raise CaseError(f'--without {name}: no panel, wall or section "{name}"{nearest(name, known)}')


def _without_laps(entry: Any, gone: set[str]) -> Any:
    if not set(entry.laps) & gone:
        return entry
    return entry.model_copy(update={"laps": {each: lap for each, lap in entry.laps.items() if each not in gone}})


def _kept(tables: dict[str, Any], gone: set[str]) -> dict[str, Any]:
    return {
        name: table
        for name, table in tables.items()
        if table.on not in gone and not _runs_on(getattr(table, "around", None) or "", gone)
    }


def _runs_on(around: str, gone: set[str]) -> bool:
    """Whether a patch goes along the edge of a panel, or the corner of a section, that goes."""
    if around.startswith("corner "):
        return around.removeprefix("corner ").split(".")[0] in gone
    return around.removeprefix("edge of ") in gone


def _unfilled(case: Case, walls: tuple[str, ...]) -> Iterator[str]:
    for section_name in dict.fromkeys(wall.split(".")[0] for wall in walls):
        section = case.sections[section_name]
        if section.fill is None:
            continue
        if any(f"{section_name}.{each}" not in (*walls, *case.without) for each in section.walls):
            yield f"sections.{section_name} is filled with {section.fill}, which needs all its walls"


def _lost(case: Case, mounts: dict[str, Any]) -> Iterator[str]:
    """Pickups and subframes that would lose mounts."""
    carried = [(f"subframes.{name}", subframe.bolts) for name, subframe in case.subframes.items()]
    carried += [(f"pickups.{name}", pickup.carried_by) for name, pickup in case.pickups.items() if pickup.carried_by]
    for name, patterns in carried:
        lost = [mount for mount in mates(case.mounts, patterns) if mount not in mounts]
        if lost:
            yield f"{name} hangs on {', '.join(lost)}, which would go with it; move the mounts to another panel first"


def _acting(case: Case, gone: set[str]) -> Iterator[str]:
    """Loads and supports on what would go."""
    for name, load_case in case.load_cases.items():
        rigid = tuple(load_case.rigid) if isinstance(load_case, Static) else ()
        for key in ("supports", "forces", "pressures", "masses"):
            found = getattr(load_case, key, ())
            for index, item in found.items() if isinstance(found, dict) else enumerate(found):
                yield from _lost_target(case, ("load_cases", name, key, index), item.on, gone, rigid)
        yield from _lost_target(case, ("load_cases", name, "on"), getattr(load_case, "on", ()), gone)
    for table in ("vehicle", "modes"):
        masses = {} if getattr(case, table) is None else getattr(case, table).masses
        for name, carried in masses.items():
            yield from _lost_target(case, (table, "masses", name), carried.on, gone)


def _lost_target(
    case: Case, path: Path, texts: tuple[str, ...], gone: set[str], rigid: tuple[str, ...] = ()
) -> Iterator[str]:
    for text in texts:
        target = read_target(case, text, rigid)
        if target.kind == "panel" and set(target.names) & gone:
            yield f"{dotted(path)} acts on {text}; take it off the load case first"
