"""Mass of the laid-up shell, its joints and its tubes, and where their centre of gravity lies."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.mass_results import JointMass, Mass
from tubfem.findings.strains import Elements
from tubfem.tub.fillets import LineMass, joint_masses
from tubfem.tub.folds import Folds
from tubfem.tub.layup import layup_mass, mixed
from tubfem.tub.model import FrameBeams, LayupField, TubModel, plain_joint


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


def whole_mass(model: TubModel, elements: Elements) -> Mass:
    """Everything that `NOTES` of the findings lists."""
    mass = shell_mass(model.layup, elements, model.folds)
    return with_frames(with_joints(mass, joint_masses(model.case, model.joints)), model.frames)


def with_joints(mass: Mass, joints: Sequence[LineMass]) -> Mass:
    """A mass with tab plies, filler and adhesive, each along its joint's line."""
    parts: dict[str, list[LineMass]] = {}
    for each in joints:
        parts.setdefault(plain_joint(each.ties.name), []).append(each)
    own = {
        name: JointMass(*(sum(getattr(each, what) for each in found) for what in ("tabs", "filler", "adhesive")))
        for name, found in parts.items()
    }
    added = [(each.total, each.centre) for each in joints]
    return replace(_with(mass, added), joints=own)


def with_frames(mass: Mass, frames: Sequence[FrameBeams]) -> Mass:
    """A mass with subframes of tubes and stiffeners that are beams."""
    own = {frame.name: float(frame.mass.sum()) for frame in frames}
    added = [(m, at) for frame in frames for m, at in zip(frame.mass, frame.ends.mean(1), strict=True)]
    return replace(_with(mass, added), frames=own)


def _with(mass: Mass, added: Sequence[tuple[float, Floats]]) -> Mass:
    """A mass with more of it: each [kg] and its centre (3,) [m]."""
    total = mass.total + float(sum(more for more, _ in added))
    first = mass.total * np.array(mass.centre_of_gravity) + sum((more * at for more, at in added), np.zeros(3))
    return replace(mass, total=total, centre_of_gravity=tuple((first / total).tolist()))
