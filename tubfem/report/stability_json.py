"""Buckling and natural modes for results.json."""

from typing import Any

from tubfem.findings.stability_results import BayCheck, BucklingFindings, BucklingMode, ModesFindings, WholeMode


def buckling_entry(buckling: BucklingFindings | None) -> dict[str, Any] | None:
    """Lowest factor with its region and sign, then every sign and every bay; None where buckling was not asked."""
    if buckling is None:
        return None
    first = buckling.first
    return {
        "factor": None if first is None else first.factor,
        "region": None if first is None else first.region,
        "sign": None if first is None else first.sign,
        "margin": None if first is None else first.margin,
        "required": buckling.required,
        "modes": [_buckling_mode(mode) for mode in buckling.modes],
        "bays": [_bay(bay) for bay in buckling.bays],
    }


def modes_entry(modes: ModesFindings | None) -> dict[str, Any] | None:
    """Natural modes in order, first torsion and bending; None where modes were not asked."""
    if modes is None:
        return None
    return {
        "mass": modes.mass,
        "carried_mass": modes.carried_mass,
        "first_torsion": _whole(modes.torsion),
        "first_bending": _whole(modes.bending),
        "modes": [
            {
                "frequency_Hz": mode.frequency,
                "shape": mode.shape,
                "kinetic_energy": {
                    "sections": mode.shares,
                    "directions": dict(zip("xyz", mode.directions, strict=True)),
                    "regions": mode.regions,
                    "carried": mode.carried,
                },
            }
            for mode in modes.modes
        ],
    }


def _buckling_mode(mode: BucklingMode) -> dict[str, Any]:
    return {
        "sign": mode.sign,
        "factor": mode.factor,
        "factor_upper": mode.upper,
        "margin": mode.margin,
        "region": mode.region,
        "panel": mode.panel,
        "position": mode.position,
        "energy_share": mode.share,
        "hand": None if mode.hand is None else _bay(mode.hand),
    }


def _bay(bay: BayCheck) -> dict[str, Any]:
    return {
        "name": bay.name,
        "region": bay.region,
        "a": bay.a,
        "b": bay.b,
        "fill": bay.fill,
        "rise": bay.rise,
        "load": {"along": bay.along, "across": bay.across, "shear": bay.shear},
        "critical": {"along": bay.along_critical, "across": bay.across_critical, "shear": bay.shear_critical},
        "factor": bay.factors[0],
        "factor_reversed": bay.factors[1],
    }


def _whole(mode: WholeMode | None) -> dict[str, Any] | None:
    if mode is None:
        return None
    number = None if mode.mode is None else mode.mode + 1
    return {"frequency_Hz": mode.frequency, "mode": number, "likeness": mode.likeness}
