"""Structured meshes and isotropic stiffness that the tests share."""

import numpy as np


def grid(nx, ny):
    """Parameters (p, 2) on the unit square, p = i + (nx+1)·j, and connectivity (nx·ny, 4)."""
    s, t = np.meshgrid(np.linspace(0, 1, nx + 1), np.linspace(0, 1, ny + 1))
    node = np.arange((nx + 1) * (ny + 1)).reshape(ny + 1, nx + 1)
    conn = np.stack([node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]], -1).reshape(-1, 4)
    return np.stack([s.ravel(), t.ravel()], -1), conn


def isotropic(E, nu, t, k=5 / 6):
    """Stiffness (8, 8) of an isotropic sheet of thickness t."""
    Q = E / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
    C = np.zeros((8, 8))
    C[:3, :3], C[3:6, 3:6] = Q * t, Q * t**3 / 12
    C[6, 6] = C[7, 7] = k * E / 2 / (1 + nu) * t
    return C
