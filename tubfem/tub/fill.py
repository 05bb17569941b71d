"""Foam inside a section: its volume, its mass on the walls around it, its stiffness between them."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.schema import Case
from tubfem.case.stuff import StackEntry
from tubfem.geometry.mesh import TubMesh, areas
from tubfem.materials.ply import CorePly
from tubfem.shell.model import Springs
from tubfem.tub.foam_bricks import brick_foam
from tubfem.tub.model import LayupField
from tubfem.tub.plies import entry_layers
from tubfem.tub.split import SplitMesh
from tubfem.tub.surface import surface_of


def with_fill(case: Case, mesh: TubMesh, layup: LayupField) -> LayupField:
    """The layup with the mass of all foam inside sections spread evenly over the walls around it."""
    filling = np.zeros(len(layup.mixture_stacks))
    mixture = layup.mixture.copy()
    stacks, weights = list(layup.mixture_stacks), list(layup.mixture_weights)
    notes = list(layup.notes)
    area, inside = areas(mesh), {}
    for name, section in case.sections.items():
        if section.fill is None:
            continue
        foam = fill_ply(case, section.fill)
        for side, elements in _walls(mesh, name):
            volume, inwards = inner_volume(mesh, layup, elements)
            inside[f"{name}{side}"] = volume, inwards
            per_area = foam.rho * volume / area[elements].sum()
            used, back = np.unique(mixture[elements], return_inverse=True)
            mixture[elements] = len(stacks) + back.ravel()
            filling = np.concatenate([filling, np.full(len(used), per_area)])
            stacks += [stacks[k] for k in used]
            weights += [weights[k] for k in used]
            notes.append(f"{section.fill} inside {name}{side}: {1e3 * volume:.2f} l, {foam.rho * volume:.3f} kg")
    if len(stacks) == len(layup.mixture_stacks):
        return layup
    return replace(
        layup,
        mixture=frozen(mixture),
        mixture_stacks=tuple(stacks),
        mixture_weights=tuple(weights),
        filling=tuple(filling.tolist()),
        inside=inside,
        notes=tuple(notes),
    )


def fill_ply(case: Case, name: str) -> CorePly:
    """The core of the case that a section is filled with, as a sheet of no particular thickness."""
    return entry_layers(case, (StackEntry.model_validate(f"{name} 10 mm"),), label="fill")[0].ply


def _walls(mesh: TubMesh, section: str) -> list[tuple[str, Ints]]:
    """Elements of a section's walls, half by half; all together where a wall goes across the middle."""
    halves: dict[str, list[int]] = {}
    for k, panel in enumerate(mesh.panels):
        if panel.section and panel.plain.partition(".")[0] == section:
            side = panel.name.removeprefix(panel.plain)
            halves.setdefault(side if side in (".left", ".right") else "", []).append(k)
    if "" in halves:
        halves = {"": [k for panels in halves.values() for k in panels]}
    return [(side, np.flatnonzero(np.isin(mesh.element_panel, panels))) for side, panels in sorted(halves.items())]


def inner_volume(mesh: TubMesh, layup: LayupField, elements: Ints) -> tuple[float, bool]:
    """Volume [m³] inside a ring of walls with its ends closed flat, walls' own inner halves taken off.

    And whether the walls' normals look into the ring.

    Right for rings whose corners are right angles; where walls t thick inside meet at another angle the corner is
    counted as t² all the same.
    """
    volume = _signed_volume(mesh, elements)
    inwards = volume < 0
    inner = _inner_halves(layup, inwards=inwards)
    walls = float((areas(mesh)[elements] * inner[elements]).sum())
    return abs(volume) - walls + _corners(mesh, elements, inner), inwards


def _signed_volume(mesh: TubMesh, elements: Ints) -> float:
    """Volume [m³] inside a ring with its ends closed flat; negative if normals look into it."""
    triangles = _triangles(mesh, elements)
    closed = np.concatenate([mesh.points[triangles], _caps(mesh.points, triangles)])
    return float(np.einsum("ti,ti->", closed[:, 0], np.cross(closed[:, 1], closed[:, 2])) / 6)


