"""Fibres, resins, cores, solids, fillers and cloth architectures: what the library holds, by name.

Every number comes from ``data/*.toml`` together with its source; units are SI, glass transition and softening degC.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import radians
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from tubfem.errors import CaseError
from tubfem.materials.tables import Sources, look_up, nearest, read_table, sources_of, to_si

T = TypeVar("T")
Kind = Literal["unidirectional", "woven", "mat", "isotropic"]


@dataclass(frozen=True, slots=True)
class Fibre:
    """A fibre: moduli [Pa] along (1) and across (2), density [kg/m3], the class note's corrections c1 c2 c12 cnu."""

    name: str
    family: str
    density: float
    E1: float
    E2: float
    G12: float
    nu12: float
    c1: float = 1.0
    c2: float = 1.0
    c12: float = 1.0
    cnu: float = 1.0
    sources: Sources = ()


@dataclass(frozen=True, slots=True)
class Resin:
    """A cured resin: moduli [Pa], density [kg/m3], factor on breaking strains, glass transition Tg [degC]."""

    name: str
    density: float
    E: float
    G: float
    nu: float
    strain_factor: float = 1.0
    Tg_celsius: float | None = None
    sources: Sources = ()


@dataclass(frozen=True, slots=True)
class Architecture:
    """How a cloth is made: kind of layer, column of the fraction table, layers (angle [rad], share of the mass)."""

    name: str
    kind: Kind
    fractions: str
    layers: tuple[tuple[float, float], ...]
    sources: Sources = ()


@dataclass(frozen=True, slots=True)
class Core:
    """A core material tabulated by density [kg/m3]; moduli and strengths [Pa], one figure per density.

    G and shear are along the ribbons of a honeycomb, `G_across` and `shear_across` across them; None where all
    directions are alike. ``cell`` [m] is the width of its cells across flats.
    """

    name: str
    density: tuple[float, ...]
    E: tuple[float, ...]
    Ec: tuple[float, ...]
    G: tuple[float, ...]
    compression: tuple[float, ...]
    shear: tuple[float, ...]
    nu: float
    shear_use: float
    softens_celsius: float
    G_across: tuple[float, ...] | None = None
    shear_across: tuple[float, ...] | None = None
    cell: float | None = None
    sources: Sources = ()


@dataclass(frozen=True, slots=True)
class Solid:
    """A homogeneous sheet, strip or tube material: moduli and strengths [Pa], density [kg/m3]; 1 along the grain.

    `weld_factor` is what a weld leaves of the strength beside it.
    """

    name: str
    density: float
    E1: float
    E2: float
    G12: float
    G23: float
    nu12: float
    X1t: float
    X1c: float
    X2t: float
    X2c: float
    S12: float
    weld_factor: float = 1.0
    sources: Sources = ()

    @property
    def is_isotropic(self) -> bool:
        """Whether it is the same in all directions, as metals are."""
        return self.E1 == self.E2


@dataclass(frozen=True, slots=True)
class Filler:
    """What a fillet or a bond line is made of: density [kg/m3], shear modulus [Pa]."""

    name: str
    density: float
    G: float
    sources: Sources = ()


def _load(cls: type[T], file: str) -> Mapping[str, T]:
    table = read_table(file)
    return MappingProxyType({n: cls(name=n, sources=sources_of(e), **to_si(e)) for n, e in table.items()})


@cache
def fibres() -> Mapping[str, Fibre]:
    """Every fibre of the library by name."""
    return _load(Fibre, "fibres")


@cache
def resins() -> Mapping[str, Resin]:
    """Every resin of the library by name."""
    return _load(Resin, "resins")


@cache
def cores() -> Mapping[str, Core]:
    """Every core of the library by name."""
    return _load(Core, "cores")


@cache
def solids() -> Mapping[str, Solid]:
    """Every homogeneous material of the library by name."""
    return _load(Solid, "solids")


@cache
def fillers() -> Mapping[str, Filler]:
    """Every filler of the library by name."""
    return _load(Filler, "fillers")


@cache
def architectures() -> Mapping[str, Architecture]:
    """Every cloth architecture of the library by name."""

    def one(name: str, entry: Mapping[str, Any]) -> Architecture:
        layers = tuple((radians(angle), share) for angle, share in entry["layers"])
        return Architecture(name, entry["kind"], entry["fractions"], layers, sources_of(entry))

    return MappingProxyType({n: one(n, e) for n, e in read_table("architectures").items()})


def fibre(name: str) -> Fibre:
    """The fibre of that name; CaseError with the nearest spelling if there is none."""
    return look_up("fibre", name, fibres())


def resin(name: str) -> Resin:
    """The resin of that name; CaseError with the nearest spelling if there is none."""
    return look_up("resin", name, resins())


def core(name: str) -> Core:
    """The core of that name; CaseError with the nearest spelling if there is none."""
    return look_up("core", name, cores())


def solid(name: str) -> Solid:
    """The homogeneous material of that name; CaseError with the nearest spelling if there is none."""
    return look_up("material", name, solids())


def filler(name: str) -> Filler:
    """The filler of that name; CaseError with the nearest spelling if there is none."""
    return look_up("filler", name, fillers())


def architecture(name: str) -> Architecture:
    """The cloth architecture of that name; CaseError with the nearest spelling if there is none."""
    return look_up("architecture", name, architectures())


def processes() -> tuple[str, ...]:
    """The names of the laying processes, in order of rising fibre fraction of flat work."""
    return ("hand complex", "hand", "bag", "infusion")


def mass_fraction(fibre: Fibre, architecture: Architecture, process: str) -> tuple[float, str]:
    """The fibre mass fraction [-] that a process reaches with a cloth, and its source.

    Raises
    ------
    CaseError
        If the process is unknown, or the table has no row for this fibre and cloth: then the fraction must be given.
    """
    row = read_table("fractions").get(fibre.family, {}).get(architecture.fractions)
    if row is None:
        raise CaseError(
            f"no usual fibre fraction is known for {fibre.name} as {architecture.name}; give the cloth's fibre_fraction"
        )
    if process not in processes():
        raise CaseError(f'no process "{process}"; {nearest(process, processes())}')
    return row[process], row.get("sources", {}).get(process, row["source"])
