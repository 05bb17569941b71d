"""Warm resin and cores: what is left of their stiffness and strength, and how hot they may get.

What a resin dominates falls with its distance to the glass transition of the moist resin,

    F = sqrt((Tw - T) / (Td - T0)),    Tw = (1 - 0.10 m + 0.005 m^2) Td  in degF, m the moisture in % of mass,

the retention ratio of Chamis (NASA TM-83320, 1983; formula from memory), T0 = 70 degF. Stiffness of the resin and every
strength that depends on it are multiplied by F; what fibres carry along themselves is not. Cores: straight from full at
T0 to half at the temperature where they soften and on to nothing as far above it (from memory, cross-linked foams).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from tubfem.materials import micromechanics as micro
from tubfem.materials.cloth import LAYER_OF
from tubfem.materials.library import Resin
from tubfem.materials.ply import CorePly, Ply

ROOM = (70.0 - 32) * 5 / 9  # degC, where the library's figures hold
LEAST = 0.02  # of stiffness and strength: what a resin above its glass transition keeps here, so that nothing floats
GONE = 1e-3  # of stiffness: what is not credited keeps, for the same reason
POST_CURE = ((20.0, 50.0), (55.0, 70.0), (80.0, 95.0), (100.0, 110.0))  # cured at, dry glass transition [degC]
POST_CURE_SOURCE = "from memory: room-cured 45 to 60 degC, after 50 to 60 degC 65 to 85, after 80 degC 85 to 110"
MODULI = ("E1", "E2", "G12", "nu12", "G13", "G23")
FIBRES_ACROSS = ("woven", "mat")


@dataclass(frozen=True, slots=True)
class Warmth:
    """What a case knows of its resins in service: dry glass transitions [degC] by name, moisture [-], margin [K]."""

    transitions: Mapping[str, float]
    moisture: float
    margin: float

    def dry(self, resin: Resin) -> float | None:
        """Dry glass transition [degC]; None if neither the case nor the library knows it."""
        return self.transitions.get(resin.name, resin.Tg_celsius)


def moist_transition(dry: float, moisture: float) -> float:
    """Glass transition [degC] of a resin with `moisture` [-] of its mass, from the dry one [degC]."""
    percent = 100 * moisture
    fahrenheit = (1 - 0.10 * percent + 0.005 * percent**2) * (dry * 9 / 5 + 32)
    return (fahrenheit - 32) * 5 / 9


def retention(celsius: float, dry: float, moisture: float = 0.0) -> float:
    """What is left [-] of a resin's stiffness and strength; full at room temperature and below, when dry."""
    left = (moist_transition(dry, moisture) - max(celsius, ROOM)) / (dry - ROOM)
    return max(LEAST, sqrt(left)) if left > 0 else LEAST


def core_retention(celsius: float, softens: float) -> float:
    """What is left [-] of a core's stiffness and strength."""
    return max(LEAST, 1 - 0.5 * max(celsius - ROOM, 0.0) / (softens - ROOM))


def post_cured(celsius: float) -> float:
    """Dry glass transition [degC] to plan with after a post-cure at a temperature; see `POST_CURE_SOURCE`."""
    cured, transition = zip(*POST_CURE, strict=True)
    return float(np.interp(celsius, cured, transition))


def limit_of(ply: Ply | CorePly, warmth: Warmth) -> float | None:
    """Highest service temperature [degC] at which a ply or core is credited; None where nothing is known of it."""
    if isinstance(ply, CorePly):
        return ply.softens_celsius
    if ply.matrix is None or (dry := warmth.dry(ply.matrix.resin)) is None:
        return None
    return moist_transition(dry, warmth.moisture) - warmth.margin


def warmed(ply: Ply | CorePly, celsius: float, warmth: Warmth) -> Ply | CorePly:
    """The ply or core in service; metals, and whatever has no resin or softening point known, stay as they are."""
    if isinstance(ply, CorePly):
        return ply if ply.softens_celsius is None else _warm_core(ply, core_retention(celsius, ply.softens_celsius))
    if ply.matrix is None or (dry := warmth.dry(ply.matrix.resin)) is None:
        return ply
    left = retention(celsius, dry, warmth.moisture)
    fibre, resin, fraction = ply.matrix.fibre, ply.matrix.resin, ply.matrix.volume_fraction
    layer_of = LAYER_OF[ply.kind]
    cold = layer_of(fibre, resin, fraction)
    warm: micro.Layer = layer_of(fibre, replace(resin, E=left * resin.E, G=left * resin.G), fraction)
    ratio = {name: getattr(warm, name) / getattr(cold, name) for name in MODULI}
    # A strength that the resin carries falls by `left`; as a strain it falls by less where the modulus falls too.
    along, across, shear = (min(1.0, left / ratio[name]) for name in ("E1", "E2", "G12"))
    woven = ply.kind in FIBRES_ACROSS
    return replace(
        ply,
        **{name: ratio[name] * getattr(ply, name) for name in MODULI},
        e1c=along * ply.e1c,
        e2t=ply.e2t if woven else across * ply.e2t,
        e2c=across * ply.e2c,
        g12=shear * ply.g12,
        S13=left * ply.S13,
    )


def _warm_core(core: CorePly, left: float) -> CorePly:
    elastic = ("E1", "E2", "G12", "G13", "G23", "Ec", "shear_strength", "compressive_strength")
    across = core.shear_strength_across
    changed = {name: left * getattr(core, name) for name in elastic}
    return replace(core, **changed, shear_strength_across=None if across is None else left * across)


def without_credit(ply: Ply | CorePly) -> Ply | CorePly:
    """The ply or core with almost no stiffness left."""
    elastic = ("E1", "E2", "G12", "G13", "G23", *(("Ec",) if ply.core else ()))
    return replace(ply, **{name: GONE * getattr(ply, name) for name in elastic})
