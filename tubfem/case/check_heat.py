"""Faults of [heat]: regions, zones, stations and resins that are not there."""

from collections.abc import Iterator
from fnmatch import fnmatchcase

from tubfem.case.faults import nearest
from tubfem.case.lines import Path
from tubfem.case.regions import regions
from tubfem.case.schema import Case

Written = dict[str, list[str]]


def heat_faults(case: Case, written: Written) -> Iterator[tuple[Path, str]]:
    """Every fault of this kind, in the order of the case."""
    if case.heat is None:
        return
    known = regions(case)
    for pattern in case.heat.regions:
        if not any(fnmatchcase(region, pattern) for region in known):
            yield ("heat", "regions", pattern), f'no region "{pattern}"{nearest(pattern, known)}'
    parts = [*known, *written.get("panels", []), *written.get("sections", [])]
    for name, zone in case.heat.zones.items():
        place = ("heat", "zones", name)
        for pattern in zone.on:
            if not any(fnmatchcase(part, pattern.partition(".")[0]) for part in parts):
                yield (*place, "on"), f'no region, panel or section "{pattern}"{nearest(pattern, parts)}'
        for key, station in (("from", zone.from_), ("to", zone.to)):
            if station is not None and station not in written.get("stations", []):
                yield (*place, key), f'no station "{station}"{nearest(station, written.get("stations", []))}'
    laid = sorted({ply.resin or case.defaults.resin for ply in case.plies.values() if ply.is_cloth} - {None})
    for resin in case.heat.resins:
        if resin not in laid:
            yield ("heat", "resins", resin), f'no ply is laid with "{resin}"{nearest(resin, laid)}'
