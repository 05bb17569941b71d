"""What the page needs to try plies: a small reduced model, the laminates it changes, joints, and the rules of margins.

Large arrays are little-endian in base 64, single precision where the reduced model has it; the rest is plain JSON.
"""

import base64
import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import usual_angle
from tubfem.case.digest import case_digest
from tubfem.case.joining import bolt_diameter
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.case.stuff import Layup, StackEntry
from tubfem.findings.allowables import CORE, FIRST_DAMAGE, INTERLAMINAR, Allowables
from tubfem.findings.margins import PLY_KINDS
from tubfem.findings.sandwich import KINDS, SHEAR
from tubfem.geometry.mesh import areas
from tubfem.laminate.failure import ply_limits
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import CorePly, Ply
from tubfem.report.schemas import SCHEMAS
from tubfem.study.cost import laid_cost, price_per_area
from tubfem.study.reduce import candidate_angles
from tubfem.study.shrink import shrink
from tubfem.study.store import Ready
from tubfem.study.tabs import tabs_of
from tubfem.tub.fillets import tab_area, wedge_shear
from tubfem.tub.further import FURTHER, PatchLaid, laid_patches
from tubfem.tub.layup import mixed
from tubfem.tub.line_stiffness import DIRECTIONS, RESIN_SHEAR
from tubfem.tub.model import LayupField, TubModel, plain_joint
from tubfem.tub.plies import Layer, cured_layers, entry_plies

FILE = "what_if.json"
SCHEMA = SCHEMAS["what_if"]
ROOM = 4.2e6  # bytes of the reduced model before base 64: the page of a large tub stays below 12 MB


class _Plies:
    """Every distinct layer that is laid or may be, by number."""

    def __init__(self, allowables: Allowables) -> None:
        self.allowables = allowables
        self.number: dict[Ply | CorePly, int] = {}

    def of(self, ply: Ply | CorePly) -> int:
        return self.number.setdefault(ply, len(self.number))

    def laid(self, layer: Layer) -> list[int | float | str]:
        return [self.of(layer.ply), float(layer.angle), layer.text]

    def tables(self) -> list[dict[str, Any]]:
        return [_ply(ply, self.allowables) for ply in self.number]


def what_if(tub: Ready, mass: float, *, changes: tuple[str, ...] = (), version: str) -> dict[str, Any]:
    """A tub made small by `study.shrink`, ready for JSON.

    Parameters
    ----------
    mass : of the tub as it is [kg]
    changes : of the command line, flag and text together
    """
    model, plies = tub.model, _Plies(tub.hot.allowables)
    case = model.case
    cost, folds = laid_cost(model), model.folds
    found = {
        "schema": SCHEMA,
        "tubfem_version": version,
        "case": {"path": case.path, "sha256": case_digest(case), "changes": list(changes)},
        "load_case": tub.setup.name,
        "unknowns": tub.reduced.size,
        "base": {"stiffness": tub.stiffness, "mass": mass, "cost": cost.amounts, "unpriced": list(cost.unpriced)},
        "prices": {name: price for name, table in case.plies.items() if (price := price_per_area(table)) is not None},
        "reduced": _reduced(tub),
        "groups": _groups(tub),
        "stacks": _stacks(model.layup, plies),
        "areas": _per_stack(model, areas(model.mesh)),
        "folds": _per_stack(model, np.bincount(folds.element, weights=folds.gain, minlength=model.mesh.element_count)),
        "regions": {name: _region(case, name, plies) for name in tub.hot.elements.regions},
        "patches": {name: _patch(case, name, laid, plies) for name, laid in laid_patches(case).items()},
        "tabs": _tabs(model, plies),
        "ties": _ties(tub, plies),
        "hot": _hot(tub),
        "rules": _rules(tub.hot.allowables),
        "drilling": tub.state.shell.drilling,
    }
    return found | {"plies": plies.tables()}


def write_what_if(folder: Path, tub: Ready, mass: float, *, changes: tuple[str, ...] = (), version: str) -> None:
    """what_if.json of a tub with its whole reduced model; arguments as `what_if`."""
    folder.mkdir(parents=True, exist_ok=True)
    found = what_if(shrink(tub, ROOM), mass, changes=changes, version=version)
    beside = folder / f".{FILE}"
    beside.write_text(json.dumps(found, allow_nan=False), encoding="utf-8")
    beside.replace(folder / FILE)


def fits(found: Mapping[str, Any] | None, contents: Mapping[str, Any]) -> bool:
    """Whether what was found in a folder was made from the case of results.json, with its changes, by its program."""
    if found is None or found.get("schema") != SCHEMA or found.get("tubfem_version") != contents["tubfem_version"]:
        return False
    own, case = found["case"], contents["case"]
    return own["sha256"] is not None and all(own[name] == case[name] for name in ("sha256", "changes"))


