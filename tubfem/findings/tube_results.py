"""What is found of tubes and stiffeners, as frozen data."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TubeFinding:
    """A tube of a subframe, or a piece of a stiffener, at the load that margins are taken at.

    Attributes
    ----------
    label, size, material
        "up-low.right", "tube 25 x 2", "steel".
    normal, torque, bending, shear
        Pull, twisting moment, the greater resultant moment of both ends, resultant shear [N, N·m].
    stress, allowable
        Equivalent stress of von Mises at the worse end for metals, else the stress along that governs [Pa].
    strength_margin
        allowable / stress - 1.
    column, column_margin
        Push at which it buckles as a column on pinned ends, over the factor asked [N], and the margin of that; None
        where nothing presses it, and for what is bonded on all along.
    """

    label: str
    size: str
    material: str
    length: float
    mass: float
    energy_share: float
    normal: float
    torque: float
    bending: float
    shear: float
    stress: float
    allowable: float
    strength_margin: float
    column: float | None
    column_margin: float | None

    @property
    def margin(self) -> float:
        """The lower of both."""
        return self.strength_margin if self.column_margin is None else min(self.strength_margin, self.column_margin)

    @property
    def governs(self) -> str:
        """What the lower margin is of."""
        return "strength" if self.margin == self.strength_margin else "column"


@dataclass(frozen=True, slots=True)
class FrameFindings:
    """A subframe of tubes ("subframes.front") or a stiffener ("stiffeners.rib.right"): mass [kg], share of energy."""

    name: str
    mass: float
    energy_share: float
    tubes: tuple[TubeFinding, ...]

    @property
    def worst(self) -> TubeFinding:
        """The tube with the lowest margin."""
        return min(self.tubes, key=lambda tube: tube.margin)
