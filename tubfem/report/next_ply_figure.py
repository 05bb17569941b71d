"""Bars of the best places for one more ply."""

from collections.abc import Mapping
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from tubfem.report.bars import quiet_axes
from tubfem.report.figures import CAUTION, INK, QUIET
from tubfem.report.numbers import three

SHOWN = 20
ORANGE = {"color": "#ee7733", "height": 0.7}


def best_places(found: Mapping[str, Any]) -> Figure:
    """The best rows of next_ply.json in the order of the ranking: gain in percent, and gain for each kilogram.

    Where margins were asked for, the lowest margin stands in the place of that gain, with a line at today's.
    """
    margins = found["goal"] == "margin"
    best = [row for row in found["rows"] if margins or not row["no_gain"]][:SHOWN]
    figure = Figure(figsize=(11, 1.6 + 0.32 * max(len(best), 3)))
    FigureCanvasAgg(figure)
    figure.suptitle(f"One more ply, where? {found['case']['title']}", x=0.03, ha="left", weight="bold")
    figure.text(0.03, 0.012, CAUTION, fontsize=8, color=QUIET)
    if not best:
        figure.text(0.5, 0.5, "nothing tried makes the tub stiffer", ha="center", color=QUIET)
        return figure
    tall = figure.get_figheight()
    gain, other = figure.subplots(1, 2, sharey=True)
    figure.subplots_adjust(left=0.27, right=0.97, top=1 - 0.75 / tall, bottom=0.75 / tall, wspace=0.08)
    rows = range(len(best))
    gain.barh(rows, [row["gain_percent"] for row in best], color="#0077bb", height=0.7)
    other.barh(rows, [row["worst_margin" if margins else "gain_per_kg"] or 0.0 for row in best], **ORANGE)
    gain.set_yticks(rows, [row["change"] for row in best], fontsize=8.5)
    gain.set_ylim(len(best) - 0.4, -0.6)
    gain.set_xlabel(f"gain, % of {three(found['base']['stiffness_Nm_per_deg'])} N·m/deg")
    other.set_xlabel("lowest margin" if margins else "gain for each kilogram, N·m/deg/kg")
    if margins and found["base"]["worst_margin"] is not None:
        other.axvline(found["base"]["worst_margin"], color=INK, linewidth=1.4)
        other.set_xlabel(f"lowest margin (line: now, {found['base']['worst_place']})")
    for axes in (gain, other):
        quiet_axes(axes)
    return figure
