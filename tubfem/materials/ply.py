"""The two things a stack is made of: `Ply` and `CorePly`, and the plies a textbook case is built from."""

from dataclasses import dataclass
from math import inf
from typing import ClassVar

from tubfem.errors import CaseError
from tubfem.materials.library import Core, Kind, Solid
from tubfem.materials.tables import Sources

LIMITS = ("e1t", "e1c", "e2t", "e2c", "g12")
MODES = ("fibre tension", "fibre compression", "transverse tension", "transverse compression", "in-plane shear")
STRENGTHS = ("X1t", "X1c", "X2t", "X2c", "S12")


@dataclass(frozen=True, slots=True)
class Ply:
    """One cured layer in its own axes: moduli [Pa], thickness [m], density [kg/m3], breaking strains [-] > 0.

    ``sources`` says for each field where its number comes from; ``other_limits`` holds the limits that were weighed
    and not taken, (field, strain, source). A limit of infinity means that none was given.
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
        """`MODES` as they read for this ply: a woven or random layer has no direction without fibres."""
        return MODES if self.kind == "unidirectional" else (*MODES[:2], *MODES[:2], MODES[4])


@dataclass(frozen=True, slots=True)
class CorePly:
    """One core sheet: in-plane and transverse shear moduli, through-thickness modulus Ec and strengths [Pa]."""

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

    core: ClassVar[bool] = True

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


def core_ply(core: Core, thickness: float, density: float | None = None) -> CorePly:
    """A core sheet [m] of a density [kg/m3], interpolated between the tabulated ones.

    Raises
    ------
    CaseError
        If the density is outside the table, or not given where the table has several.
    """
    table = core.density
    written = ", ".join(f"{d:g}" for d in table)
    if density is None:
        if len(table) > 1:
            raise CaseError(f"{core.name}: give its density; tabulated: {written} kg/m^3")
        density = table[0]
    if not table[0] <= density <= table[-1]:
        raise CaseError(
            f"{core.name}: density {density:g} kg/m^3 is outside the table ({written}); "
            "take one inside it, or give the core's own E, Ec, G, compression and shear"
        )

    def at(values: tuple[float, ...]) -> float:
        return _interpolate(density, table, values)

    E, G, nu = at(core.E), at(core.G), core.nu
    words = dict(core.sources)
    between = "" if density in table else f", interpolated between tabulated densities at {density:g} kg/m3"
    sources = (
        ("E1", words["E"] + between),
        ("E2", words["E"] + between),
        ("G12", f"E / 2(1 + nu): {words['E']}{between}"),
        ("nu12", words["nu"]),
        ("G13", words["G"] + between),
        ("G23", words["G"] + between),
        ("thickness", "given"),
        ("rho", "given"),
        ("Ec", words["Ec"] + between),
        ("shear_strength", words["shear"] + between),
        ("compressive_strength", words["compression"] + between),
        ("shear_use", words["shear_use"]),
    )
    return CorePly(
        core.name,
        E,
        E,
        E / (2 * (1 + nu)),
        nu,
        G,
        G,
        thickness,
        density,
        at(core.Ec),
        at(core.shear),
        at(core.compression),
        core.shear_use,
        sources,
    )


def _interpolate(x: float, xs: tuple[float, ...], ys: tuple[float, ...]) -> float:
    """Piecewise linear; x lies within xs, which rises."""
    for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]
