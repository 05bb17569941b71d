"""How much the sides of quads bulge between their nodes, from what bends and what shears there (theory, Z.6)."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.shell.model import Block
from tubfem.shell.normals import SMOOTH, corner_normals
from tubfem.shell.reading import without_stretch
from tubfem.shell.sides import edge_numbers, sides_of


def bulging(points: Floats, blocks: tuple[Block, ...], stiffness: Floats) -> tuple[Block, ...]:
    """Blocks with the bulge of the sides of their quads.

    An edge has the mean of the elements that it joins, so that what it adds to the twist of one it takes from its
    neighbour. It stays straight where a wall in another plane holds it, and beside a triangle.

    Parameters
    ----------
    points : (p, 3)
        [m].
    blocks
        All elements.
    stiffness : (s, 8, 8)
        A, B, D and transverse shear of each stack, as in `ShellModel`.
    """
    if not blocks:
        return ()
    with np.errstate(divide="ignore", invalid="ignore"):  # elements without area are refused when it comes to solving
        taken = np.concatenate([_taken(points, block, stiffness).ravel() for block in blocks])
        normal = np.concatenate([_side_normals(points[block.conn]).reshape(-1, 3) for block in blocks])
    edge = np.concatenate([number.ravel() for number in edge_numbers([block.conn for block in blocks])])
    mean = np.bincount(edge, taken) / np.bincount(edge)
    one = np.zeros(len(mean), dtype=np.int64)
    one[edge] = np.arange(len(edge))  # of the two elements at an edge; more are a junction
    fold = (np.abs((normal * normal[one[edge]]).sum(1)) < SMOOTH) | (np.bincount(edge)[edge] > 2)
    mean[edge[fold | np.isneginf(taken)]] = 0.0
    bulges = np.split((1 - np.sqrt(1 - mean))[edge], np.cumsum([block.conn.size for block in blocks])[:-1])
    return tuple(
        replace(block, bulge=each.reshape(block.conn.shape)) if block.kind == "quad4" else block
        for block, each in zip(blocks, bulges, strict=True)
    )


def _side_normals(X: Floats) -> Floats:
    """Unit normals (e, n, 3) in the middle of the sides of elements X (e, n, 3)."""
    ends = corner_normals(X)
    both = ends + np.roll(ends, -1, axis=1)
    return both / np.linalg.norm(both, axis=-1, keepdims=True)


def _taken(points: Floats, block: Block, stiffness: Floats) -> Floats:
    """Share (e, n) of the shear along each side that a bulge takes: 1 / (1 + 12 D / S L²); -inf for triangles."""
    if block.kind != "quad4":
        return np.full(block.conn.shape, -np.inf)
    count = len(block.conn)
    element, side = np.repeat(np.arange(count), 4), np.tile(np.arange(4), count)
    found = sides_of(points, block, element, side)
    sound = (np.linalg.eigvalsh(stiffness[:, :6, :6]) > 0).all(1)  # other stacks are refused when it comes to solving
    free = np.zeros((len(stiffness), 3, 3))
    free[sound] = without_stretch(stiffness[sound])
    stack = block.stack[element]
    sheared = np.stack([found.c, found.s], -1)
    bent = np.stack([found.c**2, found.s**2, 2 * found.c * found.s], -1)
    bending = np.einsum("ei,eij,ej->e", bent, free[stack], bent)
    shear = np.einsum("ei,eij,ej->e", sheared, stiffness[stack, 6:, 6:], sheared) * found.length**2
    sound = (bending > 0) & (shear > 0)
    return np.divide(shear, shear + 12 * bending, out=np.zeros(len(shear)), where=sound).reshape(-1, 4)
