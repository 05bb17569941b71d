"""One tub out of many: every ply, core and spring as a draw of the parameters makes it, on the mesh that is there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from tubfem.arrays import Ints, frozen
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.materials.ply import LIMITS, CorePly, Ply
from tubfem.shell.model import ShellModel
from tubfem.study.scatter import (
    BONDS,
    CORE,
    FRACTION,
    JOINTS,
    MODULI,
    MOUNTS,
    SHEAR,
    STRENGTH,
    THICKNESS,
    Scatter,
    fibre_of,
    scatter_of,
)
from tubfem.tub.layup import mixed
from tubfem.tub.model import JointTies, State, TubModel
from tubfem.tub.plies import Layer, cured_layers, entry_layers

Drawn = Mapping[tuple[str, str], float]  # (cause's key, name) -> logarithm of the factor; for the fibre fraction of psi


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a ply comes from: cloth or ply of the case, region whose layup says how it is laid (None), which layer."""

    name: str
    region: str | None
    layer: int


@dataclass(frozen=True, eq=False, slots=True)
class Source:
    """What stacks and tabs are made of: origin of every ply of the case that is laid, region of every stack."""

    model: TubModel
    origins: dict[Ply, Origin]
    regions: tuple[str, ...]


def source_of(model: TubModel) -> Source:
    """Trace the plies of a tub to the case. Strips, inserts and other solids have no origin and never vary."""
    case = model.case
    origins: dict[Ply, Origin] = {}
    laid = {ply for stack in model.layup.stacks for ply in stack.plies if not ply.core}
    kinds = [kind_named(case, name) for name in dict.fromkeys(ties.means for ties in model.joints if ties.means)]
    tabs = [layer.ply for kind in kinds if kind.tab for layer in entry_layers(case, kind.tab, label="tab")]
    laid |= {ply for ply in tabs if not ply.core}
    names = {ply.name for ply in laid} & set(case.plies)
    for region, layup in (*case.layups.items(), (None, None)):
        for name in sorted(names):
            for layer, (_, ply) in enumerate(cured_layers(case, name, layup)):
                if ply in laid:
                    origins.setdefault(ply, Origin(name, region, layer))
    regions = [""] * len(model.layup.stacks)
    region_of = np.array([panel.region for panel in model.mesh.panels])[model.mesh.element_panel]
    first = np.unique(model.layup.mixture, return_index=True)
    for mixture, element in zip(*(each.tolist() for each in first), strict=True):
        for stack in model.layup.mixture_stacks[mixture]:
            regions[stack] = str(region_of[element])
    return Source(model, origins, tuple(regions))


def scatter(source: Source, shell: ShellModel) -> Scatter:
    """Everything in a tub that scatters, see `scatter_of`; what the case gives as measured is certain."""
    case = source.model.case
    used = dict.fromkeys(origin.name for origin in source.origins.values())
    tables = {name: case.plies[name] for name in used}
    wet = {name for name, table in tables.items() if table.is_cloth and table.thickness is None}
    in_region = {
        region
        for region, stack in zip(source.regions, source.model.layup.stacks, strict=True)
        if any(ply in source.origins and source.origins[ply].name in wet for ply in stack.plies)
    }
    cores = dict.fromkeys(ply.name for stack in source.model.layup.stacks for ply in stack.plies if ply.core)
    cores = [name for name in cores if name in case.cores]

    def fibres(measured: tuple[str, ...]) -> list[str]:
        formula = (n for n, t in tables.items() if t.is_cloth and any(getattr(t, key) is None for key in measured))
        return list(dict.fromkeys(fibre_of(case, name) for name in formula))

    springs = spring_rows(source.model, shell)
    return scatter_of(
        source.model,
        {
            FRACTION: [region for region in case.layups if region in in_region],
            MODULI: fibres(("E1", "E2")),
            SHEAR: fibres(("G12",)),
            THICKNESS: [*(name for name in used if name in wet), *cores],
            STRENGTH: [*dict.fromkeys(fibre_of(case, name) for name in used), *cores],
            BONDS: list(dict.fromkeys(ties.means for ties in source.model.joints if _judged(case, ties))),
            CORE: cores,
            JOINTS: [name for key, name in springs if key == JOINTS],
            MOUNTS: [name for key, name in springs if key == MOUNTS],
        },
    )


def _judged(case: Case, ties: JointTies) -> bool:
    return bool(ties.means) and (kind_named(case, ties.means).kind != "hinged" or bool(ties.bridges))


def drawn_layers(source: Source, region: str, drawn: Drawn, layers: Sequence[Layer]) -> tuple[Layer, ...]:
    """Layers of a region's stack, or of a tab (of no region), as drawn."""
    return tuple(replace(layer, ply=_drawn(source, layer.ply, region, drawn)) for layer in layers)


