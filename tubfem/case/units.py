"""Text or number to an SI float: the only place that knows units (pint)."""

import math
import re
from functools import cache
from typing import Any

SI = {  # dimension -> the unit we compute in
    "length": "m",
    "area": "m^2",
    "angle": "rad",
    "mass": "kg",
    "force": "N",
    "moment": "N*m",
    "stress": "Pa",
    "areal weight": "kg/m^2",
    "density": "kg/m^3",
    "acceleration": "m/s^2",
    "stiffness": "N/m",
    "stiffness in rotation": "N*m/rad",
    "line stiffness": "N/m^2",
    "line stiffness in rotation": "N",
    "ratio": "",
}
EXAMPLES = {
    "length": '"15 mm"',
    "area": '"2 m^2"',
    "angle": '"30 deg"',
    "mass": '"3 kg"',
    "force": '"500 N"',
    "moment": '"1000 N*m"',
    "stress": '"70 GPa"',
    "areal weight": '"600 g/m^2"',
    "density": '"80 kg/m^3"',
    "acceleration": '"9.81 m/s^2"',
    "stiffness": '"20 kN/mm"',
    "stiffness in rotation": '"50 N*m/deg"',
    "line stiffness": '"500 N/mm^2"',
    "line stiffness in rotation": '"800 N"',
    "ratio": '0.5 or "50 %"',
}
BARE = {"angle": "deg", "ratio": ""}  # a bare length is in the case's own unit; anything else needs its unit
USUAL = {  # (unit, SI unit) -> factor: with these alone a case is read a second sooner, without waking pint
    ("", ""): 1.0,
    ("%", ""): 0.01,
    ("mm", "m"): 1e-3,
    ("m", "m"): 1.0,
    ("in", "m"): 0.0254,
    ("deg", "rad"): math.pi / 180,
    ("kg", "kg"): 1.0,
    ("N", "N"): 1.0,
    ("kN", "N"): 1e3,
    ("N*m", "N*m"): 1.0,
    ("kN*m", "N*m"): 1e3,
    ("MPa", "Pa"): 1e6,
    ("GPa", "Pa"): 1e9,
    ("g/m^2", "kg/m^2"): 1e-3,
    ("kg/m^3", "kg/m^3"): 1.0,
    ("standard_gravity", "m/s^2"): 9.80665,
}


class OtherDimensionError(ValueError):
    """A known unit, of another dimension than was asked for."""


@cache
def _factor(unit: str, si: str) -> float:
    """What one of `unit` is in `si`; lb, oz and kg are masses, lbf and kgf forces."""
    if (unit, si) in USUAL:
        return USUAL[unit, si]
    return by_pint(unit, si)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def by_pint(unit: str, si: str) -> float:
    """What one of `unit` is in `si`, whatever the unit; `OtherDimensionError` if it is of another dimension."""
    quantity = _registry().Quantity(1.0, unit)
    if not quantity.is_compatible_with(si):
        raise OtherDimensionError(unit)
    return float(quantity.to(si).magnitude)


def _converted(number: float, unit: str, dimension: str) -> float:
    factor = _factor(unit, SI[dimension])
    parts = round(1 / factor) if 0 < factor < 1 else 0
    exact = parts and abs(factor * parts - 1) < 1e-12
    return number / parts if exact else number * factor  # 690 mm is 0.69 m to the last digit


def read_quantity(value: object, dimension: str, *, length_unit: str = "mm") -> float:
    """A number or a text such as "17 oz/yd^2" in SI.

    Parameters
    ----------
    value : number or str
        A bare number is a length in `length_unit`, an angle in degrees or a ratio; a bare zero is always zero.
    dimension : str
        A key of `SI`.
    length_unit : "mm" or "in"

    Raises
    ------
    ValueError
        In the builder's words, naming the value and an example of what is expected.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f"{_shown(value)} is not {_a(dimension)}; write for example {EXAMPLES[dimension]}")
    if isinstance(value, int | float):
        if not math.isfinite(value):
            raise ValueError(f"{value} is not {_a(dimension)}; write for example {EXAMPLES[dimension]}")
        unit = length_unit if dimension == "length" else BARE.get(dimension)
        if value == 0:
            return 0.0
        if unit is None:
            raise ValueError(f"{value} has no unit; write {_a(dimension)} as text with its unit: {EXAMPLES[dimension]}")
        return _converted(float(value), unit, dimension)
    match = re.fullmatch(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*", value)
    if re.match(r"\s*[-+]?\d+,\d", value):
        raise ValueError(f'"{value}": a decimal comma? Write "{value.replace(",", ".", 1)}"')
    if match is None:
        raise ValueError(f'"{value}" is not {_a(dimension)}; write for example {EXAMPLES[dimension]}')
    number, unit = float(match[1]), match[2]
    if not unit:
        return read_quantity(number, dimension, length_unit=length_unit)
    try:
        return _converted(number, _spelled(unit, dimension), dimension)
    except OtherDimensionError:
        raise ValueError(f'"{value}" is not {_a(dimension)}; write for example {EXAMPLES[dimension]}') from None
    except Exception:  # pint raises its own, tokenize's and python's errors for texts it cannot parse
        raise ValueError(f'"{value}": no unit "{unit}" is known; write for example {EXAMPLES[dimension]}') from None


def read_temperature(value: object, *, step: bool = False) -> float:
    """A text such as "75 degC", "167 degF" or "348 K" in degrees Celsius; with `step` a difference, in kelvin.

    Raises
    ------
    ValueError
        In the builder's words.
    """
    example = '"28 K"' if step else '"75 degC"'
    what = "a temperature difference" if step else "a temperature"
    match = (
        re.fullmatch(r"\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*(?:°\s*|deg\s*)?([CFK])\s*", value)
        if isinstance(value, str)
        else None
    )
    if match is None:
        raise ValueError(f"{_shown(value)} is not {what} with its unit; write for example {example}")
    number, unit = float(match[1]), match[2]
    if step:
        if number < 0:
            raise ValueError(f"{value} is negative; it must be 0 or more")
        return number * 5 / 9 if unit == "F" else number
    celsius = {"C": number, "F": (number - 32) * 5 / 9, "K": number - 273.15}[unit]
    if not -60 <= celsius <= 400:
        raise ValueError(f"{value} is {celsius:.0f} degC; no tub is used there")
    return celsius


def _spelled(unit: str, dimension: str) -> str:
    """A unit as pint spells it: people write Nm, ft-lb, oz/yd2 and g for gravity."""
    if dimension == "acceleration" and unit == "g":
        return "standard_gravity"
    if dimension == "moment" and (pound := re.fullmatch(r"(?:(ft|in)[-·* ]?lbf?|lbf?[-·* ]?(ft|in))", unit)):
        return f"lbf*{pound[1] or pound[2]}"
    unit = re.sub(r"\b([kM]?N)(m|mm)\b", r"\1*\2", unit.replace("·", "*"))
    return re.sub(r"(?<![\w^])(mm|cm|m|in|ft|yd)(2|3)\b", r"\1^\2", unit)


def _a(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _shown(value: object) -> str:
    return "true or false" if isinstance(value, bool) else str(value)
