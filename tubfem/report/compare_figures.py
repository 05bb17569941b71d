"""The twist of several variants over each other, and what each twists less than the first."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from tubfem.report.figures import CAUTION, INK, QUIET
from tubfem.report.numbers import three

STROKES = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)))  # tell variants apart without colour
COLOURS = ("#222222", "#0077bb", "#ee7733", "#009988", "#cc3311", "#aa3377", "#33bbee", "#997700")


def overlaid_twist(compared: Mapping[str, Any]) -> Figure:
    """Twist under the same torque from compare.json, a line for every variant, two panels for each torsion load case.

    The second is the twist less than the base's: the curves themselves lie too near each other to tell apart.
    """
    variants = compared["variants"]
    names = [name for name, found in variants[0]["load_cases"].items() if found["torque"] is not None]
    figure = Figure(figsize=(10.5, 1.2 + 6.6 * max(len(names), 1)))
    FigureCanvasAgg(figure)
    figure.suptitle(f"Variants side by side: {compared['case']['title']}", x=0.09, ha="left", weight="bold")
    figure.text(0.09, 0.012, CAUTION, fontsize=8, color=QUIET)
    if not names:
        figure.text(0.5, 0.5, "no torsion load case", ha="center", color=QUIET)
        return figure
    panels = figure.subplots(2 * len(names), 1, squeeze=False, height_ratios=[3, 2] * len(names))[:, 0]
    figure.subplots_adjust(
        left=0.09, right=0.96, top=1 - 0.8 / figure.get_figheight(), bottom=0.8 / figure.get_figheight(), hspace=0.25
    )
    for name, whole, less in zip(names, panels[::2], panels[1::2], strict=True):
        torque = variants[0]["load_cases"][name]["torque"]
        base = None
        for k, each in enumerate(variants):
            found = each["load_cases"].get(name)
            if found is None or found["torque"] is None:
                continue
            scale = torque / found["torque"]
            label = f"{each['name']}: {three(found['stiffness_Nm_per_deg'])} N·m/deg"
            style = {"color": COLOURS[k % len(COLOURS)], "linestyle": STROKES[k // len(COLOURS) % len(STROKES)]}
            x, twist = (np.array([point[key] for point in found["twist_curve"]]) for key in ("x", "twist_deg"))
            whole.plot(1e3 * x, scale * twist, linewidth=2.0, label=label, **style)
            if len(x):
                base = (x, scale * twist) if base is None else base
                less.plot(1e3 * x, 1e3 * (np.interp(x, *base) - scale * twist), linewidth=2.0, **style)
        whole.set_title(f"load case {name}, torque {torque:g} N·m", fontsize=10, color=INK, loc="left")
        whole.set_ylabel("twist, degrees")
        whole.legend(frameon=False, fontsize=8.5)
        less.set_title("less twist than the first, from the front to here", fontsize=10, color=INK, loc="left")
        less.set_ylabel("1/1000 degree")
        less.set_xlabel("x aft, mm")
        for axes in (whole, less):
            axes.grid(color="#e4e4e4", linewidth=0.8)
            for spine in ("top", "right"):
                axes.spines[spine].set_visible(False)
    return figure
