"""Small builders of plain panels for tests of geometry (metres)."""

import numpy as np

from tubfem.case.plain import Edge, Face, Opening, PlainMount, PlainPanel, PlainPoint, PlainTub, Recess


def polygon(*points):
    """Loop of lines through the points, closed."""
    P = [tuple(float(c) for c in p) for p in points]
    return tuple(Edge("line", (a, b)) for a, b in zip(P, [*P[1:], P[0]], strict=True))


def circle(centre, radius, e1=(1, 0, 0), e2=(0, 1, 0)):
    """Two half arcs round a centre in the plane of e1 and e2."""
    c, e1, e2 = (np.asarray(v, float) for v in (centre, e1, e2))
    p = [tuple((c + radius * (np.cos(t) * e1 + np.sin(t) * e2)).tolist()) for t in np.arange(4) * np.pi / 2]
    return (Edge("arc", (p[0], p[1], p[2])), Edge("arc", (p[2], p[3], p[0])))


def rounded(centre, lengths, radius, e1=(1, 0, 0), e2=(0, 1, 0)):
    """A rectangle of full lengths with rounded corners; a slot if twice the radius is its width."""
    c, e1, e2 = (np.asarray(v, float) for v in (centre, e1, e2))
    a, b = np.asarray(lengths) / 2 - radius

    def at(x, y):
        return tuple((c + x * e1 + y * e2).tolist())

    edges = []
    corners = [(a, b, 0), (-a, b, 1), (-a, -b, 2), (a, -b, 3)]
    for x, y, k in corners:
        t = np.pi / 2 * (k + np.arange(3) / 2)
        edges.append(Edge("arc", tuple(at(x + radius * np.cos(s), y + radius * np.sin(s)) for s in t)))
    ordered = []
    for i, edge in enumerate(edges):
        ordered.append(edge)
        start, end = edge.points[-1], edges[(i + 1) % 4].points[0]
        if np.linalg.norm(np.subtract(start, end)) > 1e-9:
            ordered.append(Edge("line", (start, end)))
    fixed = []
    for i, edge in enumerate(ordered):  # arcs that meet without a line share their very point
        start = ordered[i - 1].points[-1]
        fixed.append(Edge(edge.kind, (start, *edge.points[1:])))
    return tuple(fixed)


def panel(name, *loops, side="whole", tool, zero=(1, 0, 0), **more):
    """A panel of one or more loops; a loop is a tuple of edges or a list of points."""
    faces = tuple(Face(loop if isinstance(loop[0], Edge) else polygon(*loop)) for loop in loops)
    region = more.pop("region", name)
    return PlainPanel(name, region, faces, side, tuple(map(float, tool)), tuple(map(float, zero)), **more)


def tub(*panels, size=0.05, mirror=False, mounts=(), points=(), lines=()):
    """A plain tub."""
    return PlainTub(tuple(panels), tuple(mounts), tuple(points), tuple(lines), mirror, size)


def box(lx=1.0, ly=0.3, lz=0.2, side="whole"):
    """Four walls of a tube along x, centred on y = 0, z from 0."""
    y = ly / 2
    return (
        panel("bottom", [(0, -y, 0), (lx, -y, 0), (lx, y, 0), (0, y, 0)], tool=(0, 0, -1), side=side),
        panel("top", [(0, -y, lz), (lx, -y, lz), (lx, y, lz), (0, y, lz)], tool=(0, 0, 1), side=side),
        panel("port", [(0, -y, 0), (lx, -y, 0), (lx, -y, lz), (0, -y, lz)], tool=(0, -1, 0), side=side),
        panel("starboard", [(0, y, 0), (lx, y, 0), (lx, y, lz), (0, y, lz)], tool=(0, 1, 0), side=side),
    )


def ring(stations, *corners, closed=True):
    """Loops of a section's walls: stations and corners (station, 3) -> list over walls of loops, one a bay."""
    walls = []
    n = len(corners)
    for i in range(n if closed else n - 1):
        a, b = corners[i], corners[(i + 1) % n]
        walls.append([[a[k], a[k + 1], b[k + 1], b[k]] for k in range(len(stations) - 1)])
    return walls


def hat_and_sills(size=0.04, **more):
    """A mirrored tub: tunnel, floor, sills, bulkheads; close to a starter's dimensions, its twisted walls included."""
    x = [0.0, 0.7, 1.45]
    root = [(0.0, 0.115, 0.0), (0.7, 0.135, 0.0), (1.45, 0.165, 0.0)]
    edge = [(0.0, 0.092, 0.2), (0.7, 0.11, 0.22), (1.45, 0.135, 0.25)]
    crown = [(p[0], 0.0, p[2]) for p in edge]
    low = [(0.0, 0.46, 0.0), (0.7, 0.49, 0.0), (1.45, 0.485, 0.0)]
    top = [(0.0, 0.478, 0.21), (0.7, 0.52, 0.25), (1.45, 0.503, 0.21)]
    out_top = [(0.0, 0.62, 0.21), (0.7, 0.66, 0.25), (1.45, 0.645, 0.21)]
    out_low = [(0.0, 0.62, 0.0), (0.7, 0.67, 0.02), (1.45, 0.645, 0.0)]
    half = {"side": "half"}
    side, crest = ring(x, root, edge, crown, closed=False)
    inner, upper, outer, bottom = ring(x, low, top, out_top, out_low)
    middle = [(p[0], 0.0, 0.0) for p in root]
    panels = [
        panel("tunnel.side", *side, tool=(0, 1, 0), section=True, **half),
        panel("tunnel.top", *crest, tool=(0, 0, 1), section=True, side="across"),
        panel("sill.inner", *inner, tool=(0, -1, 0), section=True, **half),
        panel("sill.top", *upper, tool=(0, 0, 1), section=True, **half),
        panel("sill.outer", *outer, tool=(0, 1, 0), section=True, **half),
        panel("sill.bottom", *bottom, tool=(0, 0, -1), section=True, **half),
        panel("floor", *ring(x, root, low, closed=False)[0], tool=(0, 0, -1), **half),
        panel("closing", *ring(x, middle, root, closed=False)[0], tool=(0, 0, -1), side="across"),
    ]
    for name, k, tool, height in (("front", 0, (-1, 0, 0), 0.42), ("rear", 2, (1, 0, 0), 0.46)):
        loop = [(x[k], 0, 0), out_low[k], out_top[k], (x[k], out_top[k][1] - 0.03, height), (x[k], 0, height)]
        panels.append(panel(name, loop, tool=tool, zero=(0, 1, 0), side="across"))
    mounts = [
        PlainMount(f"{name}_{level}", name, (x[k], y, z), (1.0, 0.0, 0.0), 0.008, 0.03)
        for name, k in (("front", 0), ("rear", 2))
        for level, y, z in (("upper", 0.41, 0.33), ("lower", 0.39, 0.09))
    ]
    return tub(*panels, size=size, mirror=True, mounts=more.pop("mounts", mounts), **more)


__all__ = [
    "Edge",
    "Opening",
    "PlainMount",
    "PlainPoint",
    "Recess",
    "box",
    "circle",
    "hat_and_sills",
    "panel",
    "polygon",
    "ring",
    "rounded",
    "tub",
]
