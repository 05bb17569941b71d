"""next_ply.json and its bar chart."""

from pathlib import Path
from typing import Any

from tubfem.report.json_file import plain
from tubfem.report.next_ply_figure import best_places
from tubfem.report.study_files import write_study
from tubfem.study.next_ply import Candidate, NextPly

SCHEMA = 1


def write_next_ply(out: Path, found: NextPly, *, version: str) -> tuple[str, ...]:
    """Write next_ply.json and next_ply.png into `out`, both or neither; returns their names."""
    ranking = contents(found, version)
    return write_study(out, "next_ply", ranking, best_places(ranking))


def contents(found: NextPly, version: str) -> dict[str, Any]:
    """The ranking ready for JSON; `change` is the text that --add takes."""
    return plain(
        {
            "schema": SCHEMA,
            "tubfem_version": version,
            "case": {"title": found.case.title, "path": found.case.path},
            "load_case": found.load_case,
            "goal": found.goal,
            "per": found.per,
            "base": {
                "stiffness_Nm_per_deg": found.stiffness,
                "mass": found.mass,
                "worst_margin": found.margin,
                "worst_region": found.region,
            },
            "rows": [_row(found, candidate) for candidate in found.candidates],
        }
    )


def _row(found: NextPly, candidate: Candidate) -> dict[str, Any]:
    return {
        "change": candidate.text,
        "stiffness_Nm_per_deg": candidate.stiffness,
        "gain_Nm_per_deg": candidate.gain,
        "gain_percent": candidate.gain_percent,
        "no_gain": candidate.no_gain,
        "mass": found.mass + candidate.mass,
        "mass_added": candidate.mass,
        "gain_per_kg": candidate.gain_per_kg,
        "price": candidate.price,
        "currency": candidate.currency,
        "gain_per_price": candidate.gain_per_price,
        "length": candidate.length,
        "enough_on_hand": candidate.enough,
        "worst_margin": candidate.worst_margin,
        "worst_region": candidate.worst_region,
        "worst_kind": candidate.worst_kind,
        "error_estimate": candidate.error_estimate,
        "confirmed": candidate.confirmed is not None,
        "confirmed_stiffness_Nm_per_deg": candidate.confirmed,
        "confirmed_worst_margin": candidate.confirmed_margin,
    }
