"""Failure of a ply: margins by mode, and the interactive criteria, all vectorised.

Stress s1 s2 t12 [Pa] and strain e1 e2 g12 [-] have shape (..., 3) in ply axes; strengths and strain limits (..., 5) are
positive, in the order of `MODES`. A *strength ratio* is the factor on the load at which the criterion is met (above 1
is safe, infinite without load); an *index* is 1 at failure. A *margin* is strength ratio - 1.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.laminate.stack import Stack
from tubfem.materials.ply import MODES

__all__ = [
    "MODES",
    "PlyMargins",
    "hashin_index",
    "hashin_ratio",
    "max_strain_ratio",
    "max_stress_ratio",
    "mode_ratios",
    "ply_limits",
    "ply_margins",
    "tsai_hill_ratio",
    "tsai_wu_ratio",
]

UNLOADED = 1e-290  # strain, stress or ratio below which a division would overflow


@dataclass(frozen=True, eq=False, slots=True)
class PlyMargins:
    """The worst of one kind of failure: margin (...) [-], ply index, face (0 bottom, 1 top), mode (index in `MODES`).

    Plies that bear nothing to speak of (cores) never govern; where nothing is loaded the margin is infinite.
    """

    margin: Floats
    ply: Ints
    face: Ints
    mode: Ints


def mode_ratios(load: Floats, limits: Floats) -> Floats:
    """Strength ratio (..., 5) of each of `MODES`: limit over strain, or strength over stress; infinite if unloaded."""
    signed = np.stack(
        [load[..., 0], -load[..., 0], load[..., 1], -load[..., 1], np.abs(load[..., 2])],
        axis=-1,
    )
    limits = np.broadcast_to(limits, signed.shape)
    ratio = np.full(signed.shape, np.inf)
    np.divide(limits, signed, out=ratio, where=signed > UNLOADED)
    return ratio


def max_stress_ratio(stress: Floats, strengths: Floats) -> tuple[Floats, Ints]:
    """Strength ratio (...) and governing mode (...) by greatest stress."""
    return _least(mode_ratios(stress, strengths))


def max_strain_ratio(strain: Floats, limits: Floats) -> tuple[Floats, Ints]:
    """Strength ratio (...) and governing mode (...) by greatest strain."""
    return _least(mode_ratios(strain, limits))


def ply_limits(stack: Stack, factors: dict[str, float] | None = None) -> Floats:
    """Breaking strains (k, 5) [-] times the knock-down ``factors`` of the named modes; cores have no limit.

    A knock-down goes with the name a mode has for the ply: across a woven ply it is that of its fibres. They are
    a laminate's: an isotropic ply keeps its limits.
    """
    limits = np.full((len(stack.plies), 5), np.inf)
    for k, ply in enumerate(stack.plies):
        if not ply.core:
            limits[k] = ply.limits
            if factors is not None and ply.kind != "isotropic":
                limits[k] *= [factors[name] for name in ply.mode_names]
    return limits


def ply_margins(stack: Stack, strain: Floats, limits: Floats) -> tuple[PlyMargins, PlyMargins]:
    """Worst margins of first damage (any mode) and of fibre failure (fibre modes only).

    Parameters
    ----------
    stack
        Its k plies.
    strain
        (..., k, 2, 3) [-], ply axes, faces bottom and top (`recovery.ply_strain`).
    limits
        (k, 5) [-], as from `ply_limits`.

    Returns
    -------
    first_damage, fibre : PlyMargins
        With the leading shape (...).
    """
    margin = mode_ratios(strain, limits[:, None]) - 1
    fibre = np.array([(False,) * 5 if p.core else p.fibre_modes for p in stack.plies])
    return _worst(margin), _worst(np.where(fibre[:, None], margin, np.inf))


def tsai_hill_ratio(stress: Floats, strengths: Floats, *, form: str = "signed") -> Floats:
    """Strength ratio (...) by Tsai and Hill.

    form "tension": tensile strengths whatever the sign, s1 s2 over X1t^2; "signed": the strength of each stress' own
    sign, and s1 s2 over X1^2 (the modified form).
    """
    s1, s2, t = np.moveaxis(stress, -1, 0)
    Xt, Xc, Yt, Yc, S = np.moveaxis(np.asarray(strengths), -1, 0)
    if form == "tension":
        X, Y = Xt, Yt
    elif form == "signed":
        X, Y = np.where(s1 < 0, Xc, Xt), np.where(s2 < 0, Yc, Yt)
    else:
        raise ValueError(f"form {form!r}: tension or signed")
    return _from_square((s1 / X) ** 2 - s1 * s2 / X**2 + (s2 / Y) ** 2 + (t / S) ** 2)


def tsai_wu_ratio(stress: Floats, strengths: Floats, *, interaction: Floats | float = -0.5) -> Floats:
    """Strength ratio (...) by Tsai and Wu; F12 = interaction x sqrt(F11 F22).

    -0.5 is the usual default; -1/(2 X1t^2) as in Hoffman's form is interaction = -sqrt(Y1t Y1c X1c / X1t) / (2 X1t)
    worked out by the caller.
    """
    s1, s2, t = np.moveaxis(stress, -1, 0)
    Xt, Xc, Yt, Yc, S = np.moveaxis(np.asarray(strengths), -1, 0)
    F11, F22, F66 = 1 / (Xt * Xc), 1 / (Yt * Yc), 1 / S**2
    F12 = interaction * np.sqrt(F11 * F22)
    a = F11 * s1**2 + F22 * s2**2 + F66 * t**2 + 2 * F12 * s1 * s2
    b = (1 / Xt - 1 / Xc) * s1 + (1 / Yt - 1 / Yc) * s2
    return _positive_root(a, b)


def hashin_index(stress: Floats, strengths: Floats, across: Floats | None = None) -> Floats:
    """Index (..., 4) of Hashin's plane criterion (J. Appl. Mech. 47, 1980), order of the first four `MODES`.

    ``across`` is the transverse shear strength [Pa], half of the transverse compressive strength if not given. An
    index is not quadratic in the load in transverse compression: use `hashin_ratio` for a margin.
    """
    a, b = _hashin_terms(stress, strengths, across)
    return a + b


def hashin_ratio(stress: Floats, strengths: Floats, across: Floats | None = None) -> Floats:
    """Strength ratio (..., 4) of each of Hashin's modes; infinite for a mode whose sign the stress has not."""
    a, b = _hashin_terms(stress, strengths, across)
    return _positive_root(a, b)


