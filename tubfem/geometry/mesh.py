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
    """Elements under a mount: numbers run through the blocks in order. `insert` lies within the insert's circle,
    `pad` within the outer circle (insert included). `centre` (3,) [m]; `normal` (3,) of the panel there.
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
