"""What the library holds and how a cloth comes to its numbers, as rows to print: every number with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees, inf

from tubfem.errors import CaseError
from tubfem.materials import micromechanics as micro
from tubfem.materials.cloth import Cloth, cure, make_plies
from tubfem.materials.library import (
    Architecture,
    Core,
    Fibre,
    Filler,
    Resin,
    Solid,
    architectures,
    cores,
    fibres,
    fillers,
    processes,
    resins,
    solids,
)
from tubfem.materials.library import mass_fraction as usual_fraction
from tubfem.materials.limits import other_moduli
from tubfem.materials.ply import LIMITS, MODES
from tubfem.materials.tables import look_up

SAMPLE_WEIGHT = 0.3  # kg/m2, the cloth an architecture or fibre is shown with
FIELD_UNITS = {"density": "kg/m3", "rho": "kg/m3", "thickness": "m", "cell": "m", "areal_mass": "kg/m2"}
UNITLESS = {"nu12", "nu", "c1", "c2", "c12", "cnu", "strain_factor", "shear_use", *LIMITS}
SHOWN = {"m": (1e3, "mm"), "kg/m2": (1e3, "g/m2"), "strain": (1e2, "%")}


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity: value in SI, its unit, where it comes from."""

    quantity: str
    value: float
    unit: str
    source: str

    @property
    def shown(self) -> str:
        """The value as a builder reads it: GPa or MPa, mm, g/m2, per cent."""
        if self.value == inf:
            return "not known"
        if self.unit == "Pa":
            scale, unit = (1e-9, "GPa") if abs(self.value) >= 1e9 else (1e-6, "MPa")
        else:
            scale, unit = SHOWN.get(self.unit, (1.0, self.unit))
        value = self.value * scale
        return f"{value:.0f} {unit}".strip() if abs(value) >= 1000 else f"{value:.3g} {unit}".strip()


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything about one name: rows in groups (heading, rows)."""

    name: str
    group: str
    groups: tuple[tuple[str, tuple[Row, ...]], ...]

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows of all groups."""
        return tuple(row for _, rows in self.groups for row in rows)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the list: name, group, a few words."""

    name: str
    group: str
    words: str


def catalogue() -> tuple[Entry, ...]:
    """Every name of the library, group by group."""
    found = [Entry(f.name, "fibre", f"E {f.E1 / 1e9:.0f} GPa, {f.density:.0f} kg/m3") for f in fibres().values()]
    found += [Entry(r.name, "resin", f"E {r.E / 1e9:.2g} GPa, Tg {r.Tg_celsius:.0f} degC") for r in resins().values()]
    for a in architectures().values():
        angles = "/".join(f"{degrees(angle):+.0f}" if angle else "0" for angle, _ in a.layers)
        found.append(Entry(a.name, "architecture", f"{a.kind}, layers {angles}"))
    for c in cores().values():
        found.append(Entry(c.name, "core", f"{c.density[0]:.0f} to {c.density[-1]:.0f} kg/m3"))
    found += [Entry(s.name, "solid", f"E {s.E1 / 1e9:.0f} GPa, {s.density:.0f} kg/m3") for s in solids().values()]
    found += [Entry(f.name, "filler", f"G {f.G / 1e9:.2g} GPa, {f.density:.0f} kg/m3") for f in fillers().values()]
    return tuple(found)


def describe(name: str, *, resin: Resin, process: str = "hand") -> Sheet:
    """The sheet of a name of the library; an architecture is shown as a 300 g/m2 cloth of every fibre.

    Raises
    ------
    CaseError
        If the name is not in the library, with the nearest spelling.
    """
    known: dict[str, Fibre | Resin | Architecture | Core | Solid | Filler] = {}
    for table in (fibres(), resins(), architectures(), cores(), solids(), fillers()):
        known |= table
    item = look_up("material, cloth or ply", name, known)
    if isinstance(item, Architecture):
        return _architecture_sheet(item, resin, process)
    if isinstance(item, Core):
        return _core_sheet(item)
    group = type(item).__name__.lower()
    words = dict(item.sources)
    rows = tuple(Row(f, getattr(item, f), _unit(f), s) for f, s in words.items())
    return Sheet(name, group, ((group, rows),))


def describe_cloth(
    cloth: Cloth,
    *,
    resin: Resin,
    process: str | None = None,
    fibre_fraction: float | None = None,
    coupons: Mapping[str, float] | None = None,
) -> Sheet:
    """The sheet of one cloth as laid: fractions, thickness, mass, stiffness and strengths of its layer, sources.

    The class note's numbers are the ones used; the thickness and, for E-glass, the moduli of ISO 12215-5 stand beside
    them (the spread between sources), as do the limits that do not govern.
    """
    measured = dict(coupons or {})
    arguments = {"resin": resin, "process": process, "fibre_fraction": fibre_fraction}
    cured = cure(cloth, **arguments, thickness=measured.get("thickness"))
    layers = make_plies(cloth, **arguments, coupons=measured)
    ply = layers[0][1]
    words = dict(ply.sources)
    thickness = sum(p.thickness for _, p in layers)
    whole = [
        Row("dry cloth", cloth.areal_weight, "kg/m2", "given"),
        Row("fibre mass fraction", cured.mass_fraction, "", cured.source),
        Row("fibre volume fraction", cured.volume_fraction, "", "from the mass fraction and densities, no voids"),
        Row("thickness", thickness, "m", words["thickness"]),
        Row("mass with resin", sum(p.areal_mass for _, p in layers), "kg/m2", words["rho"]),
        Row(
            "resin",
            micro.resin_areal_weight(cloth.areal_weight, cured.mass_fraction),
            "kg/m2",
            "dry cloth x (1 - mass fraction) / mass fraction",
        ),
    ]
    angles = ", ".join(f"{degrees(angle):+.0f}" for angle, _ in layers)
    layer = [Row(f, getattr(ply, f), _unit(f), words[f]) for f in ("E1", "E2", "G12", "nu12", "G13", "G23", "rho")]
    limits = [
        Row(f"{name} strain", e, "strain", words[f])
        for f, name, e in zip(LIMITS, _names(ply.mode_names), ply.limits, strict=True)
    ]
    strengths = [
        Row(f"{name} strength", X, "Pa", "modulus x breaking strain above")
        for name, X in zip(_names(ply.mode_names), ply.strengths, strict=True)
    ]
    strengths.append(Row("interlaminar shear strength", ply.S13, "Pa", words["S13"]))
    beside = [Row(f"{MODES[LIMITS.index(f)]} strain", e, "strain", s) for f, e, s in ply.other_limits]
    moduli = other_moduli(cloth.fibre, cloth.architecture.kind, cured.mass_fraction)
    beside += [Row(f, value, "Pa", source) for f, value, source in moduli]
    if cloth.fibre.family in ("glass", "carbon", "aramid"):
        t = micro.iso_thickness(cloth.areal_weight, cured.mass_fraction, cloth.fibre.family)
        beside.append(Row("thickness", t, "m", "ISO 12215-5:2008 annex C, second-hand"))
    groups = [
        ("cloth as laid", tuple(whole)),
        (f"each layer, in its own axes (layers at {angles} degrees from the roll)", tuple(layer)),
        ("limits used, before knock-downs", (*limits, *strengths)),
        ("beside, not used", tuple(beside)),
        ("fibre", tuple(Row(f, getattr(cloth.fibre, f), _unit(f), s) for f, s in cloth.fibre.sources)),
        ("resin", tuple(Row(f, getattr(resin, f), _unit(f), s) for f, s in resin.sources)),
    ]
    return Sheet(cloth.name, "cloth", tuple(g for g in groups if g[1]))


def _architecture_sheet(item: Architecture, resin: Resin, process: str) -> Sheet:
    groups = []
    for fibre in fibres().values():
        try:
            usual_fraction(fibre, item, process)
            sheet = describe_cloth(Cloth(item.name, fibre, item, SAMPLE_WEIGHT), resin=resin, process=process)
        except CaseError:
            continue  # nobody sells it, or nothing is known of it: no row
        rows = [Row(f"fibre mass fraction, {p}", *_fraction(fibre, item, p)) for p in processes()]
        used = (row for _, some in sheet.groups[:3] for row in some)
        groups.append((f"{fibre.name}, {1e3 * SAMPLE_WEIGHT:.0f} g/m2, {process}, {resin.name}", (*rows, *used)))
    return Sheet(item.name, "architecture", tuple(groups))


def _fraction(fibre: Fibre, item: Architecture, process: str) -> tuple[float, str, str]:
    value, source = usual_fraction(fibre, item, process)
    return value, "", source


def _core_sheet(item: Core) -> Sheet:
    words = dict(item.sources)
    groups = []
    for k, density in enumerate(item.density):
        fields = [f for f in ("E", "Ec", "G", "G_across", "compression", "shear", "shear_across") if f in words]
        rows = [Row(f, getattr(item, f)[k], "Pa", words[f]) for f in fields]
        groups.append((f"{density:g} kg/m3", (Row("density", density, "kg/m3", words["density"]), *rows)))
    rest = tuple(
        Row(f, getattr(item, f), _unit(f), words[f])
        for f in ("nu", "cell", "shear_use", "softens_celsius")
        if f in words
    )
    return Sheet(item.name, "core", (*groups, ("all densities", rest)))


def _names(modes: tuple[str, ...]) -> tuple[str, ...]:
    """Mode names made different from each other: a woven layer breaks fibres both ways."""
    return tuple(f"{m}, across" if m in modes[:k] else m for k, m in enumerate(modes))


def _unit(field: str) -> str:
    if field in UNITLESS:
        return ""
    return "degC" if field.endswith("_celsius") else FIELD_UNITS.get(field, "Pa")
