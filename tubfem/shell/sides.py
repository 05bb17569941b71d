"""Sides of quads, and which elements share them."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.shell.frames import surface_frame
from tubfem.shell.model import Block
from tubfem.shell.quad4 import ETA, SIDES, XI


class Sides(NamedTuple):
    """Some sides (k,) of quads, each in the material frame of its element's middle.

    Attributes
    ----------
    along, normal : (k, 3)
        Unit vectors along the side, and across the surface.
    c, s : (k,)
        Cosine and sine of the angle from the 0° reference to the side.
    length : (k,)
        [m].
    area : (k,)
        Of the element [m²].
    """

    along: Floats
    normal: Floats
    c: Floats
    s: Floats
    length: Floats
    area: Floats


def sides_of(points: Floats, block: Block, element: Ints, side: Ints) -> Sides:
    """Sides (k,) of the elements (k,) of a block of quads."""
    X = points[block.conn[element]]
    g1, g2 = (np.einsum("n,enx->ex", k / 4, X) for k in (XI, ETA))
    e1, e2, e3, quarter = surface_frame(g1, g2, block.direction[element])
    ends = points[block.conn[element[:, None], SIDES[side]]]
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1)
    along = along / length[:, None]
    c, s = (along * e1).sum(-1), (along * e2).sum(-1)
    size = np.hypot(c, s)
    return Sides(along, e3, c / size, s / size, length, 4 * quarter)


def edge_numbers(conns: Sequence[Ints]) -> list[Ints]:
    """Number (e, n) of the edge at each side of the elements (e, n) of each block, the same where they share it."""
    if not conns:
        return []
    ends = [np.sort(np.stack([conn, np.roll(conn, -1, axis=1)], -1), -1) for conn in conns]
    keys = np.concatenate([((pair[..., 0] << 32) | pair[..., 1]).ravel() for pair in ends])
    number = np.unique(keys, return_inverse=True)[1]
    parts = np.split(number, np.cumsum([conn.size for conn in conns])[:-1])
    return [part.reshape(conn.shape) for part, conn in zip(parts, conns, strict=True)]


def alone(conns: Sequence[Ints]) -> list[np.ndarray]:
    """Per block, which edges (e, n) of its elements no other element has."""
    numbers = edge_numbers(conns)
    count = np.bincount(np.concatenate([np.empty(0, np.int64), *(number.ravel() for number in numbers)]))
    return [count[number] == 1 for number in numbers]
