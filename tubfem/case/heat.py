"""Tables of service temperatures."""

from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from tubfem.case.quantities import Celsius, OneOrMore, Ratio, Table, TemperatureStep, fault, in_brackets

Patterns = Annotated[tuple[str, ...], BeforeValidator(in_brackets), Field(min_length=1), OneOrMore()]


class HeatZone(Table):
    """A part of the tub that gets hotter than its regions: panels, walls, sections or regions between two stations."""

    on: Patterns
    from_: str | None = Field(default=None, alias="from")
    to: str | None = None
    temperature: Celsius


class ResinHeat(Table):
    """What is known of one resin: its dry glass transition, or the temperature it was post-cured at."""

    glass_transition: Celsius | None = None
    post_cure: Celsius | None = None

    @model_validator(mode="after")
    def _one(self) -> "ResinHeat":
        if (self.glass_transition is None) == (self.post_cure is None):
            raise fault("give one of glass_transition (measured, or from the data sheet) and post_cure")
        return self


class Heat(Table):
    """Service temperatures: a second run with warm resin and cores, and a third without what is too hot to count.

    `regions` maps regions, or patterns of their names, to temperatures; `margin` must lie between the service
    temperature and the glass transition of the moist resin for a region to be credited.
    """

    temperature: Celsius = Field(default=20.0, json_schema_extra={"default": "20 degC"})
    regions: dict[str, Celsius] = Field(default_factory=dict)
    zones: dict[str, HeatZone] = Field(default_factory=dict)
    resins: dict[str, ResinHeat] = Field(default_factory=dict)
    moisture: Annotated[Ratio, Field(ge=0, le=0.04)] = 0.0
    margin: TemperatureStep = Field(default=28.0, json_schema_extra={"default": "28 K"})