def drawn_stacks(source: Source, drawn: Drawn) -> tuple[Stack, ...]:
    """All stacks of the tub as drawn; tool faces stay on the tool. What nothing drawn touches stays the same object."""
    known: dict[tuple[Ply | CorePly, str], Ply | CorePly] = {}
    stacks = []
    for stack, region in zip(source.model.layup.stacks, source.regions, strict=True):
        plies = []
        for ply in stack.plies:
            if (ply, region) not in known:
                known[ply, region] = _drawn(source, ply, region, drawn)
            plies.append(known[ply, region])
        if all(new is old or new == old for new, old in zip(plies, stack.plies, strict=True)):
            stacks.append(stack)
            continue
        z = stack.z[0] + np.concatenate([[0.0], np.cumsum([ply.thickness for ply in plies])])
        stacks.append(Stack(tuple(plies), stack.angle, frozen(z)))
    return tuple(stacks)


def spring_rows(model: TubModel, shell: ShellModel) -> dict[tuple[str, str], Ints]:
    """Rows of all spring sets by what their factor is called: a kind of joint each, and all bolts of mounts.

    Foam inside sections and tubes of subframes are springs too, but certain here.
    """
    stiffness = np.concatenate([np.zeros(0), *(springs.stiffness for springs in shell.springs)])
    tied: dict[tuple[str, str], list[Ints]] = {}
    for ties in model.joints:
        tied.setdefault((JOINTS, ties.means or ties.kind), []).append(ties.rows.ravel())
    for bolt in model.bolts:
        tied.setdefault((MOUNTS, "all"), []).append(bolt.rows)
    found = {key: np.unique(np.concatenate(rows)) for key, rows in tied.items()}
    return {key: own for key, rows in found.items() if len(own := rows[stiffness[rows] > 0])}


def drawn_tub(source: Source, state: State, drawn: Drawn) -> TubModel:
    """The tub with one state, every stack and spring as drawn: what a full solve is made of."""
    model, shell = source.model, state.shell
    layup = replace(model.layup, stacks=drawn_stacks(source, drawn))
    factor = np.ones(sum(len(springs.stiffness) for springs in shell.springs))
    for key, rows in spring_rows(model, shell).items():
        factor[rows] = exp(drawn.get(key, 0.0))
    springs, row = [], 0
    for own in shell.springs:
        springs.append(replace(own, stiffness=own.stiffness * factor[row : row + len(own.stiffness)]))
        row += len(own.stiffness)
    stiffness = mixed(layup, np.array([stiffness8(stack) for stack in layup.stacks]))
    changed = replace(shell, stiffness=stiffness, springs=tuple(springs))
    return replace(model, layup=layup, states=(replace(state, shell=changed),), modes=None)


def _drawn(source: Source, ply: Ply | CorePly, region: str, drawn: Drawn) -> Ply | CorePly:
    return _core(ply, drawn) if ply.core else _ply(source, ply, region, drawn)


def _ply(source: Source, ply: Ply, region: str, drawn: Drawn) -> Ply:
    origin = source.origins.get(ply)
    if origin is None:
        return ply
    case = source.model.case
    table, fibre = case.plies[origin.name], fibre_of(case, origin.name)
    strength = exp(drawn.get((STRENGTH, fibre), 0.0))
    found = ply
    if table.is_cloth:
        drier = drawn.get((FRACTION, region), 0.0)
        if drier:
            layup = None if origin.region is None else case.layups[origin.region]
            # at half fibre, half resin a small change of psi is half that of the logarithm of their ratio (S.4)
            found = cured_layers(case, origin.name, layup, drier=2 * drier)[origin.layer][1]
        stiff, shear = (exp(drawn.get((key, fibre), 0.0)) for key in (MODULI, SHEAR))
        thick = exp(drawn.get((THICKNESS, origin.name), 0.0))
        along = {key: stiff * getattr(found, key) for key in ("E1", "E2") if getattr(table, key) is None}
        keys = ("G12", "G13", "G23") if table.G12 is None else ()
        across = {key: shear * getattr(found, key) for key in keys if getattr(table, key) is None}
        if any(value != 1 for value in (stiff, shear, thick)):
            found = replace(found, **along, **across, thickness=thick * found.thickness)
    if strength != 1:
        found = replace(found, **{key: strength * getattr(found, key) for key in LIMITS})
    return found


def _core(ply: CorePly, drawn: Drawn) -> CorePly:
    thick, shear, strength = (exp(drawn.get((key, ply.name), 0.0)) for key in (THICKNESS, CORE, STRENGTH))
    if thick == shear == strength == 1:
        return ply
    return replace(
        ply,
        thickness=thick * ply.thickness,
        G13=shear * ply.G13,
        G23=shear * ply.G23,
        shear_strength=strength * ply.shear_strength,
    )
