"""Tables that say what is laid: plies, cores, layups."""

import math
import re
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, GetJsonSchemaHandler, ValidationInfo, WithJsonSchema, model_validator
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import CoreSchema

from tubfem.case.layup_text import parse_entry
from tubfem.case.quantities import (
    ArealWeight,
    Density,
    Fraction,
    Modulus,
    OneOrMore,
    PositiveLength,
    PositiveRatio,
    Ratio,
    Size,
    Table,
    fault,
    in_brackets,
    length_unit,
)
from tubfem.case.units import read_quantity


class Price(Table):
    """An amount of money for one metre off the roll, one square metre, one kilogram or one sheet."""

    amount: float
    currency: str
    per: Literal["m", "m^2", "kg", "sheet"]


def _price(value: Any) -> Any:
    if isinstance(value, Price):
        return value
    if not isinstance(value, str):
        raise fault(f'{value}: per what, and in which money? "14 EUR/m" (off the roll) or "14 EUR/m^2"')
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*([^\W\d]{1,4}|[€$£])\s*(?:/\s*(.+?))?\s*", value)
    if match is None:
        raise fault(f'"{value}" is not a price; write "14 EUR/m" (off the roll) or "14 EUR/m^2"')
    amount, currency, per = match.groups()
    if per is None:
        raise fault(f'"{value}": per what? "{amount} {currency}/m" (off the roll) or "{amount} {currency}/m^2"')
    per = {"m2": "m^2", "m²": "m^2"}.get(per, per)
    if per not in ("m", "m^2", "kg", "sheet"):
        raise fault(f'"{value}": per {per}? Write per m (off the roll), m^2, kg or sheet')
    return Price(amount=float(amount), currency=currency, per=per)


PriceText = Annotated[Price, BeforeValidator(_price), WithJsonSchema({"type": "string", "examples": ["14 EUR/m^2"]})]


class Stock(Table):
    """What lies on the shelf: metres off the roll or square metres."""

    amount: float
    unit: Literal["m", "m^2"]


def _stock(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, Stock):
        return value
    for dimension, unit in (("length", "m"), ("area", "m^2")):
        try:
            stock = Stock(amount=read_quantity(value, dimension, length_unit=length_unit(info)), unit=unit)
        except ValueError:
            continue
        if stock.amount < 0:
            raise fault(f"{value!r} is less than nothing")
        return stock
    raise fault(f'{value!r} is neither metres off the roll nor an area; write "6 m" or "5 m^2"')


StockText = Annotated[Stock, BeforeValidator(_stock), WithJsonSchema({"type": "string", "examples": ["6 m", "5 m^2"]})]


