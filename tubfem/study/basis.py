"""Strains of the elements under many motions at once, and the motions that one factorisation gives.

Every vector keeps its enhanced part: with stress S [N/m, N] given at the integration points, the pair of motion v and
enhanced amounts a solves the uncondensed equations, so that C0 E - S is balanced against every motion and mode.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.shell.assemble import stiffness_matrix
from tubfem.shell.factor import Solver, factorise
from tubfem.shell.model import ShellModel
from tubfem.study.family import COMPONENTS, Family
from tubfem.study.strained import strained


@dataclass(frozen=True, eq=False, slots=True)
class Cell:
    """Elements of one block that belong to one group, with their matrices.

    `B` (e, q, 9, d) and `M` (e, q, 9, m) strains in the group's axes, `dA` (e, q) [m²], `freedoms` (e, d),
    `C` (e, 9, 9), `inverse` (e, m, m) the inverse of the modes' own stiffness, `group`, `elements` (e,).
    """

    B: Floats
    M: Floats
    dA: Floats  # noqa: N815 - as in the elements
    freedoms: Ints
    C: Floats
    inverse: Floats
    group: int
    elements: Ints

    def part(self, rows: Ints) -> "Cell":
        """Some of the elements."""
        B, M, dA = self.B[rows], self.M[rows], self.dA[rows]
        more = self.freedoms[rows], self.C[rows], self.inverse[rows], self.group, self.elements[rows]
        return Cell(B, M, dA, *more)


@dataclass(frozen=True, eq=False, slots=True)
class Stiff:
    """A factorised tub: its cells, springs by group (rows of coefficients times the root of stiffness), its solver."""

    shell: ShellModel
    family: Family
    cells: tuple[Cell, ...]
    springs: sparse.csr_array
    solver: Solver


@dataclass(frozen=True, eq=False, slots=True)
class Vectors:
    """Motions U (d, n), the first of them the unchanged tub's under its load.

    A vector is driven, by the stress D times the first vector's strain in some groups (`fields`), or it is the tub's
    motion under the load with a change (`changes`; `loaded` says so). Either is empty where the other holds.
    """

    U: Floats
    fields: tuple[dict[int, Floats], ...]
    changes: tuple[dict[int, Floats], ...]
    loaded: tuple[bool, ...]


def stiffen(shell: ShellModel, family: Family) -> Stiff:
    """Assemble and factorise a shell model and keep its strain matrices."""
    K = stiffness_matrix(shell)
    T = shell.ties.T
    solver = factorise(sparse.csc_array(T.T @ K @ T))
    return Stiff(shell, family, tuple(_cells(shell, family)), spring_root(shell), solver)


def regrouped(stiff: Stiff, family: Family) -> Stiff:
    """The same factorised tub with its elements in other groups."""
    return replace(stiff, family=family, cells=tuple(_cells(stiff.shell, family)))


def solve_loads(stiff: Stiff, column: int) -> Floats:
    """Motion (d,) under one load case."""
    T = stiff.shell.ties.T
    return T @ stiff.solver(T.T @ stiff.shell.loads[:, column])


def driven(stiff: Stiff, fields: Sequence[dict[int, Floats]], u: Floats) -> Floats:
    """Motions (d, n) that each stress field drives, its D acting on the strain of the motion u (d,)."""
    freedoms = len(u)
    load = np.zeros((freedoms, len(fields)))
    for cell in stiff.cells:
        chosen = [k for k, field in enumerate(fields) if cell.group in field]
        if not chosen:
            continue
        D = np.array([fields[k][cell.group] for k in chosen])  # (n, 9, 9)
        strain = cell_strain(cell, u[:, None])[..., 0]  # (e, q, 9)
        stress = np.einsum("nij,eqj,eq->eqin", D, strain, cell.dA, optimize=True)
        count, points = cell.dA.shape
        stress = stress.reshape(count, points * COMPONENTS, -1)
        B = cell.B.reshape(count, points * COMPONENTS, -1)
        own = B.transpose(0, 2, 1) @ stress
        if cell.M.shape[-1]:
            M = cell.M.reshape(count, points * COMPONENTS, -1)
            amount = cell.inverse @ (M.transpose(0, 2, 1) @ stress)
            own -= B.transpose(0, 2, 1) @ (_weighted(cell).reshape(M.shape) @ amount)
        for n, k in enumerate(chosen):
            np.add.at(load[:, k], cell.freedoms, own[:, :, n])
    elongation = stiff.springs @ u
    for k, field in enumerate(fields):
        for group, share in field.items():
            if stiff.family.groups[group].kind != "region":
                rows = stiff.family.groups[group].members
                load[:, k] += stiff.springs[rows].T @ (share[0, 0] * elongation[rows])
    T = stiff.shell.ties.T
    return T @ stiff.solver(T.T @ load)


def strains(vectors: Vectors, cell: Cell) -> Floats:
    """Strain (e, q, 9, n) of all vectors in a cell, enhanced parts with the stress or change that drives each."""
    strain, drive = _unenhanced(cell, vectors.U)
    if not cell.M.shape[-1]:
        return strain
    count, points = cell.dA.shape
    M = cell.M.reshape(count, points * COMPONENTS, -1)
    own = {k: field[cell.group] for k, field in enumerate(vectors.fields) if cell.group in field}
    if own:
        first = cell_strain(cell, vectors.U[:, :1])[..., 0]
        stress = np.einsum("nij,eqj,eq->eqin", np.array(list(own.values())), first, cell.dA, optimize=True)
        drive[:, :, list(own)] -= M.transpose(0, 2, 1) @ stress.reshape(count, points * COMPONENTS, -1)
    found = strain - (M @ (cell.inverse @ drive)).reshape(strain.shape)
    for k, change in enumerate(vectors.changes):
        if cell.group in change:
            other = with_stiffness(cell, cell.C + change[cell.group])
            found[..., k] = cell_strain(other, vectors.U[:, [k]])[..., 0]
    return found


def with_stiffness(cell: Cell, C: Floats) -> Cell:
    """The cell with other stiffness (e, 9, 9)."""
    changed = replace(cell, C=C)
    M = cell.M.reshape(len(cell.B), -1, cell.M.shape[-1])
    inverse = np.linalg.inv(M.transpose(0, 2, 1) @ _weighted(changed).reshape(M.shape))
    return replace(changed, inverse=inverse)


def cell_strain(cell: Cell, U: Floats) -> Floats:
    """Strain (e, q, 9, n) of motions with no stress of their own."""
    strain, drive = _unenhanced(cell, U)
    if not cell.M.shape[-1]:
        return strain
    count, points = cell.dA.shape
    M = cell.M.reshape(count, points * COMPONENTS, -1)
    return strain - (M @ (cell.inverse @ drive)).reshape(strain.shape)


def _unenhanced(cell: Cell, U: Floats) -> tuple[Floats, Floats]:
    """Strain (e, q, 9, n) of the motions alone, and what it does on the modes (e, m, n)."""
    count, points = cell.dA.shape
    B = cell.B.reshape(count, points * COMPONENTS, -1)
    strain = B @ U[cell.freedoms]
    drive = _weighted(cell).reshape(count, points * COMPONENTS, -1).transpose(0, 2, 1) @ strain
    return strain.reshape(count, points, COMPONENTS, -1), drive


def _weighted(cell: Cell) -> Floats:
    return (cell.C[:, None] @ cell.M) * cell.dA[..., None, None]


def _cells(shell: ShellModel, family: Family) -> Iterator[Cell]:
    for block in strained(shell):
        sign, group = family.sign[block.elements][:, None, :, None], family.of_element[block.elements]
        for k in np.unique(group).tolist():
            own = np.flatnonzero(group == k)
            B, M = (np.ascontiguousarray(part[own] * sign[own]) for part in (block.B, block.M))  # read many times
            dA, freedoms = np.ascontiguousarray(block.dA[own]), block.freedoms[own]
            C = family.stiffness[block.elements[own]]
            yield with_stiffness(Cell(B, M, dA, freedoms, C, np.empty(0), k, block.elements[own]), C)


def spring_root(shell: ShellModel) -> sparse.csr_array:
    """Matrix (rows, d) whose square is the stiffness of all springs: elongation times the root of its stiffness."""
    freedoms = 6 * len(shell.points)
    parts = [sparse.csr_array((0, freedoms))]
    for springs in shell.springs:
        rows, k = springs.freedoms.shape
        values = springs.coefficients * np.sqrt(springs.stiffness)[:, None]
        where = (np.repeat(np.arange(rows), k), springs.freedoms.ravel())
        parts.append(sparse.csr_array((values.ravel(), where), shape=(rows, freedoms)))
    return sparse.csr_array(sparse.vstack(parts))
