"""The mesh of a tub as arrays and names; nothing here knows gmsh."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints


@dataclass(frozen=True, eq=False, slots=True)
class Block:
    """Elements of one kind.

    Attributes
    ----------
    kind : "quad4" or "tria3"
    conn : (e, n) node of each corner; by the right-hand rule over them the normal points from the tool face into the
        laminate, on both halves of a mirrored tub
    panel : (e,) index into `TubMesh.panels`
    direction : (e, 3) the panel's 0 degree direction in vehicle axes (to be projected on the surface); on a mirrored
        panel it is the mirror image
    """

    kind: str
    conn: Ints
    panel: Ints
    direction: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Panel:
    """A meshed panel, one of the two halves if it is doubled.

    `name` carries `.left` or `.right` when the panel exists twice; `plain` is the name without; `region` never has
    a suffix. `mirrored` is true on `.left` panels: their ply angles turn the other way about the element normal.
    `shift` [m] is how far the mesh lies from the tool face, into the laminate.
    """

    name: str
    plain: str
    region: str
    mirrored: bool
    shift: float
    section: bool
    removable: bool


@dataclass(frozen=True, eq=False, slots=True)
class JointLine:
    """A connected line on which the same two or more panels meet (one panel twice or more counts once).

    `panels` are indices into `TubMesh.panels`, ascending; `edges` (n, 2) are node pairs in order along the line.
    """

    panels: tuple[int, ...]
    edges: Ints


@dataclass(frozen=True, eq=False, slots=True)
class Mount:
    """Elements under a mount; numbers run through the blocks in order.

    `insert` lies within the insert's circle, `pad` within the outer circle (insert included). `centre` (3,) [m];
    `normal` (3,) of the panel there.
    """

    name: str
    panel: int
    insert: Ints
    pad: Ints
    centre: Floats
    normal: Floats


@dataclass(frozen=True, eq=False, slots=True)
class TubMesh:
    """Nodes, elements and what they are called.

    Attributes
    ----------
    points : (p, 3) [m]
    blocks : quads first, then triangles if there are any
    panels : what `Block.panel` and `JointLine.panels` point at
    joints : lines where panels meet
    mounts : one entry a mount and side (`NAME.left`, `NAME.right`; plain NAME on a part that is not doubled)
    nodes_at : point name -> node (names carry the side where the point exists twice)
    edges_at : line name -> (n, 2) node pairs
    free_edges : (n, 2) node pairs that belong to one element only
    size : the mesh size asked for [m]
    """

    points: Floats
    blocks: tuple[Block, ...]
    panels: tuple[Panel, ...]
    joints: tuple[JointLine, ...]
    mounts: tuple[Mount, ...]
    nodes_at: dict[str, int]
    edges_at: dict[str, Ints]
    free_edges: Ints
    size: float

    @property
    def element_panel(self) -> Ints:
        """Panel of every element, through the blocks in order: (e,)."""
        return np.concatenate([block.panel for block in self.blocks])

    @property
    def element_count(self) -> int:
        """Number of elements in all blocks."""
        return sum(len(block.conn) for block in self.blocks)


def vector_areas(points: Floats, conn: Ints) -> Floats:
    """Area times unit normal of each element (e, 3) [m²]; of a warped quad the area its outline spans."""
    X = points[conn]
    if conn.shape[1] == 3:
        return np.cross(X[:, 1] - X[:, 0], X[:, 2] - X[:, 0]) / 2
    return np.cross(X[:, 2] - X[:, 0], X[:, 3] - X[:, 1]) / 2


def centroids(points: Floats, conn: Ints) -> Floats:
    """Mean of the corners of each element (e, 3) [m]."""
    return points[conn].mean(axis=1)


def areas(mesh: TubMesh) -> Floats:
    """Area of every element, through the blocks in order (e,) [m²]."""
    return np.concatenate([np.linalg.norm(vector_areas(mesh.points, b.conn), axis=1) for b in mesh.blocks])


def normals(mesh: TubMesh) -> Floats:
    """Unit normal at the middle of every element, from the tool face into the laminate (e, 3)."""
    vectors = np.concatenate([vector_areas(mesh.points, b.conn) for b in mesh.blocks])
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def joint_name(a: str, b: str) -> str:
    """Name of the joint of two panels, in the alphabet's order."""
    return "/".join(sorted((a, b)))
