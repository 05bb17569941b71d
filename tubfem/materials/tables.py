"""The library's data files read into SI numbers, each with its source, and look-up by name."""

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, TypeVar

from tubfem.errors import CaseError

T = TypeVar("T")
Sources = tuple[tuple[str, str], ...]

SCALE = {"_GPa": 1e9, "_MPa": 1e6, "_percent": 1e-2}  # a key's ending -> factor to SI; no ending means SI already
WORDS = {"source", "sources", "family", "name", "fibre", "kind", "fractions", "processes", "modes", "why", "default"}


@cache
def read_table(file: str) -> Mapping[str, Any]:
    """The raw contents of ``data/<file>.toml``, as written (units in the keys)."""
    text = resources.files("tubfem.materials").joinpath("data", f"{file}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def to_si(entry: Mapping[str, Any]) -> dict[str, Any]:
    """One table with unit endings stripped and numbers in SI; lists become tuples, sources are left out."""
    result = {}
    for key, value in entry.items():
        if key in ("source", "sources"):
            continue
        ending = next((e for e in SCALE if key.endswith(e)), "")
        result[key.removesuffix(ending)] = _scaled(value, SCALE.get(ending, 1.0)) if key not in WORDS else _fixed(value)
    return result


def sources_of(entry: Mapping[str, Any]) -> Sources:
    """(field, source) of every number in one table; a number without a source raises KeyError."""
    named = entry.get("sources", {})
    result = []
    for key in entry:
        if key in WORDS:
            continue
        ending = next((e for e in SCALE if key.endswith(e)), "")
        result.append((key.removesuffix(ending), named[key] if key in named else entry["source"]))
    return tuple(result)


def nearest(name: str, known: Iterable[str]) -> str:
    """The end of an error message: the nearest spelling and every known name."""
    known = sorted(known)
    close = difflib.get_close_matches(name.lower(), [k.lower() for k in known], n=1, cutoff=0.5)
    hint = next((f'nearest: "{k}"; ' for k in known if close and k.lower() == close[0]), "")
    return f"{hint}known: {', '.join(known)}"


def look_up(kind: str, name: str, table: Mapping[str, T]) -> T:
    """``table[name]``.

    Raises
    ------
    CaseError
        If there is none of that name, with the nearest spelling and all names.
    """
    if name not in table:
        raise CaseError(f'no {kind} "{name}"; {nearest(name, table)}')
    return table[name]


def _scaled(value: Any, scale: float) -> Any:
    if isinstance(value, list):
        return tuple(_scaled(v, scale) for v in value)
    return float(value) * scale


def _fixed(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
