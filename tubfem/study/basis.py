"""Strains of the elements under many motions at once, and the motions that one factorisation gives.

Every vector keeps its enhanced part: with stress S [N/m, N] given at the integration points, the pair of motion v and
enhanced amounts a solves the uncondensed equations, so that C0 E - S is balanced against every motion and mode. Where
nothing is given the modes are what the element's stiffness makes of the motion; that part is in the strain matrices.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.shell.model import ShellModel
from tubfem.shell.solve import Factored
from tubfem.study.family import COMPONENTS, Change, Family
from tubfem.study.strained import strained
from tubfem.study.threads import one_thread

BLOCK = 128  # motions solved at once
SUPPORT = 16  # loads at a time whose freedoms are looked up: about those of a region, which share theirs


@dataclass(frozen=True, eq=False, slots=True)
class Cell:
    """Elements of one block that belong to one group, with their matrices.

    `B` (e, q 9, d) strains in the group's axes, with the modes that go with a motion condensed in the stiffness `C`
    (e, 9, 9), `M` (e, q 9, m) strains of the modes, `dA` (e, q) [m²], `freedoms` (e, d), `inverse` (e, m, m) the
    inverse of the modes' own stiffness, `group`, `elements` (e,).
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
    """A factorised tub and its cells.

    `springs` by group are rows of coefficients times the root of stiffness.
    """

    shell: ShellModel
    family: Family
    cells: tuple[Cell, ...]
    springs: sparse.csr_array
    factored: Factored


@dataclass(frozen=True, eq=False, slots=True)
class Vectors:
    """Motions U (d, n), the first of them the unchanged tub's under its load.

    A vector is driven, by the stress D times the strain of the solution `drivers` in some groups (`fields`), or it is
    such a solution: the tub's motion under the load with a change (`changes`; `loaded` says so). Either is empty where
    the other holds. `products` (n, n) are Uᵀ K U.
    """

    U: Floats
    fields: tuple[dict[int, Floats], ...]
    drivers: tuple[int, ...]
    changes: tuple[dict[int, Floats], ...]
    loaded: tuple[bool, ...]
    products: Floats


def stiffen(shell: ShellModel, family: Family, factored: Factored) -> Stiff:
    """A factorised shell model with its strain matrices by group."""
    return Stiff(shell, family, tuple(_cells(shell, family)), spring_root(shell), factored)


@one_thread
def driven(stiff: Stiff, fields: Sequence[dict[int, Floats]], u: Floats) -> Vectors:
    """The motion u (d,) and those that each stress field drives, its D acting on the strain of u."""
    load = _loads(stiff, fields, u, {})
    T = stiff.shell.ties.T
    tied = sparse.csc_array(T.T @ load)
    U = np.empty((len(u), 1 + len(fields)))
    U[:, 0] = u
    for first in range(0, len(fields), BLOCK):
        own = tied[:, first : first + BLOCK]
        U[:, 1 + first : 1 + first + own.shape[1]] = T @ stiff.factored.inverse(own.toarray())
    products = np.empty((1 + len(fields), 1 + len(fields)))
    products[:, 0] = U.T @ (stiff.factored.K @ u)
    for first in range(0, len(fields), SUPPORT):  # K times a driven motion is its load
        own = load[:, first : first + SUPPORT]
        touched = np.unique(own.indices)
        products[:, 1 + first : 1 + first + own.shape[1]] = U[touched].T @ own[touched].toarray()
    none: dict[int, Floats] = {}
    drivers, loaded = (0,) * (1 + len(fields)), (True, *[False] * len(fields))
    return Vectors(U, (none, *fields), drivers, (none,) * len(drivers), loaded, 0.5 * (products + products.T))


@one_thread
def with_motion(stiff: Stiff, vectors: Vectors, u: Floats, change: Change, parts: Sequence[Change]) -> Vectors:
    """The vectors and more: the tub's motion u (d,) under its load with a change, and those that parts of it drive."""
    T = stiff.shell.ties.T
    new = u[:, None]
    if parts:
        new = np.column_stack([u, T @ stiff.factored.inverse((T.T @ _loads(stiff, parts, u, change)).toarray())])
    U = np.column_stack([vectors.U, new])
    more = U.T @ (stiff.factored.K @ new)
    number, count = vectors.U.shape[1], len(parts)
    return Vectors(
        U,
        (*vectors.fields, {}, *(dict(part) for part in parts)),
        (*vectors.drivers, 0, *[number] * count),
        (*vectors.changes, dict(change), *({} for _ in parts)),
        (*vectors.loaded, True, *[False] * count),
        np.block([[vectors.products, more[:number]], [more.T]]),
    )


def driven_modes(vectors: Vectors, cell: Cell) -> tuple[list[int], Floats]:
    """Numbers (k,) of vectors that a stress or a change drives in a cell, and what it adds to their modes (e, m, k).

    A field D on a solution's strain adds what its stress does on the modes; a change what the modes of the changed
    stiffness are more than those of the unchanged one.
    """
    fields = [k for k, field in enumerate(vectors.fields) if cell.group in field]
    changes = [k for k, change in enumerate(vectors.changes) if cell.group in change]
    amounts = np.zeros((*cell.inverse.shape[:2], len(fields) + len(changes)))
    if not amounts.size:
        return fields + changes, amounts
    for driver in dict.fromkeys(vectors.drivers[k] for k in fields):
        places = [place for place, k in enumerate(fields) if vectors.drivers[k] == driver]
        D = np.array([vectors.fields[fields[place]][cell.group] for place in places])
        stress = _stress(cell, D, _solution_strain(cell, vectors.U[:, driver], vectors.changes[driver]))
        amounts[:, :, places] = cell.inverse @ (cell.M.transpose(0, 2, 1) @ stress)
    for place, k in enumerate(changes, len(fields)):
        amounts[:, :, place] = _changed_modes(cell, vectors.U[:, k], vectors.changes[k])[..., 0]
    return fields + changes, amounts


