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
from tubfem.tub.foam_bricks import LEAST, brick_foam
from tubfem.tub.foam_slabs import box_axes, slab_foam
from tubfem.tub.model import LayupField
from tubfem.tub.plies import entry_layers
from tubfem.tub.ring import Meeting, corner_lines, meeting, ring_walls
from tubfem.tub.split import SplitMesh
from tubfem.tub.surface import surface_of

STRAIGHT = 0.1  # sine of the angle between two walls that go on into each other, without a corner


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

    Exact for straight rings of plane walls, whatever angles they meet at. Nothing where the walls meet all over: their
    inner faces have no area left.
    """
    volume = _signed_volume(mesh, elements)
    inwards = volume < 0
    inner = _inner_halves(layup, inwards=inwards)
    area = areas(mesh)[elements]
    lost, twice = _corners(mesh, elements, inner, inwards=inwards)
    left = abs(volume) - float((area * inner[elements]).sum()) + twice
    return (left if area.sum() > lost and left > 0 else 0.0), inwards


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


def _corners(mesh: TubMesh, elements: Ints, inner: Floats, *, inwards: bool) -> tuple[float, float]:
    """What walls take off the inner faces of their neighbours [m²], and what two both take off at corners [m³].

    Walls h and k thick inside that meet at the angle φ have their inner corner (k + h cos φ) / sin φ along the one and
    (h + k cos φ) / sin φ along the other; both take off (2 h k + (h² + k²) cos φ) / (2 sin φ) there.
    """
    panel, area = mesh.element_panel[elements], areas(mesh)[elements]
    surface = surface_of(mesh)
    normal, middle = (each[elements] * area[:, None] for each in (surface.normal, surface.middle))
    half, inward, centre = {}, {}, {}
    for k in np.unique(panel).tolist():
        mine = panel == k
        half[k] = float(inner[elements[mine]].mean())
        total = normal[mine].sum(0) * (1 if inwards else -1)
        inward[k], centre[k] = total / np.linalg.norm(total), middle[mine].sum(0) / area[mine].sum()
    lost = twice = 0.0
    for line in mesh.joints:
        walls = [k for k in line.panels if k in half]
        if len(walls) != 2:
            continue
        one, other = walls
        ends = mesh.points[line.edges]
        length = float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())
        cos = -float(inward[one] @ inward[other])
        sin = np.sqrt(max(1 - cos**2, 0.0))
        if sin < STRAIGHT:
            continue
        sin = sin if (centre[other] - ends.mean(axis=(0, 1))) @ inward[one] > 0 else -sin  # walls may turn outwards
        h, k = half[one], half[other]
        lost += length * (h + k) * (1 + cos) / sin
        twice += length * (2 * h * k + (h**2 + k**2) * cos) / (2 * sin)
    return lost, twice


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
    """Foam inside one section: rows of springs, and the points (n, 3) [m] of its bricks if it has any.

    `caution` says where the section's walls meet inside; empty where they leave foam its room.
    """

    name: str
    springs: Springs
    points: Floats
    note: str
    caution: str


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
            start = first + sum(len(foam.points) for foam in found)
            springs, points, how = _filled(mesh, split, elements, inner, C, volume, start)
            met = meeting(mesh, ring_walls(mesh, elements), elements, inner)
            caution = "" if met is None else _met(mesh, name, section.fill, elements, met, springs, points)
            found.append(Foam(f"{name}{side}", springs, points, f"foam inside {name}{side}: {how}", caution))
    return tuple(found)


def _filled(
    mesh: TubMesh, split: SplitMesh, elements: Ints, inner: Floats, C: Floats, volume: float, first: int
) -> tuple[Springs, Floats, str]:
    """Springs of the foam in one ring, the points of its bricks, and in words how it is modelled."""
    none = np.zeros((0, 3))
    if volume <= 0:
        springs = Springs(np.zeros((0, 1), dtype=np.int64), np.zeros((0, 1)), np.zeros(0))
        return springs, none, "none, its walls leave no room"
    bricks = brick_foam(mesh, split, elements, inner, C, box_axes(mesh, split, elements), volume, first)
    if bricks is not None:
        springs, grid = bricks
        return springs, grid.points.reshape(-1, 3), f"{' x '.join(map(str, grid.counts))} bricks"
    four = len(corner_lines(mesh, ring_walls(mesh, elements)) or ()) == 4
    why = "bricks would be too crooked in its ring" if four else "its ring has not four walls"
    springs = slab_foam(mesh, split, elements, volume, C, abs(_signed_volume(mesh, elements)))
    return springs, none, f"slabs of uniform strain, {why}"


def _met(mesh: TubMesh, section: str, foam: str, elements: Ints, met: Meeting, springs: Springs, points: Floats) -> str:
    """Caution for walls that meet inside a filled section."""
    regions = dict.fromkeys(mesh.panels[k].region for k in np.unique(mesh.element_panel[elements]).tolist())
    x, y, z = (1e3 * c for c in met.place)
    if not len(springs.stiffness):
        room = f"no {foam} is counted"
    elif len(points):
        room = f"{foam} there is drawn {LEAST:.0%} as wide as the section"
    else:
        room = f"{foam} is counted as if it lay evenly along the section"
    return (
        f"sections.{section}: its walls meet inside. At x {x:.0f}, y {y:.0f}, z {z:.0f} mm {met.wall} is "
        f"{1e3 * met.width:.0f} mm wide and the walls beside it take {1e3 * met.taken:.0f} mm of that. Walls that "
        f"overlap count twice, {room}: thinner cores or fewer plies in {', '.join(regions)}, a wider section, or no "
        "fill"
    )


def solid_stiffness(foam: CorePly) -> Floats:
    """Stiffness (6, 6) [Pa] of a foam for strains xx, yy, zz, yz, zx, xy (engineering shear).

    Crushing modulus and shear modulus are the foam's own, along and across the box that it fills. What it does
    sideways under pressure is left out: the two do not make an isotropic body together, and foam inside a box is free
    to do little sideways.
    """
    return np.diag([foam.Ec, foam.Ec, foam.Ec, *[0.5 * (foam.G13 + foam.G23)] * 3])
