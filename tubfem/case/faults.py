"""Words for what pydantic finds: unknown keys, wrong types, missing keys."""

import difflib
from collections.abc import Iterable, Iterator
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from tubfem.case.lines import Path
from tubfem.case.schema import Case

NOT_WRITTEN = ("without", "path", "cautions", "lines")  # fields of Case that no file gives
MISSING = {
    "tool": "which face lies on the mould? tool = {choice}",
    "at": "where? at = [..] is missing",
    "material": "which material? material is missing",
    "bolts": 'which mounts does it bolt to? bolts = ["MOUNT_*"] is missing',
    "walls": 'which walls? walls = {{ side = ["root", "edge"] }} is missing',
}


def nearest(name: str, known: Iterable[str]) -> str:
    """Words to end a message: the nearest known name, or the known ones if none is near; empty if there are none."""
    known = [str(item) for item in known]
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    if close:
        return f"; nearest: {close[0]}"
    if not known:
        return ""
    return f"; there are {', '.join(known[:12])}{', ...' if len(known) > 12 else ''}"


def messages(error: ValidationError, raw: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    """Path and words of every fault found in `raw`, the values as the files gave them."""
    items = [(real_path(item["loc"], raw), item) for item in error.errors(include_url=False)]
    for path, item in items:
        if item["type"] == "too_short" and any(path == other[: len(path)] != other for other, _ in items):
            continue  # entries with faults of their own were not counted
        yield path, _words(item, path, raw)


def real_path(loc: tuple[str | int, ...], raw: Any) -> Path:
    """The place of a fault without the names that pydantic adds for alternatives (no such key, or in brackets)."""
    path: list[str | int] = []
    for position, part in enumerate(loc):
        if isinstance(part, str) and (part.startswith("<") or part == "[key]" or isinstance(raw, list)):
            continue
        inside = part in raw if isinstance(raw, dict) else isinstance(raw, list) and isinstance(part, int)
        if isinstance(raw, dict) and not inside and position < len(loc) - 1:
            continue
        if not isinstance(raw, dict | list):
            break
        path.append(part)
        raw = raw[part] if inside and (isinstance(raw, dict) or part < len(raw)) else None
    return tuple(path)


def _words(item: dict[str, Any], path: Path, raw: dict[str, Any]) -> str:
    kind, value, context = item["type"], item["input"], item.get("ctx", {})
    key = path[-1] if path else ""
    if kind == "case":
        return item["msg"]
    if kind == "extra_forbidden":
        return f'no key "{key}" here{nearest(str(key), known_keys(path[:-1], raw))}'
    if kind == "missing":
        return MISSING.get(str(key), "{key} is missing").format(key=key, choice=_facings(path, raw))
    if kind == "literal_error":
        choices = context["expected"].replace("'", '"')
        return f"{_shown(value)} is not one of them; choose {choices}"
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return f"{_shown(value)} stands where a table is expected: {{ key = value }} or a [table] of its own"
    if kind in ("tuple_type", "list_type"):
        return f"{_shown(value)} stands where a list is expected; put it in brackets: [{_shown(value)}]"
    if kind == "string_type":
        return f"{_shown(value)} is not text; text stands in quotes"
    if kind.startswith(("int", "float")):
        return f"{_shown(value)} is not a {'whole ' if kind.startswith('int') else ''}number"
    if kind.startswith("bool"):
        return f"{_shown(value)} is neither true nor false"
    if kind == "greater_than_equal":
        return f"{_shown(value)} is too little; write {context['ge']} or more"
    if kind == "too_short":
        return f"has {context['actual_length']} of at least {context['min_length']} entries"
    if kind == "too_long":
        return f"has {context['actual_length']} entries, {context['max_length']} expected"
    return item["msg"]


def _facings(path: Path, raw: dict[str, Any]) -> str:
    panel = raw["panels"].get(path[1], {}) if path[0] == "panels" else {}
    if "on" in panel:
        return '"fore" or "aft"'
    return '"up" or "down" ("fore", "aft", "out" or "in" if it does not lie)'


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "a table"
    return "[" + ", ".join(_shown(item) for item in value) + "]" if isinstance(value, list | tuple) else str(value)


def known_keys(path: Path, raw: Any) -> list[str]:
    """Keys that the table at a path can have."""
    kinds: list[Any] = [Case]
    for part in path:
        kinds = [inner for kind in kinds for inner in _inside(kind, part)]
        raw = raw[part] if isinstance(raw, dict | list) else None
    keys = [name for kind in kinds for name in _fields(kind, raw)]
    return [key for key in dict.fromkeys(keys) if key not in NOT_WRITTEN or path]


def _fields(kind: Any, raw: Any) -> Iterator[str]:
    for model in _models(kind):
        chosen = model.model_fields["kind"].default if "kind" in model.model_fields else None
        if isinstance(raw, dict) and chosen and raw.get("kind", chosen) != chosen:
            continue  # the other kind of load case
        yield from (field.alias or name for name, field in model.model_fields.items())


def _models(kind: Any) -> Iterator[type[BaseModel]]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        yield kind
    elif get_origin(kind) is Annotated:
        yield from _models(get_args(kind)[0])
    elif get_origin(kind) in (Union, UnionType):
        yield from (model for argument in get_args(kind) for model in _models(argument))


def _inside(kind: Any, part: str | int) -> Iterator[Any]:
    """Types of what stands under `part` in a table or list of the type `kind`."""
    for model in _models(kind):
        yield from (f.annotation for name, f in model.model_fields.items() if part in (name, f.alias))
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is Annotated:
        yield from _inside(arguments[0], part)
    elif origin in (Union, UnionType):
        yield from (inner for argument in arguments for inner in _inside(argument, part) if not list(_models(argument)))
    elif origin is dict:
        yield arguments[1]
    elif origin is tuple:
        yield arguments[0]
