"""What the hand check of a torsion case hands on, in full, so that a reviewer can follow it. SI units."""

from dataclasses import dataclass

from tubfem.arrays import Floats


@dataclass(frozen=True, slots=True)
class CellFlow:
    """A closed cell of a hand-checked section: panels round it, area inside [m2], shear flow [N/m] at the torque."""

    panels: tuple[str, ...]
    area: float
    flow: float


@dataclass(frozen=True, slots=True)
class WallOfSection:
    """A wall of a hand-checked section: length [m], membrane shear [N/m] and twisting stiffness [N m], means over it.

    `closed` says whether it is part of a cell.
    """

    panel: str
    closed: bool
    length: float
    shear_stiffness: float
    twisting_stiffness: float


@dataclass(frozen=True, slots=True)
class Section:
    """The tub cut at `x`, which stands for the slice between `start` and `end` [m].

    `GJ` [N m2] is that of the cells and of all walls as strips, `strips` the strips' part of it.
    """

    x: float
    start: float
    end: float
    GJ: float
    strips: float
    cells: tuple[CellFlow, ...]
    walls: tuple[WallOfSection, ...]


@dataclass(frozen=True, eq=False, slots=True)
class HandCheck:
    """Torsion by hand rules between two stations, beside the finite element figure read there.

    Attributes
    ----------
    stiffness : [N m/deg] of the slices in series
    twist_deg : under the load case's torque
    finite_element : [N m/deg], `Torsion.between_stations`
    ratio : hand over finite element
    sections : one a slice, foremost first
    x, curve_deg : (m,) borders of the slices [m] and the twist from the first of them on [deg]
    openings : what was covered, in words
    reasons : why the two figures differ, in words
    """

    stiffness: float
    twist_deg: float
    finite_element: float
    ratio: float
    sections: tuple[Section, ...]
    x: Floats
    curve_deg: Floats
    openings: tuple[str, ...]
    reasons: tuple[str, ...]
