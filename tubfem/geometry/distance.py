"""Distance of points from the elements of a mesh."""

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import centroids


def nearest(points: Floats, nodes: Floats, conn: Ints, reach: float) -> tuple[Floats, Floats, Ints]:
    """Distance (m,), nearest point (m, 3) and element (m,) of a mesh of quads; -1 and inf where none within `reach`."""
    middle = centroids(nodes, conn)
    radius = float(np.linalg.norm(nodes[conn] - middle[:, None], axis=2).max())
    tree = cKDTree(middle)
    bound = tree.query(points)[0] + 2 * radius  # the nearest element's middle is no farther than this
    found = tree.query_ball_point(points, np.minimum(bound, reach + radius))
    row = np.repeat(np.arange(len(points)), [len(f) for f in found])
    element = np.concatenate([np.asarray(f, np.int64) for f in found]) if len(row) else np.zeros(0, np.int64)
    best = np.full(len(points), np.inf)
    foot, which = np.array(points), np.full(len(points), -1)
    for corners in ((0, 1, 2), (0, 2, 3)):
        q = nearest_on_triangles(points[row], *(nodes[conn[element, c]] for c in corners))
        distance = np.linalg.norm(points[row] - q, axis=1)
        order = np.lexsort((element, distance, row))
        first = order[np.unique(row[order], return_index=True)[1]]
        better = first[distance[first] < np.minimum(best[row[first]], reach)]
        best[row[better]], foot[row[better]], which[row[better]] = distance[better], q[better], element[better]
    return best, foot, which


def nearest_on_triangles(p: Floats, a: Floats, b: Floats, c: Floats) -> Floats:
    """Nearest point (n, 3) to each p on its triangle abc, all (n, 3)."""
    n = np.cross(b - a, c - a)
    square = np.sum(n * n, axis=1).clip(1e-300)
    inside = np.ones(len(p), bool)
    best, least = np.array(a), np.full(len(p), np.inf)
    for u, v in ((a, b), (b, c), (c, a)):
        inside &= np.sum(np.cross(v - u, p - u) * n, axis=1) >= 0
        t = np.sum((p - u) * (v - u), axis=1) / np.sum((v - u) ** 2, axis=1).clip(1e-300)
        q = u + np.clip(t, 0, 1)[:, None] * (v - u)
        distance = np.linalg.norm(p - q, axis=1)
        closer = distance < least
        best[closer], least[closer] = q[closer], distance[closer]
    foot = p - (np.sum((p - a) * n, axis=1) / square)[:, None] * n
    return np.where(inside[:, None], foot, best)
