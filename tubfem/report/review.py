"""The review pack: what a licensed engineer needs to follow a run, gathered as tables of text and numbers."""

import json
from collections.abc import Iterator, Mapping
from importlib.metadata import version as installed
from pathlib import Path
from platform import python_version
from typing import Any

from tubfem.case.schema import Case
from tubfem.findings.hand_results import HandCheck, Section
from tubfem.materials.catalogue import Sheet
from tubfem.report.cloths import library_sheet, ply_sheet

INTERNAL = {"lines", "cautions", "path", "without"}  # of a case: not written in its file
TABLES = ("load_cases", "pickups", "subframes", "mounts", "margins")  # loads, restraints and what carries them
SOLVERS = ("numpy", "scipy", "cvxopt", "gmsh")
NOT_COVERED = (
    ("Crash, side impact, roll-over", "licensed engineer, with tests where the law asks for them"),
    ("Seat and belt anchorages", "licensed engineer; the registration authority's own loads"),
    ("Fire, fuel and battery matters", "licensed engineer; specialist of the system"),
    ("Steering, brakes, suspension parts", "licensed engineer; maker of the part"),
    ("Fatigue, creep, moisture, heat", "licensed engineer: margins here are for one short load at room temperature"),
    ("Bolts, inserts, subframe tubes and welds", "licensed engineer: flexibility and nominal checks are in the model"),
    ("Workmanship: voids, bonding, cure", "builder: witness coupons, weigh-in, twist test of the finished tub"),
    ("Registration and local codes", "registration authority"),
)
SIGN_OFF = (
    "Geometry compared with the tub as measured",
    "Layups, laps, patches and joints compared with the tub as built",
    "Material properties accepted, or replaced by coupon results",
    "Loads and restraints accepted for the use intended",
    "Required factors accepted",
    "Hand check followed",
    "Known limits accepted; matters not covered assigned",
    "Twist test result compared",
)


def file_texts(case: Case) -> list[tuple[str, str]]:
    """The case file and the files it includes, as written: (name, text); nothing for a case that has no file."""
    path = Path(case.path)
    if not path.is_file():
        return []
    return [(name, (path.parent / name).read_text(encoding="utf-8")) for name in (path.name, *case.include)]


def as_read(case: Case) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every value of the case after reading, in base SI units and radians: (table, rows of key and value)."""
    tables = case.model_dump(exclude=INTERNAL, exclude_none=True)
    return [
        (name, [(key or name, text) for key, text in rows])
        for name, value in tables.items()
        if (rows := list(_rows(value, "")))
    ]


def loads(tables: list[tuple[str, list[tuple[str, str]]]]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Of `as_read`, the tables that say what loads the tub, what holds it and what is required."""
    return [(name, rows) for name, rows in tables if name in TABLES]


def material_sheets(case: Case) -> list[Sheet]:
    """Every ply of the case as it is laid, then what the library gives: resins, fibres, cores, fillers, metals."""
    sheets = [ply_sheet(case, name) for name in case.plies]
    known = [table.fibre for table in case.plies.values()] + [table.resin for table in case.plies.values()]
    known += [core.material for core in case.cores.values()]
    known += [kind.filler for kind in case.joint_kinds.values() if kind.filler not in case.fillers]
    known += [stiffener.material for stiffener in case.stiffeners.values()]
    for subframe in case.subframes.values():
        known += [tube.material or subframe.material for tube in subframe.tubes]
    return sheets + [library_sheet(name) for name in dict.fromkeys(known) if name is not None]


def versions(own: str) -> list[tuple[str, str]]:
    """What computed the run."""
    return [("tubfem", own), ("Python", python_version()), *((name, installed(name)) for name in SOLVERS)]


def since(folder: Path, now: Mapping[str, Any]) -> dict[str, Any] | None:
    """What changed since the results.json that lies in a folder, ready for JSON; None if there is none to be read.

    `case` and `tubfem_version` are the earlier ones; `rows` (what, kind of quantity, before, now).
    """
    try:
        earlier = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not earlier.get("load_cases"):
        return None
    names = "case", "tubfem_version"
    return {**{name: earlier[name] for name in names}, "rows": [list(row) for row in history(earlier, now)]}


def history(earlier: Mapping[str, Any], now: Mapping[str, Any]) -> list[tuple[str, str, float, float]]:
    """What changed since an earlier run: (what, kind of quantity, before, now)."""
    rows = [("mass", "mass", earlier["mass"]["total"], now["mass"]["total"])]
    for name in earlier["mass"]["regions"].keys() & now["mass"]["regions"].keys():
        rows.append((f"mass of {name}", "mass", earlier["mass"]["regions"][name], now["mass"]["regions"][name]))
    for name in earlier["load_cases"].keys() & now["load_cases"].keys():
        before, after = earlier["load_cases"][name], now["load_cases"][name]
        if before["torsion"] and after["torsion"]:
            key = "stiffness_Nm_per_deg"
            rows.append((f"stiffness, {name}", "stiffness", before["torsion"][key], after["torsion"][key]))
        lowest = [lowest_margin(found) for found in (before, after)]
        if None not in lowest:
            rows.append((f"lowest margin, {name}", "margin", *lowest))
    changed = [row for row in rows if abs(row[3] - row[2]) > 1e-9 * abs(row[2])]
    return sorted(changed, key=lambda row: (row[0].startswith("mass of"), row[0]))


def lowest_margin(load_case: Mapping[str, Any]) -> float | None:
    """The lowest margin of any region."""
    found = [region["worst"]["margin"] for region in load_case["regions"].values() if region["worst"] is not None]
    return min(found, default=None)


def hand_rows(check: HandCheck) -> list[tuple[float, float, float, float, str]]:
    """One row a section of the hand check: from, to [m], GJ [N m2], area of its cells [m2], walls in words."""
    rows = []
    before = None
    for section in check.sections:
        walls = "; ".join(", ".join(cell.panels) for cell in section.cells) or "open"
        area = sum(cell.area for cell in section.cells)
        rows.append((section.start, section.end, section.GJ, area, "as above" if walls == before else walls))
        before = walls
    return rows


def softest_cut(check: HandCheck) -> Section:
    """The section of the hand check that turns most under a torque: the one to work through."""
    return min(check.sections, key=lambda section: section.GJ)


def _rows(value: Any, key: str) -> Iterator[tuple[str, str]]:
    """Leaves of nested tables with their dotted keys."""
    if isinstance(value, Mapping):
        for name, item in value.items():
            yield from _rows(item, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value):
        for number, item in enumerate(value, start=1):
            yield from _rows(item, f"{key}.{number}")
    elif value not in ((), [], ""):
        yield key, _text(value)


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(_text(item) for item in value)
    return str(value)
