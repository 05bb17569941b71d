"""Strengths of hand-laid bonds and of laminates round a bolt, by fibre family, with their sources."""

from dataclasses import dataclass
from functools import cache

from tubfem.materials.tables import Sources, read_table, sources_of, to_si


@dataclass(frozen=True, slots=True)
class Bond:
    """A wet-laid secondary bond at break [Pa]: mean shear of a lap, peak shear and peak peel of the resin."""

    mean_shear: float
    peak_shear: float
    peel: float
    sources: Sources


@dataclass(frozen=True, slots=True)
class BoltedLaminate:
    """A laminate round a bolt at break [Pa]: pressure on the hole's side, shear through its thickness."""

    bearing: float
    punching: float
    sources: Sources


@cache
def bond() -> Bond:
    """The library's bond."""
    entry = read_table("bonds")["bond"]
    return Bond(**to_si(entry), sources=sources_of(entry))


@cache
def bolted_laminate(family: str) -> BoltedLaminate:
    """A laminate of a fibre family ("glass", "carbon"); of any other, and of none, the lowest values."""
    table = read_table("bonds")["bearing"]
    entry = table.get(family, table["other"])
    return BoltedLaminate(**to_si(entry), sources=sources_of(entry))