def _hashin_terms(stress: Floats, strengths: Floats, across: Floats | None) -> tuple[Floats, Floats]:
    """Quadratic and linear parts (..., 4)."""
    s1, s2, t = np.moveaxis(stress, -1, 0)
    Xt, Xc, Yt, Yc, S = np.moveaxis(np.asarray(strengths), -1, 0)
    ST = Yc / 2 if across is None else across
    shear = (t / S) ** 2
    none = np.zeros_like(shear)
    square = [
        np.where(s1 >= 0, (s1 / Xt) ** 2 + shear, none),
        np.where(s1 < 0, (s1 / Xc) ** 2, none),
        np.where(s2 >= 0, (s2 / Yt) ** 2 + shear, none),
        np.where(s2 < 0, (s2 / (2 * ST)) ** 2 + shear, none),
    ]
    linear = [none, none, none, np.where(s2 < 0, ((Yc / (2 * ST)) ** 2 - 1) * s2 / Yc, none)]
    return np.stack(square, axis=-1), np.stack(linear, axis=-1)


def _from_square(index: Floats) -> Floats:
    ratio = np.full(np.shape(index), np.inf)
    return np.divide(1.0, np.sqrt(np.maximum(index, 0.0)), out=ratio, where=index > 0)


def _positive_root(a: Floats, b: Floats) -> Floats:
    """R > 0 with a R^2 + b R = 1; infinite where the load never gets there."""
    a, b = np.broadcast_arrays(np.asarray(a, float), np.asarray(b, float))
    # 2 / (b + root) is the root of a R^2 + b R - 1 that stays exact as a goes to nothing
    below = b + np.sqrt(np.maximum(b**2 + 4 * a, 0.0))
    ratio = np.full(a.shape, np.inf)
    return np.divide(2.0, below, out=ratio, where=below > UNLOADED)


def _least(ratio: Floats) -> tuple[Floats, Ints]:
    mode = ratio.argmin(axis=-1)
    return np.take_along_axis(ratio, mode[..., None], axis=-1)[..., 0], mode


def _worst(margin: Floats) -> PlyMargins:
    """The least of margin (..., k, 2, 5) and where it is."""
    shape = margin.shape[-3:]
    flat = margin.reshape(*margin.shape[:-3], -1)
    at = flat.argmin(axis=-1)
    ply, face, mode = np.unravel_index(at, shape)
    return PlyMargins(np.take_along_axis(flat, at[..., None], axis=-1)[..., 0], ply, face, mode)
