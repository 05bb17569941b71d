"""Edges of the elements of a tub: how they bulge, and how wide the layers are in which walls stop twisting."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.shell.bulges import bulging
from tubfem.shell.edges import relieved
from tubfem.shell.model import Block
from tubfem.shell.ties import Ties
from tubfem.tub.plies import base_stacks, laid_on


def edge_stiffness(case: Case, base: Case, mesh: TubMesh) -> Floats:
    """Stiffness (panels, 8, 8) that says how a panel's edges bulge, and how wide the layers along free ones are.

    It is that of each region's own stack in the case without its changes, as the meshed surface is: a change of plies
    is then a change of stiffness and of nothing else. Laps and patches are left out.
    """
    stacks = {**base_stacks(case), **base_stacks(base)}
    C = np.zeros((len(mesh.panels), 8, 8))
    for row, panel in enumerate(mesh.panels):
        layers, tool_z = laid_on(stacks[panel.region], panel)
        C[row] = stiffness8(make_stack([(layer.angle, layer.ply) for layer in layers], tool_z=tool_z))
    return C


def bulge(mesh: TubMesh, C: Floats, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """Blocks of the mesh with the bulge of their sides, seen on the mesh as it was before joints parted it.

    A wall that is bonded along an edge holds it straight as one that is folded there. `C` is `edge_stiffness`.
    """
    meshed = tuple(
        replace(block, conn=part.conn, stack=part.panel) for block, part in zip(blocks, mesh.blocks, strict=True)
    )
    found = bulging(mesh.points, meshed, C)
    return tuple(replace(block, bulge=other.bulge) for block, other in zip(blocks, found, strict=True))


def relieve(mesh: TubMesh, C: Floats, points: Floats, blocks: tuple[Block, ...], ties: Ties) -> tuple[Block, ...]:
    """Blocks of the mesh with the relief of edges that are free as the tub is held, parted joints among them.

    `C` is `edge_stiffness`.
    """
    alike = tuple(replace(block, stack=part.panel) for block, part in zip(blocks, mesh.blocks, strict=True))
    found = relieved(points, alike, C, ties)
    return tuple(replace(block, relief=other.relief) for block, other in zip(blocks, found, strict=True))
