"""What the findings say of a tub at its service temperatures."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WarmRegion:
    """One region in service.

    Attributes
    ----------
    celsius : its hottest element [degC]
    limit : highest temperature at which all of it is credited [degC]; None where nothing is known of its resin
    credited : the part of its area that is not too hot to count [-]
    margin, kind, load_case : its lowest margin when warm, over all load cases; None where nothing loads it
    """

    name: str
    celsius: float
    limit: float | None
    credited: float
    margin: float | None
    kind: str | None
    load_case: str | None


@dataclass(frozen=True, slots=True)
class WarmStiffness:
    """Pickup to pickup [N m/deg] of a torsion load case: as tabulated, warm, and warm without what is not credited.

    The last is None where everything is credited.
    """

    load_case: str
    cold: float
    warm: float
    credited: float | None


@dataclass(frozen=True, slots=True)
class HeatFindings:
    """The tub in service; `regions` with the least room to their limit first."""

    regions: tuple[WarmRegion, ...]
    stiffness: tuple[WarmStiffness, ...]

    @property
    def too_hot(self) -> tuple[WarmRegion, ...]:
        """Regions of which a part is too hot to count."""
        return tuple(region for region in self.regions if region.credited < 1)
