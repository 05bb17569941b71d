"""Strain matrices of all elements of a shell model, kept where many motions or many stiffnesses are asked of them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.shell.assemble import chunks, strain_matrix
from tubfem.shell.model import ShellModel
from tubfem.shell.normals import smooth_normals


@dataclass(frozen=True, eq=False, slots=True)
class Strained:
    """Elements of one block, in their material frames.

    `B` (e, q, 9, d), `M` (e, q, 9, m), `dA` (e, q) [m²], `freedoms` (e, d), `stack` (e,) of the shell model's,
    `elements` (e,) their numbers through all blocks.
    """

    B: Floats
    M: Floats
    dA: Floats  # noqa: N815 - as in the elements
    freedoms: Ints
    stack: Ints
    elements: Ints


def strained(shell: ShellModel) -> Iterator[Strained]:
    """Every block that has elements, made one after another."""
    normals, first = smooth_normals(shell.points, [block.conn for block in shell.blocks]), 0
    for block, normal in zip(shell.blocks, normals, strict=True):
        count = len(block.conn)
        if not count:
            continue
        parts = [strain_matrix(shell.points, block, p, normal[p]) for p in chunks(block)]
        B, M, dA = (np.concatenate(each) for each in zip(*parts, strict=True))
        freedoms = (6 * block.conn[:, :, None] + np.arange(6)).reshape(count, -1)
        yield Strained(B, M, dA, freedoms, block.stack, first + np.arange(count))
        first += count
