"""Consistent normals: from the tool face into the laminate, carried from face to face within a panel."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Ints
from tubfem.case.plain import PlainTub
from tubfem.geometry.assemble import HalfMesh
from tubfem.geometry.mesh import vector_areas

CLEAR = 0.2  # mean cosine between tool direction and normal below which the tool face cannot be told


def orient(half: HalfMesh, tub: PlainTub) -> tuple[HalfMesh, list[str]]:
    """The half with elements turned so that their normals point from the tool face into the laminate.

    Faces of a panel and of the recesses pressed into it are turned alike across the edges they share; then the whole
    is turned so that its area looks, on balance, against `tool`.

    With it the faults: panels whose tool direction lies along them, or which fold round past it.
    """
    conn, faults = half.conn.copy(), []
    area = vector_areas(half.points, conn)
    for panel in tub.panels:
        pieces = [i for i, part in enumerate(half.piece_part) if half.parts[part].panel.name == panel.name]
        if not pieces:
            continue
        elements = np.flatnonzero(np.isin(half.piece, pieces))
        sign, body = _carry(half, elements, pieces)
        inwards = -np.asarray(panel.tool) / np.linalg.norm(panel.tool)
        plain = np.array([half.parts[half.piece_part[p]].recess is None for p in half.piece[elements]])
        along = sign * (area[elements] @ inwards)
        size = np.linalg.norm(area[elements], axis=1)
        for b in np.unique(body):
            mine = (body == b) & plain if np.any((body == b) & plain) else body == b
            mean = along[mine].sum() / size[mine].sum()
            if abs(mean) < CLEAR or np.any(along[mine] * np.sign(mean) < -CLEAR * size[mine]):
                worst = np.min(along[mine] / size[mine] * np.sign(mean))
                faults.append(
                    f"panels.{panel.name}: its tool direction lies along the panel somewhere (cosine {worst:.2f} to "
                    "the normal), so its tool face cannot be told; choose the direction it looks"
                )
            sign[body == b] *= int(np.sign(mean))
        back = elements[sign < 0]
        conn[back] = conn[back][:, [0, 3, 2, 1]]
    return replace(half, conn=conn), sorted(set(faults))


def _carry(half: HalfMesh, elements: Ints, pieces: list[int]) -> tuple[Ints, Ints]:
    """Sign by which each element is turned so that neighbours agree, and the connected body each belongs to."""
    conn, piece = half.conn[elements], half.piece[elements]
    start, end = conn.ravel(), np.roll(conn, -1, axis=1).ravel()
    owner = np.repeat(piece, 4)
    way = np.where(start < end, 1, -1)
    key = np.minimum(start, end) * (int(conn.max()) + 1) + np.maximum(start, end)
    links: dict[int, list[tuple[int, int]]] = {p: [] for p in pieces}
    order = np.argsort(key, kind="stable")
    key, owner, way = key[order], owner[order], way[order]
    for i in np.flatnonzero(key[1:] == key[:-1]):
        a, b = int(owner[i]), int(owner[i + 1])
        if a != b:
            _link(links, a, b, -int(way[i] * way[i + 1]))
        if i + 2 < len(key) and key[i + 2] == key[i] and a != int(owner[i + 2]):  # filling and pocket at one edge
            _link(links, a, int(owner[i + 2]), -int(way[i] * way[i + 2]))
    filling = {p for p in pieces if half.parts[half.piece_part[p]].recess is None and len(half.sides[p]) == 1}
    pocket = {p for p in pieces if half.parts[half.piece_part[p]].recess is not None}
    turned, body = {}, {}
    for seed in pieces:
        if seed in turned:
            continue
        turned[seed], body[seed], queue = 1, seed, [seed]
        while queue:
            here = queue.pop()
            for other, agree in links[here]:
                if other in turned or ({here, other} & filling and {here, other} & pocket):
                    continue
                turned[other], body[other] = turned[here] * agree, seed
                queue.append(other)
    return np.array([turned[p] for p in piece]), np.array([body[p] for p in piece])


def _link(links: dict[int, list[tuple[int, int]]], a: int, b: int, agree: int) -> None:
    if (b, agree) not in links[a]:
        links[a].append((b, agree))
        links[b].append((a, agree))
