"""spread.json and its picture."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tubfem.case.digest import case_digest
from tubfem.report.json_file import plain
from tubfem.report.spread_earlier import SCHEMA
from tubfem.report.spread_figure import spread_figure
from tubfem.report.study_files import write_study
from tubfem.study.spread import Outcome, Spread

DIGITS = 6  # of every tub's stiffness


def write_spread(out: Path, spread: Spread, *, version: str) -> tuple[str, ...]:
    """Write spread.json and spread.png into `out`, both or neither; returns their names."""
    found = contents(spread, version)
    return write_study(out, "spread", found, spread_figure(found))


def contents(spread: Spread, version: str) -> dict[str, Any]:
    """A spread ready for JSON; shares and errors are numbers between 0 and 1, estimates may lie a hair outside.

    `values` are the stiffness of every tub drawn, for the picture.
    """
    case = spread.case
    return plain(
        {
            "schema": SCHEMA,
            "tubfem_version": version,
            "case": {"title": case.title, "path": case.path, "sha256": case_digest(case)},
            "load_case": spread.load_case,
            "samples": spread.samples,
            "evaluations": spread.evaluations,
            "seed": spread.seed,
            "base": {
                "stiffness_Nm_per_deg": spread.stiffness_now,
                "margins": spread.margins_now,
                "joint_margins": spread.joints_now,
            },
            "stiffness": {
                **_outcome(spread.stiffness),
                "tub_alone": dict(zip(("low", "middle", "high"), spread.tub_alone, strict=True)),
                "mesh": {"low": spread.mesh.low, "high": spread.mesh.high, "words": spread.mesh.words},
                "values": [float(f"{value:.{DIGITS}g}") for value in spread.stiffness.values],
                "single_variables": [{"name": name, "share": share} for name, share in spread.single],
            },
            "regions": _margins(spread.regions),
            "joints": _margins(spread.joints),
            "measurements": [
                {
                    "cause": d.cause.key,
                    "measure": d.cause.measure,
                    "sd_left": d.measured * spread.stiffness.sd,
                    "sd_left_share": d.measured,
                }
                for d in sorted(spread.stiffness.drivers, key=lambda d: d.measured)
            ],
            "causes": [
                {"key": c.key, "name": c.name, "scatter": c.scatter if c.key != "mesh" else None, "source": c.source}
                for c in spread.causes
            ],
            "common": case.spread.common,
            "confirmations": [
                {
                    "draw": one.what,
                    "stiffness_Nm_per_deg": one.stiffness,
                    "stiffness_in_full_Nm_per_deg": one.stiffness_full,
                    "place": one.place,
                    "margin": one.margin,
                    "margin_in_full": one.margin_full,
                }
                for one in spread.confirmations
            ],
        }
    )


def _margins(outcomes: Mapping[str, Outcome]) -> dict[str, Any]:
    return {
        name: {
            "margin": dict(zip(("low", "middle", "high"), found.margins, strict=True)),
            "negative": found.negative,
            "drivers": _drivers(found),
        }
        for name, found in outcomes.items()
    }


def _outcome(found: Outcome) -> dict[str, Any]:
    low, middle, high = found.quantiles
    return {
        "low": low,
        "middle": middle,
        "high": high,
        "sampling_error": dict(zip(("low", "middle", "high"), found.errors, strict=True)),
        "mean": found.mean,
        "standard_deviation": found.sd,
        "drivers": _drivers(found),
    }


def _drivers(found: Outcome) -> list[dict[str, Any]]:
    return [
        {
            "cause": d.cause.key,
            "name": d.cause.name,
            "first": d.first,
            "first_error": d.first_error,
            "total": d.total,
            "total_error": d.total_error,
        }
        for d in found.drivers
    ]
