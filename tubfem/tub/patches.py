"""The case's [patches]: plies round a point, along an opening's or recess's edge, or along a panel's border."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.expansion import Expansion
from tubfem.case.holes import cut_panel
from tubfem.case.joining import Patch
from tubfem.case.schema import Case
from tubfem.case.sections import expand
from tubfem.case.surfaces import loop_points
from tubfem.case.tape import spot
from tubfem.errors import CaseError
from tubfem.geometry.mesh import TubMesh
from tubfem.tub.cover import Field, circle, strip
from tubfem.tub.laps import Cover
from tubfem.tub.mounts import turned
from tubfem.tub.plies import entry_layers

REFLECT = np.array([1.0, -1.0, 1.0])


def patch_covers(case: Case, mesh: TubMesh, thickness: dict[str, float]) -> list[Cover]:
    """A cover for every patch and every half of the panel it lies on.

    Parameters
    ----------
    thickness
        Thickness by region [m] that the mesh was moved by: patches are placed on the meshed panels.

    Raises
    ------
    CaseError
        A patch's panel, opening or recess is not there.
    """
    if not case.patches:
        return []
    whole = expand(case, thickness)
    covers, faults = [], []
    for name, table in case.patches.items():
        try:
            panel = _panel_of(case, table)
            shapes = _shapes(whole, panel, table)
        except ValueError as error:
            faults.append(case.message(("patches", name), str(error)))
            continue
        layers = entry_layers(case, table.ply, label=f"patch {name}")
        for index, meshed in enumerate(mesh.panels):
            if meshed.plain != panel:
                continue
            for side, chains in _sides(case, mesh, index, table, shapes):
                sign = -1.0 if side == "left" else 1.0
                where = f" {side}" if side and not meshed.name.endswith(side) else ""
                label = f"patch {name} on {meshed.name}{where}"
                covers.append(Cover(label, index, _field(chains, table), turned(layers, sign)))
    if faults:
        raise CaseError(faults)
    return covers


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


def _shapes(whole: Expansion, panel: str, table: Patch) -> tuple[list[Floats], str | None]:
    """Lines (n, 3) [m] of the written half that a patch lies along, or its middle (1, 3), and the one side it is on."""
    if panel not in whole.sheets:
        raise ValueError(f'no panel or wall "{panel}"')
    if table.at is not None:
        if len(table.at) == 2 and whole.tapes[panel] is None:
            raise ValueError(f"two numbers need to know how the tape lies on {panel}: write three")
        tape = whole.tapes[panel][1] if whole.tapes[panel] is not None else None
        return [spot(whole.surfaces[panel][1], whole.normals[panel], tape, table.at).at[None]], table.only
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


def _sides(
    case: Case, mesh: TubMesh, index: int, table: Patch, shapes: tuple[list[Floats], str | None]
) -> list[tuple[str, list[Floats]]]:
    """Side and lines of a patch on one meshed panel: a panel over the middle may have it twice."""
    chains, only = shapes
    if case.mirror is None:
        return [("", chains)]
    sides = {"right": chains, "left": [chain * REFLECT for chain in chains]}
    panel = mesh.panels[index]
    doubled = panel.name != panel.plain
    if all(np.abs(chain[:, 1]).max() < 1e-6 for chain in chains):
        return [("", chains)]
    return [
        (side, lines)
        for side, lines in sides.items()
        if only in (None, side) and (not doubled or panel.mirrored == (side == "left"))
    ]


def _field(chains: list[Floats], table: Patch) -> Field:
    return circle(chains[0][0], table.radius) if table.radius is not None else strip(chains, table.width)
