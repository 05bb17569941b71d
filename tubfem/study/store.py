"""A reduced model kept in a file beside the results, and used again while the tub that it was made from is the same."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.findings.allowables import allowables
from tubfem.findings.margins import margin_rules
from tubfem.findings.strains import describe_elements
from tubfem.study.family import Family, make_family
from tubfem.study.hot import Hot, find_hot, near_elements
from tubfem.study.reduce import reduce_tub, torsion_of, twist_tub
from tubfem.study.reduced import Field, Projected, Reduced
from tubfem.tub.model import LoadCaseSetup, State, TubModel

FORM = 1  # raised when the vectors or the file change
FILE = "reduced.npz"


@dataclass(frozen=True, eq=False, slots=True)
class Ready:
    """A tub with its reduced model and the elements whose margins are followed; stiffness in N·m/deg as it is."""

    model: TubModel
    state: State
    setup: LoadCaseSetup
    family: Family
    stiffness: float
    reduced: Reduced
    hot: Hot


def ready(model: TubModel, folder: Path | None = None) -> tuple[Ready, bool]:
    """The reduced model of a tub: read from `folder` if it was made from the same tub, else made and kept there.

    Returns
    -------
    Ready, and whether it was read
    """
    state, setup = torsion_of(model)
    key = digest(model, state, setup)
    if folder is not None:
        found = _read(folder / FILE, key, model, state, setup)
        if found is not None:
            return found, True
    twisted = twist_tub(model, setup.name)
    reduced, kept = reduce_tub(twisted)
    hot = find_hot(twisted, reduced, kept)
    made = Ready(model, state, setup, twisted.stiff.family, twisted.stiffness, reduced, hot)
    if folder is not None:
        _write(folder / FILE, key, made)
    return made, False


def digest(model: TubModel, state: State, setup: LoadCaseSetup) -> str:
    """Hash of everything that the reduced model was made from: mesh, stiffness, springs, ties, load, plies to try."""
    shell = state.shell
    text = hashlib.sha256(f"{FORM} {setup.name} {model.case.margins} {shell.drilling}".encode())
    text.update(_plies(model.case).encode())
    arrays = [shell.points, shell.stiffness, shell.loads, shell.ties.T.data, shell.ties.T.indices]
    arrays += [part for block in shell.blocks for part in (block.conn, block.stack, block.direction)]
    arrays += [part for s in shell.springs for part in (s.freedoms, s.coefficients, s.stiffness)]
    for array in arrays:
        text.update(np.ascontiguousarray(array).tobytes())
    return text.hexdigest()


def _plies(case: Case) -> str:
    return f"{sorted(case.plies.items())} {sorted(case.layups.items())}"


def _write(path: Path, key: str, made: Ready) -> None:
    """All arrays in one file, written beside and moved, so that a broken run leaves none."""
    reduced = made.reduced
    arrays: dict[str, Floats] = {
        "key": np.array(key),
        "numbers": np.array([made.stiffness, reduced.scale, reduced.base_work]),
        "weight": made.family.weight,
        "load": reduced.load,
        "alpha": reduced.alpha,
        "loaded": reduced.loaded,
        "unchanged": reduced.unchanged,
        "near": made.hot.near,
        "own": made.hot.own,
        "followed": made.hot.near[np.diff(made.hot.elements.mean.indptr) > 0],
    }
    for k, group in enumerate(reduced.groups):
        arrays |= {f"{k} P": group.P, f"{k} mixed": group.mixed, f"{k} own": group.own}
        arrays[f"{k} sources"] = np.array(group.sources, dtype=np.int64)
        arrays[f"{k} rows"] = np.array([(f.row, f.source) for f in group.fields], dtype=np.int64).reshape(-1, 2)
        arrays[f"{k} D"] = np.array([f.D for f in group.fields])
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}")
    with beside.open("wb") as file:
        np.savez(file, **arrays)
    beside.replace(path)


def _read(path: Path, key: str, model: TubModel, state: State, setup: LoadCaseSetup) -> Ready | None:
    """What the file holds; None without a file, or if it was made from another tub."""
    if not path.is_file():
        return None
    with np.load(path, allow_pickle=False) as file:
        if "key" not in file or str(file["key"]) != key:
            return None
        arrays = {name: file[name] for name in file.files}
    family = make_family(model, state.shell, arrays["weight"])
    groups = []
    for k in range(len(family.groups)):
        pairs = zip(arrays[f"{k} rows"].tolist(), arrays[f"{k} D"], strict=True)
        fields = tuple(Field(row, D, source) for (row, source), D in pairs)
        sources = tuple(arrays[f"{k} sources"].tolist())
        groups.append(Projected(arrays[f"{k} P"], fields, sources, arrays[f"{k} mixed"], arrays[f"{k} own"]))
    stiffness, scale, work = arrays["numbers"].tolist()
    names = ("load", "alpha", "loaded")
    reduced = Reduced(family, tuple(groups), *(arrays[n] for n in names), scale, work, arrays["unchanged"])
    elements, factors = describe_elements(model), allowables(model.case.margins)
    few, mirrored = near_elements(model, elements, arrays["followed"], arrays["near"])
    hot = Hot(model, arrays["near"], few, arrays["own"], mirrored, margin_rules(model.layup, factors), factors)
    return Ready(model, state, setup, family, stiffness, reduced, hot)
