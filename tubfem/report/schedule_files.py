"""schedule.json and its picture."""

import math
from pathlib import Path
from typing import Any

from tubfem.report.json_file import plain
from tubfem.report.schedule_figure import plies_by_region
from tubfem.report.schemas import SCHEMAS
from tubfem.report.study_files import write_study
from tubfem.study.options import entries_of
from tubfem.study.schedule import Scheduled


def write_schedule(out: Path, found: Scheduled, *, version: str) -> tuple[str, ...]:
    """Write schedule.json and schedule.png into `out`, both or neither; returns their names."""
    schedule = contents(found, version)
    return write_study(out, "schedule", schedule, plies_by_region(schedule))


def contents(found: Scheduled, version: str) -> dict[str, Any]:
    """The schedule ready for JSON; `add` and `drop` hold the texts that --add and --drop take."""
    return plain(
        {
            "schema": SCHEMAS["schedule"],
            "tubfem_version": version,
            "case": {"title": found.case.title, "path": found.case.path},
            "load_case": found.load_case,
            "target_Nm_per_deg": found.target,
            "least": found.asked.least if found.target is not None else None,
            "reached": found.reached,
            "base": {
                "stiffness_Nm_per_deg": found.base_stiffness,
                "mass": found.before.mass.total,
                "worst_margin": found.base_margin,
            },
            "add": list(found.texts),
            "drop": list(found.drops),
            "regions": found.plies,
            "laid": [_laid(found, region) for region in found.plies],
            "stiffness_Nm_per_deg": found.confirmed,
            "bracket": {"low": found.low, "high": found.high},
            "worst_margin": found.margin,
            "worst_place": found.place or None,
            "weaker": found.weaker,
            "mass_added": found.mass,
            "price": found.price,
            "currency": found.currency,
            "cloth": found.cloth,
            "cloth_left_out": found.saved,
            "waste": found.asked.waste,
            "worth": found.worth,
            "bound": found.bound if math.isfinite(found.bound) else None,
            "summed_Nm_per_deg": found.summed,
            "blocks": [
                {
                    "kind": block.kind,
                    "name": block.name,
                    "twist_share": block.share,
                    "at_most_plies": block.full,
                    "stiffness_if_ten_times_as_stiff": block.stiffness,
                }
                for block in found.blocks
            ],
            "search": {"choices": found.choices, "programs": found.programs, "snapshots": found.snapshots},
        }
    )


def _laid(found: Scheduled, region: str) -> dict[str, Any]:
    """Plies of a place as it was and as chosen, nothing else that covers it counted, and what to lay or leave out."""
    before = sum(entry.count for entry in entries_of(found.case, region) if not entry.is_core)
    words = {
        key: ", ".join(text.partition("=")[2] for text in texts if text.startswith(f"{region}="))
        for key, texts in (("lay", found.texts), ("leave_out", found.drops))
    }
    return {"region": region, "plies_before": before, "plies": before + found.plies[region], **words}
