"""The pictures of a run, each a file."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from tubfem.findings.buckling import buckling_sentences
from tubfem.findings.modes import whole_words
from tubfem.findings.results import Findings
from tubfem.report import figures
from tubfem.report.joint_figures import shear_flow_map
from tubfem.tub.model import TubModel

Picture = tuple[str, Callable[[], figures.Figure]]  # its name, and what draws it


def draw_regions(folder: Path, model: TubModel, changes: tuple[str, ...] = ()) -> None:
    """The region map."""
    figures.save(figures.region_map(model, changes), folder / "regions.png")


def draw_found(
    folder: Path,
    model: TubModel,
    findings: Findings,
    changes: tuple[str, ...] = (),
    *,
    share: slice = slice(None),
) -> None:
    """For every load case its strain, margins, joints, twist curve and first ripple; and the first modes.

    `share` picks some of these pictures, in that order.
    """
    for name, draw in _pictures(model, findings, changes)[share]:
        figures.save(draw(), folder / f"{name}.png")


def _pictures(model: TubModel, findings: Findings, changes: tuple[str, ...]) -> list[Picture]:
    """Name of every picture of what was found, and what draws it."""
    found: list[Picture] = []
    for name, load_case in findings.load_cases.items():
        stem = "".join(c if c.isalnum() or c in "-_" else "_" for c in name)
        of_case = (model, load_case, changes)
        found.append((f"{stem}-strain", partial(figures.joint_strain, *of_case)))
        found.append((f"{stem}-margins", partial(figures.margin_map, *of_case)))
        if load_case.torsion is not None:
            found.append((f"{stem}-twist", partial(figures.twist_curve, *of_case)))
        found.append((f"{stem}-joints", partial(shear_flow_map, *of_case)))
        if load_case.buckling is not None and load_case.buckling.first is not None:
            shape, words = load_case.buckling.first.shape, buckling_sentences(load_case.buckling, load_case.torsion)
            what = f"First ripple, load case {name}"
            found.append((f"{stem}-buckling", partial(figures.mode_shape, model, what, shape, words, changes)))
    if findings.modes is not None:
        for kind, mode in (("torsion", findings.modes.torsion), ("bending", findings.modes.bending)):
            if mode is not None:
                words, what = [whole_words(kind, mode, findings.modes)], f"First {kind} of the free tub"
                found.append((f"mode-{kind}", partial(figures.mode_shape, model, what, mode.motion, words, changes)))
    return found