class Ply(Table):
    """A cloth (fibre, architecture, areal weight) or a ply given by its constants; coupon values win.

    E1, E2, G12, G13, G23 [Pa], nu12, thickness [m], density [kg/m^3]; ultimate strengths X1t ... S12 [Pa] and strains
    e1t ... g12 [-], t in tension and c in compression, 1 along and 2 across the roll; S13 is the interlaminar shear
    strength. `E` and `nu` make it isotropic.
    """

    like: str | None = None
    fibre: str | None = None
    architecture: str | None = None
    areal_weight: ArealWeight | None = None
    resin: str | None = None
    process: str | None = None
    fibre_fraction: Fraction | None = None
    mass_fraction: Fraction | None = None
    E: Modulus | None = None
    nu: Ratio | None = None
    E1: Modulus | None = None
    E2: Modulus | None = None
    G12: Modulus | None = None
    G13: Modulus | None = None
    G23: Modulus | None = None
    nu12: Ratio | None = None
    thickness: PositiveLength | None = None
    density: Density | None = None
    X1t: Modulus | None = None
    X1c: Modulus | None = None
    X2t: Modulus | None = None
    X2c: Modulus | None = None
    S12: Modulus | None = None
    S13: Modulus | None = None
    e1t: PositiveRatio | None = None
    e1c: PositiveRatio | None = None
    e2t: PositiveRatio | None = None
    e2c: PositiveRatio | None = None
    g12: PositiveRatio | None = None
    roll_width: PositiveLength | None = None
    price: PriceText | None = None
    on_hand: StockText | None = None

    @property
    def is_cloth(self) -> bool:
        """Whether the ply comes from fibre, architecture and areal weight."""
        return self.fibre is not None

    @model_validator(mode="after")
    def _complete(self) -> "Ply":
        if self.like is not None:
            return self  # the reader fills it in from the other ply and checks the whole again
        given = self.model_fields_set
        if self.fibre_fraction is not None and self.mass_fraction is not None:
            raise fault("give fibre_fraction (by volume) or mass_fraction, not both")
        cloth = [name for name in ("fibre", "architecture", "areal_weight") if getattr(self, name) is not None]
        if cloth:
            missing = [name for name in ("fibre", "architecture", "areal_weight") if name not in cloth]
            if missing:
                raise fault(f"a cloth needs fibre, architecture and areal_weight; missing: {', '.join(missing)}")
            if self.thickness is not None and (self.fibre_fraction is not None or self.mass_fraction is not None):
                raise fault("the cured thickness says how much resin there is: give it or a fraction, not both")
            if self.E is not None or self.nu is not None:
                raise fault("a cloth is not isotropic: write E1, E2, G12, nu12 for coupon values")
            return self
        constants = ("E", "nu", "thickness") if "E" in given else ("E1", "E2", "G12", "nu12", "thickness")
        missing = [name for name in constants if getattr(self, name) is None]
        if missing:
            raise fault(
                "a ply is a cloth (fibre, architecture, areal_weight), or has E1, E2, G12, nu12, thickness, "
                f"or E, nu, thickness; missing: {', '.join(missing)}"
            )
        if "E" in given and given & {"E1", "E2", "G12", "nu12"}:
            raise fault("give E and nu, or E1, E2, G12 and nu12, not both")
        if self.E is not None and not -1 < self.nu < 0.5:
            raise fault(f"nu = {self.nu:g} is impossible; it lies between -1 and 0.5")
        if self.E1 is not None and self.nu12**2 >= self.E1 / self.E2:
            raise fault(f"nu12 = {self.nu12:g} is impossible with these moduli: |nu12| < sqrt(E1/E2)")
        return self


class Core(Table):
    """A core by material and density, or by its constants.

    E in plane, G13 and G23 across the thickness (or G for both), Ez through it [Pa]; shear and compression strengths.
    Direction 1 is the panel's own 0 degrees, a honeycomb's ribbons along it; ``cell`` is how wide its cells are.
    """

    like: str | None = None
    material: str | None = None
    density: Density | None = None
    E: Modulus | None = None
    nu: Ratio | None = None
    Ez: Modulus | None = None
    G: Modulus | None = None
    G13: Modulus | None = None
    G23: Modulus | None = None
    shear_strength: Modulus | None = None
    shear_strength_across: Modulus | None = None
    cell: PositiveLength | None = None
    compressive_strength: Modulus | None = None
    sheet: tuple[PositiveLength, PositiveLength] | None = None
    price: PriceText | None = None

    @model_validator(mode="after")
    def _complete(self) -> "Core":
        if self.like is not None:
            return self
        if self.G is not None and (self.G13 is not None or self.G23 is not None):
            raise fault("give G for both directions, or G13 and G23")
        if self.shear_strength_across is not None and self.shear_strength is None:
            raise fault("shear_strength_across is beside shear_strength, the one along the ribbons: give both")
        direct = self.G is not None or (self.G13 is not None and self.G23 is not None)
        if self.density is None or (self.material is None and not (direct and self.E is not None)):
            raise fault("a core needs material and density, or density, E and G (or G13 and G23)")
        return self


class Filler(Table):
    """A paste for fillets, given by its numbers: density [kg/m^3] and shear modulus [Pa]."""

    density: Density
    shear_modulus: Modulus


class Lap(Table):
    """How far plies run on over a neighbour, and over which of its entries (all, unless `over` says)."""

    width: PositiveLength
    over: int | None = Field(default=None, ge=0)

    shorthand: ClassVar = {"type": ["number", "string"], "description": "the lap's width"}

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        return {"width": value} if isinstance(value, int | float | str) else value


