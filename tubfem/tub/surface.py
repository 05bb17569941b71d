"""The surface of a meshed tub: normals and zero directions of elements, and who lies at a joint's edges."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.geometry.mesh import TubMesh


@dataclass(frozen=True, eq=False, slots=True)
class Surface:
    """Axes and middles of the mesh's elements, through the blocks in order.

    `normal` and `zero` (e, 3) are unit vectors, zero square to the normal; `middle` (e, 3) [m].
    """

    normal: Floats
    zero: Floats
    middle: Floats


def surface_of(mesh: TubMesh) -> Surface:
    """Axes of every element at its middle."""
    normals, zeros, middles = [], [], []
    for block in mesh.blocks:
        X = mesh.points[block.conn]
        last = X[:, 3] if block.kind == "quad4" else X[:, 0]
        normal = np.cross(X[:, 2] - X[:, 0], last - X[:, 1])
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        zero = block.direction - (block.direction * normal).sum(1)[:, None] * normal
        normals.append(normal)
        zeros.append(zero / np.linalg.norm(zero, axis=1)[:, None])
        middles.append(X.mean(1))
    return Surface(np.concatenate(normals), np.concatenate(zeros), np.concatenate(middles))


def elements_at(mesh: TubMesh) -> dict[tuple[int, int], list[int]]:
    """Elements at every edge of every joint line, by the edge's nodes in ascending order."""
    found: dict[tuple[int, int], list[int]] = {
        (min(edge), max(edge)): [] for line in mesh.joints for edge in line.edges.tolist()
    }
    nodes = np.zeros(len(mesh.points), dtype=bool)
    nodes[np.array(list(found), dtype=np.int64).ravel()] = True
    start = 0
    for block in mesh.blocks:
        after = np.roll(block.conn, -1, axis=1)
        elements, sides = np.nonzero(nodes[block.conn] & nodes[after])  # few, and element by element
        ends = np.sort(np.stack([block.conn[elements, sides], after[elements, sides]], -1), axis=-1)
        for element, (first, second) in zip(elements.tolist(), ends.tolist(), strict=True):
            if (first, second) in found:
                found[first, second].append(start + element)
        start += len(block.conn)
    return found
