"""A spread as a picture, from spread.json: how many tubs lie where, and what drives it."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from tubfem.report.bars import quiet_axes
from tubfem.report.figures import CAUTION, INK, QUIET
from tubfem.report.numbers import margin, three

BLUE, ORANGE, PALE = "#0077bb", "#ee7733", "#bcd9e6"
PLACES = 12
PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}  # behind a number, over lines


def spread_figure(found: Mapping[str, Any]) -> Figure:
    """Histogram of the stiffness with its running total, the drivers as bars, margins of regions and joints."""
    figure = Figure(figsize=(12.5, 8.2))
    FigureCanvasAgg(figure)
    figure.text(0.03, 0.965, "How sure is it?", fontsize=15, weight="bold", color=INK, va="center")
    figure.text(0.03, 0.932, found["case"]["title"], fontsize=10, color=QUIET, va="center")
    figure.text(0.03, 0.012, CAUTION, fontsize=8, color=QUIET)
    _histogram(figure.add_axes((0.07, 0.55, 0.35, 0.31)), found["stiffness"], found["base"]["stiffness_Nm_per_deg"])
    _bars(figure.add_axes((0.69, 0.55, 0.28, 0.31)), found["stiffness"]["drivers"])
    joints = {f"joint {name}": each for name, each in found["joints"].items()}
    now = {f"joint {name}": margin for name, margin in found["base"]["joint_margins"].items()}
    _margins(figure.add_axes((0.2, 0.1, 0.77, 0.33)), found["regions"] | joints, found["base"]["margins"] | now)
    return figure


def _histogram(axes: Axes, found: Mapping[str, Any], now: float) -> None:
    low, middle, high = (found[name] for name in ("low", "middle", "high"))
    values = np.array(found["values"])
    edges = np.histogram_bin_edges(values, bins="fd")
    axes.axvspan(low, high, color=PALE, alpha=0.5, linewidth=0)
    axes.hist(values, bins=edges, color=BLUE, weights=np.full(len(values), 100 / len(values)))
    axes.axvline(now, color=INK, linewidth=1.6)
    axes.set_xlabel("stiffness, N·m/deg (line: the run's own number)")
    axes.set_ylabel("tubs, %", color=BLUE)
    total = axes.twinx()
    ordered = np.sort(values)
    total.plot(ordered, 100 * (np.arange(len(ordered)) + 0.5) / len(ordered), color=ORANGE, linewidth=2)
    total.set_ylim(0, 100)
    total.set_ylabel("tubs below, %", color=ORANGE)
    axes.set_title(
        f"nine of ten between {three(low)} and {three(high)}, middle {three(middle)}", fontsize=10, loc="left"
    )
    quiet_axes(axes)
    total.spines["top"].set_visible(False)


def _bars(axes: Axes, drivers: Sequence[Mapping[str, Any]]) -> None:
    rows = np.arange(len(drivers))
    total = [100 * max(d["total"], 0.0) for d in drivers]
    errors = [100 * d["total_error"] for d in drivers]
    axes.barh(rows, total, height=0.75, color=PALE, xerr=errors, ecolor=QUIET, label="with all that goes with it")
    axes.barh(rows, [100 * max(d["first"], 0.0) for d in drivers], height=0.45, color=BLUE, label="alone")
    axes.set_yticks(rows, [d["name"] for d in drivers], fontsize=8.5)
    axes.invert_yaxis()
    axes.set_xlabel("share of the stiffness variance, % (whiskers: sampling error)", loc="right")
    axes.set_title("what drives the stiffness", fontsize=10, loc="left")
    axes.legend(frameon=False, fontsize=8.5, loc="lower right")
    quiet_axes(axes)


def _margins(axes: Axes, places: Mapping[str, Any], now: Mapping[str, float]) -> None:
    worst = sorted(places.items(), key=lambda each: each[1]["margin"]["low"])[:PLACES]
    for row, (name, found) in enumerate(worst):
        low, middle, high = (found["margin"][end] for end in ("low", "middle", "high"))
        colour = ORANGE if low < 0 else BLUE
        axes.plot([low, high], [row, row], color=colour, linewidth=6, solid_capstyle="butt", alpha=0.45)
        axes.plot([middle], [row], marker="|", markersize=13, markeredgewidth=2, color=colour)
        if now.get(name) is not None:
            axes.plot([now[name]], [row], marker="o", markersize=5, color=INK)
        where = {"textcoords": "offset points", "ha": "right", "va": "center"}
        axes.annotate(margin(low), (low, row), (-4, 0), fontsize=8, bbox=PAPER, **where)
    axes.set_yticks(range(len(worst)), [name for name, _ in worst], fontsize=8.5)
    axes.set_ylim(len(worst) - 0.5, -0.5)
    axes.axvline(0, color=INK, linewidth=1)
    axes.margins(x=0.08)
    axes.set_xlabel("margin (0 is just enough)")
    axes.set_title(
        f"lowest {len(worst)} margins of regions and joints: nine tubs of ten, the middle, dot: the run's own",
        fontsize=10,
        loc="left",
    )
    quiet_axes(axes)