def _stacks(layup: LayupField, plies: _Plies) -> list[Any]:
    """Every stack: tool face [m], layers (number, angle [rad], text), and between them (-1, hand, patch, step)."""
    found = []
    for stack, texts, marks in zip(layup.stacks, layup.stack_entries, layup.marks, strict=True):
        layers: list[list[Any]] = [
            [plies.of(ply), float(angle), text]
            for ply, angle, text in zip(stack.plies, stack.angle, texts, strict=True)
        ]
        for mark in reversed(marks):
            layers.insert(mark.at, [-1, mark.sign, mark.patch, mark.step])
        found.append([float(stack.z[0]), layers])
    return found


def _per_stack(model: TubModel, per_element: Floats) -> list[float]:
    """A quantity (e,) summed over the elements of every stack, by its part in their mixtures."""
    return (per_element @ mixed(model.layup, np.eye(len(model.layup.stacks)))[model.layup.mixture]).tolist()


def _reduced(tub: Ready) -> dict[str, Any]:
    reduced = tub.reduced
    return {
        "scale": reduced.scale,
        "load": _doubles(reduced.load),
        "loaded": _doubles(reduced.loaded),
        "unchanged": _doubles(reduced.unchanged),
        "alpha": _doubles(reduced.alpha),
    }


def _groups(tub: Ready) -> list[dict[str, Any]]:
    """Every group of elements or springs in the basis, and which stacks its elements have.

    `shares` of a region's group are (stack, 1 if mirrored, share of its mean). Symmetric matrices are given by their
    lower triangles.
    """
    family, field = tub.family, tub.model.layup
    mirrored = np.array([panel.mirrored for panel in tub.model.mesh.panels])[tub.model.mesh.element_panel]
    found = []
    for group, projected in zip(family.groups, tub.reduced.groups, strict=True):
        place = {source: at for at, source in enumerate(projected.sources)}
        lower = np.tril_indices(len(group.C))
        shares: dict[tuple[int, int], float] = {}
        if group.kind == "region":
            weight = family.weight[group.members] / family.weight[group.members].sum()
            for element, w in zip(group.members.tolist(), weight.tolist(), strict=True):
                m = field.mixture[element]
                for s, part in zip(field.mixture_stacks[m], field.mixture_weights[m], strict=True):
                    key = s, int(mirrored[element])
                    shares[key] = shares.get(key, 0.0) + w * part
        found.append(
            {
                "kind": group.kind,
                "name": group.name,
                "part": group.part,
                "C": group.C[lower].tolist(),
                "corners": _doubles(group.corners[:, lower[0], lower[1]]),
                "P": _singles(projected.P),
                "fields": [[f.row, place[f.source]] for f in projected.fields],
                "D": _doubles(np.array([f.D[lower] for f in projected.fields])),
                "mixed": _singles(projected.mixed),
                "own": _doubles(projected.own),
                "shares": [[s, side, share] for (s, side), share in shares.items()],
            }
        )
    return found


def _region(case: Case, name: str, plies: _Plies) -> dict[str, Any]:
    layup = case.layups[name]
    return {"own": _own(case, layup.stack, name, layup, plies), "tried": _tried(case, layup.stack, layup, name, plies)}


def _patch(case: Case, name: str, laid: PatchLaid, plies: _Plies) -> dict[str, Any]:
    """A patch: its plies, what may be laid more, whether each further ply steps in, and how many of these are known."""
    stack, table = laid.entries, case.patches.get(name)
    room = math.inf if table is None else table.most_plies - sum(entry.count for entry in stack)
    return {
        "label": laid.label,
        "mount": table is None,
        "own": _own(case, stack, laid.label, None, plies),
        "tried": _tried(case, stack, None, None, plies),
        "stepped": laid.stagger,
        "most": min(FURTHER, room) if laid.stagger else None,
    }


def _own(
    case: Case, stack: Sequence[StackEntry], label: str, layup: Layup | None, plies: _Plies
) -> list[dict[str, Any]]:
    """Every ply and core of a stack in laying order, with its layers: (number, angle [rad], text)."""
    laid = entry_plies(case, stack, layup=layup, label=label)
    return [
        {
            "name": entry.name,
            "core": entry.is_core,
            "entry": number,
            "added": entry.added is not None,
            "angle": entry.angle,
            "layers": [plies.laid(layer) for layer in ply],
        }
        for number, (entry, own) in enumerate(zip(stack, laid, strict=True))
        for ply in own
    ]


def _tried(
    case: Case, stack: Sequence[StackEntry], layup: Layup | None, region: str | None, plies: _Plies
) -> dict[str, Any]:
    """For every ply of the case: usual angle in a stack, angles worth trying [rad], (turn, number) of its layers."""
    found = {}
    for ply in case.plies:
        usual = usual_angle(stack, ply)
        angles = (usual,) if region is None else candidate_angles(case, region, ply)
        layers = [[float(turn), plies.of(layer)] for turn, layer in cured_layers(case, ply, layup)]
        found[ply] = {"usual": usual, "angles": angles, "layers": layers}
    return found


