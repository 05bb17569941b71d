"""Tubes and stiffeners in the pictures, and what carries the pickups."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D

from tubfem.report.views import Sight, carriers, project
from tubfem.tub.model import TubModel

TUBE, STIFFENER, BRACKET = "#222222", "#6a3d9a", "#c1121f"
PIECES = 16  # of every tube: each is faint where something stands before it


def draw_tubes(axes: Axes, model: TubModel, seen: Sight) -> list[Line2D]:
    """Tubes, stiffeners, and dashed lines from pickups to what carries them; their legend entries."""
    for pickup, mount in carriers(model):
        flat, _ = project(np.stack([pickup, mount]), seen.view)
        axes.plot(flat[:, 0], flat[:, 1], color=BRACKET, linewidth=0.8, linestyle=(0, (3, 2)), alpha=0.6, zorder=8)
    entries = []
    for family, colour, width, label in (
        ("subframes.", TUBE, 2.2, "tube of a subframe"),
        ("stiffeners.", STIFFENER, 2.6, "bonded stiffener"),
    ):
        frames = [frame.ends for frame in model.frames if frame.name.startswith(family)]
        if not frames:
            continue
        ends = np.concatenate(frames)
        at = np.linspace(0, 1, PIECES + 1)[:, None]
        marks = ends[:, None, 0] + at * (ends[:, 1] - ends[:, 0])[:, None]
        pieces = np.stack([marks[:, :-1], marks[:, 1:]], axis=2).reshape(-1, 2, 3)
        flat, _ = project(pieces, seen.view)
        hidden = seen.hides(pieces.mean(1), tolerance=1.5 * model.mesh.size)
        for which, alpha in ((~hidden, 1.0), (hidden, 0.25)):
            lines = LineCollection(flat[which], colors=colour, linewidths=width, alpha=alpha, zorder=8)
            axes.add_collection(lines)
        entries.append(Line2D([], [], color=colour, linewidth=width, label=label))
    return entries
