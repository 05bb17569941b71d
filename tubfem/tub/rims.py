"""Rims of the openings as they lie on the meshed panels: places along them, and the way off into the panel."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.case.plain import Edge, PlainTub
from tubfem.case.surfaces import edge_points
from tubfem.geometry.mesh import TubMesh

ARC_STEP = np.radians(9.0)
CORNER, GROWTH = 1e-3, 1.8  # m beside a corner without radius; from the ends of a straight side to its middle
REFLECT = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class Rim:
    """One opening on one meshed panel.

    Attributes
    ----------
    name : "dash.legs.right"; `plain` and `hole` are the panel and the opening as the case calls them
    panel : index into the mesh's panels
    points, outward : (m, 3) places along the rim, closed, and unit vectors off into the panel
    convex : no part of the rim bends into the opening
    """

    name: str
    plain: str
    hole: str
    panel: int
    points: Floats
    outward: Floats
    convex: bool


def opening_rims(tub: PlainTub, mesh: TubMesh) -> tuple[Rim, ...]:
    """Rims of every opening that is in the mesh, in the case's order; `tub` is what was meshed."""
    found = []
    for plain in tub.panels:
        meshed = [(k, panel) for k, panel in enumerate(mesh.panels) if panel.plain == plain.name]
        for opening in plain.openings if meshed else ():
            points, outward, convex = _stations(opening.edges, np.array(opening.normal))
            middle = not tub.mirror or _is_symmetric(points)
            for side in ("",) if middle else ("right", "left"):
                if opening.only not in (None, side):
                    continue
                k = next((k for k, panel in meshed if len(meshed) == 1 or panel.mirrored == (side == "left")), None)
                if k is not None:
                    turn = REFLECT if side == "left" else 1.0
                    name = f"{plain.name}.{opening.name}" + (f".{side}" if side else "")
                    found.append(
                        Rim(name, plain.name, opening.name, k, frozen(points * turn), frozen(outward * turn), convex)
                    )
    return tuple(found)


def _is_symmetric(points: Floats) -> bool:
    """Whether a rim lies over the middle of the tub."""
    return bool(points[:, 1].min() < -1e-6 < 1e-6 < points[:, 1].max())


def _stations(edges: tuple[Edge, ...], normal: Floats) -> tuple[Floats, Floats, bool]:
    """Places (m, 3) along a loop, unit vectors (m, 3) off it, whether it is convex."""
    arcs = {k: _curve(edge) for k, edge in enumerate(edges) if edge.kind != "line"}
    step = min((np.linalg.norm(np.diff(arc, axis=0), axis=1).min() for arc in arcs.values()), default=CORNER)
    X = np.concatenate([(arcs[k] if k in arcs else _side(edge, step))[:-1] for k, edge in enumerate(edges)])
    before, after = X - np.roll(X, 1, axis=0), np.roll(X, -1, axis=0) - X
    off = [np.cross(side, normal) for side in (before, after)]
    off = [each / np.linalg.norm(each, axis=1)[:, None] for each in off]
    area = 0.5 * np.cross(X - X.mean(axis=0), after).sum(axis=0) @ normal
    outward = np.sign(area) * (off[0] + off[1])
    turns = np.cross(before, after) @ normal * np.sign(area)
    lengths = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    return X, outward / np.linalg.norm(outward, axis=1)[:, None], bool((turns > -1e-6 * lengths).all())


def _curve(edge: Edge) -> Floats:
    """A curved edge in steps of equal turning."""
    fine = np.diff(edge_points(edge, 96), axis=0)
    fine /= np.linalg.norm(fine, axis=1)[:, None]
    turned = np.arccos(np.clip((fine[:-1] * fine[1:]).sum(axis=1), -1.0, 1.0)).sum()
    return edge_points(edge, max(int(np.ceil(turned / ARC_STEP)), 2))


def _side(edge: Edge, step: float) -> Floats:
    """A straight edge in steps that grow from `step` [m] at either end."""
    ends = np.array(edge.points)
    half = 0.5 * float(np.linalg.norm(ends[-1] - ends[0]))
    count = max(int(np.ceil(np.log1p(half * (GROWTH - 1) / step) / np.log(GROWTH))), 1)
    s = np.cumsum(np.r_[0.0, GROWTH ** np.arange(count)])
    s = 0.5 * s / s[-1]
    s = np.r_[s, 1 - s[-2::-1]]
    return ends[0] + s[:, None] * (ends[-1] - ends[0])
