"""Flat plates that buckle and vibrate: models, prescribed membrane forces, and Navier's series to compare with."""

import numpy as np
from meshes import block, freedoms, grid, held, shell
from scipy import sparse
from scipy.sparse.linalg import eigsh

from tubfem.shell.assemble import stiffness_matrix
from tubfem.shell.eigen import vibration
from tubfem.shell.energies import geometric_stiffness
from tubfem.shell.solve import solve_and_keep

U, V, W, RX, RY, RZ = range(6)


class Plate:
    """A rectangle a x b of n elements along its shorter side, its edges named x0 x1 y0 y1."""

    def __init__(self, n, a=1.0, b=1.0, *, kind="quad4", distort=0.0):
        s, conn = grid(round(n * max(a / b, 1)), round(n * max(b / a, 1)))
        self.edges = {"x0": s[:, 0] == 0, "x1": s[:, 0] == 1, "y0": s[:, 1] == 0, "y1": s[:, 1] == 1}
        inner = ~np.any(list(self.edges.values()), axis=0)
        shift = np.random.default_rng(3).uniform(-distort, distort, s.shape) / n
        self.points = np.column_stack([(s + inner[:, None] * shift) * (a, b), np.zeros(len(s))])
        self.block = block(conn, kind=kind)
        self.all = np.ones(len(s), dtype=bool)

    def hold(self, **components):
        """Freedoms held at zero: `edge=(components)`, or `all=(components)`."""
        return [freedoms(self.all if name == "all" else self.edges[name], parts) for name, parts in components.items()]

    def model(self, C, sets, mass=None, loads=0.0):
        loads = np.zeros(6 * len(self.points)) + loads
        mass = None if mass is None else np.reshape(mass, (1, 3))
        return shell(self.points, [self.block], C, loads, supports=[held(*sets)], mass=mass)


def simply(*, across=(), along=()):
    """Edges free to turn about themselves, w held; `across`, `along`: in-plane motion held on x- and on y-edges."""
    return {edge: (W, RX, *across) for edge in ("x0", "x1")} | {edge: (W, RY, *along) for edge in ("y0", "y1")}


FLAT = (U, V, RZ)  # held everywhere: only bending is left
SIMPLE = simply() | {"all": FLAT}
CLAMPED = {edge: (W, RX, RY) for edge in ("x0", "x1", "y0", "y1")} | {"all": FLAT}


def critical(plate, C, held_sets, forces, *, lowest=True):
    """Lowest factor of membrane forces (3,) or (e, q, 3); the greatest negative one with `lowest` False."""
    model = plate.model(C, plate.hold(**held_sets))
    T = model.ties.T
    points = {"quad4": 4, "tria3": 3}[plate.block.kind]
    N = np.broadcast_to(np.asarray(forces, dtype=float), (len(plate.block.conn), points, 3))
    K = sparse.csc_array(T.T @ stiffness_matrix(model) @ T)
    G = sparse.csc_array(T.T @ geometric_stiffness(model, [N]) @ T)
    start = np.random.default_rng(0).standard_normal(K.shape[0])
    which = "LA" if lowest else "SA"
    return 1 / eigsh(-G, k=1, M=K, which=which, v0=start, return_eigenvectors=False)[0]


def frequencies(plate, C, held_sets, mass, count, *, free=False):
    """Circular frequencies (count,) [rad/s]."""
    model = plate.model(C, plate.hold(**held_sets) if not free else [determinate(plate)], mass)
    _, factored = solve_and_keep(model)
    return 2 * np.pi * vibration(model, factored, count, free=free).frequencies


def determinate(plate):
    """Six freedoms at three corners."""
    corners = [
        np.flatnonzero(plate.edges[x] & plate.edges[y])[0] for x, y in (("x0", "y0"), ("x1", "y0"), ("x1", "y1"))
    ]
    return np.sort(
        [6 * corners[0], 6 * corners[0] + 1, 6 * corners[0] + 2, 6 * corners[1] + 1, *(6 * c + 2 for c in corners[1:])]
    )


def navier(C, a, b, m, n, *, angle_ply=False):
    """Stiffness (5, 5) of u v w φx φy in one term of Navier's series of first-order shear theory, times 4/ab.

    Closed form for cross-ply laminates with edges free in their normal direction, and for antisymmetric angle-ply
    ones free along themselves [J. N. Reddy, Mechanics of Laminated Composite Plates and Shells, 2004, chapter 6].
    """
    al, be = m * np.pi / a, n * np.pi / b
    s = -1 if angle_ply else 1
    E = np.zeros((8, 5))
    E[0, 0], E[1, 1], E[2, :2] = -s * al, -s * be, (s * be, s * al)
    E[3, 3], E[4, 4], E[5, 3:] = -al, -be, (be, al)
    E[6, 2], E[6, 3], E[7, 2], E[7, 4] = al, 1, be, 1
    kind = np.array([1, 1, 0, 0, 0, 1, 2, 3] if angle_ply else [0, 0, 1, 0, 0, 1, 2, 3])  # sin sin, cos cos, ...
    return E.T @ np.where(kind[:, None] == kind, C, 0.0) @ E


def navier_buckling(C, a, b, forces, *, angle_ply=False, waves=8):
    """Lowest factor of Nx, Ny."""
    found = []
    for m in range(1, waves + 1):
        for n in range(1, waves + 1):
            K = navier(C, a, b, m, n, angle_ply=angle_ply)
            push = -(forces[0] * (m * np.pi / a) ** 2 + forces[1] * (n * np.pi / b) ** 2)
            found.append(1 / (np.linalg.inv(K)[2, 2] * push) if push > 0 else np.inf)
    return min(found)


def navier_frequencies(C, a, b, mass, count, *, angle_ply=False, waves=4):
    """Lowest circular frequencies (count,) of bending, rotary inertia included."""
    found = []
    M = np.diag([mass[0]] * 3 + [mass[2]] * 2)
    M[0, 3] = M[3, 0] = M[1, 4] = M[4, 1] = mass[1]
    for m in range(1, waves + 1):
        for n in range(1, waves + 1):
            K = navier(C, a, b, m, n, angle_ply=angle_ply)
            found.append(np.sqrt(np.linalg.eigvals(np.linalg.solve(M, K)).real.min()))
    return np.sort(found)[:count]
