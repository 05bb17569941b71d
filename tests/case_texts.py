"""Case files as tables to change, written again as TOML and read back."""

import json
import re
import tomllib
from pathlib import Path

from tubfem.case.read import load_case

CASES = Path(__file__).parents[1] / "cases"


def tables_of(name):
    """Tables of a case in `cases/`, as they are written."""
    return tomllib.loads((CASES / f"{name}.toml").read_text())


def read_tables(tables, folder, name="case"):
    """The case that tables make, by way of a file in the folder."""
    path = Path(folder) / f"{name}.toml"
    path.write_text(toml_text(tables))
    return load_case(path)


def toml_text(tables):
    """TOML of nested tables: keys of the case itself first, then a line a key."""
    own = {key: value for key, value in tables.items() if not isinstance(value, dict)}
    families = {key: value for key, value in tables.items() if isinstance(value, dict)}
    lines = [f"{key} = {_value(value)}" for key, value in own.items()]
    for family, table in families.items():
        lines += ["", f"[{family}]", *(f"{_key(key)} = {_value(value)}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


def _key(key):
    return key if re.fullmatch(r"[\w-]+", key, re.ASCII) else json.dumps(key)


def _value(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_value(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(entry) for entry in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(value) if isinstance(value, str) else repr(value)


def reordered(value):
    """The same tables, every one of them the other way round; lists keep their order, for theirs has a meaning."""
    if isinstance(value, dict):
        return {key: reordered(entry) for key, entry in reversed(value.items())}
    return [reordered(entry) for entry in value] if isinstance(value, list) else value


def renamed(value, names):
    """The tables with whole names changed, in keys and wherever texts speak of them."""
    if isinstance(value, dict):
        return {_renamed_text(key, names): renamed(entry, names) for key, entry in value.items()}
    if isinstance(value, list):
        return [renamed(entry, names) for entry in value]
    return _renamed_text(value, names) if isinstance(value, str) else value


def _renamed_text(text, names):
    return re.sub(r"[A-Za-z_]\w*", lambda word: names.get(word.group(), word.group()), text)
