"""Pictures are made, are not blank, and carry title, units and the caution."""

import matplotlib.image
import numpy as np
import pytest
import report_builders

from tubfem.report import figures


@pytest.fixture(scope="module")
def report():
    return report_builders.small_report(3)


def drawn(name, report):
    model, findings = report
    load_case = findings.load_cases["torsion"]
    makers = {
        "regions": lambda: figures.region_map(model),
        "margins": lambda: figures.margin_map(model, load_case),
        "strain": lambda: figures.joint_strain(model, load_case),
        "twist": lambda: figures.twist_curve(model, load_case),
    }
    return makers[name]()


def texts(figure):
    found = [text.get_text() for text in figure.texts]
    for axes in figure.axes:
        found += [axes.get_xlabel(), axes.get_ylabel(), *(text.get_text() for text in axes.texts)]
        legend = axes.get_legend()
        found += [text.get_text() for text in legend.get_texts()] if legend is not None else []
    return "\n".join(found)


@pytest.mark.parametrize("name", ["regions", "margins", "strain", "twist"])
def test_picture_is_not_blank_and_says_what_it_is_not(name, report, tmp_path):
    figure = drawn(name, report)
    words = texts(figure)
    assert "Small tub (invented)" in words
    assert figures.CAUTION in words
    figures.save(figure, tmp_path / "picture.png")
    pixels = matplotlib.image.imread(tmp_path / "picture.png")[:, :, :3]
    inked = (pixels < 0.97).any(axis=2)
    assert 0.05 < inked.mean() < 0.8
    assert len(np.unique((pixels[::4, ::4] * 15).astype(int) @ [256, 16, 1])) > 10


def test_every_region_is_in_the_legend_by_number(report):
    figure = drawn("regions", report)
    found = [a for axes in figure.axes for a in axes.get_children() if type(a).__name__ == "Legend"]
    words = [text.get_text() for legend in found for text in legend.get_texts()]
    assert [f"{k + 1}  {name}" for k, name in enumerate(report[1].regions)] == words[: len(report[1].regions)]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("strain", "microstrain"),
        ("strain", "displacements drawn"),
        ("margins", "margin ="),
        ("twist", "twist, degrees"),
    ],
)
def test_units_are_written(name, unit, report):
    assert unit in texts(drawn(name, report))


def test_changes_of_the_command_line_are_in_the_heading(report):
    assert "--without floor" in texts(figures.region_map(report[0], ("--without floor",)))


def test_the_softest_bay_is_named(report):
    assert "softest bay" in texts(drawn("twist", report))


def test_twist_needs_torsion(report):
    model, findings = report
    static = report_builders.without_torsion(findings.load_cases["torsion"])
    with pytest.raises(ValueError, match="torsion"):
        figures.twist_curve(model, static)
