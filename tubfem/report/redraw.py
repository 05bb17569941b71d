"""A folder's pictures and page once more, from its JSON files alone; nothing is meshed or solved."""

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from tubfem.errors import CaseError, TubfemError
from tubfem.report import drawing
from tubfem.report.compare_figures import overlaid_twist
from tubfem.report.figures import save
from tubfem.report.files import RESULTS, draw_all, write_page, write_together
from tubfem.report.next_ply_figure import best_places
from tubfem.report.refinement import refinement_figure
from tubfem.report.schedule_figure import plies_by_region
from tubfem.report.spread_figure import spread_figure

STUDIES: dict[str, Callable[[Mapping[str, Any]], Figure]] = {
    "compare": overlaid_twist,
    "next_ply": best_places,
    "refine": refinement_figure,
    "schedule": plies_by_region,
    "spread": spread_figure,
}


def redraw(out: Path) -> tuple[str, ...]:
    """Draw everything in a folder again: the run's pictures and page, and the picture of every study there.

    Returns
    -------
    Names of the files written

    Raises
    ------
    CaseError
        The folder has neither a run nor a study, or a file that cannot be read by this version.
    """
    studies = {name: found for name in STUDIES if (found := _read(out / f"{name}.json")) is not None}
    contents = _read(out / RESULTS)
    if contents is None and not studies:
        raise CaseError(f"{out}: no {RESULTS} and no study in it; tubfem run writes one")

    def fill(folder: Path) -> None:
        if contents is not None:
            model, findings, texts = drawing.read_drawing(out / drawing.FILE)
            changes = tuple(contents["case"]["changes"])
            draw_all(folder, model, findings, changes)
            write_page(folder, contents, model, findings, texts, beside=out)
        for name, found in studies.items():
            try:
                save(STUDIES[name](found), folder / f"{name}.png")
            except (LookupError, TypeError, ValueError, TubfemError) as error:
                raise CaseError(f"{out / name}.json: cannot be read by this version; run the study again") from error

    return write_together(out, fill, keep_earlier=True)


def _read(path: Path) -> dict[str, Any] | None:
    """What a JSON file holds; None without one."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except ValueError as error:
        raise CaseError(f"{path}: not JSON") from error
