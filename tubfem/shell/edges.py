"""Layers along free edges, where a twisting moment dies out, on elements too wide to see them (Z.1 to Z.3)."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.shell.frames import cross
from tubfem.shell.model import Block, Relief
from tubfem.shell.quad4 import SIDES
from tubfem.shell.sides import alone, sides_of
from tubfem.shell.ties import Ties

WIDEST = 0.9  # of an element, where two layers or more would fill it


def relieved(
    points: Floats, blocks: tuple[Block, ...], stiffness: Floats, ties: Ties | None = None
) -> tuple[Block, ...]:
    """Blocks with the relief of quads at free edges.

    Parameters
    ----------
    points : (p, 3)
        [m].
    blocks
        All elements: an edge is free if one of them alone has it.
    stiffness : (s, 8, 8)
        A, B, D and transverse shear of each stack, as in `ShellModel`.
    ties
        Edges along which these hold the rotation about the normal of the edge at both ends, or tie it to what other
        nodes do, are not free.
    """
    found = []
    for block, rim in zip(blocks, alone([block.conn for block in blocks]), strict=True):
        if block.kind == "quad4":
            free = rim if ties is None else _loose(points, block, rim, ties)
            found.append(replace(block, relief=_relief(points, block, stiffness, free)))
        else:
            found.append(block)
    return tuple(found)


def _relief(points: Floats, block: Block, stiffness: Floats, free: np.ndarray) -> Relief | None:
    """What the free sides (e, 4) of the elements relieve."""
    element, side = np.nonzero(free)
    if not len(element):
        return None
    found = sides_of(points, block, element, side)
    c, s = found.c, found.s
    C = stiffness[block.stack[element]]
    unit = np.stack([-c * s, c * s, c * c - s * s], -1)  # curvatures κx κy κxy of a twist of 1 along the edge
    twist = np.einsum("ei,eij,ej->e", unit, C[:, 3:6, 3:6], unit)
    shear = c * c * C[:, 6, 6] + 2 * c * s * C[:, 6, 7] + s * s * C[:, 7, 7]
    sound = (twist > 0) & (shear > 0)  # other stacks are refused when it comes to solving
    layer = np.sqrt(np.divide(twist, shear, out=np.ones(len(twist)), where=sound))
    widths = found.area / found.length / layer
    elements, place, count = np.unique(element, return_inverse=True, return_counts=True)
    share = share_relieved(widths, both=free[element, (side + 2) % 4])
    share = np.minimum(share, WIDEST / count[place])
    read = np.stack([-2 * c * s, 2 * c * s, c * c - s * s], -1)  # the twist along the edge of curvatures κx κy κxy
    less = (1 - np.sqrt(1 - count[place] * share)) / count[place]  # their energies add up, not their strains
    turn = np.broadcast_to(np.eye(3), (len(elements), 3, 3)).copy()
    np.subtract.at(turn, place, less[:, None, None] * unit[:, :, None] * read[:, None])
    return Relief(elements, turn)


def share_relieved(widths: Floats, *, both: np.ndarray) -> Floats:
    """Share (k,) of its element's twisting stiffness that each free edge takes away (Z.2, Z.3).

    `widths` (k,) are elements' widths across the edge over √(D66/S); `both` (k,) where the opposite edge is free too,
    and takes as much. Without it a row of elements would be stiffer than its layers let it be.
    """
    low, high = np.zeros(len(widths)), np.full(len(widths), WIDEST)
    for _ in range(40):
        share = 0.5 * (low + high)
        much = _relieved(widths, share, both) > np.where(both, np.tanh(widths / 2), 0.5)
        low, high = np.where(much, low, share), np.where(much, share, high)
    # Elements much narrower than the layer need none, and what would mend their last per cent is much of their own.
    return np.where(both, 0.5, 1.0) * low * -np.expm1(-9 * widths**2)


def _relieved(x: Floats, share: Floats, both: np.ndarray) -> Floats:
    """Energy that a layer saves, D66 twist² √(D66/S) its unit, elements x wide, those at the edge softer by `share`."""
    left = 1 - share
    single = 2 * left**2 / (4 * left / x + 2 * x / 3)
    inner = np.sqrt(1 + x**2 / 6)  # stiffness of the endless row behind the first element
    a, b, c = left / x + 5 * x / 12, -left / x + x / 12, left / x + 5 * x / 12 + inner
    row = 0.5 * (c * left**2 - 2 * b * left * share + a * share**2) / (a * c - b * b)
    return 0.5 * share * x + np.where(both, single, row)


def _loose(points: Floats, block: Block, free: np.ndarray, ties: Ties) -> np.ndarray:
    """Those of the free sides (e, 4) at one of whose ends the node itself can turn about the normal of the edge."""
    element, side = np.nonzero(free)
    found = sides_of(points, block, element, side)
    turning = np.zeros(ties.T.shape[0], dtype=bool)
    turning[ties.independent] = True
    turning &= np.diff(ties.T.tocsr().indptr) > 0
    turning = turning.reshape(-1, 6)[:, 3:]
    about = np.abs(cross(found.normal, found.along))[:, None] > 0.3
    loose = np.zeros_like(free)
    loose[element, side] = (turning[block.conn[element[:, None], SIDES[side]]] & about).any((1, 2))
    return loose
