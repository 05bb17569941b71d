"""Strain averaged over a stated length, so that a peak at a re-entrant corner does not grow with every refinement."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints

LEAST = 0.010  # [m]


@dataclass(frozen=True, eq=False, slots=True)
class Pairs:
    """Elements `row` (p,) and those near them on the same panel, `column` (p,), themselves among them.

    `distance` (p,) [m] is that of their centres.
    """

    row: Ints
    column: Ints
    distance: Floats


def averaging_length(thickness: Floats) -> Floats:
    """Length (e,) [m] to average over: 10 mm, or twice the laminate's thickness (e,) where that is more."""
    return np.maximum(LEAST, 2 * thickness)


def averaging(centre: Floats, area: Floats, panel: Ints, length: Floats) -> sparse.csr_array:
    """Matrix (e, e) of area-weighted means over the elements of the same panel within `length` of the centre.

    An element larger than its length is its own mean. Strains may be averaged component by component, because the
    material frame of a panel turns only with its surface.

    Parameters
    ----------
    centre, area, panel, length
        (e, 3) [m], (e,) [m2], (e,), (e,) [m].
    """
    return means_within(close_pairs(centre, panel, length), area, length)


def close_pairs(centre: Floats, panel: Ints, reach: Floats, chosen: NDArray[np.bool_] | None = None) -> Pairs:
    """Elements, or those `chosen` (e,) alone, with all of the same panel within the `reach` (e,) [m] of each."""
    wanted = np.ones(len(centre), dtype=bool) if chosen is None else chosen
    rows, columns, distances = [], [], []
    order = np.argsort(panel, kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(panel[order])) + 1):
        own = members[wanted[members]]
        if not len(own):
            continue
        tree = cKDTree(centre[members])
        mine = tree if chosen is None else cKDTree(centre[own])
        near = mine.sparse_distance_matrix(tree, reach[own].max(), output_type="coo_matrix")
        within = near.data <= reach[own][near.row]
        rows.append(own[near.row[within]])
        columns.append(members[near.col[within]])
        distances.append(near.data[within])
    return Pairs(np.concatenate(rows), np.concatenate(columns), np.concatenate(distances))


def means_within(pairs: Pairs, area: Floats, length: Floats) -> sparse.csr_array:
    """Matrix (e, e) of area-weighted means over the pairs of each element within its length (e,) [m]."""
    count = len(area)
    within = pairs.distance <= length[pairs.row]
    row, column = pairs.row[within], pairs.column[within]
    weight = area[column]
    total = np.bincount(row, weight, minlength=count)
    return sparse.csr_array((weight / total[row], (row, column)), shape=(count, count))
