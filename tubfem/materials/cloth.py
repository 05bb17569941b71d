"""A cloth off the roll, laid with a resin by a process, becomes the layers a stack is made of."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from tubfem.errors import CaseError
from tubfem.materials import micromechanics as micro
from tubfem.materials.library import Architecture, Fibre, Resin, mass_fraction
from tubfem.materials.limits import interlaminar_strength, limit_candidates, lowest
from tubfem.materials.ply import LIMITS, STRENGTHS, CorePly, Matrix, Ply
from tubfem.materials.tables import nearest

__all__ = ["Cloth", "CorePly", "Cured", "Ply", "cure", "make_plies"]

LAYER_OF = {"unidirectional": micro.unidirectional, "woven": micro.woven, "mat": micro.mat}
FORMULA = {
    "unidirectional": {
        "E1": "c1 (Ef Vf + Em (1-Vf))",
        "E2": "c2 Em' (1 + 0.85 Vf^2) / ((1-Vf)^1.25 + Em' Vf / Ef2), Em' = Em / (1 - num^2)",
        "G12": "c12 Gm (1 + eta Vf) / (1 - eta Vf), eta = (Gf - Gm) / (Gf + Gm)",
        "nu12": "cnu (nuf Vf + num (1-Vf))",
        "G13": "G12",
        "G23": "0.7 G12",
    },
    "woven": {
        "E1": "half 0 and half 90 of the unidirectional layer, no crimp",
        "E2": "as E1",
        "G12": "as the unidirectional layer",
        "nu12": "half 0 and half 90 of the unidirectional layer",
        "G13": "0.9 G12",
        "G23": "0.9 G12",
    },
    "mat": {
        "E1": "3/8 E1 + 5/8 E2 of the unidirectional layer",
        "E2": "as E1",
        "G12": "E / 2(1 + nu)",
        "nu12": "0.3",
        "G13": "0.7 G12 of the unidirectional layer",
        "G23": "0.7 G12 of the unidirectional layer",
    },
}
NOTE = "BV NR546 (Nov 2022), second-hand"
NOTE_MEMORY = "BV NR546, from memory"
COUPONS = ("E1", "E2", "G12", "nu12", "G13", "G23", "thickness", "rho", *LIMITS, *STRENGTHS, "S13")


@dataclass(frozen=True, slots=True)
class Cloth:
    """A dry cloth: name, fibre, architecture, areal weight [kg/m2]."""

    name: str
    fibre: Fibre
    architecture: Architecture
    areal_weight: float


@dataclass(frozen=True, slots=True)
class Cured:
    """A cloth as laid: fibre fractions by mass and volume [-], thickness [m], mass per area [kg/m2], and why."""

    mass_fraction: float
    volume_fraction: float
    thickness: float
    areal_mass: float
    source: str


def cure(
    cloth: Cloth,
    *,
    resin: Resin,
    process: str | None = None,
    fibre_fraction: float | None = None,
    thickness: float | None = None,
) -> Cured:
    """The whole cloth once cured, without voids.

    Parameters
    ----------
    cloth, resin
        What is laid.
    process
        "hand", "hand complex", "bag" or "infusion": the usual mass fraction is taken.
    fibre_fraction
        Fibre mass fraction [-] instead of the usual one.
    thickness
        Measured cured thickness [m] instead of either: the fibre stays what was laid, the rest counts as resin.

    Raises
    ------
    CaseError
        If a fraction is outside 0 to 1, a thickness leaves no room for the fibre, or none or two of the three decide.
    """
    fibre, weight = cloth.fibre, cloth.areal_weight
    if weight <= 0:
        raise CaseError(f"{cloth.name}: areal weight {weight:g} kg/m^2 must be above zero")
    if thickness is not None and fibre_fraction is not None:
        raise CaseError(f"{cloth.name}: give the fibre fraction or the measured thickness, not both")
    if thickness is not None:
        solid = weight / fibre.density
        if thickness <= solid:
            raise CaseError(
                f"{cloth.name}: measured thickness {1e3 * thickness:.3g} mm is no more than the dry fibre's own "
                f"{1e3 * solid:.3g} mm; check the areal weight"
            )
        Vf = solid / thickness
        psi, source = micro.mass_fraction(Vf, fibre.density, resin.density), "from the measured thickness, coupon"
    else:
        if fibre_fraction is not None:
            psi, source = fibre_fraction, "given"
        elif process is not None:
            psi, source = mass_fraction(fibre, cloth.architecture, process)
            source = f'process "{process}": {source}'
        else:
            raise CaseError(f"{cloth.name}: give a process or a fibre fraction")
        if not 0 < psi < 1:
            raise CaseError(
                f"{cloth.name}: fibre fraction {psi:g} must lie between 0 and 1 (it is a share of the mass)"
            )
        Vf = micro.volume_fraction(psi, fibre.density, resin.density)
    if Vf > 0.8:
        raise CaseError(
            f"{cloth.name}: fibre volume fraction {Vf:.2f} cannot be reached; above 0.7 is rare even bagged"
        )
    cured = micro.cured_thickness(weight, Vf, fibre.density)
    density = micro.cured_density(Vf, fibre.density, resin.density)
    return Cured(psi, Vf, cured, cured * density, source)


def make_plies(
    cloth: Cloth,
    *,
    resin: Resin,
    process: str | None = None,
    fibre_fraction: float | None = None,
    coupons: Mapping[str, float] | None = None,
) -> tuple[tuple[float, Ply], ...]:
    """The cured layers of one cloth, from the face laid down.

    Parameters
    ----------
    cloth, resin, process, fibre_fraction
        As in `cure`.
    coupons
        Measured values that win over the formulas: any of `COUPONS`, SI. ``thickness`` and ``rho`` are the whole
        cloth's, everything else is a layer's in its own axes; a strength becomes a strain through the modulus.

    Returns
    -------
    tuple of (angle, Ply)
        Angle [rad] from the roll direction. A stitched biaxial cloth gives two layers, a triaxial three, any other one.

    Raises
    ------
    CaseError
        If a name or value is wrong, or the library lacks what was not given.
    """
    measured = dict(coupons or {})
    _check_coupons(cloth.name, measured)
    cured = cure(
        cloth, resin=resin, process=process, fibre_fraction=fibre_fraction, thickness=measured.pop("thickness", None)
    )
    kind = cloth.architecture.kind
    layer = LAYER_OF[kind](cloth.fibre, resin, cured.volume_fraction)
    ply = _ply(cloth, resin, cured, layer, process, measured)
    several = len(cloth.architecture.layers) > 1
    return tuple(
        (angle, replace(ply, thickness=share * cured.thickness) if several else ply)
        for angle, share in cloth.architecture.layers
    )


def _ply(
    cloth: Cloth,
    resin: Resin,
    cured: Cured,
    layer: micro.Layer,
    process: str | None,
    measured: Mapping[str, float],
) -> Ply:
    """One layer holding the whole cloth's thickness, coupon values put over the formulas."""
    kind, fibre = cloth.architecture.kind, cloth.fibre
    state = f"Vf {cured.volume_fraction:.3f} from mass fraction {cured.mass_fraction:.3f} [{cured.source}]"
    values = {f: getattr(layer, f) for f in ("E1", "E2", "G12", "nu12", "G13", "G23")}
    sources = {}
    for field, formula in FORMULA[kind].items():
        note = NOTE_MEMORY if field in ("G13", "G23") else NOTE
        sources[field] = f"{note}: {formula}; {state}"
    sources["thickness"] = f"areal weight / (fibre density x Vf), no voids; {state}"
    sources["rho"] = f"fibre and resin by volume, no voids; {state}"
    values |= {"thickness": cured.thickness, "rho": cured.areal_mass / cured.thickness}
    values |= {f: v for f, v in measured.items() if f in values}
    if "G12" in measured:  # the formulas tie these to G12; a measured one carries them along
        ratio = measured["G12"] / layer.G12
        values |= {f: getattr(layer, f) * ratio for f in ("G13", "G23") if f not in measured}

    candidates = _candidates(cloth, resin, layer, cured.mass_fraction, process, measured)
    governing = lowest(candidates)
    moduli = (values["E1"], values["E1"], values["E2"], values["E2"], values["G12"])
    for field, strength, modulus in zip(LIMITS, STRENGTHS, moduli, strict=True):
        if field in measured:
            governing[field] = (measured[field], "coupon")
        elif strength in measured:
            governing[field] = (measured[strength] / modulus, f"coupon: strength {measured[strength] / 1e6:.0f} MPa")
        values[field], sources[field] = governing[field]
    strength, source = interlaminar_strength(fibre, cured.mass_fraction)
    values["S13"], sources["S13"] = measured.get("S13", strength), source
    sources |= dict.fromkeys((f for f in measured if f in values), "coupon")
    others = tuple(c for c in candidates if c[1:] != governing[c[0]])
    fibre_text = tuple((f"fibre {f}", s) for f, s in fibre.sources)
    resin_text = tuple((f"resin {f}", s) for f, s in resin.sources)
    words = (*sources.items(), *fibre_text, *resin_text)
    matrix = Matrix(fibre, resin, cured.volume_fraction)
    return Ply(cloth.name, kind, **values, sources=words, other_limits=others, matrix=matrix)


def _candidates(
    cloth: Cloth,
    resin: Resin,
    layer: micro.Layer,
    psi: float,
    process: str | None,
    measured: Mapping[str, float],
) -> tuple[tuple[str, float, str], ...]:
    if all(f in measured or s in measured for f, s in zip(LIMITS, STRENGTHS, strict=True)):
        return ()  # everything was measured: the library need not know this fibre
    return limit_candidates(cloth.fibre, resin, cloth.architecture.kind, layer, mass_fraction=psi, process=process)


def _check_coupons(name: str, measured: Mapping[str, float]) -> None:
    faults = []
    for field, value in measured.items():
        if field not in COUPONS:
            faults.append(f'{name}: no coupon value "{field}"; {nearest(field, COUPONS)}')
        elif value <= 0:
            faults.append(f"{name}: coupon value {field} = {value:g} must be above zero")
    for field, strength in zip(LIMITS, STRENGTHS, strict=True):
        if field in measured and strength in measured:
            faults.append(f"{name}: give {field} or {strength}, not both")
    if faults:
        raise CaseError(faults)
