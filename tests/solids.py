"""Orthotropic solids of quadratic bricks, by scikit-fem, for tests that hold shells against three dimensions."""

from functools import cache

import numpy as np
from scipy.sparse.linalg import splu


def compliance(E, G, nu):
    """Compliance (6, 6), order 11 22 33 23 13 12, of E (3), G 23 13 12 (3), ν 12 13 23 (3)."""
    S = np.diag(1 / np.array([*E, *G], float))
    for (i, j), v in zip(((0, 1), (0, 2), (1, 2)), nu, strict=True):
        S[i, j] = S[j, i] = -v / E[i]
    return S


def tensor(E, G, nu, frame):
    """Stiffness (3, 3, 3, 3) in global axes; rows of `frame` are the material axes 1, 2, 3."""
    C6 = np.linalg.inv(compliance(E, G, nu))
    voigt = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])
    return np.einsum(
        "pi,qj,rk,sl,pqrs->ijkl", frame, frame, frame, frame, C6[voigt[:, :, None, None], voigt], optimize=True
    )


def brick_mesh(i, j, k, place, *, closed=False):
    """Bricks over a grid of i x j x k cells; `place` maps (n, 3) grid coordinates to points; closed in j wraps round.

    Returns points (p, 3), connectivity (e, 8) in the order of scikit-fem and the cells' indices (e, 3).
    """
    around = j if closed else j + 1
    grid = np.stack(np.meshgrid(range(i + 1), range(around), range(k + 1), indexing="ij"), -1).reshape(-1, 3)
    cells = np.stack(np.meshgrid(range(i), range(j), range(k), indexing="ij"), -1).reshape(-1, 3)

    def number(a, b, c):
        corner = cells + np.array([a, b, c])
        return (corner[:, 0] * around + corner[:, 1] % around) * (k + 1) + corner[:, 2]

    # Corners of the reference brick in the library's order, x first.
    order = [(0, 0, 0), (0, 0, 1), (0, 1, 0), (1, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, 1)]
    return place(grid), np.stack([number(*corner) for corner in order], -1), cells


@cache
def _library():
    import skfem
    from skfem.helpers import ddot, sym_grad

    @skfem.BilinearForm
    def energy(u, v, w):
        strain = sym_grad(u)
        return ddot(np.einsum("ijkl,kl...->ij...", w.material, strain), sym_grad(v))

    return skfem, energy


class Solid:
    """Bricks with a stiffness tensor per group, ready for supports and loads."""

    def __init__(self, points, conn, groups, tensors):
        skfem, energy = _library()
        self.mesh = skfem.MeshHex(np.ascontiguousarray(points.T), np.ascontiguousarray(conn.T), sort_t=False)
        self.element = skfem.ElementVector(skfem.ElementHexS2())
        self.basis = skfem.Basis(self.mesh, self.element, intorder=4)
        self.K = None
        for number, C in enumerate(tensors):
            some = skfem.Basis(self.mesh, self.element, elements=np.flatnonzero(groups == number), intorder=4)
            part = skfem.BilinearForm(lambda u, v, w, C=C: energy.form(u, v, _With(w, C))).assemble(some)
            self.K = part if self.K is None else self.K + part

    def at(self, chosen):
        """Degrees of freedom (3, n) of u, v, w and places (3, n) of the nodes where chosen(x) is true."""
        doflocs = self.basis.doflocs
        ids = np.flatnonzero(chosen(doflocs))
        kinds = self._component[ids]
        return [ids[kinds == c] for c in range(3)]

    @property
    def _component(self):
        """Component that each degree of freedom moves along."""
        kind = np.empty(self.basis.N, dtype=np.int64)
        dofs = self.basis.element_dofs  # rows: 3 a vertex, then 3 an edge
        kind[dofs] = (np.arange(len(dofs)) % 3)[:, None]
        return kind

    def solve(self, held, values, load=None):
        """Motion and internal force (d,), or (d, c) for values (m, c)."""
        values = np.asarray(values, float).reshape(len(held), -1)
        u = np.zeros((self.basis.N, values.shape[1]))
        u[held] = values
        f = np.zeros_like(u) if load is None else np.asarray(load).reshape(len(u), -1)
        free = np.setdiff1d(np.arange(len(u)), held)
        K = self.K.tocsc()
        right = (f - K @ u)[free]
        inverse = splu(
            K[free][:, free], permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        u[free] = inverse.solve(right)
        return u, K @ u

    def pressure(self, chosen, value):
        """Load (d,) of a pressure along z on the faces whose middle is chosen."""
        skfem, _ = _library()
        facets = self.mesh.facets_satisfying(chosen, boundaries_only=True)
        some = skfem.FacetBasis(self.mesh, self.element, facets=facets, intorder=4)
        return skfem.LinearForm(lambda v, w: value * v[2]).assemble(some)


class _With:
    """A form's parameters with a material beside them."""

    def __init__(self, w, material):
        self.w, self.material = w, material
