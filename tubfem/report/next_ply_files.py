"""next_ply.json and its bar chart."""

from pathlib import Path
from typing import Any

from tubfem.report.json_file import plain
from tubfem.report.next_ply_figure import best_places
from tubfem.report.schemas import SCHEMAS
from tubfem.report.study_files import write_study
from tubfem.study.next_ply import Candidate, NextPly
from tubfem.study.weakest import NOTHING, Weakest


def write_next_ply(out: Path, found: NextPly, *, version: str) -> tuple[str, ...]:
    """Write next_ply.json and next_ply.png into `out`, both or neither; returns their names."""
    ranking = contents(found, version)
    return write_study(out, "next_ply", ranking, best_places(ranking))


def contents(found: NextPly, version: str) -> dict[str, Any]:
    """The ranking ready for JSON; `change` is the text that --add takes."""
    return plain(
        {
            "schema": SCHEMAS["next_ply"],
            "tubfem_version": version,
            "case": {"title": found.case.title, "path": found.case.path},
            "load_case": found.load_case,
            "goal": found.goal,
            "per": found.per,
            "base": {
                "stiffness_Nm_per_deg": found.stiffness,
                "mass": found.mass,
                **_weakest(found.weakest),
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
        **_weakest(candidate.weakest),
        "error_estimate": candidate.error_estimate,
        "confirmed": candidate.confirmed is not None,
        "confirmed_stiffness_Nm_per_deg": candidate.confirmed,
        **{f"confirmed_{key}": value for key, value in _weakest(candidate.confirmed_weakest).items()},
    }


def _weakest(found: Weakest | None) -> dict[str, Any]:
    """What governs, region or joint; and the lowest of either."""
    if found is None:
        return dict.fromkeys(_weakest(Weakest(NOTHING, NOTHING)))
    (region_margin, region, _), (joint_margin, joint, joint_kind) = found.region, found.joint
    return {
        "worst_margin": found.margin,
        "worst_place": found.place,
        "worst_kind": found.kind,
        "worst_region": region,
        "worst_region_margin": region_margin,
        "worst_joint": joint,
        "worst_joint_margin": joint_margin,
        "worst_joint_kind": joint_kind,
    }
