"""All files of a run, written whole or not at all."""

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from tubfem.errors import CaseError
from tubfem.findings.results import Findings
from tubfem.report import csv_files, drawing, html, json_file, review, vtu
from tubfem.report.artist import Artist
from tubfem.tub.model import TubModel

RESULTS, REPORT, LOOK, LOOK_PAGE = "results.json", "report.html", "look.png", "look.html"


def write_results(
    out: Path,
    model: TubModel,
    findings: Findings,
    timings: Mapping[str, float],
    *,
    version: str,
    changes: tuple[str, ...] = (),
    artist: Artist | None = None,
) -> tuple[str, ...]:
    """Write report.html, results.json, three CSV, fields.vtu and the pictures into `out`; returns the files' names.

    The `artist`, if there is one, was told of the region map before and draws the rest meanwhile. Files of an earlier
    run are replaced together, other files in `out` are left alone, and if anything fails `out` is as it was.
    """

    def fill(folder: Path) -> None:
        if artist is None:
            draw_all(folder, model, findings, changes)
        else:
            artist.go_on(findings)
        csv_files.write_regions(folder / "regions.csv", findings)
        csv_files.write_joints(folder / "joints.csv", findings)
        csv_files.write_hard_points(folder / "hard_points.csv", findings)
        if model.frames:
            csv_files.write_tubes(folder / "tubes.csv", findings)
        vtu.write_vtu(folder / "fields.vtu", model, findings)
        contents = json_file.results(model, findings, timings, version, changes)
        contents |= {"computed_by": review.versions(version), "since": review.since(out, contents)}
        texts = review.file_texts(model.case)
        write_page(folder, contents, model, findings, texts, beside=out)
        drawing.write_drawing(folder / drawing.FILE, model, findings, texts)
        if artist is not None:
            artist.deliver(folder)
        contents["files"] = sorted([RESULTS, *(file.name for file in folder.iterdir())])
        json_file.write_json(folder / RESULTS, contents)

    return write_together(out, fill)


def renew_page(out: Path) -> tuple[str, ...]:
    """Write report.html of a run again, with the studies that lie beside it now.

    Returns
    -------
    Its name; nothing where no run is, or one that this version cannot read
    """
    try:
        contents = json.loads((out / RESULTS).read_text(encoding="utf-8"))
        drawn = drawing.read_drawing(out / drawing.FILE)
    except (OSError, ValueError, CaseError):
        return ()
    return write_together(out, lambda folder: write_page(folder, contents, *drawn, beside=out), keep_earlier=True)


def write_page(
    folder: Path,
    contents: Mapping[str, Any],
    model: TubModel,
    findings: Findings,
    texts: list[tuple[str, str]],
    *,
    beside: Path,
) -> None:
    """Write the page of a run into `folder`, with the studies that lie in `beside`."""
    html.write_report(folder / REPORT, model, contents, findings, beside=beside, texts=texts)


def write_look(out: Path, model: TubModel, changes: tuple[str, ...] = (), *, version: str) -> tuple[str, ...]:
    """Draw the tub into `out`, as a picture and as a page; an earlier run's files stay. Returns the files' names."""

    def fill(folder: Path) -> None:
        from tubfem.report import figures  # drawing takes long to import, and a run has it done elsewhere

        figures.save(figures.region_map(model, changes), folder / LOOK)
        html.write_report(folder / LOOK_PAGE, model, json_file.about(model, version, changes))

    return write_together(out, fill, keep_earlier=True)


def draw_all(folder: Path, model: TubModel, findings: Findings, changes: tuple[str, ...] = ()) -> None:
    """Every picture of a run, in this process."""
    from tubfem.report.pictures import draw_found, draw_regions

    draw_regions(folder, model, changes)
    draw_found(folder, model, findings, changes)


def write_together(out: Path, fill: Callable[[Path], None], *, keep_earlier: bool = False) -> tuple[str, ...]:
    """Let `fill` write into a new folder beside `out`, then move all its files into `out` at once.

    Files named in an earlier results.json go, unless `keep_earlier`; a fault on the way puts everything back.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as work:
        new, old = Path(work, "new"), Path(work, "old")
        new.mkdir()
        old.mkdir()
        fill(new)
        names = sorted(file.name for file in new.iterdir())
        made = not out.exists()
        out.mkdir(exist_ok=True)
        moved: list[tuple[Path, Path]] = []
        try:
            for name in sorted({*names, *(() if keep_earlier else _earlier(out))}):
                if (out / name).exists():
                    moved.append(((out / name), (old / name)))
                    (out / name).rename(old / name)
            for name in names:
                moved.append(((new / name), (out / name)))
                (new / name).rename(out / name)
        except BaseException:
            for before, after in reversed(moved):
                if after.exists():
                    after.rename(before)
            if made:
                shutil.rmtree(out)
            raise
    return tuple(names)


def _earlier(out: Path) -> list[str]:
    """Files that an earlier run wrote into `out`, as its results.json lists them."""
    try:
        names = json.loads((out / RESULTS).read_text(encoding="utf-8"))["files"]
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return [name for name in names if isinstance(name, str) and Path(name).name == name and (out / name).is_file()]
