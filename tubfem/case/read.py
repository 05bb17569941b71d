"""A case file to a Case: includes merged, copies and defaults filled in, every fault told at its line."""

import copy
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from tubfem.case.checks import cautions, faults
from tubfem.case.faults import NOT_WRITTEN, messages, nearest
from tubfem.case.lines import Path
from tubfem.case.loads import KINDS
from tubfem.case.regions import with_all_layups
from tubfem.case.schema import Case, dotted
from tubfem.case.sources import Sources, read_sources
from tubfem.errors import CaseError

Tell = Callable[[Path, str], None]
RESIN_CONTENT = {"fibre_fraction", "mass_fraction", "thickness"}
TOP_KEYS = {"title": str, "mirror": str, "units": str, "include": list, "replaces": list}


def load_case(path: str | FilePath) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : path of a TOML file; files it includes are found beside it.

    Returns
    -------
    Case
        SI floats and names, with `like`, `same_as` and `[defaults]` filled in and a layup for every region.

    Raises
    ------
    CaseError
        Every fault found, each as "file:line: table.key: what is wrong: what to do".
    """
    sources = read_sources(FilePath(path))
    return check_case(sources, str(path))


def check_case(sources: Sources, path: str) -> Case:
    """The case that merged sources hold, or every fault found in them."""
    told: dict[str, None] = dict.fromkeys(sources.faults)

    def tell(place: Path, text: str) -> None:
        told[f"{sources.where(place)}: {dotted(place)}: {text}" if place else f"{FilePath(path).name}: {text}"] = None

    raw = copy.deepcopy(sources.raw)
    _misplaced(raw, sources, told)
    for key in NOT_WRITTEN:
        if raw.pop(key, None) is not None:
            tell((key,), f'no key "{key}" here{nearest(key, Case.model_fields)}')
    if not raw.get("load_cases"):
        tell((), 'no load case: write [load_cases] with torsion = { torque = "1000 N*m", front = "...", rear = "..." }')
    for name, table in _named_tables(raw, "load_cases"):
        table.setdefault("kind", name if name in KINDS else "?")
    for family in ("plies", "cores", "joint_kinds"):
        _fill_likes(raw, family, tell)
    _fill_joint_likes(raw, tell)
    written = {family: list(table) for family, table in raw.items() if isinstance(table, dict)}
    case = _validated(raw, tell)
    if case is not None:
        case = case.model_copy(update={"path": path, "lines": sources.lines})
        case = with_all_layups(_with_joint_tables(_with_defaults(case)))
        for place, text in faults(case, raw, written):
            tell(place, text)
    if told or case is None:
        raise CaseError(_in_order(list(told)))
    return case.model_copy(update={"cautions": tuple(cautions(case, raw))})


def _in_order(told: list[str]) -> list[str]:
    """By line where all are of one file, so that a builder can go down the file."""

    def line(message: str) -> tuple[str, int]:
        file, _, rest = message.partition(":")
        number = rest.split(":", 1)[0]
        return file, int(number) if number.isdigit() else 10**9

    return sorted(told, key=line)


def _named_tables(raw: dict[str, Any], family: str) -> list[tuple[str, dict[str, Any]]]:
    tables = raw.get(family)
    return [(n, t) for n, t in tables.items() if isinstance(t, dict)] if isinstance(tables, dict) else []


def _misplaced(raw: dict[str, Any], sources: Sources, told: dict[str, None]) -> None:
    """Keys of the case itself that stand under a [table]: told and taken out."""

    def walk(table: dict[str, Any], place: Path) -> None:
        for key in list(table):
            value = table[key]
            if place and key in TOP_KEYS and type(value) is TOP_KEYS[key]:
                where = sources.where((*place, key))
                advice = "keys of the case itself come before the first [table]"
                told[f'{where}: "{key}" stands under [{dotted(place)}]; {advice}'] = None
                del table[key]
            elif isinstance(value, dict):
                walk(value, (*place, key))

    walk(raw, ())


def _fill_likes(raw: dict[str, Any], family: str, tell: Tell) -> None:
    """Copy what `like` points at under each table's own keys; a copied ply is not in stock."""
    tables = dict(_named_tables(raw, family))

    def filled(name: str, seen: tuple[str, ...]) -> dict[str, Any]:
        table = tables[name]
        other = table.get("like")
        if not isinstance(other, str):
            return table
        if other not in tables or other in (*seen, name):
            unknown = f"no {other} in [{family}]{nearest(other, tables)}"
            tell((family, name, "like"), "goes round in a circle" if other in tables else unknown)
            return table
        left_out = {"like", "on_hand"}
        if RESIN_CONTENT & set(table):
            left_out |= RESIN_CONTENT  # only one of them may say it, and the own one wins
        copied = {key: value for key, value in filled(other, (*seen, name)).items() if key not in left_out}
        return copied | {key: value for key, value in table.items() if key != "like"}

    for name in tables:
        raw[family][name] = filled(name, ())


