"""Tapered tubes in torsion: R. Bredt's shear flow in every section, and solids where that does not hold.

Walls of a frustum of a pyramid carry Bredt's flow T / 2A as it is: the flow along an edge falls with the square of the
width for both walls that meet there. In any other taper it does not, walls bend in their plane, and the sum of the
sections' twist is far too stiff (2.8 times for the wedge here); the reference is then three-dimensional elasticity by
`scikit-fem`, quadratic bricks.
"""

import numpy as np
import pytest
from meshes import grid, isotropic, welded
from scipy.integrate import quad
from tubes import torsional_stiffness, twist_model

pytest.importorskip("skfem", reason="install the extra `test`")
from solids import Solid, brick_mesh, tensor

E, NU, L = 70e9, 0.3, 1.0
CORNERS = np.array([(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)])


def dimensions(x, near, far):
    """Width and height (..., 2) at x."""
    return np.asarray(near) + (np.asarray(far) - np.asarray(near)) * (np.asarray(x) / L)[..., None]


def shell(near, far, t, size):
    """Torque per angle [N·m/rad] of a tube of `near` to `far` (width, height)."""
    parts = []
    for k in range(4):
        a, b = CORNERS[k], CORNERS[(k + 1) % 4]
        s, conn = grid(round(L / size), max(round((near[k % 2] + far[k % 2]) / 2 / size), 2))
        yz = (a + (b - a) * s[:, 1:]) * dimensions(L * s[:, 0], near, far)
        parts.append((np.column_stack([L * s[:, 0], yz]), conn))
    points, conns = welded(parts)
    return torsional_stiffness(*twist_model(points, conns, [isotropic(E, NU, t)]))


def bricks(near, far, t, n):
    """The same of one brick through the wall; n along and across every wall, closest at corners and ends."""
    along, across = n
    graded = 0.5 * (1 - np.cos(np.pi * np.arange(along + 1) / along))
    share = 0.5 * (1 - np.cos(np.pi * np.arange(across) / across))
    share = np.concatenate([k + share for k in range(4)])

    def place(g):
        wall = share[g[:, 1]].astype(int)
        part = (share[g[:, 1]] - wall)[:, None]
        x, at = L * graded[g[:, 0]], np.arange(len(g))
        corner = CORNERS * (dimensions(x, near, far) - 2 * t * (g[:, 2:] - 0.5))[:, None]
        return np.column_stack([x, (1 - part) * corner[at, wall] + part * corner[at, (wall + 1) % 4]])

    points, conn, _ = brick_mesh(along, 4 * across, 1, place, closed=True)
    solid = Solid(
        points, conn, np.zeros(len(conn), int), [tensor((E,) * 3, (E / 2 / (1 + NU),) * 3, (NU,) * 3, np.eye(3))]
    )
    y, z = solid.basis.doflocs[1:]
    near_end, far_end = (solid.at(lambda x, end=end: np.isclose(x[0], end)) for end in (0.0, L))
    held = np.concatenate([near_end[1], near_end[2], near_end[0][:1]])
    turn = np.concatenate([np.zeros(len(held)), -z[far_end[1]], y[far_end[2]]])
    _, force = solid.solve(np.concatenate([held, far_end[1], far_end[2]]), turn)
    return (y[far_end[2]] @ force[far_end[2]] - z[far_end[1]] @ force[far_end[1]]).item()


@pytest.mark.parametrize(("near", "far"), [((0.2, 0.2), (0.1, 0.1)), ((0.3, 0.2), (0.15, 0.1))])
def test_pyramid(record, near, far):
    """A tube that tapers to half its size, alike both ways: Bredt's flow section by section (closed form)."""
    t = 0.002
    # a wall is longer along its slope than along the axis
    slope = np.hypot(1, (np.array(near) - far)[::-1] / 2 / L)

    def energy(x):
        size = dimensions(x, near, far)
        return 2 * (size * slope).sum() / (4 * size.prod() ** 2 * E / 2 / (1 + NU) * t)

    name = f"pyramid {near} to {far}, K [N·m/rad]"
    record(name, shell(near, far, t, 0.05), 1 / quad(energy, 0, L)[0], 0.3, mesh="50 mm")


# A wall of 0.5 mm is 1 % of the narrow end's 50 mm; a shell knows nothing of its corners.
@pytest.mark.slow
def test_wedge(record):
    """A tube that narrows to a quarter one way only: its parallel walls bend in their plane."""
    near, far = (0.2, 0.1), (0.05, 0.1)
    reference = bricks(near, far, 0.5e-3, (24, 8))
    record("wedge, K [N·m/rad]", shell(near, far, 0.5e-3, 0.0125), reference, 1.0, mesh="12.5 mm")
