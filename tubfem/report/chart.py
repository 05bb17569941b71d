"""Curves of the page as numbers of an SVG drawing: where points and ticks lie, for the template to draw."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats

WIDTH, HEIGHT = 640.0, 316.0
LEFT, RIGHT, TOP, BOTTOM = 76.0, 14.0, 30.0, 46.0  # room for the large letters of a phone


@dataclass(frozen=True, slots=True)
class Curve:
    """Points as SVG's text "x,y x,y ..."; `marks` the same as pairs."""

    points: str
    marks: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """Curves and ticks (position, value) in a frame of `WIDTH` by `HEIGHT`; values in the data's own units."""

    curves: tuple[Curve, ...]
    x_ticks: tuple[tuple[float, float], ...]
    y_ticks: tuple[tuple[float, float], ...]
    marks: tuple[tuple[float, str], ...]
    frame: tuple[float, float, float, float] = (LEFT, TOP, WIDTH - RIGHT, HEIGHT - BOTTOM)
    size: tuple[float, float] = (WIDTH, HEIGHT)


def draw(curves: Sequence[tuple[Floats, Floats]], marks: Sequence[tuple[float, str]] = ()) -> Chart:
    """A chart of curves (x, y) with upright lines at `marks` (x, name); both axes contain their data, y also zero."""
    xs = np.concatenate([np.asarray(x) for x, _ in curves])
    ys = np.concatenate([np.zeros(1), *(np.asarray(y) for _, y in curves)])
    x_low, x_high = float(xs.min()), float(xs.max())
    y_ticks = ticks(float(ys.min()), float(ys.max()))
    low, high = min(y_ticks[0], float(ys.min())), max(y_ticks[-1], float(ys.max()))
    across = (WIDTH - LEFT - RIGHT) / max(x_high - x_low, 1e-12)
    up = (HEIGHT - TOP - BOTTOM) / max(high - low, 1e-12)

    def at_x(x: float) -> float:
        return round(LEFT + (x - x_low) * across, 1)

    def at_y(y: float) -> float:
        return round(HEIGHT - BOTTOM - (y - low) * up, 1)

    drawn = []
    for x, y in curves:
        pairs = tuple((at_x(float(a)), at_y(float(b))) for a, b in zip(x, y, strict=True))
        drawn.append(Curve(" ".join(f"{a},{b}" for a, b in pairs), pairs))
    return Chart(
        tuple(drawn),
        tuple((at_x(x), x) for x in ticks(x_low, x_high) if x_low <= x <= x_high),
        tuple((at_y(y), y) for y in y_ticks),
        tuple((at_x(x), name) for x, name in marks if x_low <= x <= x_high),
    )


def stations(bays: Sequence) -> list[tuple[float, str]]:
    """Marks (x, name) at the ends of bays."""
    return [(bay.x[0], bay.start) for bay in bays] + [(bay.x[1], bay.end) for bay in bays[-1:]]


def along(position: Floats, values: Floats) -> Chart:
    """A chart of values (m,) against the way along a line of points (m, 3)."""
    steps = np.linalg.norm(np.diff(position, axis=0), axis=1)
    return draw([(np.concatenate([[0.0], np.cumsum(steps)]), values)])


def ticks(low: float, high: float) -> list[float]:
    """Round values that cover a range, four to nine of them."""
    span = max(high - low, 1e-12)
    step = 10.0 ** np.floor(np.log10(span))
    while span / step < 4:
        step /= 2 if span / (step / 2) >= 4 else 5
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    return [float(round(k * step, 12)) for k in np.arange(first, last + 1)]
