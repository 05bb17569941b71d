"""What the tub weighs, and where."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class JointMass:
    """What a joint is made of beside its panels, both halves together [kg]."""

    tabs: float
    filler: float
    adhesive: float

    @property
    def total(self) -> float:
        """All three [kg]."""
        return self.tabs + self.filler + self.adhesive


@dataclass(frozen=True, slots=True)
class Mass:
    """Mass [kg] of the laid-up shell by region, of tubes by frame, of joints by joint, and of all together.

    `centre_of_gravity` [m] is that of all together, `areas` [m²] are the regions'.
    """

    total: float
    centre_of_gravity: tuple[float, float, float]
    regions: dict[str, float]
    areas: dict[str, float]
    frames: dict[str, float] = field(default_factory=dict)
    joints: dict[str, JointMass] = field(default_factory=dict)

    @property
    def by_means(self) -> dict[str, float]:
        """Mass of all joints by what it is: "tabs", "filler", "adhesive"; what there is none of is left out."""
        means = "tabs", "filler", "adhesive"
        found = {name: sum(getattr(joint, name) for joint in self.joints.values()) for name in means}
        return {name: mass for name, mass in found.items() if mass > 0}
