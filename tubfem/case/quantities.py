"""The types of the schema's fields: SI floats that are written as numbers or as text with a unit."""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    GetJsonSchemaHandler,
    Tag,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError

from tubfem.case.units import EXAMPLES, read_quantity, read_temperature

Facing = Literal["down", "up", "fore", "aft", "out", "in"]
Side = Literal["left", "right"]
Measured = Literal["tool", "far", "middle"]
Motion = Literal["x", "y", "z", "rx", "ry", "rz"]


def text_or(kind: Any) -> Any:
    """Type of a field that is a name or something else; a fault inside keeps its place in the file."""
    return Annotated[
        Annotated[str, Tag("<text>")] | Annotated[kind, Tag("<other>")],
        Discriminator(lambda value: "<text>" if isinstance(value, str) else "<other>"),
    ]


class OneOrMore:
    """Marks a list of which a single entry may be written without brackets; `word` stands for a certain list."""

    def __init__(self, word: str | None = None) -> None:
        self.word = word

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """A list, one entry of it, or the word."""
        several = handler(core)
        words = [{"const": self.word}] if self.word is not None else []
        return {"anyOf": [several, several["items"], *words]}


def in_brackets(value: Any) -> Any:
    """A single entry as a list of one."""
    return value if isinstance(value, list | tuple) else [value]


class Table(BaseModel):
    """One table of the case file: keys it does not know are an error; nothing changes after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)
    shorthand: ClassVar[dict[str, Any] | None] = None  # JSON schema of a shorter way of writing the table

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """The table, or its shorter way of writing."""
        if cls.shorthand is None:
            return handler(core)
        return {"anyOf": [cls.shorthand, handler.resolve_ref_schema(handler(core))]}


def fault(message: str) -> PydanticCustomError:
    """What a validator raises: the message as it is, braces and all."""
    return PydanticCustomError("case", "{message}", {"message": message})


def length_unit(info: ValidationInfo) -> str:
    """The unit of bare lengths in this case."""
    return (info.context or {}).get("length_unit", "mm")


def _quantity(dimension: str, sign: Literal["any", "positive", "not negative"] = "any"):
    def read(value: object, info: ValidationInfo) -> float:
        try:
            number = read_quantity(value, dimension, length_unit=length_unit(info))
        except ValueError as error:
            raise fault(str(error)) from None
        if number < 0 and sign != "any":
            raise fault(f"{value} is negative; it must be {'more than 0' if sign == 'positive' else '0 or more'}")
        if number == 0 and sign == "positive":
            raise fault("0 is not possible here; it must be more than 0")
        return number

    bare = {"length": "bare numbers are mm (or inches)", "angle": "bare numbers are degrees", "ratio": "a plain number"}
    text = f"{dimension}, {sign}: {bare.get(dimension, 'text with its unit')}, for example {EXAMPLES[dimension]}"
    schema = {"type": ["number", "string"], "description": text.replace(", any:", ":")}
    return BeforeValidator(read), WithJsonSchema(schema)


Length = Annotated[float, *_quantity("length")]
PositiveLength = Annotated[float, *_quantity("length", "positive")]
Size = Annotated[float, *_quantity("length", "not negative")]
Angle = Annotated[float, *_quantity("angle")]
Force = Annotated[float, *_quantity("force")]
Mass = Annotated[float, *_quantity("mass", "not negative")]
PositiveMass = Annotated[float, *_quantity("mass", "positive")]
PositiveForce = Annotated[float, *_quantity("force", "positive")]
Moment = Annotated[float, *_quantity("moment")]
PositiveMoment = Annotated[float, *_quantity("moment", "positive")]
Pressure = Annotated[float, *_quantity("stress")]
Modulus = Annotated[float, *_quantity("stress", "positive")]
Acceleration = Annotated[float, *_quantity("acceleration")]
PositiveAcceleration = Annotated[float, *_quantity("acceleration", "positive")]
ArealWeight = Annotated[float, *_quantity("areal weight", "positive")]
Density = Annotated[float, *_quantity("density", "not negative")]
Stiffness = Annotated[float, *_quantity("stiffness", "positive")]
TurningStiffness = Annotated[float, *_quantity("stiffness in rotation", "positive")]
LineStiffness = Annotated[float, *_quantity("line stiffness", "not negative")]
LineTurningStiffness = Annotated[float, *_quantity("line stiffness in rotation", "not negative")]
Ratio = Annotated[float, *_quantity("ratio")]
PositiveRatio = Annotated[float, *_quantity("ratio", "positive")]
SmallRatio = Annotated[float, *_quantity("ratio", "not negative")]


def _temperature(step: bool):
    what = "a temperature difference" if step else "a temperature"
    example = '"28 K"' if step else '"75 degC"'

    def read(value: object) -> float:
        try:
            return read_temperature(value, step=step)
        except ValueError as error:
            raise fault(str(error)) from None

    schema = {"type": ["number", "string"], "description": f"{what}: text with its unit, for example {example}"}
    return BeforeValidator(read), WithJsonSchema(schema)


Celsius = Annotated[float, *_temperature(step=False)]
TemperatureStep = Annotated[float, *_temperature(step=True)]


def _fraction(value: float) -> float:
    if not 0 < value < 1:
        raise fault(f'{value:g} is not a fraction; write it between 0 and 1, or in percent: "45 %"')
    return value


def _coordinates(counts: tuple[int, ...]):
    def read(value: object, info: ValidationInfo) -> tuple[float, ...]:
        numbers = " or ".join(str(count) for count in counts)
        if not isinstance(value, list | tuple):
            raise fault(f"{value!r} is not a point; write {numbers} numbers in brackets")
        if len(value) not in counts:
            raise fault(wrong_count(value, numbers))
        try:
            return tuple(read_quantity(number, "length", length_unit=length_unit(info)) for number in value)
        except ValueError as error:
            raise fault(str(error)) from None

    items = {"type": ["number", "string"]}
    schema = {"type": "array", "items": items, "minItems": min(counts), "maxItems": max(counts)}
    return BeforeValidator(read), WithJsonSchema(schema)


def wrong_count(value: list | tuple, expected: str) -> str:
    """Words for a point with the wrong number of numbers; a decimal comma splits one number in two."""
    shown = "[" + ", ".join(str(number) for number in value) + "]"
    noun = "number" if len(value) == 1 else "numbers"
    message = f"has {len(value)} {noun}, {expected} expected: {shown}"
    whole = [isinstance(number, int) and number >= 0 for number in value]
    commas = [i for i in range(len(value) - 1) if isinstance(value[i], int) and whole[i + 1]]
    if commas and len(value) > 2:
        first = commas[0]
        message += f". A decimal comma? Write {value[first]}.{value[first + 1]}"
    return message


Fraction = Annotated[float, *_quantity("ratio"), AfterValidator(_fraction)]
Point2 = Annotated[tuple[float, ...], *_coordinates((2,))]
Point3 = Annotated[tuple[float, ...], *_coordinates((3,))]
Point = Annotated[tuple[float, ...], *_coordinates((2, 3))]
