"""drawing.json: the model and the findings of a run as pictures and page need them, so that both can be made again.

Objects are written once each, in a table: arrays as little-endian base 64, records by the name of their class and their
fields. Only records of tubfem are read back, field by field; nothing in the file is ever run.
"""

import base64
import importlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from tubfem.errors import CaseError
from tubfem.findings.results import Findings
from tubfem.tub.folds import Folds
from tubfem.tub.model import State, TubModel

FILE = "drawing.json"
SCHEMA = 1


def write_drawing(path: Path, model: TubModel, findings: Findings, files: list[tuple[str, str]]) -> None:
    """Keep what a run's pictures and page are made from; `files` are the case's texts by name."""
    table = _Table()
    what = {"model": table.of(_drawn(model)), "findings": table.of(findings), "files": table.of(files)}
    path.write_text(json.dumps({"schema": SCHEMA, **what, "objects": table.objects}, allow_nan=False), encoding="utf-8")


def read_drawing(path: Path) -> tuple[TubModel, Findings, list[tuple[str, str]]]:
    """Model, findings and the case's texts; the model's shell has nodes and elements alone.

    Raises
    ------
    CaseError
        There is no such file, or it is none of this version.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        if found["schema"] != SCHEMA:
            raise ValueError(found["schema"])
        objects: list[Any] = []
        for each in found["objects"]:
            objects.append(_read(each, objects))
        model, findings, files = (_read(found[name], objects) for name in ("model", "findings", "files"))
    except FileNotFoundError as error:
        raise CaseError(f"{path}: not there; a folder that tubfem run wrote has it") from error
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, ImportError) as error:
        raise CaseError(f"{path}: cannot be read by this version; run the case again") from error
    return model, findings, files


def _drawn(model: TubModel) -> TubModel:
    """The model without what only solving needs."""
    shell, none = model.states[0].shell, np.empty(0)
    bare = replace(shell, stiffness=none, mass=none, lumps=None, springs=(), ties=None, loads=none)
    few = Folds(none.astype(np.int64), none, np.empty((0, 3)))
    return replace(model, states=(State(bare, ()),), joints=(), bolts=(), modes=None, folds=few)


class _Table:
    """Records and arrays, each once, in an order in which a record's parts stand before it."""

    def __init__(self) -> None:
        self.objects: list[Any] = []
        self._known: dict[int, tuple[int, Any]] = {}  # the object is kept alive, so that its number stays its own

    def of(self, value: Any) -> Any:
        """A value as JSON."""
        if value is None or isinstance(value, bool | int | str):
            return value
        if isinstance(value, float):
            return value if np.isfinite(value) else {"float": str(value)}
        if isinstance(value, np.generic):
            return self.of(value.item())
        if isinstance(value, Path):
            return {"path": str(value)}
        if isinstance(value, list):
            return [self.of(each) for each in value]
        if isinstance(value, tuple | set | frozenset):
            return {type(value).__name__: [self.of(each) for each in value]}
        if isinstance(value, Mapping):
            return {"dict": [[self.of(key), self.of(each)] for key, each in value.items()]}
        if id(value) not in self._known:
            made = self._array(value) if isinstance(value, np.ndarray) else self._record(value)
            self.objects.append(made)
            self._known[id(value)] = len(self.objects) - 1, value
        return {"at": self._known[id(value)][0]}

    def _array(self, value: np.ndarray) -> dict[str, Any]:
        narrow = value.dtype == np.int64 and (not value.size or np.abs(value).max() < 2**31)
        plain = np.ascontiguousarray(value, dtype="<i4" if narrow else value.dtype.newbyteorder("<"))
        return {
            "array": base64.b64encode(plain.tobytes()).decode("ascii"),
            "kind": plain.dtype.str,
            "shape": list(value.shape),
        }

    def _record(self, value: Any) -> dict[str, Any]:
        kind = type(value)
        if not kind.__module__.startswith("tubfem."):
            raise TypeError(f"{kind.__module__}.{kind.__qualname__} has no form in {FILE}")
        own = {name: self.of(getattr(value, name)) for name in _fields(kind)}
        return {"record": f"{kind.__module__}:{kind.__qualname__}", "fields": own}


def _read(value: Any, objects: list[Any]) -> Any:
    if isinstance(value, list):
        return [_read(each, objects) for each in value]
    if not isinstance(value, dict):
        return value
    if "at" in value:
        return objects[value["at"]]
    if "float" in value:
        return float(value["float"])
    if "path" in value:
        return Path(value["path"])
    if "dict" in value:
        return {_read(key, objects): _read(each, objects) for key, each in value["dict"]}
    if "array" in value:
        flat = np.frombuffer(base64.b64decode(value["array"]), dtype=np.dtype(value["kind"]))
        return (flat.astype(np.int64) if flat.dtype == np.int32 else flat).reshape(value["shape"])
    if "record" in value:
        return _record(value["record"], {name: _read(each, objects) for name, each in value["fields"].items()})
    for kind in (tuple, set, frozenset):
        if kind.__name__ in value:
            return kind(_read(each, objects) for each in value[kind.__name__])
    raise ValueError(f"{FILE} holds {list(value)}")


def _record(name: str, own: dict[str, Any]) -> Any:
    """A record of a class of tubfem, its fields set without running anything of it."""
    module, _, kind = name.partition(":")
    if not module.startswith("tubfem."):
        raise ValueError(name)
    found = getattr(importlib.import_module(module), kind)
    if own.keys() != set(_fields(found)):
        raise ValueError(f"{name} has other fields in this version")
    if is_dataclass(found):
        made = object.__new__(found)
        for field, value in own.items():
            object.__setattr__(made, field, value)
        return made
    return found.model_construct(**own)


def _fields(kind: Any) -> list[str]:
    return [field.name for field in fields(kind)] if is_dataclass(kind) else list(kind.model_fields)
