"""What `schedule` is asked: a stiffness, the plies it may lay, how many of them where."""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, model_validator

from tubfem.case.quantities import Fraction, OneOrMore, Ratio, Table, TurningStiffness, fault, in_brackets

Texts = Annotated[tuple[str, ...], BeforeValidator(in_brackets), OneOrMore()]
DEGREE = 0.017453292519943295


class Springs(Table):
    """Roll stiffness of the springs and bars at either axle, and how much of their balance the tub is to keep."""

    front: TurningStiffness
    rear: TurningStiffness
    keep: Fraction = 0.95

    @property
    def stiffness(self) -> float:
        """Stiffness [N·m/rad] of a tub that keeps that share."""
        total = self.front + self.rear
        x = self.front / total
        return total * x * (1 - x) * self.keep / (1 - self.keep)


def bias_kept(stiffness: float, front: float, rear: float) -> float:
    """Share of the balance between front and rear springs that a tub keeps; all stiffness in one unit."""
    total = front + rear
    x = front / total
    ratio = stiffness / total
    return ratio / (ratio + x * (1 - x))


class RegionPlies(Table):
    """How many plies more a region, the tab of a joint or a patch gets, at least and at most; fewer are below 0."""

    shorthand: ClassVar[dict[str, Any] | None] = {"type": "integer", "minimum": 0}
    min: int | None = None
    max: int | None = Field(default=None, ge=0)

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        return {"max": value} if isinstance(value, int) and not isinstance(value, bool) else value

    @model_validator(mode="after")
    def _ordered(self) -> "RegionPlies":
        if self.min is not None and self.max is not None and self.min > self.max:
            raise fault(f"min = {self.min} is more than max = {self.max}")
        return self


class Schedule(Table):
    """A search for the lay-up that does what is asked; stiffness [N·m/rad]."""

    stiffness: TurningStiffness | None = None
    springs: Springs | None = None
    least: Literal["mass", "price"] = "mass"
    candidates: Texts = ()
    most: int = Field(default=3, ge=1)
    fewer: int = Field(default=3, ge=0)
    symmetric: bool = False
    covering: Texts = ()
    waste: Ratio = Field(default=0.15, json_schema_extra={"default": "15 %"})
    regions: dict[str, RegionPlies] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_target(self) -> "Schedule":
        if self.stiffness is not None and self.springs is not None:
            raise fault("give stiffness, or springs that it follows from, not both")
        if self.waste < 0:
            raise fault("waste is what is cut off, as a share of what is laid: 0 or more")
        return self

    def limits(self, place: str) -> tuple[int, int]:
        """Least and most plies more of a region, "joint:A/B" or "patch:NAME"; less than 0 is that many fewer.

        Plies are taken off regions alone, and off none that is to stay as it is (0).
        """
        own = self.regions.get(place, RegionPlies())
        usual = 0 if ":" in place or own.max == 0 else -self.fewer
        return usual if own.min is None else own.min, self.most if own.max is None else own.max

    @property
    def target(self) -> float | None:
        """Stiffness asked for [N·m/deg]; None for the stiffest that the cloth on hand gives."""
        asked = self.springs.stiffness if self.springs is not None else self.stiffness
        return None if asked is None else asked * DEGREE
