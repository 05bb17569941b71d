"""Places of high strain, ranked by the averaged strain, with the raw peak beside."""

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats
from tubfem.findings.joint_names import JointPlaces
from tubfem.findings.results import HotSpot
from tubfem.findings.strains import Elements
from tubfem.geometry.mesh import TubMesh

COUNT = 12
APART = 0.08  # [m] and at least three elements: nearer places are one


def hot_spots(
    mesh: TubMesh,
    elements: Elements,
    joints: JointPlaces,
    averaged: Floats,
    peak: Floats,
    margin: Floats,
    *,
    mirrored: bool,
) -> tuple[HotSpot, ...]:
    """The highest places that are distinct, highest first; on a mirrored tub a place and its twin are one.

    Parameters
    ----------
    averaged, peak, margin
        (e,) surface strain averaged and at the worst integration point [-], lowest margin.
    """
    apart = max(APART, 3 * mesh.size)
    folded = elements.centre.copy()
    if mirrored:
        folded[:, 1] = np.abs(folded[:, 1])
    tree = cKDTree(folded)
    free = averaged > 0
    found = []
    for e in np.argsort(-averaged, kind="stable"):
        if len(found) == COUNT:
            break
        if not free[e]:
            continue
        near = tree.query_ball_point(folded[e], apart)
        free[near] = False
        e, near = int(e), np.array(near)
        part = mesh.panels[elements.panel[e]]
        joint, distance = joints.nearest(elements.centre[e])
        twin = near[elements.centre[near, 1] * elements.centre[e, 1] < 0] if mirrored else near[:0]
        found.append(
            HotSpot(
                position=tuple(elements.centre[e].tolist()),
                region=part.region,
                panel=part.name,
                joint=joint,
                joint_distance=distance,
                mount=next((mount.name for mount in mesh.mounts if e in mount.pad), None),
                both_sides=bool(len(twin) and averaged[twin].max() > 0.9 * averaged[e]),
                strain_averaged=float(averaged[e]),
                strain_peak=float(peak[elements.patch(e)].max()),
                length=float(elements.length[e]),
                margin=float(margin[e]),
            )
        )
    return tuple(found)
