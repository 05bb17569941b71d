"""Bars of what a schedule lays where, from schedule.json."""

from collections.abc import Mapping
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from tubfem.case.changes import Change, parse_change
from tubfem.report.bars import quiet_axes
from tubfem.report.figures import CAUTION, QUIET
from tubfem.report.numbers import three

COLOURS = ("#0077bb", "#ee7733", "#009988", "#cc3311", "#33bbee", "#ee3377", "#bbbbbb")


def plies_by_region(found: Mapping[str, Any]) -> Figure:
    """Bars of the plies laid more in every region, tab and patch, and of those left out to the other side, by ply."""
    regions = list(found["regions"])
    figure = Figure(figsize=(9, 1.8 + 0.36 * max(len(regions), 3)))
    FigureCanvasAgg(figure)
    fewer = [parse_change(text) for text in found.get("drop", ())]
    asked = "What to lay more, and what to leave out" if fewer else "What to lay more"
    figure.suptitle(f"{asked}: {found['case']['title']}", x=0.03, ha="left", weight="bold")
    figure.text(0.03, 0.012, CAUTION, fontsize=8, color=QUIET)
    if not regions:
        figure.text(0.5, 0.5, "nothing need be laid", ha="center", color=QUIET)
        return figure
    tall = figure.get_figheight()
    axes = figure.subplots()
    figure.subplots_adjust(left=0.26, right=0.97, top=1 - 0.75 / tall, bottom=0.75 / tall)
    changes = [(1, parse_change(text)) for text in found["add"]] + [(-1, change) for change in fewer]
    kinds = list(dict.fromkeys(_label(*change) for change in changes))
    start = dict.fromkeys(regions, 0)
    for number, kind in enumerate(kinds):
        for sign, change in changes:
            if _label(sign, change) == kind:
                (region,) = change.targets
                axes.barh(
                    regions.index(region),
                    sign * change.count,
                    left=start[region],
                    height=0.7,
                    color=COLOURS[number % 7],
                )
                start[region] += sign * change.count
    if fewer:
        axes.axvline(0.0, color=QUIET, linewidth=0.8)
    axes.set_yticks(range(len(regions)), regions)
    axes.invert_yaxis()
    axes.xaxis.get_major_locator().set_params(integer=True)
    before, now = found["base"]["stiffness_Nm_per_deg"], found["stiffness_Nm_per_deg"]
    what = "plies more and fewer" if fewer else "plies more"
    axes.set_xlabel(f"{what}: {three(before)} to {three(now)} N·m/deg, {found['mass_added']:+.2f} kg")
    handles = [Patch(color=COLOURS[number % 7], label=kind) for number, kind in enumerate(kinds)]
    axes.legend(handles=handles, frameon=False, loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=len(kinds))
    quiet_axes(axes)
    return figure


def _label(sign: int, change: Change) -> str:
    """Ply, angle and face of a change, without target and count; what is left out is told as such."""
    ply, *face = change.text.partition("=")[2].split(":")
    return f"{'' if sign > 0 else 'without '}{':'.join([ply.partition('*')[0], *face])}"
