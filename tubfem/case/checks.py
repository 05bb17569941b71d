"""What only shows when tables are seen together: names that are not there, and things worth a second look."""

import math
import re
from collections.abc import Iterator
from typing import Any

from tubfem.case.asking import schedule_faults
from tubfem.case.check_heat import heat_faults
from tubfem.case.check_laid import laid_faults
from tubfem.case.check_loads import load_faults
from tubfem.case.check_shapes import shape_faults
from tubfem.case.faults import nearest
from tubfem.case.lines import Path
from tubfem.case.regions import regions
from tubfem.case.schema import Case

Written = dict[str, list[str]]  # names in each table of the file, sound or not
NAMED = (
    *("stations", "points", "sections", "panels", "plies", "cores", "layups", "joint_kinds", "mounts", "patches"),
    *("fillers", "stiffeners", "subframes", "pickups", "load_cases", "variants"),
)
NAME = re.compile(r"[^\W\d][\w-]*")
COARSE = 0.25  # of the length between stations: no element tells anything then
SHORT_TUB = 0.2  # m between the outermost stations: more likely inches


def faults(case: Case, raw: dict[str, Any], written: Written) -> Iterator[tuple[Path, str]]:
    """Path and words of every fault between tables.

    Parameters
    ----------
    raw : the values as written, for words that show them
    written : names that stand in each table of the file, those with faults of their own included
    """
    yield from _names(case)
    yield from shape_faults(case, raw, written)
    yield from laid_faults(case, raw, written)
    yield from load_faults(case, written)
    yield from heat_faults(case, written)
    yield from schedule_faults(case)
    places = [station.x_at(0.0) for station in case.stations.values()]
    span = max(places) - min(places) if places else 0.0
    if span >= SHORT_TUB and case.mesh.size > COARSE * span:
        yield (
            ("mesh", "size"),
            f"elements of {case.mesh.size * 1e3:g} mm on a tub that is {span * 1e3:g} mm long between stations see "
            'nothing of its shape; write "30 mm" for a start',
        )


def _names(case: Case) -> Iterator[tuple[Path, str]]:
    for family in NAMED:
        for name in getattr(case, family):
            bay = family == "layups" and "." in name  # bays and recesses have dotted regions of their own
            own_table = family == "joint_kinds" and name in case.joints
            if not NAME.fullmatch(name) and not bay and not own_table:
                yield (family, name), "a name is a letter and then letters, digits, _ or -"
            if case.mirror is not None and family in ("panels", "sections") and name in ("left", "right"):
                yield (family, name), "left and right are taken: they name the halves"
    for name in case.panels:
        if name in case.sections:
            yield ("panels", name), f"a section is called {name} too; joints could not tell them apart"
    for name in case.plies:
        if name in case.cores:
            yield ("plies", name), f"a core is called {name} too; layups could not tell them apart"


def cautions(case: Case, raw: dict[str, Any]) -> Iterator[str]:
    """Sentences for what may be meant but often is not; `raw` holds the values as written."""
    for name, kind in case.joint_kinds.items():
        for entry in kind.tab:
            if _is_turned_bias(case, entry):
                yield (
                    f"{case.where('joint_kinds', name, 'tab')}: joint_kinds.{name}: {entry.name} is a +-45 cloth; @ 45 "
                    f"lays its fibres along and across the line. For +-45 across the joint write @ 0"
                )
    for name, layup in case.layups.items():
        for index, entry in enumerate(layup.stack):
            if ("layups", name, index) in case.lines and _is_turned_bias(case, entry):
                yield (
                    f"{case.where('layups', name, index)}: layups.{name} entry {index + 1}: {entry.name} is a +-45 "
                    f"cloth; @ 45 lays its fibres at 0 and 90. For +-45 write @ 0"
                )
    for name, layup in case.layups.items():
        if len(layup.stack) < 2:  # a sheet of core alone is meant
            continue
        bare = [face for face, entry in (("tool", layup.stack[0]), ("far", layup.stack[-1])) if entry.is_core]
        if bare:
            yield (
                f"{case.where('layups', name)}: layups.{name}: the core lies bare on the {' and the '.join(bare)} "
                "face; plies are listed in laying order, on both sides of it"
            )
    places = [station.x_at(0.0) for station in case.stations.values()]
    if len(places) > 1 and case.units == "mm" and max(places) - min(places) < SHORT_TUB:
        span = max(places) - min(places)
        yield (
            f"{case.where('stations')}: the tub is {span * 1e3:g} mm long between stations; were these inches? "
            f'Write units = "in" or "{span * 1e3:g} in"'
        )
    used = {*regions(case), *(bay.layup for section in case.sections.values() for bay in section.layup_from)}
    used |= {layup.get("same_as") for layup in raw.get("layups", {}).values() if isinstance(layup, dict)}
    for name in case.layups:
        if name not in used:
            yield f"{case.where('layups', name)}: layups.{name} is laid nowhere{nearest(name, regions(case))}"


def _is_turned_bias(case: Case, entry: Any) -> bool:
    ply = case.plies.get(entry.name)
    bias = ply is not None and ply.architecture is not None and re.search(r"(\+-|±|\+/-)\s*45", ply.architecture)
    return bool(bias) and abs(abs(entry.angle) - math.pi / 4) < 1e-6
