"""The case's [patches]: plies round a point, along an edge or corner line, or over a panel between two stations."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.expansion import Expansion
from tubfem.case.frames import Plane
from tubfem.case.holes import cut_panel
from tubfem.case.joining import Patch
from tubfem.case.schema import Case
from tubfem.case.skeleton import MM, CornerAt
from tubfem.case.surfaces import foot, loop_points
from tubfem.case.tape import spot
from tubfem.errors import CaseError
from tubfem.geometry.mesh import Panel, TubMesh
from tubfem.tub.cover import Field, circle, strip
from tubfem.tub.laps import Cover
from tubfem.tub.mounts import turned
from tubfem.tub.plies import MARK, marked, patch_plies
from tubfem.tub.surface import surface_of

BESIDE = 5e-3  # m: a patch's middle may lie so far beside its panel
REFLECT = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class _Place:
    """Where a patch lies.

    `panels` are plain names. `chains` are lines (n, 3) [m] of the written half that it lies along, or its middle
    (1, 3); none if only stations limit it. `limits` are (sign, station's plane): covered where sign · height is
    negative. `only` is the one side it is on.
    """

    panels: tuple[str, ...]
    chains: list[Floats]
    limits: tuple[tuple[float, Plane], ...]
    only: str | None


def patch_covers(case: Case, mesh: TubMesh, whole: Expansion, further: int = 0) -> list[Cover]:
    """A cover for every patch and every half of the panels it lies on; one for every ply if they are staggered.

    Parameters
    ----------
    whole
        The case expanded with the thickness that the mesh was moved by: patches are placed on the meshed panels.
    further
        How many further plies are marked, behind a mark where the patch begins; one if they are not staggered.

    Raises
    ------
    CaseError
        A patch's panel, opening or recess is not there, or nothing of the panel lies between its stations.
    """
    middle = surface_of(mesh).middle
    covers, faults = [], []
    for name, table in case.patches.items():
        try:
            place = _place(case, whole, table)
            own = _covers(case, mesh, name, table, place, further)
            if place.limits:
                _covered(mesh, middle, own, table)
            covers += own
        except ValueError as error:
            faults.append(case.message(("patches", name), str(error)))
    if faults:
        raise CaseError(faults)
    return covers


def _covers(case: Case, mesh: TubMesh, name: str, table: Patch, place: _Place, further: int) -> list[Cover]:
    text = f"patch {name}"
    plies = patch_plies(case, table.ply, text)
    steps = list(enumerate(plies)) if table.stagger else [(0, tuple(layer for ply in plies for layer in ply))]
    if further:
        more = [(len(steps) + k, marked(plies, text, 1 + k)) for k in range(further if table.stagger else 1)]
        steps = [(0, marked(plies, text, 0)), *steps, *more]
    covers = []
    for index, meshed in enumerate(mesh.panels):
        if meshed.plain not in place.panels:
            continue
        for side, chains in _sides(case, meshed, place):
            sign = -1.0 if side == "left" else 1.0
            where = f" {side}" if side and not meshed.name.endswith(side) else ""
            label = f"patch {name} on {meshed.name}{where}"
            half = side if where and not chains else ""
            for step, laid in steps:
                field = _field(table, chains, place.limits, half, step * table.stagger)
                covers.append(Cover(label, index, field, turned(laid, sign)))
    return covers


def _covered(mesh: TubMesh, middle: Floats, covers: list[Cover], table: Patch) -> None:
    """Refuse stations between which nothing of the panel lies; strips narrower than an element are let be."""
    near: dict[str, float] = {}
    for cover in covers:
        if cover.layers[0].text.startswith(MARK):
            continue
        inside = cover.field(middle[mesh.element_panel == cover.panel]).max(-1).min()
        text = cover.layers[0].text
        near[text] = min(near.get(text, np.inf), float(inside))
    if covers and max(near.values()) > mesh.size:
        bounds = " and ".join(station for station in (table.from_, table.to) if station is not None)
        short = " for all its plies: less stagger" if min(near.values()) <= mesh.size else ""
        raise ValueError(f"no room on its panel between {bounds}{short}")


def _place(case: Case, whole: Expansion, table: Patch) -> _Place:
    """Where a patch lies; ValueError says why it cannot."""
    planes = whole.meshed.planes
    limits = [(-1.0, planes[table.from_])] if table.from_ is not None else []
    limits += [(1.0, planes[table.to])] if table.to is not None else []
    if table.around is not None and table.around.startswith("corner "):
        section, _, corner = table.around.removeprefix("corner ").partition(".")
        ring = whole.meshed.rings[section]
        line = np.array([whole.meshed.locate(CornerAt(section, corner, station)) for station in ring.cuts])
        walls = [table.on] if table.on is not None else [f"{section}.{wall}" for wall in ring.walls_at(corner)]
        panels = tuple(panel for wall in walls for panel in _parts(whole, wall))
        return _Place(panels, [line], tuple(limits), table.only)
    panel = _panel_of(case, table)
    panels = _parts(whole, panel)
    if not panels:
        raise ValueError(f'no panel or wall "{panel}"')
    if table.at is None and table.around is None:
        return _Place(panels, [], tuple(limits), table.only)
    chains, only = _shapes(whole, panels, table)
    return _Place(panels, chains, tuple(limits), only)


def _parts(whole: Expansion, panel: str) -> tuple[str, ...]:
    """A panel, or a wall with the parts of it that have another schedule."""
    return tuple(
        name
        for name, sheet in whole.sheets.items()
        if name == panel or (sheet.kind == "wall" and name.startswith(f"{panel}."))
    )


def _panel_of(case: Case, table: Patch) -> str:
    """The panel that a patch lies on."""
    if table.on is not None:
        return table.on
    if table.around is None:
        raise ValueError("two numbers are measured on a panel; write on = PANEL")
    if table.around.startswith("edge of "):
        return table.around.removeprefix("edge of ")
    kind, _, name = table.around.partition(".")
    found = [
        panel for panel, own in case.panels.items() if name in (own.openings if kind == "opening" else own.recesses)
    ]
    if len(found) != 1:
        raise ValueError(f"{len(found)} panels have {table.around}; write on = PANEL")
    return found[0]


def _on_panel(whole: Expansion, panels: tuple[str, ...], at: Floats, radius: float) -> None:
    """Refuse a point (3,) [m] beside all panels, and a circle round it that holds the whole of them."""
    gap = min(foot(whole.surfaces[panel][1], at).distance for panel in panels)
    name = panels[0]
    if gap > BESIDE:
        raise ValueError(
            f"lies {gap * MM:.0f} mm outside {name}, past its edge {whole.borders[name].nearest(at[None])[1]}"
        )
    if all(np.linalg.norm(whole.borders[panel].starts - at, axis=-1).max() < radius for panel in panels):
        raise ValueError(
            f"its {radius * MM:.0f} mm radius holds all of {name}; take a smaller one, or lay the ply in [layups]"
        )


def _shapes(whole: Expansion, panels: tuple[str, ...], table: Patch) -> tuple[list[Floats], str | None]:
    """Lines (n, 3) [m] of the written half that a patch lies along, or its middle (1, 3), and the one side it is on."""
    panel = panels[0]
    if table.at is not None:
        if len(table.at) == 2 and whole.tapes[panel] is None:
            raise ValueError(f"two numbers need to know how the tape lies on {panel}: write three")
        tape = whole.tapes[panel][1] if whole.tapes[panel] is not None else None
        at = spot(whole.surfaces[panel][1], whole.normals[panel], tape, table.at).at
        _on_panel(whole, panels, at, table.radius or 0.0)
        return [at[None]], table.only
    if table.around.startswith("edge of "):
        border = whole.borders[panel]
        return [np.array(ends) for ends in zip(border.starts, border.ends, strict=True)], table.only
    kind, _, name = table.around.partition(".")
    openings, recesses = cut_panel(whole, panel, [], [])
    for hole in openings if kind == "opening" else recesses:
        if hole.name == name:
            loop = loop_points(hole.edges)
            return [np.concatenate([loop, loop[:1]])], table.only or hole.only
    raise ValueError(f"{panel} has no {kind} {name}")


def _sides(case: Case, panel: Panel, place: _Place) -> list[tuple[str, list[Floats]]]:
    """Side and lines of a patch on one meshed panel: a panel over the middle may have it twice, or on one half."""
    chains, only = place.chains, place.only
    if case.mirror is None:
        return [("", chains)]
    doubled = panel.name != panel.plain
    if not chains and not doubled:
        return [(only or "", chains)]
    if chains and all(np.abs(chain[:, 1]).max() < 1e-6 for chain in chains):
        return [("", chains)]
    sides = {"right": chains, "left": [chain * REFLECT for chain in chains]}
    return [
        (side, lines)
        for side, lines in sides.items()
        if only in (None, side) and (not doubled or panel.mirrored == (side == "left"))
    ]


def _field(
    table: Patch, chains: list[Floats], limits: tuple[tuple[float, Plane], ...], half: str, inset: float
) -> Field:
    """Where one ply lies, every edge of it `inset` [m] inside what is written; `half` is the one of a whole panel."""
    bounds: list[Field] = []
    if table.radius is not None:
        bounds.append(circle(chains[0][0], table.radius - inset))
    elif table.width is not None:
        bounds.append(strip(chains, table.width - inset))
    bounds += [_beyond(sign, plane, inset) for sign, plane in limits]
    if half:
        sign = 1.0 if half == "left" else -1.0
        bounds.append(lambda points: sign * points[..., 1:2])
    return lambda points: np.concatenate([bound(points) for bound in bounds], axis=-1)


def _beyond(sign: float, plane: Plane, inset: float) -> Field:
    return lambda points: (sign * plane.height(points) + inset)[..., None]
