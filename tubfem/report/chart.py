"""Curves of the page as numbers of an SVG drawing: where points and ticks lie, for the template to draw."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.report.numbers import three

SIZE = 640.0, 330.0
SMALL = 300.0, 170.0  # of many beside each other
RIGHT = 14.0


@dataclass(frozen=True, slots=True)
class Curve:
    """Points as SVG's text "x,y x,y ..."; `marks` the same as pairs."""

    points: str
    marks: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """Curves and ticks (position, value) in a `frame` (left, top, right, bottom); values in the data's own units."""

    curves: tuple[Curve, ...]
    x_ticks: tuple[tuple[float, float], ...]
    y_ticks: tuple[tuple[float, float], ...]
    marks: tuple[tuple[float, str], ...]
    frame: tuple[float, float, float, float]
    size: tuple[float, float]


def draw(
    curves: Sequence[tuple[Floats, Floats]],
    marks: Sequence[tuple[float, str]] = (),
    *,
    size: tuple[float, float] = SIZE,
    least: int = 4,
) -> Chart:
    """A chart of curves (x, y) with upright lines at `marks` (x, name); both axes contain their data, y also zero.

    `least` is the fewest steps of an axis.
    """
    width, height = size
    left = round(31 + 0.07 * width, 1)  # room for the large letters of a phone
    top, bottom = round(0.1 * height, 1), round(0.91 * height - 24, 1)
    xs = np.concatenate([np.asarray(x) for x, _ in curves])
    ys = np.concatenate([np.zeros(1), *(np.asarray(y) for _, y in curves)])
    x_low, x_high = float(xs.min()), float(xs.max())
    y_ticks = ticks(float(ys.min()), float(ys.max()), least)
    low, high = min(y_ticks[0], float(ys.min())), max(y_ticks[-1], float(ys.max()))
    across = (width - left - RIGHT) / max(x_high - x_low, 1e-12)
    up = (bottom - top) / max(high - low, 1e-12)

    def at_x(x: float) -> float:
        return round(left + (x - x_low) * across, 1)

    def at_y(y: float) -> float:
        return round(bottom - (y - low) * up, 1)

    drawn = []
    for x, y in curves:
        pairs = tuple((at_x(float(a)), at_y(float(b))) for a, b in zip(x, y, strict=True))
        drawn.append(Curve(" ".join(f"{a},{b}" for a, b in pairs), pairs))
    return Chart(
        tuple(drawn),
        tuple((at_x(x), x) for x in ticks(x_low, x_high, least) if x_low <= x <= x_high),
        tuple((at_y(y), y) for y in y_ticks),
        tuple((at_x(x), name) for x, name in marks if x_low <= x <= x_high),
        (left, top, width - RIGHT, bottom),
        size,
    )


def stations(bays: Sequence) -> list[tuple[float, str]]:
    """Marks (x, name) at the ends of bays."""
    return [(bay.x[0], bay.start) for bay in bays] + [(bay.x[1], bay.end) for bay in bays[-1:]]


def in_line(position: Floats) -> Ints:
    """Order (m,) of points (m, 3) along the line they lie on, whatever their order: from an end to the nearest left."""
    apart = np.linalg.norm(position[:, None] - position, axis=-1)
    order = [int(apart[int(apart[0].argmax())].argmax())]
    apart[:, order[0]] = np.inf
    while len(order) < len(position):
        order.append(int(apart[order[-1]].argmin()))
        apart[:, order[-1]] = np.inf
    return np.array(order)


def way(position: Floats) -> Floats:
    """Way (m,) along a line of points (m, 3) in order."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(position, axis=0), axis=1))])


def told(values: Floats) -> str:
    """A curve of shear flow (m,) as numbers at its ends and where it is greatest [N/mm]."""
    first, last = 1e-3 * values[0], 1e-3 * values[-1]
    return f"{three(first)} at one end, {three(last)} at the other, {three(1e-3 * np.abs(values).max())} at most"


def ticks(low: float, high: float, least: int = 4) -> list[float]:
    """Round values that cover a range in `least` steps or more."""
    span = max(high - low, 1e-12)
    decade = 10.0 ** np.floor(np.log10(span) + 1)
    step = next(decade * part for part in (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01) if span / (decade * part) >= least)
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    return [float(round(k * step, 12)) for k in np.arange(first, last + 1)]
