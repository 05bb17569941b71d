"""Mass of the laid-up shell and its tubes, and where their centre of gravity lies."""

from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.results import Mass
from tubfem.findings.strains import Elements
from tubfem.tub.folds import Folds
from tubfem.tub.layup import layup_mass, mixed
from tubfem.tub.model import FrameBeams, LayupField


def mixture_thickness(layup: LayupField) -> Floats:
    """Mean thickness (e,) [m] of every element."""
    return mixed(layup, np.array([stack.thickness for stack in layup.stacks]))[layup.mixture]


def shell_mass(layup: LayupField, elements: Elements, folds: Folds) -> Mass:
    """Mass by region; plies off the meshed surface count where they lie, and as long as they are at folds."""
    per_area, moment = layup_mass(layup)[layup.mixture, :2].T
    corner = folds.gain * moment[folds.element]
    first = (per_area * elements.area) @ elements.centre + (moment * elements.area) @ elements.normal
    first += corner @ folds.place
    mass = per_area * elements.area + np.bincount(folds.element, weights=corner, minlength=len(elements.area))
    total = float(mass.sum())
    count = len(elements.regions)
    by_region = np.bincount(elements.region, weights=mass, minlength=count)
    areas = np.bincount(elements.region, weights=elements.area, minlength=count)
    return Mass(
        total,
        tuple((first / total).tolist()),
        dict(zip(elements.regions, by_region.tolist(), strict=True)),
        dict(zip(elements.regions, areas.tolist(), strict=True)),
    )


def with_frames(mass: Mass, frames: tuple[FrameBeams, ...]) -> Mass:
    """A mass with subframes of tubes and stiffeners that are beams."""
    own = {frame.name: float(frame.mass.sum()) for frame in frames}
    total = mass.total + sum(own.values())
    first = mass.total * np.array(mass.centre_of_gravity)
    first += sum((frame.mass @ frame.ends.mean(1) for frame in frames), np.zeros(3))
    return replace(mass, total=total, centre_of_gravity=tuple((first / total).tolist()), frames=own)
