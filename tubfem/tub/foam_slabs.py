"""Foam inside a ring of walls as slabs of uniform strain, which follow the mean motion of the walls around them."""

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.shell.model import Springs
from tubfem.tub.split import SplitMesh

# Of the ring's least radius of gyration that each slab's must be more than. Walls that lie in a plane, as those of a
# slab of one element do, tell no strain across it: a fit to them would resist turning.
FLAT = 0.1


def box_axes(mesh: TubMesh, split: SplitMesh, elements: Ints) -> Floats:
    """A box's own axes (3, 3), the first along it."""
    nodes, _, weight = _corners_of(mesh, split, elements)
    X = mesh.points[split.mesh_node[nodes]]
    arm = X - np.average(X, axis=0, weights=weight)
    frame = np.linalg.svd(arm * np.sqrt(weight)[:, None], full_matrices=False)[2]
    return np.array([frame[0], frame[1], np.cross(frame[0], frame[1])])  # right-handed


def slab_foam(mesh: TubMesh, split: SplitMesh, elements: Ints, volume: float, C: Floats, box: float) -> Springs:
    """Six rows for every slab (L.2), padded with coefficients of zero to one width.

    Parameters
    ----------
    elements
        Of the ring's walls.
    volume
        Of the foam [m³].
    C
        Stiffness (6, 6) [Pa] along the axes of the box.
    box
        Volume inside the meshed surface [m³].
    """
    nodes, owner, weight = _corners_of(mesh, split, elements)
    X = mesh.points[split.mesh_node[nodes]]
    place = np.average(X, axis=0, weights=weight)
    frame = box_axes(mesh, split, elements)
    along = (X - place) @ frame[0]
    along = np.copysign(1.0, (weight * along**3).sum()) * along  # whichever way the axis came out
    span = np.ptp(along)
    middle = np.bincount(owner, along) / np.maximum(np.bincount(owner), 1)
    count = max(round(span / np.sqrt(box / span)), 1)  # slabs about as long as the box is wide
    least = FLAT * _thinnest(X, weight)
    while True:
        slab = np.minimum(((middle[owner] - along.min()) / span * count).astype(np.int64), count - 1)
        if count == 1 or all(_thinnest(X[slab == k], weight[slab == k]) > least for k in np.unique(slab)):
            break
        count -= 1
    rows, share = [], []
    for k in np.unique(slab):
        mine = slab == k
        used, back = np.unique(nodes[mine], return_inverse=True)
        w = np.bincount(back.ravel(), weight[mine])
        B = mean_strain(mesh.points[split.mesh_node[used]] @ frame.T, w).reshape(6, -1, 3) @ frame
        rows.append((used, B.reshape(6, -1)))
        share.append(w.sum())
    width = 3 * max(len(used) for used, _ in rows)
    freedoms = np.zeros((len(rows), 6, width), dtype=np.int64)
    coefficients = np.zeros((len(rows), 6, width))
    for k, (used, B) in enumerate(rows):
        own = (6 * used[:, None] + np.arange(3)).ravel()
        freedoms[k, :, : len(own)], freedoms[k, :, len(own) :] = own, own[0]
        coefficients[k, :, : 3 * len(used)] = B
    stiffness = volume * np.outer(np.array(share) / np.sum(share), np.diag(C))
    return Springs(freedoms.reshape(-1, width), coefficients.reshape(-1, width), stiffness.ravel())


def _thinnest(X: Floats, weight: Floats) -> float:
    """Least radius of gyration [m] of places (n, 3): nothing if they lie in a plane."""
    arm = X - np.average(X, axis=0, weights=weight)
    return float(np.sqrt(np.linalg.eigvalsh((arm * weight[:, None]).T @ arm)[0].clip(0) / weight.sum()))


def _corners_of(mesh: TubMesh, split: SplitMesh, elements: Ints) -> tuple[Ints, Ints, Floats]:
    """Shell node, element and part of its area [m²] of every corner of some elements."""
    area = areas(mesh)
    conn = np.concatenate([c.ravel() for c in split.conn])
    count = np.concatenate([np.full(len(c), c.shape[1]) for c in split.conn])
    owner = np.repeat(np.arange(len(count)), count)
    chosen = np.isin(owner, elements)
    return conn[chosen], owner[chosen], (area / count)[owner[chosen]]


def mean_strain(X: Floats, weight: Floats) -> Floats:
    """Matrix (6, 3 n) from the motion of places X (n, 3) to the strain of the affine motion that fits it best."""
    arm = X - np.average(X, axis=0, weights=weight)
    moment = (arm * weight[:, None]).T @ arm
    grad = np.linalg.solve(moment, (arm * weight[:, None]).T)  # (3, n): d/dx_j of any field
    B = np.zeros((6, len(X), 3))
    for i in range(3):
        B[i, :, i] = grad[i]
        j, k = (i + 1) % 3, (i + 2) % 3
        B[3 + i, :, j], B[3 + i, :, k] = grad[k], grad[j]
    return B.reshape(6, -1)