def mode_products(vectors: Vectors, cell: Cell) -> tuple[list[int], Floats]:
    """Numbers (k,) as in `driven_modes`, and the energy products (k, k) of what is added to their modes.

    Modes of the motion alone do no work on these: `Vectors.products` and the sum of these are the energy.
    """
    numbers, amounts = driven_modes(vectors, cell)
    own = np.linalg.solve(cell.inverse, amounts).reshape(-1, len(numbers))
    return numbers, amounts.reshape(-1, len(numbers)).T @ own


def strains(vectors: Vectors, cell: Cell, numbers: Sequence[int]) -> Floats:
    """Strain (e, q 9, k) of some of the vectors in a cell."""
    strain = cell.B @ vectors.U[cell.freedoms[:, :, None], numbers]
    own, amounts = driven_modes(vectors, cell)
    places = {k: place for place, k in enumerate(own)}
    for column, k in enumerate(numbers):
        if k in places:
            strain[..., column] += (cell.M @ amounts[:, :, [places[k]]])[..., 0]
    return strain


def _solution_strain(cell: Cell, u: Floats, change: Change) -> Floats:
    """Strain (e, q 9, 1) of the motion u (d,) under the load with a change."""
    strain = cell.B @ u[cell.freedoms][..., None]
    if cell.group in change and cell.M.shape[-1]:
        strain += cell.M @ _changed_modes(cell, u, change)
    return strain


def _changed_modes(cell: Cell, u: Floats, change: Change) -> Floats:
    """What the modes (e, m, 1) of the motion u (d,) are more with a change of the cell's group."""
    weighted = _weighted(cell, cell.C + change[cell.group]).transpose(0, 2, 1)
    return -np.linalg.solve(weighted @ cell.M, weighted @ (cell.B @ u[cell.freedoms][..., None]))


def _loads(stiff: Stiff, fields: Sequence[Change], u: Floats, change: Change) -> sparse.csc_array:
    """Loads (d, n) of stress fields on the strain of u (d,), the tub's motion with a change."""
    rows, columns, values = [], [], []
    for cell in stiff.cells:
        chosen = [k for k, field in enumerate(fields) if cell.group in field]
        if not chosen:
            continue
        D = np.array([fields[k][cell.group] for k in chosen])
        own = cell.B.transpose(0, 2, 1) @ _stress(cell, D, _solution_strain(cell, u, change))
        touched, place = np.unique(cell.freedoms, return_inverse=True)
        where = np.ravel(place), np.arange(cell.freedoms.size)
        gather = sparse.csr_array((np.ones(cell.freedoms.size), where), shape=(len(touched), cell.freedoms.size))
        values.append((gather @ own.reshape(-1, len(chosen))).ravel())
        rows.append(np.repeat(touched, len(chosen)))
        columns.append(np.tile(chosen, len(touched)))
    elongation = stiff.springs @ u
    pulled, of_field, pull = [], [], []
    for k, field in enumerate(fields):
        for group, share in field.items():
            if stiff.family.groups[group].kind != "region":
                own = stiff.family.groups[group].members
                pulled.append(own)
                of_field.append(np.full(len(own), k))
                pull.append(share[0, 0] * elongation[own])
    on_elements = _columns(rows, columns, values, (len(u), len(fields)))
    return on_elements + stiff.springs.T @ _columns(pulled, of_field, pull, (len(elongation), len(fields)))


def _columns(
    rows: Sequence[Ints], columns: Sequence[Ints], values: Sequence[Floats], shape: tuple[int, int]
) -> sparse.csc_array:
    """Sparse matrix of parts that may be none."""
    none = np.zeros(0, dtype=np.int64)
    where = np.concatenate([none, *rows]), np.concatenate([none, *columns])
    return sparse.csc_array((np.concatenate([none, *values]).astype(float), where), shape=shape)


def _stress(cell: Cell, D: Floats, strain: Floats) -> Floats:
    """Stress times area (e, q 9, n) that each D (n, 9, 9) makes of a strain (e, q 9, 1)."""
    count, points = cell.dA.shape
    strain = strain.reshape(-1, COMPONENTS) * cell.dA.reshape(-1, 1)
    return (strain @ D.transpose(2, 1, 0).reshape(COMPONENTS, -1)).reshape(count, points * COMPONENTS, -1)


def _weighted(cell: Cell, C: Floats) -> Floats:
    """Stress times area (e, q 9, m) of the modes in the stiffness C (e, 9, 9)."""
    M = cell.M.reshape(*cell.dA.shape, COMPONENTS, -1)
    return ((C[:, None] @ M) * cell.dA[..., None, None]).reshape(cell.M.shape)


def _cells(shell: ShellModel, family: Family) -> Iterator[Cell]:
    for block in strained(shell):
        sign, group = family.sign[block.elements][:, None, :, None], family.of_element[block.elements]
        for k in np.unique(group).tolist():
            own = np.flatnonzero(group == k)
            B, M = ((part[own] * sign[own]).reshape(len(own), -1, part.shape[-1]) for part in (block.B, block.M))
            elements = block.elements[own]
            plain = Cell(B, M, block.dA[own], block.freedoms[own], family.stiffness[elements], np.empty(0), k, elements)
            weighted = _weighted(plain, plain.C).transpose(0, 2, 1)
            inverse = np.linalg.inv(weighted @ M)
            yield replace(plain, B=B - M @ (inverse @ (weighted @ B)), inverse=inverse)


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
