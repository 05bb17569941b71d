"""The tub in service: how warm every element gets, its plies and cores there, and its model with them."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

import numpy as np
from numpy.typing import NDArray

from tubfem.arrays import Floats, frozen
from tubfem.case.heat import Heat
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.geometry.mesh import Panel, TubMesh
from tubfem.laminate.stack import Stack
from tubfem.materials import library
from tubfem.materials.heat import Warmth, limit_of, post_cured, retention, warmed, without_credit
from tubfem.materials.ply import CorePly, Ply
from tubfem.shell.model import ShellModel
from tubfem.tub.build import build_model
from tubfem.tub.model import JointTies, LayupField, TubModel
from tubfem.tub.plies import entry_layers
from tubfem.tub.surface import surface_of

Change = Callable[[Ply | CorePly, float], Ply | CorePly]
BONDED = ("tabbed", "bonded")  # joint kinds that resin or adhesive carries


@dataclass(frozen=True, eq=False, slots=True)
class Service:
    """Every element in service.

    Attributes
    ----------
    celsius : (e,) temperature [degC]
    limit : (e,) highest temperature at which all its plies and cores are credited [degC]; infinite where none is known
    credited : (e,)
    """

    celsius: Floats
    limit: Floats
    credited: NDArray[np.bool_]


def warmth_of(heat: Heat) -> Warmth:
    """What the case says of its resins."""
    known = {
        name: post_cured(table.post_cure) if table.glass_transition is None else table.glass_transition
        for name, table in heat.resins.items()
    }
    return Warmth(known, heat.moisture, heat.margin)


def service(model: TubModel) -> Service:
    """Temperature and limit of every element: its region's, or that of a zone it lies in where that is hotter."""
    case, mesh, layup = model.case, model.mesh, model.layup
    warmth = warmth_of(case.heat)
    celsius = _temperatures(case, mesh)
    of_stack = np.array([_stack_limit(stack, warmth) for stack in layup.stacks])
    of_mixture = np.array([of_stack[list(stacks)].min() for stacks in layup.mixture_stacks])
    limit = of_mixture[layup.mixture]
    return Service(frozen(celsius), frozen(limit), celsius <= limit)


def warm_model(model: TubModel, state: Service, *, credited_only: bool = False) -> TubModel:
    """The model with its plies, cores and bonded joints as warm as they get.

    With `credited_only` elements that are too hot keep almost no stiffness.
    """
    warmth = warmth_of(model.case.heat)

    def change(ply: Ply | CorePly, celsius: float) -> Ply | CorePly:
        return warmed(ply, celsius, warmth)

    layup = _changed(model.layup, state.celsius, change, gone=~state.credited if credited_only else None)
    warm = build_model(model.case, model.mesh, layup)
    factor = _joint_factors(warm, state, warmth)
    return replace(warm, states=tuple(replace(s, shell=_scaled(s.shell, factor)) for s in warm.states))


def _scaled(shell: ShellModel, factor: Floats) -> ShellModel:
    if not len(factor):
        return shell
    first, *rest = shell.springs
    return replace(shell, springs=(replace(first, stiffness=first.stiffness * factor), *rest))


def _temperatures(case: Case, mesh: TubMesh) -> Floats:
    heat, middle = case.heat, surface_of(mesh).middle
    of_panel = np.array([_region_temperature(heat, panel.region) for panel in mesh.panels])
    celsius = of_panel[mesh.element_panel]
    for zone in heat.zones.values():
        panels = [k for k, panel in enumerate(mesh.panels) if any(_named(panel, pattern) for pattern in zone.on)]
        inside = np.isin(mesh.element_panel, panels)
        for station, sign in ((zone.from_, 1.0), (zone.to, -1.0)):
            if station is not None:
                inside &= sign * (middle[:, 0] - case.stations[station].x_at(middle[:, 2])) >= 0
        celsius = np.where(inside, np.maximum(celsius, zone.temperature), celsius)
    return celsius


def _region_temperature(heat: Heat, region: str) -> float:
    """Its own entry, or the hottest pattern that fits it, or the tub's."""
    if region in heat.regions:
        return heat.regions[region]
    fits = [celsius for pattern, celsius in heat.regions.items() if fnmatchcase(region, pattern)]
    return max(fits, default=heat.temperature)


def _named(panel: Panel, pattern: str) -> bool:
    names = (panel.name, panel.plain, panel.region, panel.plain.partition(".")[0])
    return any(fnmatchcase(name, pattern) for name in names)


def _stack_limit(stack: Stack, warmth: Warmth) -> float:
    known = [limit for ply in stack.plies if (limit := limit_of(ply, warmth)) is not None]
    return min(known, default=np.inf)


def _changed(layup: LayupField, celsius: Floats, change: Change, gone: NDArray[np.bool_] | None) -> LayupField:
    """The same plies in the same places, each changed for the temperature of its element."""
    lost = np.zeros(len(celsius), dtype=bool) if gone is None else gone
    keys = np.column_stack([layup.mixture, np.round(celsius, 3), lost])
    distinct, mixture = np.unique(keys, axis=0, return_inverse=True)
    stacks: dict[tuple[int, float, bool], int] = {}
    made: list[Stack] = []
    entries: list[tuple[str, ...]] = []
    parts = []
    for number, degrees, off in distinct.tolist():
        own = []
        for s in layup.mixture_stacks[int(number)]:
            key = (s, degrees, bool(off))
            if key not in stacks:
                stacks[key] = len(made)
                plies = (change(ply, degrees) for ply in layup.stacks[s].plies)
                made.append(replace(layup.stacks[s], plies=tuple(without_credit(p) if off else p for p in plies)))
                entries.append(layup.stack_entries[s])
            own.append(stacks[key])
        parts.append(tuple(own))
    before = distinct[:, 0].astype(np.int64)
    return replace(
        layup,
        stacks=tuple(made),
        mixture_stacks=tuple(parts),
        mixture_weights=tuple(layup.mixture_weights[m] for m in before),
        mixture=frozen(mixture.ravel()),
        stack_entries=tuple(entries),
        filling=tuple(layup.filling[m] for m in before) if layup.filling else (),
    )


def _joint_factors(model: TubModel, state: Service, warmth: Warmth) -> Floats:
    """What is left of every spring of the joints (m,): that of the tab's resin at the hottest element beside it."""
    if not model.joints:
        return np.zeros(0)
    shell = model.states[0].shell
    hottest = np.full(len(shell.points), -np.inf)
    ends = np.cumsum([len(block.conn) for block in shell.blocks])[:-1]
    for block, celsius in zip(shell.blocks, np.split(state.celsius, ends), strict=True):
        np.maximum.at(hottest, block.conn, celsius[:, None])
    factor = np.ones(len(shell.springs[0].stiffness))
    for ties in model.joints:
        dry = _dry_transition(model.case, ties, warmth)
        if ties.kind in BONDED and dry is not None:
            left = np.array([retention(t, dry, warmth.moisture) for t in hottest[ties.pairs].max(axis=1)])
            factor[ties.rows] = left[:, None]
    return factor


def _dry_transition(case: Case, ties: JointTies, warmth: Warmth) -> float | None:
    """Lowest dry glass transition of a joint's resins; a bond without plies is taken to be of the default resin."""
    layers = entry_layers(case, kind_named(case, ties.means).tab, label=ties.name)
    known = [warmth.dry(layer.ply.matrix.resin) for layer in layers if layer.ply.matrix is not None]
    if not known and case.defaults.resin is not None:
        known = [warmth.dry(library.resin(case.defaults.resin))]
    return min((each for each in known if each is not None), default=None)
