"""Panels as rectangles between their joints, and their buckling by hand formulas.

Simply supported, a along the longer side and b along the shorter, D the laminate's bending stiffness with coupling to
the membrane taken off, D - B A^-1 B [E. Reissner & Y. Stavsky, J. Appl. Mech. 28 (1961) 402]:

    shear       k pi^2 D / b^2,  k = 5.35 + 4 (b/a)^2,  D = (D1 D2^3)^(1/4)
    along a     (2 pi^2 / b^2) (sqrt(D1 D2) + D12 + 2 D66)
    along b     (pi^2 / b^2) (D2 + 2 (D12 + 2 D66) (b/a)^2 + D1 (b/a)^4)

[S. P. Timoshenko & J. M. Gere, Theory of Elastic Stability, chapter 9, isotropic coefficients; S. G. Lekhnitskii,
Anisotropic Plates, for the orthotropic forms; the mean D in shear after E. Seydel 1930, from memory]. Transverse
shear adds its own flexibility, 1/N = 1/N_bending + 1/S. Together: R_compression + R_shear^2 = 1.

Left out: clamping by neighbours (up to 1.7 times in shear, 9 against 5.35), D16 and D26 (the sign of shear matters by
1.4 to 1.7 where they are large), curvature, openings, uneven load, and tension, which would help.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph
from scipy.spatial import ConvexHull

from tubfem.arrays import Floats, Ints
from tubfem.findings.stability_results import BayCheck
from tubfem.findings.strains import Elements
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.ply import stress_rotation, turned, vector_rotation

SHEAR_SIMPLE, SHEAR_SQUARE = 5.35, 4.0
NOTHING = 1e-9  # of the loads: rounding
FEW = 4  # elements: a smaller piece is no bay


@dataclass(frozen=True, eq=False, slots=True)
class Bay:
    """A part of a panel: its elements, its plane's axes along a and b (2, 3), sides [m], fill and rise."""

    name: str
    region: str
    elements: Ints
    axes: Floats
    a: float
    b: float
    fill: float
    rise: float


def bay_of_elements(mesh: TubMesh) -> Ints:
    """Number (e,) of the part of a panel that each element lies in: parts end at joint lines and at free edges."""
    owner, sides, first = [], [], 0
    for block in mesh.blocks:
        count, n = block.conn.shape
        pairs = np.stack([block.conn, np.roll(block.conn, -1, axis=1)], -1).reshape(-1, 2)
        sides.append(np.sort(pairs, axis=1))
        owner.append(np.repeat(np.arange(first, first + count), n))
        first += count
    side, element = np.concatenate(sides), np.concatenate(owner)
    size = len(mesh.points)
    key = side[:, 0] * size + side[:, 1]
    lines = [np.sort(line.edges, axis=1) for line in mesh.joints]
    joint = np.concatenate([np.empty((0, 2), dtype=np.int64), *lines])
    inside = ~np.isin(key, joint[:, 0] * size + joint[:, 1])
    order = np.argsort(key[inside], kind="stable")
    key, element = key[inside][order], element[inside][order]
    same = np.flatnonzero(key[1:] == key[:-1])
    one, other = element[same], element[same + 1]
    together = mesh.element_panel[one] == mesh.element_panel[other]
    one, other = one[together], other[together]
    graph = sparse.coo_array((np.ones(len(one)), (one, other)), shape=(first, first))
    return csgraph.connected_components(graph, directed=False)[1].astype(np.int64)


def find_bays(mesh: TubMesh, elements: Elements) -> tuple[Bay, ...]:
    """Every part of every panel with more than a few elements."""
    part = bay_of_elements(mesh)
    nodes = np.concatenate([np.concatenate([block.conn, block.conn[:, :1]], 1)[:, :4] for block in mesh.blocks])
    chosen = [np.flatnonzero(part == number) for number in range(part.max() + 1)]
    chosen = [each for each in chosen if len(each) >= FEW]
    panels = [int(elements.panel[each[0]]) for each in chosen]
    bays, seen = [], dict.fromkeys(panels, 0)
    for own, panel in zip(chosen, panels, strict=True):
        seen[panel] += 1
        name = mesh.panels[panel].name + (f" {seen[panel]}" if panels.count(panel) > 1 else "")
        points = mesh.points[np.unique(nodes[own])]
        bays.append(_bay(name, mesh.panels[panel].region, own, points, elements))
    return tuple(bays)


