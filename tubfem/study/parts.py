"""What a parameter of the spread does to the stiffness: matrices of elements along a parabola, rows of springs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.shell.assemble import element_stiffness, padded_stiffness
from tubfem.shell.model import ShellModel
from tubfem.study.strained import Strained, strained
from tubfem.tub.layup import mixed
from tubfem.tub.model import LayupField


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """Elements of one block, and their stiffness `K` (e, d, d) as it is."""

    block: Strained
    K: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Part:
    """Elements (k,) of one block that a change touches, numbers within it; their change (k, d, d) with z and z²/2."""

    cells: Cells
    members: Ints
    linear: Floats
    square: Floats

    def within(self, elements: NDArray[np.bool_]) -> "Part":
        """The members among `elements` (e of all blocks,)."""
        own = elements[self.cells.block.elements[self.members]]
        return Part(self.cells, self.members[own], self.linear[own], self.square[own])


def cells_of(shell: ShellModel) -> tuple[Cells, ...]:
    """Strain matrices and stiffness of all elements."""
    C = padded_stiffness(shell.stiffness, shell.drilling)
    return tuple(
        Cells(own, element_stiffness(own.B, own.M, own.dA, C[own.stack]).astype(np.float32)) for own in strained(shell)
    )


def changed_parts(
    cells: Sequence[Cells],
    layup: LayupField,
    drilling: float,
    ends: tuple[Sequence[Stack], Sequence[Stack]],
    step: float,
) -> list[Part]:
    """Elements whose stacks are others at either end of a step, with the parabola through both ends and the middle."""
    touched = np.array([any(end[s] is not stack for end in ends) for s, stack in enumerate(layup.stacks)])
    mixtures = np.array([touched[list(own)].any() for own in layup.mixture_stacks])
    plus, minus = (padded_stiffness(_by_mixture(layup, stacks), drilling) for stacks in ends)
    found = []
    for each in cells:
        own = each.block
        members = np.flatnonzero(mixtures[own.stack])
        if not len(members):
            continue
        shape, of = (own.B[members], own.M[members], own.dA[members]), own.stack[members]
        up, down = (element_stiffness(*shape, C[of]).astype(np.float32) for C in (plus, minus))
        K = each.K[members]
        found.append(Part(each, members, (up - down) / (2 * step), (up + down - 2 * K) / step**2))
    return found


def _by_mixture(layup: LayupField, stacks: Sequence[Stack]) -> Floats:
    return mixed(layup, np.array([stiffness8(stack) for stack in stacks]))


def times(parts: Sequence[Part], V: Floats) -> tuple[Floats, Floats]:
    """Both changes of the stiffness, with z and with z²/2, times motions V (d, n)."""
    found = np.zeros_like(V), np.zeros_like(V)
    for part in parts:
        freedoms = part.cells.block.freedoms[part.members]
        own = V[freedoms].astype(np.float32)
        summed = _gather(freedoms, len(V))
        for total, K in zip(found, (part.linear, part.square), strict=True):
            total += summed @ (K @ own).reshape(-1, V.shape[1])
    return found


def _gather(freedoms: Ints, count: int) -> sparse.csr_array:
    """Matrix (count, e d) that sums what elements put on their freedoms (e, d)."""
    flat = freedoms.ravel()
    return sparse.csr_array((np.ones(len(flat)), (flat, np.arange(len(flat)))), shape=(count, len(flat)))
