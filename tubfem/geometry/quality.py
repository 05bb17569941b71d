"""How good the elements are, and which panels hold the worst."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh, areas, vector_areas


@dataclass(frozen=True, slots=True)
class Quality:
    """Worst figures of a mesh and the panels they are in.

    Attributes
    ----------
    scaled_jacobian : least sine of a corner's angle, 1 for a rectangle; negative if an element is inside out
    aspect_ratio : greatest longest over shortest side
    warp : greatest distance of a corner from an element's mean plane over its mean side
    triangle_share : share of the area in triangles
    quads, triangles : how many
    worst_jacobian, worst_aspect, worst_warp : names of the panels that hold these
    """

    scaled_jacobian: float
    aspect_ratio: float
    warp: float
    triangle_share: float
    quads: int
    triangles: int
    worst_jacobian: str
    worst_aspect: str
    worst_warp: str


def corner_sines(points: Floats, conn: Ints) -> Floats:
    """Sine of the angle at each corner about the element's normal (e, n); negative where the outline turns back."""
    X = points[conn]
    ahead, back = np.roll(X, -1, axis=1) - X, np.roll(X, 1, axis=1) - X
    normal = vector_areas(points, conn)
    normal = normal / np.linalg.norm(normal, axis=1)[:, None]
    product = np.linalg.norm(ahead, axis=2) * np.linalg.norm(back, axis=2)
    return np.einsum("eni,ei->en", np.cross(ahead, back), normal) / product


def aspect_ratios(points: Floats, conn: Ints) -> Floats:
    """Longest over shortest side of each element (e,)."""
    X = points[conn]
    sides = np.linalg.norm(np.roll(X, -1, axis=1) - X, axis=2)
    return sides.max(axis=1) / sides.min(axis=1)


def warps(points: Floats, conn: Ints) -> Floats:
    """Distance of the corners from the mean plane over the mean side of each element (e,); zero for triangles."""
    X = points[conn]
    if conn.shape[1] == 3:
        return np.zeros(len(conn))
    normal = vector_areas(points, conn)
    normal = normal / np.linalg.norm(normal, axis=1)[:, None]
    off = np.abs(np.einsum("ei,ei->e", X[:, 0] - X.mean(axis=1), normal))  # all four corners are equally far off
    return off / np.linalg.norm(np.roll(X, -1, axis=1) - X, axis=2).mean(axis=1)


def quality(mesh: TubMesh) -> Quality:
    """Worst figures over all elements."""
    sines = np.concatenate([corner_sines(mesh.points, b.conn).min(axis=1) for b in mesh.blocks])
    aspect = np.concatenate([aspect_ratios(mesh.points, b.conn) for b in mesh.blocks])
    warp = np.concatenate([warps(mesh.points, b.conn) for b in mesh.blocks])
    size = areas(mesh)
    is_triangle = np.concatenate([np.full(len(b.conn), b.kind == "tria3") for b in mesh.blocks])
    names = [mesh.panels[i].name for i in mesh.element_panel[[sines.argmin(), aspect.argmax(), warp.argmax()]]]
    return Quality(
        scaled_jacobian=float(sines.min()),
        aspect_ratio=float(aspect.max()),
        warp=float(warp.max()),
        triangle_share=float(size[is_triangle].sum() / size.sum()),
        quads=int(np.sum(~is_triangle)),
        triangles=int(np.sum(is_triangle)),
        worst_jacobian=names[0],
        worst_aspect=names[1],
        worst_warp=names[2],
    )
