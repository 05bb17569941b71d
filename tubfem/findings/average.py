"""Strain averaged over a stated length, so that a peak at a re-entrant corner does not grow with every refinement."""

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from tubfem.arrays import Floats, Ints

LEAST = 0.010  # [m]


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
    rows, columns = [], []
    order = np.argsort(panel, kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(panel[order])) + 1):
        tree = cKDTree(centre[members])
        near = tree.sparse_distance_matrix(tree, length[members].max(), output_type="coo_matrix")
        within = near.data <= length[members][near.row]
        rows.append(members[near.row[within]])
        columns.append(members[near.col[within]])
    row, column = np.concatenate(rows), np.concatenate(columns)
    count = len(centre)
    weights = sparse.csr_array((area[column], (row, column)), shape=(count, count))
    return sparse.csr_array(sparse.diags_array(1 / weights.sum(axis=1)) @ weights)