def _inner_halves(layup: LayupField, *, inwards: bool) -> Floats:
    """From the mesh to the inner face of every element [m]; `inwards` if normals look into the ring."""
    z = np.array([(stack.z[0], stack.z[-1]) for stack in layup.stacks])
    main = [ids[w.index(max(w))] for ids, w in zip(layup.mixture_stacks, layup.mixture_weights, strict=True)]
    return (z[main, 1] if inwards else -z[main, 0])[layup.mixture]


def _corners(mesh: TubMesh, elements: Ints, inner: Floats) -> float:
    """What two walls both take off at their corners [m³]: length times both inner halves."""
    panel = mesh.element_panel
    own = np.unique(panel[elements])
    half = {k: float(inner[panel == k].mean()) for k in own.tolist()}
    total = 0.0
    for line in mesh.joints:
        walls = [k for k in line.panels if k in half]
        if len(walls) == 2:
            ends = mesh.points[line.edges]
            total += float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()) * half[walls[0]] * half[walls[1]]
    return total


def _triangles(mesh: TubMesh, elements: Ints) -> Ints:
    found, first = [], 0
    for block in mesh.blocks:
        conn = block.conn[elements[(elements >= first) & (elements < first + len(block.conn))] - first]
        found += [conn[:, [0, k, k + 1]] for k in range(1, block.conn.shape[1] - 1)]
        first += len(block.conn)
    return np.concatenate(found)


def _caps(points: Floats, triangles: Ints) -> Floats:
    """Triangles (n, 3, 3) that close every open rim of a surface towards the rim's middle."""
    directed = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    key, back = directed @ np.array([len(points), 1]), directed[:, ::-1] @ np.array([len(points), 1])
    rim = directed[~np.isin(key, back)]
    if not len(rim):
        return np.zeros((0, 3, 3))
    graph = sparse.coo_array((np.ones(len(rim)), rim.T), shape=(len(points), len(points)))
    _, loop = csgraph.connected_components(graph, directed=False)
    number = loop[rim[:, 0]]
    caps = []
    for each in np.unique(number):
        edges = points[rim[number == each]]
        middle = np.broadcast_to(edges.mean(axis=(0, 1)), (len(edges), 3))
        caps.append(np.stack([edges[:, 1], edges[:, 0], middle], axis=1))
    return np.concatenate(caps)


@dataclass(frozen=True, eq=False, slots=True)
class Foam:
    """Foam inside one section: rows of springs, and the points (n, 3) [m] of its bricks if it has any."""

    name: str
    springs: Springs
    points: Floats
    note: str


def foam_springs(case: Case, mesh: TubMesh, layup: LayupField, split: SplitMesh, first: int) -> tuple[Foam, ...]:
    """Foam of every filled section: bricks in a ring of four walls, slabs of uniform strain in any other.

    Parameters
    ----------
    first
        Number of the shell's point that the first brick's point becomes.
    """
    found: list[Foam] = []
    normal = None
    for name, section in case.sections.items():
        if section.fill is None:
            continue
        normal = surface_of(mesh).normal if normal is None else normal
        C = solid_stiffness(fill_ply(case, section.fill))
        for side, elements in _walls(mesh, name):
            volume, inwards = layup.inside[f"{name}{side}"]
            inner = _inner_halves(layup, inwards=inwards)[:, None] * (normal if inwards else -normal)
            frame = _axes(mesh, split, elements)
            start = first + sum(len(foam.points) for foam in found)
            bricks = brick_foam(mesh, split, elements, inner, C, frame, volume, start)
            if bricks is None:
                springs, points = _slabs(mesh, split, elements, volume, C), np.zeros((0, 3))
                note = f"foam inside {name}{side}: slabs of uniform strain, its ring has not four walls"
            else:
                springs, grid = bricks
                points = grid.points.reshape(-1, 3)
                note = f"foam inside {name}{side}: {' x '.join(map(str, grid.counts))} bricks"
            found.append(Foam(f"{name}{side}", springs, points, note))
    return tuple(found)


