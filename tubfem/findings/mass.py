"""Mass of the laid-up shell and where its centre of gravity lies."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.results import Mass
from tubfem.findings.strains import Elements
from tubfem.tub.layup import layup_mass, mixed
from tubfem.tub.model import LayupField


def mixture_thickness(layup: LayupField) -> Floats:
    """Mean thickness (e,) [m] of every element."""
    return mixed(layup, np.array([stack.thickness for stack in layup.stacks]))[layup.mixture]


def shell_mass(layup: LayupField, elements: Elements) -> Mass:
    """Mass by region; the centre of gravity counts where the plies lie off the meshed surface."""
    per_area, moment = layup_mass(layup)[layup.mixture, :2].T
    mass = per_area * elements.area
    total = float(mass.sum())
    first = (mass[:, None] * elements.centre + (moment * elements.area)[:, None] * elements.normal).sum(axis=0)
    count = len(elements.regions)
    by_region = np.bincount(elements.region, weights=mass, minlength=count)
    areas = np.bincount(elements.region, weights=elements.area, minlength=count)
    return Mass(
        total,
        tuple((first / total).tolist()),
        dict(zip(elements.regions, by_region.tolist(), strict=True)),
        dict(zip(elements.regions, areas.tolist(), strict=True)),
    )
