"""What scatters in a tub, by how much, and what it has in common: from coefficients to one number a parameter.

A parameter (the fibre fraction of a region, the moduli of a fibre, the weight of a cloth ...) is a standard normal
number z, made of independent ones: fibre fractions, joints and bonds share a part with the whole tub, since one pair of
hands, one batch of resin and one shop laid them all (S.1).
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.case.schema import Case
from tubfem.materials import library
from tubfem.tub.model import TubModel

PRACTICE = "common practice, no source"
FRACTION, MODULI, SHEAR, THICKNESS, STRENGTH, BONDS, CORE, JOINTS, MOUNTS = (
    "fibre_fraction",
    "moduli",
    "shear_moduli",
    "thickness",
    "strength",
    "bonds",
    "core_shear",
    "joints",
    "mounts",
)
MESH = "mesh"
COMMON = (FRACTION, BONDS, JOINTS)  # of whose variance the whole tub has a part in common


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of scatter: its key under [spread], its name, its coefficient of variation and where that is from.

    `measure` would shrink it to the coefficient `left`.
    """

    key: str
    name: str
    scatter: float
    source: str
    measure: str
    left: float


DEFAULTS = (
    Cause(
        FRACTION,
        "fibre fraction",
        0.08,
        "mass fraction of hand-laid stitched glass 0.50 on a simple, 0.38 on a curved panel (ISO 12215-5:2008 table "
        "C.2, second-hand), taken as three standard deviations",
        "weigh every region's cloth before and its laminate after, or a square cut from each flange",
        0.02,
    ),
    Cause(
        MODULI,
        "moduli along and across the fibres",
        0.05,
        "ISO 12215-5:2008 lies about 10 % below NR546 (2022) at the same fibre content (both second-hand); "
        "half of that",
        "bend five coupons of each fibre on three points and write E1 and E2 into [plies]",
        0.03,
    ),
    Cause(
        SHEAR,
        "in-plane shear moduli",
        0.12,
        "ISO 12215-5:2008 lies 20 to 30 % above NR546 (2022) (both second-hand); half of that",
        "pull five coupons of each fibre at +-45 degrees and write G12 into [plies]",
        0.05,
    ),
    Cause(
        THICKNESS,
        "weight of cloths, thickness of cores",
        0.025,
        f"5 % either way as two standard deviations; {PRACTICE}",
        "weigh a metre of each roll, take callipers to the core sheets",
        0.01,
    ),
    Cause(
        STRENGTH,
        "strength of plies and cores",
        0.10,
        f"coupons of hand-laid work; {PRACTICE}",
        "break five coupons of each fibre",
        0.045,
    ),
    Cause(
        BONDS,
        "strength of bonds and at bolts",
        0.20,
        "5 to 20 % in laps of four adhesives, bonded in presses by several hands (US Forest Products Laboratory, "
        "report 1880, 1961, summary); the upper end, for work by hand",
        "break five laps of your own bonding",
        0.09,
    ),
    Cause(
        CORE,
        "shear moduli of cores",
        0.12,
        "24 to 31 MPa from two published tables for the same 80 kg/m3 PVC foam; half of the difference",
        "bend a short beam of the core, or ask for the test of its batch",
        0.05,
    ),
    Cause(
        JOINTS,
        "stiffness of joints",
        0.45,
        f"half to double in nine of ten; {PRACTICE}",
        "load one sample of each kind of joint and read how far it gives",
        0.15,
    ),
    Cause(
        MOUNTS,
        "stiffness of mounts and bolts",
        0.45,
        f"half to double in nine of ten; {PRACTICE}",
        "pull at one mount with a dial gauge on it",
        0.15,
    ),
)


@dataclass(frozen=True, slots=True)
class Parameter:
    """One thing that scatters: its cause's key, its name, the standard deviation of its logarithm.

    `name` is a region, a fibre (or a ply given by constants), a cloth, a core, a joint kind; "all" of the mounts.
    """

    key: str
    name: str
    sd: float


@dataclass(frozen=True, eq=False, slots=True)
class Scatter:
    """Everything that scatters in a tub.

    Attributes
    ----------
    causes : those that have any scatter and anything to act on
    parameters : (p)
    mix : (p, v) rows of length one: parameters from independent standard normal variables
    variables : (v) their names
    cause_of : (v,) index into `causes`
    """

    causes: tuple[Cause, ...]
    parameters: tuple[Parameter, ...]
    mix: Floats
    variables: tuple[str, ...]
    cause_of: tuple[int, ...]

    def columns(self, key: str) -> list[int]:
        """Variables of one cause."""
        return [k for k, cause in enumerate(self.cause_of) if self.causes[cause].key == key]


def causes_of(case: Case) -> tuple[Cause, ...]:
    """All causes, with what the case says under [spread]."""
    found = []
    for cause in DEFAULTS:
        own = getattr(case.spread, cause.key)
        if own is None:
            found.append(cause)
        else:
            where = "the case's [spread]"
            found.append(Cause(cause.key, cause.name, own, where, cause.measure, min(cause.left, own)))
    return tuple(found)


def scatter_of(model: TubModel, names: dict[str, list[str]]) -> Scatter:
    """Parameters and variables of a tub.

    Parameters
    ----------
    names : what each cause acts on, by the cause's key: regions, fibres, cloths, cores, joint kinds
    """
    common = model.case.spread.common
    causes = tuple(cause for cause in causes_of(model.case) if cause.scatter > 0 and names.get(cause.key))
    parameters: list[Parameter] = []
    variables: list[str] = []
    cause_of: list[int] = []
    rows: list[dict[int, float]] = []
    for number, cause in enumerate(causes):
        shared = None
        if cause.key in COMMON and common > 0:
            shared = len(variables)
            variables.append(f"{cause.name}, the whole tub")
            cause_of.append(number)
        for name in names[cause.key]:
            row = {} if shared is None else {shared: common**0.5}
            if shared is None or common < 1:
                row[len(variables)] = (1 - common) ** 0.5 if shared is not None else 1.0
                variables.append(f"{cause.name}, {name}" if name != "all" else cause.name)
                cause_of.append(number)
            parameters.append(Parameter(cause.key, name, log_deviation(cause.scatter)))
            rows.append(row)
    mix = np.zeros((len(parameters), len(variables)))
    for p, row in enumerate(rows):
        mix[p, list(row)] = list(row.values())
    return Scatter(causes, tuple(parameters), frozen(mix), tuple(variables), tuple(cause_of))


def log_deviation(scatter: float) -> float:
    """Standard deviation of the logarithm of a lognormal factor with this coefficient of variation (S.2)."""
    return float(np.sqrt(np.log1p(scatter**2)))


def fibre_of(case: Case, name: str) -> str:
    """The fibre of a cloth, by the library's name; a ply given by its constants is by itself."""
    table = case.plies[name]
    return library.fibre(table.fibre).name if table.is_cloth else name