def _axes(mesh: TubMesh, split: SplitMesh, elements: Ints) -> Floats:
    """A box's own axes (3, 3), the first along it."""
    nodes, _, weight = _corners_of(mesh, split, elements)
    X = mesh.points[split.mesh_node[nodes]]
    arm = X - np.average(X, axis=0, weights=weight)
    frame = np.linalg.svd(arm * np.sqrt(weight)[:, None], full_matrices=False)[2]
    return np.array([frame[0], frame[1], np.cross(frame[0], frame[1])])  # right-handed


def solid_stiffness(foam: CorePly) -> Floats:
    """Stiffness (6, 6) [Pa] of a foam for strains xx, yy, zz, yz, zx, xy (engineering shear).

    Crushing modulus and shear modulus are the foam's own, along and across the box that it fills. What it does
    sideways under pressure is left out: the two do not make an isotropic body together, and foam inside a box is free
    to do little sideways.
    """
    return np.diag([foam.Ec, foam.Ec, foam.Ec, *[0.5 * (foam.G13 + foam.G23)] * 3])


def _slabs(mesh: TubMesh, split: SplitMesh, elements: Ints, volume: float, C: Floats) -> Springs:
    """Six rows for every slab (L.2), padded with coefficients of zero to one width."""
    nodes, owner, weight = _corners_of(mesh, split, elements)
    X = mesh.points[split.mesh_node[nodes]]
    place = np.average(X, axis=0, weights=weight)
    frame = _axes(mesh, split, elements)
    along = (X - place) @ frame[0]
    along = np.copysign(1.0, (weight * along**3).sum()) * along  # whichever way the axis came out
    span = np.ptp(along)
    count = max(round(span / np.sqrt(volume / span)), 1)  # slabs about as long as the box is wide
    middle = np.bincount(owner, along) / np.maximum(np.bincount(owner), 1)
    slab = np.minimum(((middle[owner] - along.min()) / span * count).astype(np.int64), count - 1)
    rows, share = [], []
    for k in np.unique(slab):
        mine = slab == k
        used, back = np.unique(nodes[mine], return_inverse=True)
        w = np.bincount(back.ravel(), weight[mine])
        B = mean_strain(mesh.points[split.mesh_node[used]] @ frame.T, w).reshape(6, -1, 3) @ frame
        rows.append((used, B.reshape(6, -1)))
        share.append(w.sum())
    width = 3 * max(len(used) for used, _ in rows)
    freedoms = np.zeros((len(rows), 6, width), dtype=np.int64)
    coefficients = np.zeros((len(rows), 6, width))
    for k, (used, B) in enumerate(rows):
        own = (6 * used[:, None] + np.arange(3)).ravel()
        freedoms[k, :, : len(own)], freedoms[k, :, len(own) :] = own, own[0]
        coefficients[k, :, : 3 * len(used)] = B
    stiffness = volume * np.outer(np.array(share) / np.sum(share), np.diag(C))
    return Springs(freedoms.reshape(-1, width), coefficients.reshape(-1, width), stiffness.ravel())


def _corners_of(mesh: TubMesh, split: SplitMesh, elements: Ints) -> tuple[Ints, Ints, Floats]:
    """Shell node, element and part of its area [m²] of every corner of some elements."""
    area = areas(mesh)
    conn = np.concatenate([c.ravel() for c in split.conn])
    count = np.concatenate([np.full(len(c), c.shape[1]) for c in split.conn])
    owner = np.repeat(np.arange(len(count)), count)
    chosen = np.isin(owner, elements)
    return conn[chosen], owner[chosen], (area / count)[owner[chosen]]


def mean_strain(X: Floats, weight: Floats) -> Floats:
    """Matrix (6, 3 n) from the motion of places X (n, 3) to the strain of the affine motion that fits it best."""
    arm = X - np.average(X, axis=0, weights=weight)
    moment = (arm * weight[:, None]).T @ arm
    grad = np.linalg.solve(moment, (arm * weight[:, None]).T)  # (3, n): d/dx_j of any field
    B = np.zeros((6, len(X), 3))
    for i in range(3):
        B[i, :, i] = grad[i]
        j, k = (i + 1) % 3, (i + 2) % 3
        B[3 + i, :, j], B[3 + i, :, k] = grad[k], grad[j]
    return B.reshape(6, -1)
