"""Names of the lines where panels meet, and the one nearest to a place."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from tubfem.arrays import Floats
from tubfem.geometry.mesh import TubMesh


def pair_names(joint_kinds: dict[str, str]) -> dict[frozenset[str], str]:
    """The joint "A/B" of every two panels that meet, as the tub room writes it."""
    return {frozenset(name.split("/", 1)): name for name in joint_kinds}


@dataclass(frozen=True, eq=False, slots=True)
class JointPlaces:
    """Points along all joints and the joint that each lies on."""

    tree: cKDTree | None
    names: tuple[str, ...]

    def nearest(self, place: Floats) -> tuple[str | None, float | None]:
        """Name and distance [m] of the nearest joint."""
        if self.tree is None:
            return None, None
        distance, at = self.tree.query(place)
        return self.names[at], float(distance)


def joint_places(mesh: TubMesh, names: dict[frozenset[str], str]) -> JointPlaces:
    """Middles of all edges of lines between panels; lines between the panels of one region are not joints."""
    middles, owners = [], []
    for line in mesh.joints:
        for a, b in combinations(line.panels, 2):
            name = names.get(frozenset((mesh.panels[a].name, mesh.panels[b].name)))
            if name is None or mesh.panels[a].region == mesh.panels[b].region:
                continue
            middles.append(mesh.points[line.edges].mean(axis=1))
            owners += [name] * len(line.edges)
    if not middles:
        return JointPlaces(None, ())
    return JointPlaces(cKDTree(np.concatenate(middles)), tuple(owners))
