"""All files of a run, written whole or not at all."""

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from tubfem.findings.buckling import buckling_sentences
from tubfem.findings.modes import whole_words
from tubfem.findings.results import Findings
from tubfem.report import csv_files, figures, html, json_file, vtu
from tubfem.report.joint_figures import shear_flow_map
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
    progress: Callable[[str], None] | None = None,
) -> tuple[str, ...]:
    """Write report.html, results.json, two CSV, fields.vtu and the pictures into `out`; returns the files' names.

    Files of an earlier run are replaced together, other files in `out` are left alone, and if anything fails `out` is
    as it was.
    """
    tell = progress or (lambda _: None)

    def fill(folder: Path) -> None:
        tell("writing pictures")
        draw_all(folder, model, findings, changes)
        tell("writing files")
        csv_files.write_regions(folder / "regions.csv", findings)
        csv_files.write_joints(folder / "joints.csv", findings)
        csv_files.write_hard_points(folder / "hard_points.csv", findings)
        vtu.write_vtu(folder / "fields.vtu", model, findings)
        contents = json_file.results(model, findings, timings, version, changes)
        html.write_report(folder / REPORT, model, contents, findings, earlier=out)
        contents["files"] = sorted([RESULTS, *(file.name for file in folder.iterdir())])
        json_file.write_json(folder / RESULTS, contents)

    return write_together(out, fill)


def write_look(out: Path, model: TubModel, changes: tuple[str, ...] = (), *, version: str) -> tuple[str, ...]:
    """Draw the tub into `out`, as a picture and as a page; an earlier run's files stay. Returns the files' names."""

    def fill(folder: Path) -> None:
        figures.save(figures.region_map(model, changes), folder / LOOK)
        html.write_report(folder / LOOK_PAGE, model, json_file.about(model, version, changes))

    return write_together(out, fill, keep_earlier=True)


def draw_all(folder: Path, model: TubModel, findings: Findings, changes: tuple[str, ...] = ()) -> None:
    """The region map, for every load case its strain, margins, twist curve and first ripple, and the first modes."""
    figures.save(figures.region_map(model, changes), folder / "regions.png")
    for name, load_case in findings.load_cases.items():
        stem = "".join(c if c.isalnum() or c in "-_" else "_" for c in name)
        figures.save(figures.joint_strain(model, load_case, changes), folder / f"{stem}-strain.png")
        figures.save(figures.margin_map(model, load_case, changes), folder / f"{stem}-margins.png")
        figures.save(shear_flow_map(model, load_case, changes), folder / f"{stem}-joints.png")
        if load_case.torsion is not None:
            figures.save(figures.twist_curve(model, load_case, changes), folder / f"{stem}-twist.png")
        if load_case.buckling is not None and load_case.buckling.first is not None:
            shape, words = load_case.buckling.first.shape, buckling_sentences(load_case.buckling, load_case.torsion)
            figure = figures.mode_shape(model, f"First ripple, load case {name}", shape, words, changes)
            figures.save(figure, folder / f"{stem}-buckling.png")
    if findings.modes is not None:
        for what, mode in (("torsion", findings.modes.torsion), ("bending", findings.modes.bending)):
            if mode is not None:
                words = whole_words(what, mode, findings.modes)
                figure = figures.mode_shape(model, f"First {what} of the free tub", mode.motion, [words], changes)
                figures.save(figure, folder / f"mode-{what}.png")


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
