"""Edges of a mesh: which elements share them, and how they string together into lines."""

import numpy as np

from tubfem.arrays import Floats, Ints


def edge_table(conn: Ints) -> tuple[Ints, Ints]:
    """Distinct edges (n, 2), ascending node pairs, and the edge on each side of each element (e, sides)."""
    pairs = np.sort(np.stack([conn, np.roll(conn, -1, axis=1)], -1).reshape(-1, 2), axis=1)
    table, index = np.unique(pairs, axis=0, return_inverse=True)
    return table, index.reshape(conn.shape)


def chains(edges: Ints, points: Floats) -> list[Ints]:
    """Edges (n, 2) strung into lines: each (m, 2), node pairs in order along it.

    A line ends where edges do not simply go on (an end, or three or more edges at a node); a closed one starts at its
    lowest node by z, y, x. The end that comes first by z, y, x is the start.
    """
    at: dict[int, list[int]] = {}
    for i, (a, b) in enumerate(edges.tolist()):
        at.setdefault(a, []).append(i)
        at.setdefault(b, []).append(i)
    rank = {n: tuple(np.round(points[n][::-1], 7).tolist()) for n in at}
    ends = sorted((n for n in at if len(at[n]) != 2), key=rank.__getitem__)
    left = set(range(len(edges)))
    lines = []
    starts = [*ends, *sorted((n for n in at if len(at[n]) == 2), key=rank.__getitem__)]
    for start in starts:
        while True:
            ahead = [i for i in at[start] if i in left]
            if not ahead or (len(at[start]) == 2 and len(ahead) != 2):
                break
            ahead = min(ahead, key=lambda i: rank[_other(edges, i, start)])
            node, line = start, []
            while True:
                left.discard(ahead)
                onward = _other(edges, ahead, node)
                line.append((node, onward))
                node = onward
                following = [i for i in at[node] if i in left]
                if len(at[node]) != 2 or not following:
                    break
                ahead = following[0]
            lines.append(np.array(line, np.int64))
    return lines


def _other(edges: Ints, i: int, node: int) -> int:
    a, b = edges[i].tolist()
    return b if a == node else a
