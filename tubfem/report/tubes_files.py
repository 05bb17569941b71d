"""Tubes of subframes and stiffeners for results.json and tubes.csv."""

from typing import Any

from tubfem.findings.results import Findings
from tubfem.findings.tube_results import FrameFindings, TubeFinding

TUBE_HEADINGS = (
    "load_case",
    "frame",
    "tube",
    "size",
    "material",
    "length_m",
    "mass_kg",
    "strain_energy_share",
    "normal_N",
    "torque_Nm",
    "bending_Nm",
    "shear_N",
    "stress_Pa",
    "allowable_Pa",
    "strength_margin",
    "column_load_N",
    "column_margin",
)


def frame_entries(frames: dict[str, FrameFindings], family: str) -> dict[str, Any]:
    """Every frame of a family ("subframes", "stiffeners") by its name, with its tubes."""
    return {
        frame.name.removeprefix(f"{family}."): {
            "mass": frame.mass,
            "strain_energy_share": frame.energy_share,
            "worst": _tube(frame.worst),
            "tubes": [_tube(tube) for tube in frame.tubes],
        }
        for frame in frames.values()
        if frame.name.startswith(f"{family}.")
    }


def _tube(tube: TubeFinding) -> dict[str, Any]:
    return {
        "tube": tube.label,
        "size": tube.size,
        "material": tube.material,
        "length": tube.length,
        "mass": tube.mass,
        "strain_energy_share": tube.energy_share,
        "normal": tube.normal,
        "torque": tube.torque,
        "bending": tube.bending,
        "shear": tube.shear,
        "stress": tube.stress,
        "allowable": tube.allowable,
        "strength_margin": tube.strength_margin,
        "column_load": tube.column,
        "column_margin": tube.column_margin,
        "margin": tube.margin,
        "governs": tube.governs,
    }


def tube_rows(findings: Findings) -> list[tuple[object, ...]]:
    """A row for every tube in every load case, under `TUBE_HEADINGS`."""
    return [
        (
            load_case.name,
            frame.name,
            tube.label,
            tube.size,
            tube.material,
            tube.length,
            tube.mass,
            tube.energy_share,
            tube.normal,
            tube.torque,
            tube.bending,
            tube.shear,
            tube.stress,
            tube.allowable,
            tube.strength_margin,
            tube.column,
            tube.column_margin,
        )
        for load_case in findings.load_cases.values()
        for frame in load_case.frames.values()
        for tube in frame.tubes
    ]
