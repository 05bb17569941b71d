"""The table of the case that says how much things scatter, for `tubfem spread`."""

from typing import Annotated

from pydantic import AfterValidator

from tubfem.case.quantities import SmallRatio, Table, fault


def _share(value: float) -> float:
    if value > 1:
        raise fault(f'{value:g} is not a share of the variance; write it between 0 and 1, or in percent: "50 %"')
    return value


def _scatter(value: float) -> float:
    if value > 1:
        raise fault(f'{value:g} is 100 % of scatter and more; write a standard deviation over its mean, such as "8 %"')
    return value


Scatter = Annotated[SmallRatio, AfterValidator(_scatter)]


class Spread(Table):
    """Coefficients of variation (standard deviation over mean); 0 is certain, left out the library's default applies.

    `common` is the share of the variance of fibre fractions, of joints and of bonds that the whole tub has in common.
    """

    fibre_fraction: Scatter | None = None
    moduli: Scatter | None = None
    shear_moduli: Scatter | None = None
    thickness: Scatter | None = None
    strength: Scatter | None = None
    bonds: Scatter | None = None
    core_shear: Scatter | None = None
    joints: Scatter | None = None
    mounts: Scatter | None = None
    common: Annotated[SmallRatio, AfterValidator(_share)] = 0.5
