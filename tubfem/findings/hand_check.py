"""Torsional stiffness by hand: the mesh cut at stations, Bredt and Batho in every cut, the twist summed along the tub.

The rules, so that a reviewer can follow every line of it:

- Panels that stand more across the tub than along it (normal within 45 degrees of x) are no walls of a section; they
  keep its shape. Openings inside one panel are covered: the walls count as whole.
- Cells and walls come from the cut mesh, whatever ties the panels: joints count as if moulded.
- A wall's membrane shear stiffness is 1/a66 of its laminate along x (`thin_walls.membrane_shear`), which is A66 if the
  laminate is balanced; coupling of stretch and bending is left out, because a closed section keeps its walls from
  bending. Walls that run out of parallel to x count as if they were parallel.
- A slice between two neighbouring borders turns by T dx / GJ, and the slices add up.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.findings.hand_results import CellFlow, HandCheck, Section, WallOfSection
from tubfem.findings.hand_words import difference_reasons, opening_words
from tubfem.findings.openings import cover, inner_openings
from tubfem.findings.results import Energy, Torsion
from tubfem.findings.strains import Elements
from tubfem.findings.thin_walls import cell_stiffness, membrane_shear, strip_stiffness, twisting
from tubfem.geometry.mesh import TubMesh
from tubfem.geometry.rings import Cut, cut

SLICES = 40  # along the tub, at least; borders of bays are borders of slices
ACROSS = np.cos(np.pi / 4)  # a panel whose normal is nearer to x stands across the tub


def hand_check(
    mesh: TubMesh, elements: Elements, stiffness: Floats, torsion: Torsion, energy: Energy
) -> HandCheck | None:
    """The hand check of a torsion case between the stations where it is read on the tub itself.

    Parameters
    ----------
    stiffness : (e, 8, 8)
        Of every element.
    torsion : without its hand check
    energy
        Where the strain energy is: the share in joints is a reason for a difference.

    Returns
    -------
    None where the tub is not read between stations.
    """
    if torsion.stations_x is None or torsion.between_stations is None:
        return None
    borders = slice_borders(torsion)
    openings = inner_openings(mesh)
    sections = cut_sections(mesh, elements, stiffness, borders, torsion.torque)
    GJ = np.array([section.GJ for section in sections])
    turn = torsion.torque * np.diff(borders) / GJ
    total = float(turn.sum())
    hand = torsion.torque / float(np.degrees(total))
    check = HandCheck(
        stiffness=hand,
        twist_deg=float(np.degrees(total)),
        finite_element=torsion.between_stations,
        ratio=hand / torsion.between_stations,
        sections=sections,
        x=frozen(borders),
        curve_deg=frozen(np.degrees(np.concatenate([[0.0], np.cumsum(turn)]))),
        openings=opening_words(mesh, openings, (float(borders[0]), float(borders[-1]))),
        reasons=(),
    )
    return replace(check, reasons=difference_reasons(check, energy, torsion))


def slice_borders(torsion: Torsion) -> Floats:
    """Borders (m,) of the slices [m], from station to station; every bay's borders are among them."""
    first, last = torsion.stations_x
    marks = sorted({first, last, *(x for bay in torsion.bays for x in bay.x if first < x < last)})
    longest = (last - first) / SLICES
    pieces = [
        np.linspace(a, b, int(np.ceil((b - a) / longest - 1e-9)) + 1)[:-1] for a, b in pairwise(marks) if b - a > 1e-6
    ]
    return np.append(np.concatenate(pieces), last)


def cut_sections(
    mesh: TubMesh, elements: Elements, stiffness: Floats, borders: Floats, torque: float
) -> tuple[Section, ...]:
    """The tub cut in the middle of every slice between `borders` (m,) [m].

    Parameters
    ----------
    elements, stiffness
        Of the mesh's elements; stiffness (e, 8, 8).
    torque
        For which shear flows are given [N m].

    Raises
    ------
    ValueError
        A cut meets no wall.
    """
    covered, like = cover(mesh, inner_openings(mesh))
    along = np.abs(elements.normal[:, 0])[like] <= ACROSS
    walls, like = _keep(covered, along), like[along]
    x = np.array([1.0, 0.0, 0.0])
    angle = np.arctan2(np.cross(elements.normal, elements.axis) @ x, elements.axis @ x)
    shear = membrane_shear(stiffness[:, :3, :3], angle)[like]
    twist = twisting(stiffness[:, 3:6, 3:6], angle)[like]
    found = []
    for start, end in pairwise(borders.tolist()):
        middle = 0.5 * (start + end)
        section = cut(walls, (middle, 0.0, 0.0))
        if not len(section.segments):
            raise ValueError(f"no wall of the tub is cut at x = {middle:.3f} m")
        found.append(_section(walls, section, shear[section.element], twist[section.element], (start, end), torque))
    return tuple(found)


def _keep(mesh: TubMesh, kept: np.ndarray) -> TubMesh:
    """The mesh with some of its elements (e,) only."""
    blocks, first = [], 0
    for block in mesh.blocks:
        own = kept[first : first + len(block.conn)]
        blocks.append(replace(block, conn=block.conn[own], panel=block.panel[own], direction=block.direction[own]))
        first += len(own)
    return replace(mesh, blocks=tuple(blocks))


def _section(
    mesh: TubMesh, section: Cut, shear: Floats, twist: Floats, ends: tuple[float, float], torque: float
) -> Section:
    areas = np.array([cell.area for cell in section.cells])
    incidence = np.zeros((len(areas), len(section.segments)))
    for row, cell in zip(incidence, section.cells, strict=True):
        row[cell.segments] = cell.signs
    cells, flow = (0.0, np.zeros(0)) if not len(areas) else cell_stiffness(areas, incidence, section.length / shear)
    strips = strip_stiffness(section.length, twist)
    GJ = cells + strips
    return Section(
        x=0.5 * sum(ends),
        start=ends[0],
        end=ends[1],
        GJ=GJ,
        strips=strips,
        cells=tuple(
            CellFlow(cell.panels, cell.area, float(q * torque / GJ))
            for cell, q in zip(section.cells, flow, strict=True)
        ),
        walls=_walls(mesh, section, np.any(incidence != 0, axis=0), shear, twist),
    )


def _walls(mesh: TubMesh, section: Cut, closed: Ints, shear: Floats, twist: Floats) -> tuple[WallOfSection, ...]:
    """Segments put together panel by panel, with the mean flexibility in shear and the mean twisting stiffness."""
    found = []
    for panel in np.unique(section.panel):
        for shut in (True, False):
            own = (section.panel == panel) & (closed == shut)
            length = section.length[own]
            total = float(length.sum())
            if total <= 0.0:
                continue
            mean = total / float((length / shear[own]).sum())
            found.append(WallOfSection(mesh.panels[panel].name, shut, total, mean, float(length @ twist[own]) / total))
    return tuple(sorted(found, key=lambda wall: (wall.panel, not wall.closed)))
