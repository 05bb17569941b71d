"""Directors at the corners of the elements: one normal where a surface is smooth, one per face at a fold.

Averaging keeps the drilling rotation of a curved shell out of its bending: with the normals of flat facets a roof
of radius/thickness 100 softens by up to 2 % as the mesh is refined, the more the smaller the drilling factor.
"""

from collections.abc import Sequence

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.errors import SolveError
from tubfem.shell.frames import cross

UPRIGHT = np.sin(np.radians(10.0))
SMOOTH = np.cos(np.radians(20.0))  # faces that meet at a larger angle are a fold


class ElementError(SolveError):
    """Elements that cannot be used; `nodes` (k,) are their corners."""

    def __init__(self, message: str, nodes: Ints) -> None:
        super().__init__(message)
        self.nodes = nodes


def refuse_bad_elements(points: Floats, conn: Ints, direction: Floats) -> None:
    """Raise `ElementError` for elements without area, folded over, or whose 0° direction stands on the surface."""
    X = points[conn]
    normal = cross(np.roll(X, -1, axis=1) - X, np.roll(X, 1, axis=1) - X)
    mean = normal.mean(1)
    bad = ~((normal * mean[:, None]).sum(-1) > 0).all(1)
    if bad.any():
        message = f"{bad.sum()} elements have no area or are folded over, element {np.flatnonzero(bad)[0]} first"
        raise ElementError(message, np.unique(conn[bad]))
    along = direction / np.linalg.norm(direction, axis=1, keepdims=True)
    flat = np.linalg.norm(cross(along, mean), axis=1) / np.linalg.norm(mean, axis=1)
    bad = ~(flat > UPRIGHT)
    if bad.any():
        message = f"the 0° direction of {bad.sum()} elements is within 10° of their normal"
        raise ElementError(message, np.unique(conn[bad]))


def corner_normals(X: Floats) -> Floats:
    """Unit normals (e, n, 3) of elements X (e, n, 3) at their own corners."""
    normal = cross(np.roll(X, -1, axis=1) - X, np.roll(X, 1, axis=1) - X)
    return normal / np.linalg.norm(normal, axis=-1, keepdims=True)


def smooth_normals(points: Floats, conns: Sequence[Ints]) -> list[Floats]:
    """Mean normals at the corners of all elements.

    Each corner takes the mean over the corners at its node that lie within 20° of it, whichever way round their
    elements are numbered.

    Parameters
    ----------
    points : (p, 3)
    conns
        Connectivity (e, n) of each block.

    Returns
    -------
    normals
        (e, n, 3) of each block.
    """
    if not conns:
        return []
    own = [corner_normals(points[conn]) for conn in conns]
    node = np.concatenate([conn.ravel() for conn in conns])
    normal = np.concatenate([n.reshape(-1, 3) for n in own])
    order = np.argsort(node, kind="stable")
    count = np.bincount(node)[node[order]]  # corners at the node of each corner, in sorted order
    start = np.searchsorted(node[order], node[order])
    normal = np.ascontiguousarray(normal[order].T)  # (3, corners), those of a node side by side
    mean = np.zeros_like(normal)
    for k in range(int(count.max(initial=0))):
        mine = np.flatnonzero(k < count)
        other = normal[:, start[mine] + k]
        cosine = (normal[:, mine] * other).sum(0)
        mean[:, mine] += np.where(np.abs(cosine) > SMOOTH, np.sign(cosine), 0.0) * other
    total = np.empty((len(order), 3))
    total[order] = (mean / np.sqrt((mean * mean).sum(0))).T
    ends = np.cumsum([conn.size for conn in conns])[:-1]
    return [part.reshape(n.shape) for part, n in zip(np.split(total, ends), own, strict=True)]
