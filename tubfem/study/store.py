"""A reduced model kept in a file beside the results, and used again while the tub that it was made from is the same."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from zipfile import BadZipFile

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.findings.allowables import allowables
from tubfem.findings.at_once import tables_of
from tubfem.findings.margins import margin_rules
from tubfem.findings.strains import describe_elements
from tubfem.shell.solve import Factored
from tubfem.study.family import Family, make_family
from tubfem.study.fingerprints import code_key
from tubfem.study.hot import Hot, around_hot, find_hot
from tubfem.study.joint_margins import JointLines, joint_lines
from tubfem.study.outputs import Outputs, find_outputs
from tubfem.study.reduce import Snapshot, Twisted, reduce_tub, snapshots_of, torsion_of, twist_tub
from tubfem.study.reduced import Field, Projected, Reduced, compliance
from tubfem.tub.further import tell_apart
from tubfem.tub.model import LoadCaseSetup, State, TubModel

FILE = "reduced.npz"
OUTPUTS = ("x", "curve", "forces", "rows")


@dataclass(frozen=True, eq=False, slots=True)
class Ready:
    """A tub with its reduced model, the elements and joints whose margins are followed; stiffness in N·m/deg as it is.

    `snapshots` are in the reduced model already; `twisted` is what it was made from, None if it was read.
    """

    model: TubModel
    state: State
    setup: LoadCaseSetup
    family: Family
    stiffness: float
    reduced: Reduced
    hot: Hot
    outputs: Outputs
    lines: JointLines
    snapshots: tuple[Snapshot, ...]
    twisted: Twisted | None


def ready(
    model: TubModel, folder: Path | None = None, factors: Mapping[int, Factored] | None = None
) -> tuple[Ready, bool]:
    """The reduced model of a tub: read from `folder` if it was made from the same tub, else made and kept there.

    Its stacks are told apart by where plies more of patches would lie (`tub.further`).

    Parameters
    ----------
    factors : the factorised stiffness of states of the model that a run has left, by number

    Returns
    -------
    Ready, and whether it was read
    """
    model = tell_apart(model)
    state, setup = torsion_of(model)
    key = digest(model, state, setup)
    if folder is not None:
        found = _read(folder / FILE, key, model, state, setup)
        if found is not None:
            return found, True
    made = make_ready(twist_tub(model, setup.name, factors))
    if folder is not None:
        keep(made, folder)
    return made, False


def make_ready(twisted: Twisted) -> Ready:
    """The reduced model of a twisted tub."""
    reduced, basis = reduce_tub(twisted)
    hot, outputs = find_hot(twisted, basis), find_outputs(twisted, basis)
    own = twisted.model, twisted.state, twisted.setup, twisted.stiff.family, twisted.stiffness
    lines = joint_lines(twisted.model, twisted.setup, describe_elements(twisted.model))
    return Ready(*own, reduced, hot, outputs, lines, snapshots_of(twisted), twisted)


def keep(tub: Ready, folder: Path) -> None:
    """Write the reduced model into a folder, where `ready` finds it."""
    _write(folder / FILE, digest(tub.model, tub.state, tub.setup), tub)


def digest(model: TubModel, state: State, setup: LoadCaseSetup) -> str:
    """Hash of all that the reduced model was made from: program, mesh, stiffness, springs, ties, load, plies to try."""
    shell = state.shell
    text = hashlib.sha256(f"{code_key()} {setup.name} {model.case.margins} {shell.drilling}".encode())
    text.update(_plies(model.case).encode())
    arrays = [shell.points, shell.stiffness, shell.loads, shell.ties.T.data, shell.ties.T.indices]
    arrays += [part for block in shell.blocks for part in (block.conn, block.stack, block.direction)]
    reliefs = [block.relief for block in shell.blocks if block.relief is not None]
    arrays += [part for relief in reliefs for part in (relief.elements, relief.turn)]
    arrays += [block.bulge for block in shell.blocks if block.bulge is not None]
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
        "own": made.hot.own,
        "followed": made.hot.near[np.diff(made.hot.elements.mean.indptr) > 0],
    }
    for k, group in enumerate(reduced.groups):
        arrays |= {f"{k} P": group.P, f"{k} mixed": group.mixed, f"{k} own": group.own}
        arrays[f"{k} sources"] = np.array(group.sources, dtype=np.int64)
        arrays[f"{k} rows"] = np.array([(f.row, f.source) for f in group.fields], dtype=np.int64).reshape(-1, 2)
        arrays[f"{k} D"] = np.array([f.D for f in group.fields])
    arrays |= {f"output {name}": getattr(made.outputs, name) for name in OUTPUTS}
    for k, snapshot in enumerate(made.snapshots):
        arrays[f"snapshot {k} groups"] = np.array(list(snapshot.change), dtype=np.int64)
        arrays[f"snapshot {k} u"] = snapshot.u
        arrays |= {f"snapshot {k} {group}": dC for group, dC in snapshot.change.items()}
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}")
    with beside.open("wb") as file:
        np.savez(file, **arrays)
    beside.replace(path)


def _read(path: Path, key: str, model: TubModel, state: State, setup: LoadCaseSetup) -> Ready | None:
    """What the file holds; None without a file that is whole, or if it was made from another tub."""
    try:
        with path.open("rb") as opened, np.load(opened, allow_pickle=False) as file:
            if "key" not in file or str(file["key"]) != key:
                return None
            arrays = {name: file[name] for name in file.files}
    except (OSError, EOFError, ValueError, BadZipFile):
        return None
    family = make_family(model, state.shell, arrays["weight"])
    groups = []
    for k in range(len(family.groups)):
        pairs = zip(arrays[f"{k} rows"].tolist(), arrays[f"{k} D"], strict=True)
        fields = tuple(Field(row, D, source) for (row, source), D in pairs)
        sources = tuple(arrays[f"{k} sources"].tolist())
        own = arrays[f"{k} P"], fields, sources, arrays[f"{k} mixed"], arrays[f"{k} own"]
        groups.append(Projected(*own, compliance(family.groups[k], None)))
    stiffness, scale, work = arrays["numbers"].tolist()
    names = ("load", "alpha", "loaded")
    reduced = Reduced(family, tuple(groups), *(arrays[n] for n in names), scale, work, arrays["unchanged"])
    elements, factors = describe_elements(model), allowables(model.case.margins)
    near, few, around, mirrored = around_hot(model, elements, arrays["followed"])
    rules = margin_rules(model.layup, factors)
    hot = Hot(model, near, few, around, arrays["own"], mirrored, rules, tables_of(rules), factors)
    outputs = Outputs(*(arrays[f"output {name}"] for name in OUTPUTS))
    lines = joint_lines(model, setup, elements)
    return Ready(model, state, setup, family, stiffness, reduced, hot, outputs, lines, tuple(_snapshots(arrays)), None)


def _snapshots(arrays: dict[str, Floats]) -> Iterator[Snapshot]:
    for k in range(sum(name.endswith(" u") for name in arrays)):
        groups = arrays[f"snapshot {k} groups"].tolist()
        yield Snapshot({group: arrays[f"snapshot {k} {group}"] for group in groups}, arrays[f"snapshot {k} u"])
