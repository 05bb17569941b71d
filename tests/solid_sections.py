"""Torsion of a long bar of any section and any laminate in three dimensions, by scikit-fem in the plane of the section.

Saint-Venant's problem of an anisotropic bar: u = θ x (-z, y) and stretch and bending of the bar, plus a motion of all
three components that is the same in every section. Nothing of plates or shells is in it.
"""

import numpy as np
import skfem
from scipy.sparse.linalg import splu
from solids import tensor


def strip_mesh(corners, angles, ply, across):
    """Walls along a polyline, mitred, a layer of quadrilaterals a ply; `across` cells a wall, closest at its ends.

    Parameters
    ----------
    corners : (m, 2)
        Mid-line (y, z) [m]; closed if its last corner is its first.
    angles
        Of the plies [deg], from the side that (1, 0, 0) × (direction of the wall) leaves to the one it looks to.
    ply : dict
        E, G and nu as `solids.tensor` has them, and thickness [m].

    Returns
    -------
    points (p, 2), conn (e, 4), group (e,), tensors: one of a group.
    """
    corners = np.asarray(corners, dtype=float)
    closed = np.allclose(corners[0], corners[-1])
    corners = corners[:-1] if closed else corners
    count = len(corners)
    along = [corners[(k + 1) % count] - corners[k] for k in range(count if closed else count - 1)]
    along = [side / np.linalg.norm(side) for side in along]
    normal = [np.array([-side[1], side[0]]) for side in along]
    mitre = []
    for k in range(count):
        ends = not closed and k in (0, count - 1)
        a, b = (normal[0 if k == 0 else -1],) * 2 if ends else (normal[k - 1], normal[k])
        mitre.append((a + b) / ((a + b) @ a))
    height = (np.arange(len(angles) + 1) - 0.5 * len(angles)) * ply["thickness"]
    share = 0.5 * (1 - np.cos(np.pi * np.arange(across) / across))
    place = [(k, t) for k in range(len(along)) for t in share]
    place += [] if closed else [(len(along) - 1, 1.0)]
    rows = []
    for k, t in place:
        a, b = (corners[j] + height[:, None] * mitre[j] for j in (k, (k + 1) % count))
        rows.append((1 - t) * a + t * b)
    i = np.arange(len(place) if closed else len(place) - 1)
    node = np.arange(len(place) * len(height)).reshape(len(place), -1)
    near, far = node[i], node[(i + 1) % len(place)]
    conn = np.stack([near[:, :-1], far[:, :-1], far[:, 1:], near[:, 1:]], -1).reshape(-1, 4)
    wall = np.array([k for k, _ in place])[i]
    group = (wall[:, None] * len(angles) + np.arange(len(angles))).ravel()
    tensors = []
    for side in along:
        e1, e2 = np.array([1.0, 0, 0]), np.array([0.0, *side])
        e3 = np.cross(e1, e2)
        for a in np.radians(angles):
            fibre = np.cos(a) * e1 + np.sin(a) * e2
            frame = np.array([fibre, np.cross(e3, fibre), e3])
            tensors.append(tensor(ply["E"], ply["G"], ply["nu"], frame))
    return np.concatenate(rows), conn, group, tensors


def macro_strain(k, y, z):
    """Strain (3, 3, ...) of a unit of stretch, of bending about y and z, or of twist."""
    found = np.zeros((3, 3, *y.shape))
    if k < 3:
        found[0, 0] = (1.0, z, y)[k]
    else:
        found[0, 1] = found[1, 0] = -z / 2
        found[0, 2] = found[2, 0] = y / 2
    return found


def strain(gradient):
    """Of a motion (3, 2, ...) that does not change along x."""
    whole = np.concatenate([np.zeros_like(gradient[:, :1]), gradient], axis=1)
    return 0.5 * (whole + np.swapaxes(whole, 0, 1))


def torsional_rigidity(points, conn, group, tensors):
    """Torque per rate of twist [N·m²], free to stretch, to bend and to warp."""
    mesh = skfem.MeshQuad(np.ascontiguousarray(points.T), np.ascontiguousarray(conn.T), sort_t=False)
    element = skfem.ElementVector(skfem.ElementQuad2(), 3)
    K, coupling, whole = 0, 0, np.zeros((4, 4))
    for number, C in enumerate(tensors):
        part = skfem.Basis(mesh, element, elements=np.flatnonzero(group == number), intorder=4)

        def stress(e, C=C):
            return np.einsum("ijkl,kl...->ij...", C, e)

        energy = skfem.BilinearForm(
            lambda u, v, w, stress=stress: (stress(strain(u.grad)) * strain(v.grad)).sum((0, 1))
        )
        K = K + energy.assemble(part)
        columns = []
        for k in range(4):
            form = skfem.LinearForm(
                lambda v, w, k=k, stress=stress: (stress(macro_strain(k, *w.x)) * strain(v.grad)).sum((0, 1))
            )
            columns.append(form.assemble(part))
            for m in range(4):
                product = skfem.Functional(
                    lambda w, k=k, m=m, stress=stress: (stress(macro_strain(k, *w.x)) * macro_strain(m, *w.x)).sum(
                        (0, 1)
                    )
                )
                whole[k, m] += product.assemble(part)
        coupling = coupling + np.stack(columns, -1)
    # Four motions of the section as a whole cost nothing: held at its two outermost corners.
    at = skfem.Basis(mesh, element, intorder=4).nodal_dofs
    left, right = np.argmin(points[:, 0]), np.argmax(points[:, 0])
    free = np.setdiff1d(np.arange(K.shape[0]), [*at[:, left], at[2, right]])
    inner = K.tocsc()[free][:, free]
    inverse = splu(inner, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    beam = whole - coupling[free].T @ inverse.solve(coupling[free])
    return 1 / np.linalg.inv(beam)[3, 3]
