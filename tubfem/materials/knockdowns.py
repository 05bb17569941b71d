"""Knock-downs, asked margins and service strains: factors as data, each with its reason and source."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from math import sqrt

from scipy.special import nctdtrit, ndtri

from tubfem.errors import CaseError
from tubfem.materials.ply import MODES
from tubfem.materials.tables import look_up, read_table, to_si

CORE_MODES = ("core shear", "core compression")
UNTESTED = "untested"  # the knock-down that coupons do away with
VOID_LOSS, VOIDS_KNOWN = 7.0, 0.04  # of strength for each 1 % of voids, and up to how many
BETWEEN_PLIES = "interlaminar shear"
ALL_MODES = (*MODES, BETWEEN_PLIES, *CORE_MODES, "bond")


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


def basis_factor(count: int, *, share: float = 0.90, confidence: float = 0.95) -> float:
    """How many standard deviations below the mean of `count` coupons a basis value lies; the B-basis by default.

    One-sided tolerance limit of a normal population: the quantile at `confidence` of a noncentral t with n - 1 degrees
    of freedom and noncentrality z(share) sqrt(n), over sqrt(n).
    """
    return float(nctdtrit(count - 1, ndtri(share) * sqrt(count), confidence)) / sqrt(count)


def with_coupons(
    chosen: Iterable[Knockdown], count: int, scatter: float, modes: tuple[str, ...]
) -> tuple[Knockdown, ...]:
    """Knock-downs where coupons stand behind some modes: from their mean to the B-basis, and "untested" no more.

    Raises
    ------
    CaseError
        Scatter over so few coupons leaves nothing.
    """
    k = basis_factor(count)
    if k * scatter >= 1:
        raise CaseError(
            f"margins.coupons: {count} coupons with {100 * scatter:g} % scatter: the B-basis lies {k:.2f} standard "
            "deviations below their mean, which leaves nothing; test more"
        )
    basis = Knockdown(
        f"B-basis from {count} coupons",
        1 - k * scatter,
        modes,
        False,
        f"mean - {k:.2f} standard deviations at {100 * scatter:g} % scatter: nine of ten, with 95 % confidence",
        "one-sided tolerance limit of a normal population (noncentral t), as in MIL-HDBK-17",
    )
    kept = [replace(k, modes=tuple(m for m in k.modes if m not in modes)) if k.name == UNTESTED else k for k in chosen]
    return (*(k for k in kept if k.modes), basis)


def voids(content: float) -> Knockdown:
    """What voids take from the strengths that hang on the resin.

    Raises
    ------
    CaseError
        More voids than the rule is known for.
    """
    if content > VOIDS_KNOWN:
        raise CaseError(f"margins.voids: {100 * content:g} % is more than the 4 % that the rule is known for")
    return Knockdown(
        f"voids, {100 * content:g} %",
        1 - VOID_LOSS * content,
        ("fibre compression", "transverse tension", "transverse compression", "in-plane shear", BETWEEN_PLIES),
        False,
        "7 % of strength for each 1 % of voids, up to 4 %",
        "Judd and Wright, SAMPE Journal 14, 1978, from memory: of interlaminar shear; other resin-led strengths alike",
    )
