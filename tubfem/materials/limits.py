"""Breaking strains of a cloth's layer: every known limit that applies, the lowest governs, the others stay in sight."""

from math import inf

from tubfem.errors import CaseError
from tubfem.materials.library import Fibre, Kind, Resin
from tubfem.materials.micromechanics import Layer
from tubfem.materials.ply import LIMITS
from tubfem.materials.tables import read_table, to_si

STRENGTH_OF = {"e1t": "X1t", "e1c": "X1c", "e2t": "X1t", "e2c": "X1c", "g12": "S12"}  # balanced layers: 2 is as 1


def limit_candidates(
    fibre: Fibre, resin: Resin, kind: Kind, layer: Layer, *, mass_fraction: float, process: str | None
) -> tuple[tuple[str, float, str], ...]:
    """Every limit that applies to a layer, as (field of `LIMITS`, strain [-], source).

    Parameters
    ----------
    fibre, resin, kind, layer
        What the layer is and its elastic constants.
    mass_fraction
        Fibre mass fraction [-], the variable of the strength formulas.
    process
        Laying process, or None if the fraction was given; some limits belong to hand work only.

    Raises
    ------
    CaseError
        If the library has no breaking strains for this fibre as this kind of layer.
    """
    strains = [e for e in read_table("limits")["strain"] if (e["fibre"], e["kind"]) == (fibre.name, kind)]
    if not strains:
        raise CaseError(f"no breaking strains are known for {fibre.name} as a {kind} layer; give e1t e1c e2t e2c g12")
    found = []
    factor = resin.strain_factor
    for entry in strains:
        values = to_si(entry)
        by_resin = "" if factor == 1.0 else f", x {factor:g} for {resin.name} [{dict(resin.sources)['strain_factor']}]"
        found += [(field, values[field] * factor, entry["source"] + by_resin) for field in LIMITS]
    for entry in read_table("limits")["strength"]:
        if (entry["fibre"], entry["kind"]) != (fibre.name, kind):
            continue
        if "processes" in entry and process is not None and process not in entry["processes"]:
            continue
        found += _from_strengths(entry, kind, layer, mass_fraction)
    return tuple(found)


def other_moduli(fibre: Fibre, kind: Kind, mass_fraction: float) -> tuple[tuple[str, float, str], ...]:
    """(E1 or G12, modulus [Pa], source) that the strength formulas' own source gives; shown as the spread, not used."""
    found = []
    for entry in read_table("limits")["strength"]:
        if (entry["fibre"], entry["kind"]) == (fibre.name, kind):
            values = to_si(entry)
            found += [(f, _at(values[f], mass_fraction), entry["source"]) for f in ("E1", "G12") if f in values]
    return tuple(found)


def interlaminar_strength(fibre: Fibre, mass_fraction: float) -> tuple[float, str]:
    """Interlaminar shear strength [Pa] of hand-laid cloth of a fibre's family, and its source."""
    entry = read_table("limits")["interlaminar"][fibre.family]
    return _at(to_si(entry)["S13"], mass_fraction), entry["source"]


def lowest(candidates: tuple[tuple[str, float, str], ...]) -> dict[str, tuple[float, str]]:
    """For each field of `LIMITS` the lowest strain [-] and its source; infinity where none is known."""
    best = {field: (inf, "none known") for field in LIMITS}
    for field, strain, source in candidates:
        if strain < best[field][0]:
            best[field] = (strain, source)
    return best


def _from_strengths(entry: dict, kind: Kind, layer: Layer, psi: float) -> list[tuple[str, float, str]]:
    """Strains from one row of strength polynomials; across a unidirectional layer such rows say nothing."""
    values = to_si(entry)
    own = {"E1": layer.E1, "G12": layer.G12}

    found = []
    for limit, strength in STRENGTH_OF.items():
        if strength not in values or (kind == "unidirectional" and limit in ("e2t", "e2c")):
            continue
        modulus = "G12" if limit == "g12" else "E1"
        stiffness = _at(values[modulus], psi) if modulus in values else own[modulus]
        whose = "its own" if modulus in values else "this ply's"
        X = _at(values[strength], psi)
        text = f"{X / 1e6:.0f} MPa over {whose} {modulus} {stiffness / 1e9:.1f} GPa: {entry['source']}"
        found.append((limit, X / stiffness, text))
    return found


def _at(polynomial: tuple[float, ...], psi: float) -> float:
    """A polynomial, lowest power first, at the fibre mass fraction."""
    return sum(c * psi**n for n, c in enumerate(polynomial))
