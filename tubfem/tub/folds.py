"""Folds: where two elements meet at an angle, what lies off the meshed surface is longer outside, shorter inside."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.geometry.mesh import TubMesh, centroids, normals

MOULDED = ("continuous", "tabbed")  # walls that run on into each other; of others each ends for itself
SHARPEST = np.radians(150)  # a fold by more has no corner that anybody moulds


@dataclass(frozen=True, eq=False, slots=True)
class Folds:
    """Sides of elements at folds.

    Attributes
    ----------
    element : (k,) through the mesh's blocks in order
    gain : (k,) [m] area that the element has more, per metre off the surface along its normal; less where negative
    place : (k, 3) [m] middle of the side
    """

    element: Ints
    gain: Floats
    place: Floats


NO_FOLDS = Folds(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros((0, 3)))


def folds(mesh: TubMesh, joint_kinds: dict[str, str]) -> Folds:
    """Every side at which exactly two elements meet: of one panel, or of two with a moulded joint.

    Both walls are cut on the plane that halves the angle, so a layer z off the surface is longer by z tan(φ/2), φ
    being the angle between the normals (geometry of a mitre, our own). Where three or more meet, nothing says which one
    runs through: left out. So are all folds of a recess, whose measures are of the pocket itself.

    Parameters
    ----------
    joint_kinds
        "A/B" with sides -> kind of every pair of panels that meets.
    """
    pairs = [np.stack([b.conn, np.roll(b.conn, -1, axis=1)], -1).reshape(-1, 2) for b in mesh.blocks]
    edge = np.sort(np.concatenate(pairs), axis=1)
    owner = np.repeat(
        np.arange(mesh.element_count),
        np.repeat([b.conn.shape[1] for b in mesh.blocks], [len(b.conn) for b in mesh.blocks]),
    )
    key = edge[:, 0] * len(mesh.points) + edge[:, 1]
    order = np.argsort(key, kind="stable")
    start = np.flatnonzero(np.r_[True, np.diff(key[order]) != 0])
    first = start[np.diff(np.r_[start, len(key)]) == 2]
    sides = order[np.stack([first, first + 1], 1)]  # (m, 2)
    panel = mesh.element_panel[owner[sides]]
    sides = sides[_moulded(mesh, joint_kinds)[panel[:, 0], panel[:, 1]]]

    a, b = mesh.points[edge[sides[:, 0]]].transpose(1, 0, 2)
    length = np.linalg.norm(b - a, axis=1)
    along = (b - a) / length[:, None]
    elements = owner[sides]
    normal = normals(mesh)[elements]  # (m, 2, 3)
    middle = np.concatenate([centroids(mesh.points, block.conn) for block in mesh.blocks])[elements]
    into = np.cross(normal, along[:, None])
    into *= np.sign(np.einsum("msi,msi->ms", into, middle - 0.5 * (a + b)[:, None]))[..., None]
    into /= np.linalg.norm(into, axis=2)[..., None]
    cosine = -np.einsum("mi,mi->m", into[:, 0], into[:, 1])
    soft = cosine > np.cos(SHARPEST)
    # tan(φ/2) = sin φ / (1 + cos φ), positive where the wall's own normal points out of the corner
    tangent = -np.einsum("msi,msi->ms", normal, into[:, ::-1])[soft] / (1 + cosine[soft])[:, None]
    return Folds(
        frozen(elements[soft].ravel()),
        frozen((length[soft, None] * tangent).ravel()),
        frozen(np.repeat(0.5 * (a + b)[soft], 2, axis=0)),
    )


def _moulded(mesh: TubMesh, joint_kinds: dict[str, str]) -> np.ndarray:
    """Whether two panels (n, n) run on into each other where they meet."""
    number = {panel.name: k for k, panel in enumerate(mesh.panels)}
    table = np.eye(len(mesh.panels), dtype=bool)
    for name, kind in joint_kinds.items():
        a, b = (number[part] for part in name.split("/", 1))
        table[a, b] = table[b, a] = kind in MOULDED
    plain = {panel.plain for panel in mesh.panels}
    # Bottom and wall of a recess are named after the panel that it is in.
    recessed = [panel.plain.rpartition(".")[0] in plain for panel in mesh.panels]
    table[recessed] = table[:, recessed] = False
    return table
