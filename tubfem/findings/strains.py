"""Strains of one load case where margins are taken: integration points, element means, means over a length."""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.findings.average import averaging, averaging_length
from tubfem.findings.plies import surface_strain
from tubfem.tub.cover import element_cells
from tubfem.tub.model import LayupField, TubModel


@dataclass(frozen=True, eq=False, slots=True)
class Elements:
    """What does not change with the load: elements through the mesh's blocks in order.

    Attributes
    ----------
    area : (e,) [m2]; `centre` (e, 3) [m]
    normal, axis : (e, 3) e3 and e1 of the material frame in the middle of the element
    panel, region : (e,) index into the mesh's panels; into `regions`
    faces : (e, 2) [m] tool face and far face from the meshed surface, the thickest stack of a mixture
    length : (e,) [m] over which strains are averaged
    mean : (e, e) matrix of those averages
    """

    area: Floats
    centre: Floats
    normal: Floats
    axis: Floats
    panel: Ints
    region: Ints
    regions: tuple[str, ...]
    faces: Floats
    length: Floats
    mean: sparse.csr_array

    def patch(self, element: int) -> Ints:
        """The elements whose strains make up the average of one."""
        return self.mean.indices[self.mean.indptr[element] : self.mean.indptr[element + 1]]


@dataclass(frozen=True, eq=False, slots=True)
class Strains:
    """Generalised strain of one load case in the material frames.

    `at_points` per block (e, q, 8) and `areas` per block (e, q) [m2] at the integration points; `own` (e, 8) the mean
    of every element, `averaged` (e, 8) the mean over its length. `stored` per block (e, q, 8), where energies are
    asked for, are those that store the energy of the elements.
    """

    at_points: tuple[Floats, ...]
    areas: tuple[Floats, ...]
    own: Floats
    averaged: Floats
    stored: tuple[Floats, ...] = ()

    def times(self, scale: float) -> "Strains":
        """The strains under another size of the same load."""
        at_points, stored = (tuple(scale * strain for strain in each) for each in (self.at_points, self.stored))
        return Strains(at_points, self.areas, scale * self.own, scale * self.averaged, stored)


def gather_strains(
    elements: Elements, at_points: tuple[Floats, ...], areas: tuple[Floats, ...], stored: tuple[Floats, ...] = ()
) -> Strains:
    """Means of the strains at the integration points."""
    means = [np.einsum("eq,eqi->ei", w, s) / w.sum(axis=1)[:, None] for s, w in zip(at_points, areas, strict=True)]
    own = np.concatenate(means)
    return Strains(at_points, areas, own, elements.mean @ own, stored)


def describe_elements(model: TubModel) -> Elements:
    """Areas, places, regions and averaging of a tub's elements."""
    mesh = model.mesh
    corners = [mesh.points[block.conn] for block in mesh.blocks]
    vectors = np.concatenate([_area_vectors(X) for X in corners])
    normal = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    direction = np.concatenate([block.direction for block in mesh.blocks])
    axis = direction - (direction * normal).sum(axis=1)[:, None] * normal
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    area = element_cells(mesh).area
    centre = np.concatenate([X.mean(axis=1) for X in corners])
    panel = mesh.element_panel
    regions = tuple(dict.fromkeys(part.region for part in mesh.panels))
    region = np.array([regions.index(part.region) for part in mesh.panels])[panel]
    faces = laminate_faces(model.layup)
    length = averaging_length(faces[:, 1] - faces[:, 0])
    return Elements(
        area,
        centre,
        normal,
        axis,
        panel,
        region,
        regions,
        faces,
        length,
        averaging(centre, area, panel, length),
    )


def laminate_faces(layup: LayupField) -> Floats:
    """Tool face and far face (e, 2) [m] from the meshed surface; of a mixture the outermost of its stacks."""
    z = np.array([(stack.z[0], stack.z[-1]) for stack in layup.stacks])
    of_mixture = np.array([(z[list(ids), 0].min(), z[list(ids), 1].max()) for ids in layup.mixture_stacks])
    return of_mixture[layup.mixture]


def _area_vectors(X: Floats) -> Floats:
    """Normal times area (e, 3) of triangles or (mean surface of) quads with corners X (e, n, 3)."""
    first, second = (X[:, 1], X[:, 2]) if X.shape[1] == 3 else (X[:, 2], X[:, 3])
    other = X[:, 0] if X.shape[1] == 3 else X[:, 1]
    return 0.5 * np.cross(first - X[:, 0], second - other)


def membrane_forces(stiffness: Floats, strains: Strains) -> Floats:
    """Mean membrane forces (e, 3) [N/m] in the material frame, from the stiffness (e, 8, 8) of every element."""
    return np.einsum("eij,ej->ei", stiffness[:, :3], strains.own)


def surface_peaks(strains: Strains, faces: Floats) -> Floats:
    """Greatest principal strain (e,) at the faces (e, 2) of the laminate, at the worst integration point."""
    parts, first = [], 0
    for strain in strains.at_points:
        z = faces[first : first + len(strain), None]
        parts.append(surface_strain(strain, z).max(axis=1))
        first += len(strain)
    return np.concatenate(parts)
