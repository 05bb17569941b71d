"""The pictures of a run, each a file."""

from pathlib import Path

from tubfem.findings.buckling import buckling_sentences
from tubfem.findings.modes import whole_words
from tubfem.findings.results import Findings
from tubfem.report import figures
from tubfem.report.joint_figures import shear_flow_map
from tubfem.tub.model import TubModel


def draw_regions(folder: Path, model: TubModel, changes: tuple[str, ...] = ()) -> None:
    """The region map."""
    figures.save(figures.region_map(model, changes), folder / "regions.png")


def draw_found(folder: Path, model: TubModel, findings: Findings, changes: tuple[str, ...] = ()) -> None:
    """For every load case its strain, margins, joints, twist curve and first ripple; and the first modes."""
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