def _bay(name: str, region: str, own: Ints, points: Floats, elements: Elements) -> Bay:
    area = elements.area[own]
    normal = (elements.normal[own] * area[:, None]).sum(0)
    normal /= np.linalg.norm(normal)
    helper = np.eye(3)[np.argmin(np.abs(normal))]
    first = np.cross(normal, helper)
    first /= np.linalg.norm(first)
    plane = np.stack([first, np.cross(normal, first)])
    flat = (points - points.mean(0)) @ plane.T
    outline = flat[ConvexHull(flat).vertices]
    # The smallest rectangle has a side along a side of the hull.
    side = np.roll(outline, -1, axis=0) - outline
    angle = np.arctan2(side[:, 1], side[:, 0])
    turn = np.stack([np.stack([np.cos(angle), np.sin(angle)], -1), np.stack([-np.sin(angle), np.cos(angle)], -1)], 1)
    size = np.ptp(outline @ turn.transpose(0, 2, 1), axis=1)
    best = int(np.argmin(size.prod(1)))
    rows, (a, b) = turn[best], size[best]
    if a < b:
        rows, a, b = np.stack([rows[1], -rows[0]]), b, a
    rise = float(np.ptp(points @ normal) / b)
    return Bay(name, region, own, rows @ plane, float(a), float(b), float(area.sum() / (a * b)), rise)


def check_bay(bay: Bay, elements: Elements, stiffness: Floats, forces: Floats) -> BayCheck:
    """Hand value of a bay.

    Parameters
    ----------
    stiffness : (e, 8, 8)
        Of every element of the mesh, in its material frame.
    forces : (e, 3)
        Nx Ny Nxy of the load case [N/m], likewise.
    """
    own = bay.elements
    weight = elements.area[own] / elements.area[own].sum()
    e1, normal = elements.axis[own], elements.normal[own]
    angle = np.arctan2(np.cross(normal, e1) @ bay.axes[0], e1 @ bay.axes[0])
    N = np.einsum("e,eij,ej->i", weight, stress_rotation(angle), forces[own])
    C = stiffness[own]
    A, B, D = C[:, :3, :3], C[:, :3, 3:6], C[:, 3:6, 3:6]
    D = np.einsum("e,eij->ij", weight, turned(D - B @ np.linalg.solve(A, B), -angle))
    R = vector_rotation(angle)
    S = np.einsum("e,eij->ij", weight, R @ C[:, 6:, 6:] @ R.transpose(0, 2, 1))
    mean = (D[0, 0] * D[1, 1] ** 3) ** 0.25
    ratio = (bay.b / bay.a) ** 2
    per = np.pi**2 / bay.b**2
    twist = D[0, 1] + 2 * D[2, 2]
    bending = per * np.array(
        [
            2 * (np.sqrt(D[0, 0] * D[1, 1]) + twist),
            D[1, 1] + 2 * twist * ratio + D[0, 0] * ratio**2,
            (SHEAR_SIMPLE + SHEAR_SQUARE * ratio) * mean,
        ]
    )
    own_shear = np.array([S[0, 0], S[1, 1], np.sqrt(np.linalg.det(S))])
    along, across, shear = 1 / (1 / bending + 1 / own_shear)
    same, other = (_together(sign * N, np.array([along, across, shear])) for sign in (1, -1))
    sizes = (bay.a, bay.b, bay.fill, bay.rise)
    loads = (float(N[0]), float(N[1]), float(N[2]))
    return BayCheck(
        bay.name, bay.region, *sizes, *loads, float(mean), float(shear), float(along), float(across), (same, other)
    )


def _together(N: Floats, critical: Floats) -> float | None:
    """λ of λ R_compression + (λ R_shear)² = 1."""
    compression = float((np.maximum(-N[:2], 0.0) / critical[:2]).sum())
    shear = float(abs(N[2]) / critical[2])
    if compression + shear < NOTHING * float(np.abs(N / critical).max()):
        return None
    return float(2 / (compression + np.sqrt(compression**2 + 4 * shear**2)))
