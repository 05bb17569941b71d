"""What the findings say of buckling and of natural modes. SI unless a name says otherwise."""

from dataclasses import dataclass
from typing import Literal

from tubfem.arrays import Floats

Place = tuple[float, float, float]
Shape = Literal["torsion", "vertical bending", "lateral bending", "axial", "local"]


@dataclass(frozen=True, slots=True)
class BayCheck:
    """A part of a panel between joints and free edges, as a simply supported rectangle, by hand.

    Attributes
    ----------
    name : the panel's, numbered if it has several such parts
    a, b : longer and shorter side of the smallest rectangle round it [m]
    fill : its area as a part of the rectangle's
    rise : how far it leaves its mean plane, as a part of b
    along, across, shear : mean membrane forces under the load case, along a, along b, and their shear [N/m]
    shear_stiffness : D in the shear formula, (D1 D2^3)^(1/4) [N m]
    shear_critical, along_critical, across_critical : each acting alone [N/m]
    factors : (same way round as the load, other way round); None where nothing there compresses or shears it
    """

    name: str
    region: str
    a: float
    b: float
    fill: float
    rise: float
    along: float
    across: float
    shear: float
    shear_stiffness: float
    shear_critical: float
    along_critical: float
    across_critical: float
    factors: tuple[float | None, float | None]


@dataclass(frozen=True, eq=False, slots=True)
class BucklingMode:
    """The first panel that ripples, for one sign of the load.

    Attributes
    ----------
    sign : +1 as the load case has it, -1 the other way round
    factor : of the load case's own load
    upper : the factor with the slopes of the ripple read between the corners of the elements alone; the truth lies
        between, or just below
    margin : factor at the load that margins are taken at / required - 1
    region, panel, position : where the mode's strain energy is; `share` of it in the region
    shape : (P, 6) of the shell nodes, largest translation 1 m
    hand : the hand value of the bay with most of the mode's energy, None where that bay is no rectangle
    """

    sign: int
    factor: float
    upper: float
    margin: float
    region: str
    panel: str
    position: Place
    share: float
    shape: Floats
    hand: BayCheck | None


@dataclass(frozen=True, eq=False, slots=True)
class BucklingFindings:
    """Linear buckling of one load case.

    `modes` : at most one for each sign asked, lowest factor first; empty where no multiple of the load ripples
    anything. `bays` : hand values of all bays, lowest first. `required` is the factor that margins ask.
    """

    modes: tuple[BucklingMode, ...]
    bays: tuple[BayCheck, ...]
    required: float

    @property
    def first(self) -> BucklingMode | None:
        """The mode of the lowest factor."""
        return self.modes[0] if self.modes else None


@dataclass(frozen=True, eq=False, slots=True)
class ModeFindings:
    """One natural mode of the free tub.

    Attributes
    ----------
    frequency : [Hz]
    shape : the motion of cross-sections that holds most of its kinetic energy, "local" where none holds enough
    shares : of the kinetic energy, by motion of cross-sections: torsion, vertical bending, lateral bending, axial;
        what is left is sections that change their shape
    directions : shares of the kinetic energy in x, y and z
    regions : shares of the kinetic energy by region
    carried : shares of the kinetic energy in carried masses
    motion : (P, 6) of the shell nodes, modal mass 1 kg
    """

    frequency: float
    shape: Shape
    shares: dict[str, float]
    directions: tuple[float, float, float]
    regions: dict[str, float]
    carried: dict[str, float]
    motion: Floats


@dataclass(frozen=True, eq=False, slots=True)
class WholeMode:
    """A mode of the tub as a whole, its panels' own vibration left out.

    `frequency` [Hz]; `mode` the number (from 0) of the natural mode most like it, None where none of those asked is;
    `likeness` the share of that one's kinetic energy that moves the sections as this one does; `motion` (P, 6), modal
    mass 1 kg.
    """

    frequency: float
    mode: int | None
    likeness: float
    motion: Floats


@dataclass(frozen=True, eq=False, slots=True)
class ModesFindings:
    """Natural modes of the free tub, from the lowest, and the first torsion and vertical bending of the whole tub.

    `mass` [kg] of the shells and what they carry, `carried_mass` of the latter by name.
    """

    modes: tuple[ModeFindings, ...]
    torsion: WholeMode | None
    bending: WholeMode | None
    mass: float
    carried_mass: dict[str, float]