def _fill_joint_likes(raw: dict[str, Any], tell: Tell) -> None:
    kinds = dict(_named_tables(raw, "joint_kinds"))
    for name, table in _named_tables(raw, "joints"):
        other = table.get("like")
        if isinstance(other, str) and other in kinds:
            raw["joints"][name] = kinds[other] | {key: value for key, value in table.items() if key != "like"}
        elif isinstance(other, str):
            tell(("joints", name, "like"), f"no {other} in [joint_kinds]{nearest(other, kinds)}")


def _validated(raw: dict[str, Any], tell: Tell) -> Case | None:
    """The case; entries with faults are told, taken out and the rest is read, so that all faults come at once."""
    unit = "in" if raw.get("units") == "in" else "mm"
    sound = {key: dict(value) if isinstance(value, dict) else value for key, value in raw.items()}
    for _ in range(2):
        try:
            return Case.model_validate(sound, context={"length_unit": unit})
        except ValidationError as error:
            for place, text in list(messages(error, sound)):
                tell(place, text)
                family = sound.get(place[0])
                if len(place) > 1 and isinstance(family, dict):
                    family.pop(place[1], None)
                else:
                    sound.pop(place[0], None)
    return None


def _with_defaults(case: Case) -> Case:
    """[defaults] in every table that has the key and does not give it."""
    defaults = case.defaults
    plies = {}
    for name, ply in case.plies.items():
        given = {"resin": defaults.resin, "process": defaults.process}
        if ply.mass_fraction is None and ply.thickness is None:
            given["fibre_fraction"] = defaults.fibre_fraction
        plies[name] = _filled(ply, given) if ply.is_cloth else ply
    measured = {"measured": defaults.measured}
    return case.model_copy(
        update={
            "plies": plies,
            "panels": {name: _filled(panel, measured) for name, panel in case.panels.items()},
            "sections": {name: _filled(section, measured) for name, section in case.sections.items()},
            "mounts": {name: _filled(mount, dict(defaults.mount)) for name, mount in case.mounts.items()},
            "layups": {
                name: layup.model_copy(
                    update={
                        key: tuple(_filled(entry, {"stagger": defaults.stagger}) for entry in getattr(layup, key))
                        for key in ("stack", "add")
                    }
                )
                for name, layup in case.layups.items()
            },
        }
    )


def _filled(table: Any, given: dict[str, Any]) -> Any:
    absent = {key: value for key, value in given.items() if value is not None and key not in table.model_fields_set}
    return table.model_copy(update=absent) if absent else table


def _with_joint_tables(case: Case) -> Case:
    """Joints that bring a table of their own: the table becomes a kind of the joint's name."""
    own = {name: kind for name, kind in case.joints.items() if not isinstance(kind, str)}
    joints = {name: name if name in own else kind for name, kind in case.joints.items()}
    return case.model_copy(update={"joints": joints, "joint_kinds": {**case.joint_kinds, **own}})
