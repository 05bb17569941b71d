"""What a row of meshes says about a number: observed order, extrapolated value, discretisation band.

A value that follows phi(h) = phi0 + a h^p is fitted by least squares, finer meshes counting more; on three meshes the
curve goes through all points, which is the procedure of Celik et al. for any refinement ratios [J. Fluids Eng. 130
(2008) 078001]. The band on a mesh is the grid convergence index: a safety factor times the distance from the
extrapolated value [P. J. Roache, J. Fluids Eng. 116 (1994) 405]; on more than three meshes what the curve misses is
added, as L. Eca & M. Hoekstra do [J. Comput. Phys. 262 (2014) 104].

Meshes of such a row are not alike in the small, so values scatter: where four or more come and go or show an order
below one, but a first-order curve fits them as well as their own order does, that one is taken. Otherwise values that
come and go or have an order below a half are doubtful: nothing is extrapolated and the band is three times what a
first-order curve through the whole range of the values would leave.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import minimize_scalar

from tubfem.arrays import Floats, frozen

LEAST_MESHES = 3
LEAST_RATIO = 1.2  # of neighbouring sizes: nearer ones differ by chance
SAFETY, SAFETY_DOUBTFUL = 1.25, 3.0
LEAST_ORDER, FORMAL_ORDER = 0.5, 2.0  # smooth plates and shells converge with the second order
FIRST = 1.0  # energies do no worse at corners: a slit, the sharpest, leaves them the first order
SCATTER = 2.0  # misfit of first order over the best: no more than this, and the values do not tell the order
SMALL = 0.005  # a band below which it does not matter how it came about
WANTED = 0.01


@dataclass(frozen=True, eq=False, slots=True)
class Convergence:
    """One number on several meshes, the finest first.

    Attributes
    ----------
    sizes, values : (m,)
    order : observed, None where values come and go or hardly differ
    order_used : for the extrapolation; the formal order where the observed is higher
    extrapolated : the value at size nought, None where nothing can be said
    band : (m,) discretisation band on each mesh, as a part of the value there
    kind : "monotone", "scattered" (first order fits as well as any), "oscillating", "slow" (order below a half) or
        "constant"
    size_for_one_percent : the mesh size whose band is 1 %, None where nothing varies
    """

    sizes: Floats
    values: Floats
    order: float | None
    order_used: float | None
    extrapolated: float | None
    band: Floats
    kind: Literal["monotone", "scattered", "oscillating", "slow", "constant"]
    size_for_one_percent: float | None

    @property
    def doubtful(self) -> bool:
        """Whether it does not converge as it should, by an amount that matters."""
        return self.kind in ("oscillating", "slow") and bool(self.band[0] > SMALL)


def converge(sizes: Floats, values: Floats) -> Convergence:
    """Order, extrapolated value and bands of values (m,) on meshes of sizes (m,), in any order.

    Raises
    ------
    ValueError
        Fewer than three sizes, or two nearer than a ratio of 1.2.
    """
    order = np.argsort(sizes)
    h, phi = np.asarray(sizes, float)[order], np.asarray(values, float)[order]
    if len(h) < LEAST_MESHES or (h[1:] / h[:-1]).min() < LEAST_RATIO - 1e-9:
        raise ValueError(f"{LEAST_MESHES} sizes or more, each {LEAST_RATIO} times the next or more, are needed")
    reach = np.ptp(phi)
    if reach <= 1e-9 * np.abs(phi).max():
        return Convergence(frozen(h), frozen(phi), None, None, float(phi[0]), frozen(0 * h), "constant", None)
    steps = np.diff(phi)
    even = bool(np.all(steps > 0) or np.all(steps < 0))
    p = _observed_order(h, phi)
    if (p < FIRST or not even) and len(h) > LEAST_MESHES and _as_good(h, phi, p):
        used, kind = FIRST, "scattered"
    elif p < LEAST_ORDER or not even:
        return _doubtful(h, phi, p if even else None, "slow" if even else "oscillating")
    else:
        used, kind = min(p, FORMAL_ORDER), "monotone"
    phi0, a, misfit = _fit(h, phi, used)
    if len(h) > LEAST_MESHES:
        spread = np.sqrt(misfit @ misfit / (len(h) - LEAST_MESHES))
    else:
        spread, misfit = 0.0, np.zeros(len(h))
        if used < p:  # the curve goes through the two finest
            phi0, a = _through_two(h, phi, used)
    band = (SAFETY * np.abs(phi - misfit - phi0) + np.abs(misfit) + spread) / np.abs(phi)
    one = float((WANTED * abs(phi0) / (SAFETY * abs(a))) ** (1 / used))
    return Convergence(frozen(h), frozen(phi), p, used, float(phi0), frozen(band), kind, one)


def _as_good(h: Floats, phi: Floats, p: float) -> bool:
    """Whether first order fits values that scatter as well as their own order does, and follows their trend."""
    own, first = (_fit(h, phi, order)[2] for order in (p, FIRST))
    root = np.sqrt(first @ first / (len(h) - 2))
    return bool(first @ first <= SCATTER**2 * (own @ own) and root < np.ptp(phi) / (len(h) - 1))


def _observed_order(h: Floats, phi: Floats) -> float:
    """The order p that leaves the least misfit, between nearly nought and 8."""

    def squares(p: float) -> float:
        misfit = _fit(h, phi, p)[2]
        return float(misfit**2 @ (h[0] / h)) / np.ptp(phi) ** 2

    found = minimize_scalar(squares, bounds=(1e-3, 8.0), method="bounded", options={"xatol": 1e-8})
    return float(found.x)


def _fit(h: Floats, phi: Floats, p: float) -> tuple[float, float, Floats]:
    """Least squares, weighted by 1 / h: phi0, a and what the curve misses (m,), value less curve."""
    design = np.column_stack([np.ones(len(h)), (h / h[0]) ** p])
    root = np.sqrt(h[0] / h)
    (phi0, a), *_ = np.linalg.lstsq(design * root[:, None], phi * root, rcond=None)
    return float(phi0), float(a / h[0] ** p), phi - design @ np.array([phi0, a])


def _through_two(h: Floats, phi: Floats, p: float) -> tuple[float, float]:
    """Curve of a given order through the two finest meshes: phi0, a."""
    a = (phi[1] - phi[0]) / (h[1] ** p - h[0] ** p)
    return float(phi[0] - a * h[0] ** p), float(a)


def _doubtful(h: Floats, phi: Floats, order: float | None, kind: Literal["oscillating", "slow"]) -> Convergence:
    slope = np.ptp(phi) / (h[-1] - h[0])
    band = SAFETY_DOUBTFUL * slope * h / np.abs(phi)
    one = float(h[0] * WANTED / band[0])
    return Convergence(frozen(h), frozen(phi), order, None, None, frozen(band), kind, one)