def _tabs(model: TubModel, plies: _Plies) -> dict[str, Any]:
    """Joint kinds that have a tab: its plies, what may be laid more, the area of a ply [m²] by joint, joints alone."""
    case, found = model.case, {}
    single = {tabs.name for tabs in tabs_of(model)}
    for name, kind in case.joint_kinds.items():
        if not kind.tab:
            continue
        joints: dict[str, float] = {}
        for ties in model.joints:
            if ties.means == name:
                joint = plain_joint(ties.name)
                joints[joint] = joints.get(joint, 0.0) + tab_area(kind, ties)
        if joints:
            tried = _tried(case, kind.tab, None, None, plies)
            own = _own(case, kind.tab, "tab", None, plies)
            alone = [joint for joint in joints if joint in single and len(joints) > 1]
            found[name] = {"own": own, "tried": tried, "joints": joints, "alone": alone}
    return found


def _ties(tub: Ready, plies: _Plies) -> list[dict[str, Any]]:
    """Every line of springs: what holds it, the regions it sees, and (group, share of its stiffness) by direction."""
    model, family = tub.model, tub.family
    springs = tub.state.shell.springs[0] if model.joints else None
    groups = {(g.name, g.part): k for k, g in enumerate(family.groups) if g.kind == "joint"}
    total = {k: float(springs.stiffness[family.groups[k].members].sum()) for k in groups.values()}
    found = []
    for ties in model.joints:
        kind, name = kind_named(model.case, ties.means), plain_joint(ties.name)
        own = [groups.get((name, direction)) for direction in DIRECTIONS]
        stiffness = springs.stiffness[ties.rows].sum(axis=0).tolist()
        given = kind.stiffness
        found.append(
            {
                "name": name,
                "means": ties.means,
                "kind": kind.kind,
                "regions": [model.mesh.panels[panel].region for panel in ties.standing],
                "angle": ties.angle,
                "width": kind.width,
                "sides": kind.sides,
                "fillet": kind.fillet,
                "wedge": wedge_shear(model.case, kind, ties.corners),
                "bolt": [bolt_diameter(kind.bolt), kind.pitch] if kind.kind == "fastened" else None,
                "bond": [kind.bond_thickness, kind.bond_shear_modulus or RESIN_SHEAR]
                if kind.kind == "bonded"
                else None,
                "given": [given is not None and getattr(given, direction) is not None for direction in DIRECTIONS],
                "bridges": [[[plies.laid(layer) for layer in layers], width] for layers, width in ties.bridges],
                "groups": [None if k is None else [k, part / total[k]] for k, part in zip(own, stiffness, strict=True)],
            }
        )
    return found


def _hot(tub: Ready) -> dict[str, Any]:
    """The elements whose margins are followed: strains in the basis, averaged, and shear of all that averages need."""
    hot, layup = tub.hot, tub.model.layup
    mean = hot.elements.mean
    followed = np.flatnonzero(np.diff(mean.indptr))
    parts = [slice(mean.indptr[e], mean.indptr[e + 1]) for e in followed]
    return {
        "regions": list(hot.elements.regions),
        "near": [
            [list(layup.mixture_stacks[layup.mixture[e]]), int(side), int(region)]
            for e, side, region in zip(hot.near, hot.mirrored, hot.elements.region, strict=True)
        ],
        "followed": followed.tolist(),
        "mean": [[mean.indices[part].tolist(), mean.data[part].tolist()] for part in parts],
        "averaged": _singles((mean @ hot.own[:, :8].reshape(len(hot.near), -1))[followed]),
        "shear": _singles(hot.own[:, 6:8]),
        "twist": _singles(hot.own[:, 8:]),
    }


def _rules(allowables: Allowables) -> dict[str, Any]:
    required = allowables.required
    return {
        "criterion": allowables.criterion,
        "required": {
            **{kind: required[kind] for kind in PLY_KINDS},
            INTERLAMINAR: required.get(INTERLAMINAR, required[FIRST_DAMAGE]),
            **{kind: required.get(kind, required[CORE]) for kind in KINDS},
        },
    }


def _ply(ply: Ply | CorePly, allowables: Allowables) -> dict[str, Any]:
    """A layer's constants, SI; of what bears no limit None."""
    factors = allowables.knock_down
    found = {n: getattr(ply, n) for n in ("name", "core", "E1", "E2", "G12", "nu12", "G13", "G23", "thickness", "rho")}
    if ply.core:
        shear = [_or_none(factors[SHEAR] * strength) for strength in ply.shear_strengths]
        return found | {"Ec": ply.Ec, "cell": ply.cell, "shear": shear}
    limits = ply_limits(make_stack([(0.0, ply)]), factors)[0]
    return found | {
        "unidirectional": ply.kind == "unidirectional",
        "limits": [_or_none(limit) for limit in limits],
        "fibre": list(ply.fibre_modes),
        "between": _or_none(ply.S13 * factors[INTERLAMINAR]),
    }


def _or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _singles(values: Floats) -> str:
    return _coded(values, "<f4")


def _doubles(values: Floats) -> str:
    return _coded(values, "<f8")


def _coded(values: Floats, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")
