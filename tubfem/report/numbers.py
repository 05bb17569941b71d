"""Numbers as an engineer may honestly write them: three significant digits, units a builder knows."""

import math

from tubfem.findings.results import HotSpot


def three(value: float) -> str:
    """Three significant digits without an exponent: 2425.1 -> "2430", 0.012345 -> "0.0123"."""
    if not math.isfinite(value):
        return "no limit" if value > 0 else "none"
    if value == 0.0:
        return "0"
    decimals = 2 - math.floor(math.log10(abs(value)))
    rounded = round(value, decimals)
    decimals = 2 - math.floor(math.log10(abs(rounded)))  # 9.996 becomes 10.0
    return f"{rounded:.{max(decimals, 0)}f}"


def signed(value: float) -> str:
    """Three significant digits with a plus sign where more than nothing."""
    return f"+{three(value)}" if value > 0 else three(value)


def margin(value: float | None) -> str:
    """A margin with its sign, two decimals, three where it is nearly zero; far away ones are not worth digits.

    A dash where nothing is judged.
    """
    if value is None:
        return "-"
    return "> 10" if value > 10 else f"{value:+.3f}" if abs(value) < 0.05 else f"{value:+.2f}"


def percent(share: float) -> str:
    """A share in whole per cent, one decimal below ten."""
    value = 100 * share
    return f"{value:.0f} %" if abs(value) >= 9.95 else f"{value:.1f} %"


def factor(value: float) -> str:
    """A knock-down or a required factor: three digits, none that say nothing: 2.0 -> "2", 0.727469 -> "0.727"."""
    return f"{value:.3g}"


def place(position: tuple[float, float, float]) -> str:
    """x, y, z in whole millimetres."""
    return ", ".join(f"{round(1e3 * c) + 0:d}" for c in position)


def hot_spot_place(spot: HotSpot) -> str:
    """Where a hot spot is, by its neighbours: "floor.right under mount front_low, both sides"."""
    text = spot.panel
    if spot.mount is not None:
        text += f" under mount {spot.mount}"
    elif spot.joint is not None and spot.joint_distance is not None:
        text += f", {1e3 * spot.joint_distance:.0f} mm from joint {spot.joint}"
    return f"{text}; both sides" if spot.both_sides else text
