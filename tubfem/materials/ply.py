"""The two things a stack is made of: `Ply` and `CorePly`, and the plies a textbook case is built from."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import ClassVar

from tubfem.errors import CaseError
from tubfem.materials.library import Core, Fibre, Kind, Resin, Solid
from tubfem.materials.tables import Sources, nearest

LIMITS = ("e1t", "e1c", "e2t", "e2c", "g12")
MODES = ("fibre tension", "fibre compression", "transverse tension", "transverse compression", "in-plane shear")
CORE_VALUES = ("E", "Ec", "G", "compression", "shear", "nu")
ACROSS = {"G_across": "G", "shear_across": "shear"}  # of a honeycomb, across its ribbons
STRENGTHS = ("X1t", "X1c", "X2t", "X2c", "S12")


@dataclass(frozen=True, slots=True)
class Matrix:
    """What a laid cloth is made of: its fibre, its resin, fibre volume fraction [-]."""

    fibre: Fibre
    resin: Resin
    volume_fraction: float


@dataclass(frozen=True, slots=True)
class Ply:
    """One cured layer in its own axes: moduli [Pa], thickness [m], density [kg/m3], breaking strains [-] > 0.

    ``sources`` says for each field where its number comes from; ``other_limits`` holds the limits that were weighed
    and not taken, (field, strain, source). A limit of infinity means that none was given. S13 [Pa] is what it bears in
    transverse shear, within itself and on the ply beside it; `matrix` is None where the constants were given.
    """

    name: str
    kind: Kind
    E1: float
    E2: float
    G12: float
    nu12: float
    G13: float
    G23: float
    thickness: float
    rho: float
    e1t: float = inf
    e1c: float = inf
    e2t: float = inf
    e2c: float = inf
    g12: float = inf
    sources: Sources = ()
    other_limits: tuple[tuple[str, float, str], ...] = ()
    S13: float = inf
    matrix: Matrix | None = None

    core: ClassVar[bool] = False

    @property
    def areal_mass(self) -> float:
        """Mass per area [kg/m2], resin included."""
        return self.rho * self.thickness

    @property
    def limits(self) -> tuple[float, ...]:
        """Breaking strains [-] in the order of `MODES`."""
        return (self.e1t, self.e1c, self.e2t, self.e2c, self.g12)

    @property
    def strengths(self) -> tuple[float, ...]:
        """Strengths [Pa] in the order of `MODES`: modulus times breaking strain."""
        return tuple(E * e for E, e in zip((self.E1, self.E1, self.E2, self.E2, self.G12), self.limits, strict=True))

    @property
    def fibre_modes(self) -> tuple[bool, ...]:
        """Which of `MODES` are failure and not only first damage: across a woven or random layer fibres break too."""
        return (True, True, False, False, False) if self.kind == "unidirectional" else (True, True, True, True, False)

    @property
    def mode_names(self) -> tuple[str, ...]:
        """`MODES` as they read for this ply: a woven or random layer has no direction without fibres, a metal none."""
        if self.kind == "isotropic":
            return ("tension", "compression", "tension", "compression", "shear")
        return MODES if self.kind == "unidirectional" else (*MODES[:2], *MODES[:2], MODES[4])


@dataclass(frozen=True, slots=True)
class CorePly:
    """One core sheet: in-plane and transverse shear moduli, through-thickness modulus Ec and strengths [Pa].

    Direction 1 is along the ribbons of a honeycomb, whose cells are ``cell`` [m] wide; `shear_strength_across` is None
    where it is the same in both directions. `softens_celsius` [degC] is None where nobody gave it.
    """

    name: str
    E1: float
    E2: float
    G12: float
    nu12: float
    G13: float
    G23: float
    thickness: float
    rho: float
    Ec: float
    shear_strength: float = inf
    compressive_strength: float = inf
    shear_use: float = 1.0
    sources: Sources = ()
    shear_strength_across: float | None = None
    cell: float | None = None
    softens_celsius: float | None = None

    core: ClassVar[bool] = True

    @property
    def shear_strengths(self) -> tuple[float, float]:
        """Transverse shear strength [Pa] along 1 and across it."""
        across = self.shear_strength_across
        return self.shear_strength, self.shear_strength if across is None else across

    @property
    def areal_mass(self) -> float:
        """Mass per area [kg/m2]."""
        return self.rho * self.thickness


def isotropic(
    E: float, nu: float, rho: float, thickness: float, *, name: str = "isotropic", strength: float = inf
) -> Ply:
    """An isotropic ply from E [Pa], nu, rho [kg/m3], thickness [m]; ``strength`` [Pa] is the same in all directions.

    The shear limit is that of von Mises, strength / sqrt(3).
    """
    G = E / (2 * (1 + nu))
    e = strength / E
    limits = {"e1t": e, "e1c": e, "e2t": e, "e2c": e, "g12": strength / 3**0.5 / G}
    return Ply(name, "isotropic", E, E, G, nu, G, G, thickness, rho, **limits)


def solid_ply(solid: Solid, thickness: float) -> Ply:
    """A sheet or strip of a homogeneous material; direction 1 along its grain."""
    moduli = (solid.E1, solid.E1, solid.E2, solid.E2, solid.G12)
    strengths = (solid.X1t, solid.X1c, solid.X2t, solid.X2c, solid.S12)
    limits = {field: X / E for field, X, E in zip(LIMITS, strengths, moduli, strict=True)}
    kind: Kind = "isotropic" if solid.E1 == solid.E2 else "unidirectional"
    words = dict(solid.sources)
    found = {"rho": words["density"], "G13": f"G12: {words['G12']}", "thickness": "given"}
    for field, strength in zip(LIMITS, STRENGTHS, strict=True):
        found[field] = f"strength over modulus: {words[strength]}"
    sources = tuple({f: words[f] for f in ("E1", "E2", "G12", "nu12", "G23")}.items()) + tuple(found.items())
    return Ply(
        solid.name,
        kind,
        solid.E1,
        solid.E2,
        solid.G12,
        solid.nu12,
        solid.G12,
        solid.G23,
        thickness,
        solid.density,
        **limits,
        sources=sources,
    )


def core_ply(
    core: Core, thickness: float, density: float | None = None, *, measured: Mapping[str, float] | None = None
) -> CorePly:
    """A core sheet [m] of a density [kg/m3], interpolated between the tabulated ones.

    Parameters
    ----------
    core, thickness, density
        The density may be left out where the table has only one.
    measured
        Data-sheet or coupon values that win over the table: any of E, Ec, G, compression, shear [Pa], nu.

    Raises
    ------
    CaseError
        If a value has to come from the table and the density is missing or outside it, or a name or value is wrong.
    """
    own = dict(measured or {})
    faults = [f'{core.name}: no core value "{f}"; {nearest(f, CORE_VALUES)}' for f in own if f not in CORE_VALUES]
    faults += [f"{core.name}: {f} = {v:g} must be above zero" for f, v in own.items() if v <= 0]
    if faults:
        raise CaseError(faults)
    table, words = core.density, dict(core.sources)
    density = _core_density(core, density, needed=not set(CORE_VALUES[:5]) <= set(own))
    between = "" if density in table else f", interpolated between tabulated densities at {density:g} kg/m3"

    def at(field: str) -> float:
        if field in own:
            return own[field]
        along = ACROSS.get(field)
        if along is not None and (along in own or getattr(core, field) is None):
            return at(along)
        value = getattr(core, field)
        return _interpolate(density, table, value) if isinstance(value, tuple) else value

    def source(field: str) -> str:
        along = ACROSS.get(field)
        if along is not None and (along in own or field not in words):
            return source(along)
        return "given" if field in own else words[field] + (between if field in (*CORE_VALUES[:5], *ACROSS) else "")

    E, G, nu = at("E"), at("G"), at("nu")
    sources = (
        ("E1", source("E")),
        ("E2", source("E")),
        ("G12", f"E / 2(1 + nu): {source('E')}"),
        ("nu12", source("nu")),
        ("G13", source("G")),
        ("G23", source("G_across")),
        ("thickness", "given"),
        ("rho", "given"),
        ("Ec", source("Ec")),
        ("shear_strength", source("shear")),
        ("compressive_strength", source("compression")),
        ("shear_strength_across", source("shear_across")),
        ("shear_use", source("shear_use")),
        *((("cell", words["cell"]),) if core.cell is not None else ()),
    )
    elastic = {"E1": E, "E2": E, "G12": E / (2 * (1 + nu)), "nu12": nu, "G13": G, "G23": at("G_across"), "Ec": at("Ec")}
    strengths = {"shear_strength": at("shear"), "compressive_strength": at("compression"), "shear_use": core.shear_use}
    strengths |= {"shear_strength_across": at("shear_across"), "cell": core.cell}
    strengths |= {"softens_celsius": core.softens_celsius}
    return CorePly(core.name, **elastic, thickness=thickness, rho=density, **strengths, sources=sources)


def _core_density(core: Core, density: float | None, *, needed: bool) -> float:
    """The density, checked against the table if a value is `needed` from it."""
    table = core.density
    written = ", ".join(f"{d:g}" for d in table)
    if density is None:
        if len(table) > 1:
            raise CaseError(f"{core.name}: give its density; tabulated: {written} kg/m^3")
        return table[0]
    if needed and not table[0] <= density <= table[-1]:
        raise CaseError(
            f"{core.name}: density {density:g} kg/m^3 is outside the table ({written}); "
            f"take one inside it, or give the core's own {', '.join(CORE_VALUES[:5])}"
        )
    return density


def _interpolate(x: float, xs: tuple[float, ...], ys: tuple[float, ...]) -> float:
    """Piecewise linear; x lies within xs, which rises."""
    for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]
