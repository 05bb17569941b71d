"""Knock-downs, asked margins and service strains: factors as data, each with its reason and source."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from tubfem.materials.ply import MODES
from tubfem.materials.tables import look_up, read_table, to_si

CORE_MODES = ("core shear", "core compression")
ALL_MODES = (*MODES, *CORE_MODES, "bond")


@dataclass(frozen=True, slots=True)
class Knockdown:
    """A factor <= 1 on the limits of the named modes; `default` ones apply unless a case says otherwise."""

    name: str
    factor: float
    modes: tuple[str, ...]
    default: bool
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Required:
    """A reserve factor asked of a kind of failure: limit / (load effect) must reach it."""

    name: str
    factor: float
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Service:
    """Strains [-] to stay below in daily use: amber asks for a look, red for a change."""

    name: str
    amber: float
    red: float
    source: str


@cache
def knockdowns() -> tuple[Knockdown, ...]:
    """Every knock-down of the library."""
    return tuple(Knockdown(source=e["source"], **to_si(e)) for e in read_table("knockdowns")["knockdown"])


@cache
def required() -> tuple[Required, ...]:
    """The reserve factors asked."""
    return tuple(Required(source=e["source"], **to_si(e)) for e in read_table("knockdowns")["required"])


@cache
def service_strains() -> tuple[Service, ...]:
    """The service strains."""
    return tuple(Service(source=e["source"], **to_si(e)) for e in read_table("knockdowns")["service"])


def mode_factors(chosen: Iterable[Knockdown]) -> dict[str, float]:
    """For each of `ALL_MODES` the product of the chosen knock-downs' factors."""
    factors = dict.fromkeys(ALL_MODES, 1.0)
    for knockdown in chosen:
        for mode in knockdown.modes:
            factors[mode] *= knockdown.factor
    return factors


def default_knockdowns() -> tuple[Knockdown, ...]:
    """Those that apply unless a case says otherwise."""
    return tuple(k for k in knockdowns() if k.default)


def knockdown(name: str) -> Knockdown:
    """The knock-down of that name; CaseError with the nearest spelling if there is none."""
    return look_up("knock-down", name, {k.name: k for k in knockdowns()})
