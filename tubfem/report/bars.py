"""How axes with bars look in the pictures of studies."""

from matplotlib.axes import Axes

from tubfem.report.figures import INK


def quiet_axes(axes: Axes) -> None:
    """A light grid across the bars, behind them, and no frame above and on the right."""
    axes.grid(axis="x", color="#e4e4e4", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(colors=INK)
    for spine in ("top", "right"):
        axes.spines[spine].set_visible(False)
