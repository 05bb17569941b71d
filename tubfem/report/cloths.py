"""What the command `cloths` shows: sheets of the library and of a case's own plies, as they are laid."""

from collections.abc import Mapping
from math import degrees

from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.materials.catalogue import Entry, Row, Sheet, describe
from tubfem.materials.library import resin
from tubfem.materials.ply import LIMITS
from tubfem.materials.tables import look_up
from tubfem.tub.plies import cured_layers

RESIN = "epoxy, room-temperature cure"  # what the library's sheets are shown with
CONSTANTS = {
    "thickness": "m", "rho": "kg/m3", "E1": "Pa", "E2": "Pa", "G12": "Pa", "nu12": "", "G13": "Pa", "G23": "Pa"
}  # fmt: skip


def library_sheet(name: str) -> Sheet:
    """The sheet of a name of the library, hand laid in room-temperature epoxy where that matters."""
    return describe(name, resin=resin(RESIN))


def ply_entries(case: Case) -> tuple[Entry, ...]:
    """The plies of a case in one line each."""
    entries = []
    for name, table in case.plies.items():
        layers = cured_layers(case, name, None)
        thickness = 1e3 * sum(ply.thickness for _, ply in layers)
        mass = 1e3 * sum(ply.areal_mass for _, ply in layers)
        what = f"{table.fibre}, {table.architecture}; " if table.is_cloth else ""
        entries.append(Entry(name, "ply", f"{what}{thickness:.2f} mm, {mass:.0f} g/m2 with resin"))
    return tuple(entries)


def ply_sheet(case: Case, name: str) -> Sheet:
    """Constants and limits of every layer of a case's ply, with their sources.

    Raises
    ------
    CaseError
        The case has no ply of that name (with the nearest spelling).
    """
    look_up("ply", name, case.plies)
    groups = []
    for angle, ply in cured_layers(case, name, None):
        words: Mapping[str, str] = dict(ply.sources)
        rows = [Row(field, getattr(ply, field), unit, words.get(field, "")) for field, unit in CONSTANTS.items()]
        rows += [
            Row(f"{mode} strain", getattr(ply, field), "strain", words.get(field, ""))
            for field, mode in zip(LIMITS, ply.mode_names, strict=True)
        ]
        groups.append((f"layer at {degrees(angle):+.0f} degrees from the roll", tuple(rows)))
    if not groups:
        raise CaseError(f"ply {name} has no layers")
    return Sheet(name, "ply of the case", tuple(groups))