Face = Literal["far", "tool", "core", "under", "over"]  # where a change lays a ply


class StackEntry(Table):
    """One numbered entry of a stack: `count` plies of one cloth at `angle` [rad], or a core of `thickness` [m].

    `added` is where a change laid it; entries of the case itself have none and keep their numbers.
    """

    name: str
    count: int = 1
    angle: float = 0.0
    thickness: float | None = None
    laps: dict[str, Lap] = Field(default_factory=dict)
    stagger: Size = 0.0
    added: SkipJsonSchema[Face | None] = None

    @property
    def is_core(self) -> bool:
        """A core has a thickness of its own, a ply brings it along."""
        return self.thickness is not None

    @property
    def text(self) -> str:
        """The entry as a case file writes it, in mm and degrees."""
        if self.thickness is not None:
            return f"{self.name} {self.thickness * 1e3:g} mm"
        count = f"{self.count} x " if self.count > 1 else ""
        return f"{count}{self.name} @ {round(math.degrees(self.angle), 6):g}"

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, StackEntry) or (isinstance(value, dict) and "name" in value and info.context is None):
            return value  # made by a program, not read from a file
        table = {"ply": value} if isinstance(value, str) else value
        if not isinstance(table, dict) or not isinstance(table.get("ply"), str):
            shown = "a table" if isinstance(value, dict) else value
            raise fault(f'{shown} is not an entry; write "2 x PLY @ 45", "CORE 15 mm" or {{ ply = "PLY", laps = ... }}')
        try:
            entry = parse_entry(table["ply"])
            thickness = None
            if entry.thickness is not None:
                thickness = read_quantity(entry.thickness, "length", length_unit=length_unit(info))
        except ValueError as error:
            raise fault(str(error)) from None
        if thickness is not None and thickness <= 0:
            raise fault(f'"{table["ply"]}": a core\'s thickness must be more than 0')
        if thickness is not None and len(table) > 1:
            raise fault("only plies have laps and stagger; cut the core at the joint")
        angle = read_quantity(entry.angle or 0.0, "angle")
        strangers = [key for key in table if key not in ("ply", "laps", "stagger")]
        if strangers:
            raise fault(f"no key {', '.join(strangers)} in an entry; it has ply, laps and stagger")
        rest = {key: item for key, item in table.items() if key != "ply"}
        return {"name": entry.name, "count": entry.count, "angle": angle, "thickness": thickness, **rest}

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Text or a table with `ply`, as the case file writes it."""
        table = handler.resolve_ref_schema(handler(core))
        properties = {key: table["properties"][key] for key in ("laps", "stagger")}
        text = {"type": "string", "description": '"2 x PLY @ 45" or "CORE 15 mm"'}
        written = {"type": "object", "additionalProperties": False, "required": ["ply"]}
        return {"anyOf": [text, {**written, "properties": {"ply": text, **properties}}]}


Stack = tuple[StackEntry, ...]
OneOrMoreEntries = Annotated[Stack, BeforeValidator(in_brackets), OneOrMore()]


class Layup(Table):
    """What is laid in a region, tool face first. After reading, `stack` is complete and `same_as` is resolved."""

    stack: Stack = ()
    same_as: str | None = None
    add: Stack = ()
    process: str | None = None
    fibre_fraction: Fraction | None = None

    shorthand: ClassVar = {"type": "array", "items": {"type": ["string", "object"]}, "minItems": 1}

    @model_validator(mode="before")
    @classmethod
    def _read(cls, value: Any) -> Any:
        return {"stack": value} if isinstance(value, list | tuple) else value

    @model_validator(mode="after")
    def _something(self) -> "Layup":
        if self.stack and self.same_as is not None:
            raise fault("give stack or same_as, not both; add = [...] lays more on a copied schedule")
        if not self.stack and self.same_as is None:
            raise fault("the stack is empty; list what is laid, tool face first")
        return self
