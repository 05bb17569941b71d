"""Points dropped on one face of a panel along a direction: what is drawn there needs no intersecting of surfaces."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.plain import Face
from tubfem.geometry.curves import SAME, plane_of, sample_loop, unit


def drop_on(face: Face, points: Floats, direction: Floats) -> Floats | None:
    """Where lines along `direction` through points (m, 3) meet a face (m, 3) [m].

    None if one of them misses the face or comes within `SAME` of its outline, or if the face is neither flat nor
    spanned by four straight edges.
    """
    outline = sample_loop(face.edges, 24)
    centre, normal, off = plane_of(outline)
    if off < 1e-7:
        across = normal @ direction
        if abs(across) < 0.1:
            return None
        foot = points + ((centre - points) @ normal / across)[:, None] * direction
        e1 = unit(outline[1] - outline[0])
        frame = np.stack([e1, np.cross(normal, e1)])
        return foot if inside(outline @ frame.T, foot @ frame.T, SAME).all() else None
    if len(face.edges) != 4 or any(edge.kind != "line" for edge in face.edges):
        return None
    return _on_bilinear(outline, points, direction)


def inside(polygon: Floats, points: Floats, margin: float) -> np.ndarray:
    """Which points (m, 2) lie inside a polygon (n, 2) by more than `margin`."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    p = points[:, None]
    above_a, above_b = a[:, 1] > p[..., 1], b[:, 1] > p[..., 1]
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossing = a[:, 0] + (p[..., 1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / rise
    odd = np.sum((above_a != above_b) & (p[..., 0] < crossing), axis=1) % 2 == 1
    run = b - a
    t = np.sum((p - a) * run, axis=2) / np.sum(run**2, axis=1).clip(1e-300)
    off = np.linalg.norm(p - (a + np.clip(t, 0, 1)[..., None] * run), axis=2).min(axis=1)
    return odd & (off > margin)


def _on_bilinear(corners: Floats, points: Floats, direction: Floats) -> Floats | None:
    """Newton's method on the face's two parameters and the distance dropped."""
    P = corners
    uvt = np.zeros((len(points), 3))
    uvt[:, :2] = 0.5
    for _ in range(20):
        u, v = uvt[:, :1], uvt[:, 1:2]
        at = (1 - u) * (1 - v) * P[0] + u * (1 - v) * P[1] + u * v * P[2] + (1 - u) * v * P[3]
        gap = at - points - uvt[:, 2:] * direction
        J = np.stack(
            [
                (1 - v) * (P[1] - P[0]) + v * (P[2] - P[3]),
                (1 - u) * (P[3] - P[0]) + u * (P[2] - P[1]),
                np.tile(-direction, (len(points), 1)),
            ],
            axis=-1,
        )
        if np.any(np.abs(np.linalg.det(J)) < 1e-12):
            return None
        uvt = uvt - np.linalg.solve(J, gap[..., None])[..., 0]
        if np.any(np.abs(uvt[:, :2]) > 10):
            return None
    reach = SAME / np.linalg.norm(P - np.roll(P, -1, axis=0), axis=1).min()
    if np.abs(gap).max() > 1e-9 or uvt[:, :2].min() < reach or uvt[:, :2].max() > 1 - reach:
        return None
    return at
