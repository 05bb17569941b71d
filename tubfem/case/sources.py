"""The files of a case, merged: values, and the file and line of every key."""

from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from tubfem.case.faults import nearest
from tubfem.case.lines import Path, key_lines
from tubfem.case.syntax import parse_toml
from tubfem.errors import CaseError


@dataclass(frozen=True, slots=True)
class Sources:
    """Merged values of a case file and the files it includes; `lines` has "file:line" of every key."""

    raw: dict[str, Any]
    lines: dict[Path, str]
    faults: tuple[str, ...]

    def where(self, place: Path) -> str:
        """File and line of a key, or of the nearest table above it that was written."""
        for length in range(len(place), 0, -1):
            if place[:length] in self.lines:
                return self.lines[place[:length]]
        return next(iter(self.lines.values()), "case").split(":")[0]


def read_sources(path: FilePath) -> Sources:
    """Read a case file and everything it includes.

    Raises
    ------
    CaseError
        A file is missing, is not text, or is not TOML; each file's first syntax fault is told.
    """
    return _read(path, ())


def _read(path: FilePath, above: tuple[FilePath, ...]) -> Sources:
    if path.resolve() in above:
        raise CaseError(f"{above[-1].name}: include: {path.name} includes itself in a circle")
    try:
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise CaseError(f"{path}: no such file") from None
    except OSError as error:
        raise CaseError(f"{path}: cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise CaseError(f"{path}: is not UTF-8 text; save it as plain text, UTF-8") from None
    raw = parse_toml(text, path.name)
    lines = {place: f"{path.name}:{line}" for place, line in key_lines(text).lines.items()}
    own = Sources(raw, lines, ())
    files = raw.get("include", [])
    if not isinstance(files, list) or not all(isinstance(file, str) for file in files):
        return own  # the schema tells what is wrong with it
    merged, told = Sources({}, {}, ()), []
    for position, file in enumerate(files):
        try:
            merged = _merged(merged, _read(path.parent / file, (*above, path.resolve())))
        except CaseError as error:
            missing = not (path.parent / file).exists()
            place = lines.get(("include", position), path.name)
            told += [f"{place}: include: {file}: no such file beside {path.name}"] if missing else error.messages
    if told:
        raise CaseError(told)
    return _merged(*_without_replaced(merged, own))


def _without_replaced(first: Sources, second: Sources) -> tuple[Sources, Sources]:
    """Included values without those that the file itself `replaces`, and the file; a name that is not there is told."""
    names = second.raw.get("replaces", [])
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        return first, second  # the schema tells what is wrong with it
    raw = {key: dict(value) if isinstance(value, dict) else value for key, value in first.raw.items()}
    faults, gone = [], set()
    for position, name in enumerate(names):
        gone.add(tuple(name.split(".", 1)))
        family, _, item = name.partition(".")
        table = raw.get(family)
        if item and isinstance(table, dict) and item in table:
            del table[item]
        elif not item and family in raw and not isinstance(table, dict):
            del raw[family]
        else:
            known = [f"{key}.{each}" for key, value in raw.items() if isinstance(value, dict) for each in value]
            known += [key for key, value in raw.items() if not isinstance(value, dict)]
            place = second.where(("replaces", position))
            faults.append(f'{place}: replaces: "{name}" is in no included file{nearest(name, known)}')
    lines = {place: line for place, line in first.lines.items() if not {place[:1], place[:2]} & gone}
    return Sources(raw, lines, first.faults), Sources(second.raw, second.lines, (*second.faults, *faults))


def _merged(first: Sources, second: Sources) -> Sources:
    """Both together; the second wins in [defaults], anywhere else a name given in both is a fault."""
    raw, faults = dict(first.raw), [*first.faults, *second.faults]
    for key in ("include", "replaces", "units"):
        raw.pop(key, None)
    lines = dict(first.lines)
    if first.raw and _unit(first.raw) != _unit(second.raw) and _bare_numbers(first.raw):
        names = [next(iter(source.lines.values())).split(":")[0] for source in (first, second)]
        faults.append(
            f"{names[1]}: include: bare numbers are {_unit(first.raw)} in {names[0]} and {_unit(second.raw)} here; "
            f"write the same units = in both, or units in text"
        )
    for key, value in second.raw.items():
        if isinstance(value, dict) and isinstance(raw.get(key), dict):
            for name in value:
                if name in raw[key] and key != "defaults":
                    faults.append(_twice((key, name), first, second))
            raw[key] = raw[key] | value
        else:
            if key in raw:
                faults.append(_twice((key,), first, second))
            raw[key] = value
    lines.update(second.lines)
    return Sources(raw, lines, tuple(faults))


def _twice(place: Path, first: Sources, second: Sources) -> str:
    name = ".".join(str(part) for part in place)
    return f"{second.where(place)}: {name} is given twice ({first.where(place)}); keep one of them, or use another name"


def _unit(raw: dict[str, Any]) -> str:
    return "in" if raw.get("units") == "in" else "mm"


def _bare_numbers(value: Any) -> bool:
    if isinstance(value, dict):
        return any(_bare_numbers(item) for item in value.values())
    if isinstance(value, list):
        return any(_bare_numbers(item) for item in value)
    return isinstance(value, int | float) and not isinstance(value, bool) and value != 0
