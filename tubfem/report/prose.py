"""Quantities inside sentences: found by their units, so that a page can show them in other units."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tubfem.report.measures import MEASURES

KINDS = {  # unit as sentences write it -> kind of quantity; a unit that begins like a shorter one stands before it
    "N·mm/mm per degree": "line_turning",
    "N/mm per mm": "line_stiffness",
    "N·m/deg per kg": "per_mass",
    "N·m/deg": "stiffness",
    "N·mm/mm": "line_moment",
    "N·m²": "torsion_rigidity",
    "N·m": "torque",
    "N/mm": "line_force",
    "deg/m": "rate",
    "kg/m²": "areal",
    "kg/m3": "density",
    "g/m2": "cloth",
    "GPa": "modulus",
    "MPa": "stress",
    "cm²": "cut",
    "mm": "length",
    "kg": "mass",
    "m²": "area",
    "m": "run",
    "l": "volume",
    "N": "force",
}
NUMBER = r"-?\d+(?:\.\d+)?"
BETWEEN = r"(?: to | and |, | x )(?:[xyz] (?:= )?)?"
UNIT = "|".join(map(re.escape, KINDS))
QUANTITY = re.compile(rf"(?<![\w.])(?P<numbers>{NUMBER}(?:{BETWEEN}{NUMBER})*) (?P<unit>{UNIT})(?![\w·/²]| per )")


@dataclass(frozen=True, slots=True)
class Word:
    """A piece of a sentence: plain text, a number of some kind with its SI `value`, or a unit (no value)."""

    text: str
    kind: str | None = None
    value: float | None = None


def pieces(text: str) -> Iterator[Word]:
    """The pieces of a sentence; together their texts are the sentence."""
    last = 0
    for match in QUANTITY.finditer(text):
        kind = KINDS[match["unit"]]
        for number in re.finditer(rf"(?<![\w.]){NUMBER}", match["numbers"]):
            start = match.start("numbers") + number.start()
            yield Word(text[last:start])
            yield Word(number[0], kind, float(number[0]) / MEASURES[kind].factor)
            last = start + len(number[0])
        yield Word(text[last : match.start("unit")])
        yield Word(match["unit"], kind)
        last = match.end("unit")
    yield Word(text[last:])
