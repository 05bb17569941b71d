"""Tubes and strips bonded on a panel, as beams beside the laminate that move with the surface under them."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.joining import Stiffener
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.geometry.distance import nearest
from tubfem.geometry.mesh import TubMesh
from tubfem.materials import library
from tubfem.shell import quad4, tria3
from tubfem.shell.beam2 import arms, beams, rectangle, tube
from tubfem.shell.model import Block
from tubfem.shell.motion import motion_at
from tubfem.shell.normals import smooth_normals
from tubfem.tub.layup import mixed
from tubfem.tub.model import FrameBeams, LayupField
from tubfem.tub.mounts import stiffened_walls, wall_middle
from tubfem.tub.surface import surface_of

OFF = 20e-3  # m that a point may lie off the laminate: dropped square on to it, as a mount's is
REACH = 0.25  # m within which the surface is looked for at all
SAMPLES = 8  # along a path for each mesh size, to see which panel it runs on
SHARPEST = 0.5  # of 1 + cosine of a fold: offsets at a sharper one are cut short


@dataclass(frozen=True, eq=False, slots=True)
class _Ground:
    """The surface that stiffeners are bonded on: elements through the blocks in order, triangles' last corner twice.

    `faces` (e, 2): heights of the tool and the far face over the meshed surface [m].
    """

    points: Floats
    corners: Ints
    panel: Ints
    faces: Floats
    blocks: tuple[Block, ...]
    normals: tuple[Floats, ...]


@dataclass(frozen=True, eq=False, slots=True)
class _Line:
    """A stiffener's run of places (n, 3), the first of each piece's elements (n, 2), and its offset at each (n, 3).

    `element[k]` are those on which node k ends one piece and begins the next, alike but at a fold.
    """

    place: Floats
    element: Ints
    centre: Floats


def stiffener_beams(
    case: Case, mesh: TubMesh, layup: LayupField, points: Floats, blocks: tuple[Block, ...]
) -> tuple[tuple[FrameBeams, ...], tuple[str, ...]]:
    """Every stiffener that is a beam, side by side, and what was done in words.

    Parameters
    ----------
    points, blocks
        Of the shell model, whose elements are those of the mesh in order.

    Raises
    ------
    CaseError
        A path leaves the surface, or names no wall or material.
    """
    wanted = {name: table for name, table in case.stiffeners.items() if table.is_beam}
    if not wanted:
        return (), ()
    ground = _ground(mesh, layup, points, blocks)
    frames, notes, faults = [], [], []
    for name, table in wanted.items():
        try:
            solid = _solid(case, name, table)
            for side, path, panel in _paths(case, mesh, name, table):
                line = _laid(case, ground, mesh, name, path, panel, table)
                frame = _beams(ground, f"{name}{side}", line, table, solid)
                frames.append(frame)
                notes.append(_note(mesh, ground, frame, line))
        except CaseError as error:
            faults += error.messages
    if faults:
        raise CaseError(faults)
    return tuple(frames), tuple(notes)


def _ground(mesh: TubMesh, layup: LayupField, points: Floats, blocks: tuple[Block, ...]) -> _Ground:
    conns = [block.conn for block in blocks]
    corners = np.concatenate([np.pad(conn, ((0, 0), (0, 4 - conn.shape[1])), mode="edge") for conn in conns])
    faces = mixed(layup, np.array([[stack.z[0], stack.z[-1]] for stack in layup.stacks]))[layup.mixture]
    return _Ground(points, corners, mesh.element_panel, faces, blocks, tuple(smooth_normals(points, conns)))


def _solid(case: Case, name: str, table: Stiffener) -> library.Solid:
    try:
        return library.solid(table.material)
    except CaseError as error:
        place = ("stiffeners", name, "material")
        raise CaseError([case.message(place, text) for text in error.messages]) from None


def _paths(case: Case, mesh: TubMesh, name: str, table: Stiffener) -> Iterator[tuple[str, Floats, int | None]]:
    """Side, points (n, 3) and, up a wall, the one panel of a stiffener on every side where it is."""
    if table.on is not None:
        surface = surface_of(mesh)
        for wall in stiffened_walls(case, mesh, name):
            panel = mesh.panels[wall].name
            side = next((end for end in (".left", ".right") if panel.endswith(end)), "")
            yield side, wall_middle(case, mesh, surface, wall), wall
        return
    for side in (".left", ".right") if case.mirror is not None else ("",):
        if table.only is not None and side != f".{table.only}":
            continue
        path = []
        for point in table.path:
            if isinstance(point, str):
                node = mesh.nodes_at.get(point + side, mesh.nodes_at.get(point))
                path.append(mesh.points[node])
            else:
                path.append(np.array(point) * [1, -1 if side == ".left" else 1, 1])
        found = np.array(path)
        if case.mirror is not None and (np.abs(found[:, 1]) < 1e-6).all():
            yield "", found, None
            return
        yield side, found, None


def _laid(
    case: Case, ground: _Ground, mesh: TubMesh, name: str, path: Floats, panel: int | None, table: Stiffener
) -> _Line:
    """A path on the surface, cut at its own points, where it passes on to another panel, and into mesh sizes."""
    own = np.arange(len(ground.panel)) if panel is None else np.flatnonzero(ground.panel == panel)
    place: list[Floats] = []
    element: list[list[int]] = []
    for number, (a, b) in enumerate(pairwise(path), start=1):
        length = float(np.linalg.norm(b - a))
        if length < 1e-6:
            raise CaseError(
                case.message(("stiffeners", name), f"points {number} and {number + 1} of the path coincide")
            )
        s = (np.arange(max(2, ceil(SAMPLES * length / mesh.size))) + 0.5) / max(2, ceil(SAMPLES * length / mesh.size))
        _refuse_off(case, ground, own, name, number, np.array([a, b]), s)
        _, _, which = nearest(a + s[:, None] * (b - a), ground.points, ground.corners[own], REACH)
        for start, stop, on in _runs(s, ground.panel[own[which]]):
            mine = own[ground.panel[own] == on]
            pieces = max(1, ceil((stop - start) * length / mesh.size))
            t = np.linspace(start, stop, pieces + 1)[:, None]
            _, foot, at = nearest(a + t * (b - a), ground.points, ground.corners[mine], REACH)
            if place:
                element[-1][1] = int(mine[at[0]])
            else:
                place.append(foot[0])
                element.append([int(mine[at[0]])] * 2)
            place += list(foot[1:])
            element += [[int(e)] * 2 for e in mine[at[1:]]]
    both = np.array(element)
    return _Line(np.array(place), both, np.array(place) + _offset(ground, both, table))


def _refuse_off(case: Case, ground: _Ground, own: Ints, name: str, number: int, ends: Floats, s: Floats) -> None:
    """Raise `CaseError` if a leg of a path ends off the laminate, or leaves it on the way."""
    t = np.concatenate([[0.0, 1.0], s])[:, None]
    gap, _, which = nearest(ends[0] + t * (ends[1] - ends[0]), ground.points, ground.corners[own], REACH)
    within = np.abs(ground.faces[own[which]]).max(1)
    off = np.where(which < 0, np.inf, np.maximum(gap - within, 0.0))
    if (off <= OFF).all():
        return
    far = f"{1e3 * off[off <= REACH].max(initial=0.0):.0f} mm" if np.isfinite(off).all() else f"over {1e3 * REACH:g} mm"
    if (off[:2] > OFF).any():
        index = number - 1 + int(np.argmax(off[:2]))
        gone = f"{1e3 * off[:2].max():.0f} mm" if np.isfinite(off[:2]).all() else f"over {1e3 * REACH:g} mm"
        text = f"lies {gone} off every panel; at most {1e3 * OFF:.0f} mm are dropped on to one"
        path = ("stiffeners", name, "path", index) if case.stiffeners[name].path else ("stiffeners", name)
        raise CaseError(case.message(path, text))
    text = f"leaves the surface by {far} between its points {number} and {number + 1}: put a point on the fold or bend"
    raise CaseError(case.message(("stiffeners", name, "path"), text))


def _runs(s: Floats, panel: Ints) -> list[tuple[float, float, int]]:
    """Stretches (start, stop, panel) of a leg from the panels at its samples; one sample alone is no stretch."""
    same = np.diff(panel) == 0
    steady = np.append(same, False) | np.append(False, same)
    keep = np.flatnonzero(steady) if steady.any() else np.arange(len(s))
    first = keep[np.append(True, np.diff(panel[keep]) != 0)]
    starts = np.append(0.0, 0.5 * (s[first[1:]] + s[first[1:] - 1]))
    return list(zip(starts.tolist(), [*starts[1:].tolist(), 1.0], panel[first].tolist(), strict=True))


def _offset(ground: _Ground, element: Ints, table: Stiffener) -> Floats:
    """From every place to the beam's axis (n, 3) [m]; at a fold to where the axes of both sides meet."""
    half = 0.5 * (table.tube[0] if table.tube is not None else table.strip[1])
    height = ground.faces[element, 1] + half if table.side == "far" else ground.faces[element, 0] - half
    X = ground.points[ground.corners[element]]
    normal = np.cross(X[:, :, 2] - X[:, :, 0], X[:, :, 3] - X[:, :, 1])
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    one, other = normal[:, 0], normal[:, 1]
    meeting = np.maximum(1 + (one * other).sum(1), SHARPEST)
    return height.mean(1)[:, None] * (one + other) / meeting[:, None]


def _beams(ground: _Ground, name: str, line: _Line, table: Stiffener, solid: library.Solid) -> FrameBeams:
    count = len(line.place) - 1
    rows, freedoms = _motion(ground, line)
    pair = np.stack([np.arange(count), np.arange(1, count + 1)], 1)
    ends = line.centre[pair]
    offset = ends - line.place[pair]
    surface = np.zeros((count, 12, 48))
    surface[:, :6, :24], surface[:, 6:, 24:] = rows[pair[:, 0]], rows[pair[:, 1]]
    E, G, rho, nu = (np.full(count, value) for value in (solid.E1, solid.G12, solid.density, solid.nu12))
    if table.tube is not None:
        d, t = table.tube
        section, size = tube(np.full(count, d), np.full(count, t), nu), f"tube {1e3 * d:g} x {1e3 * t:g}"
    else:
        b, t = table.strip
        section, size = rectangle(np.full(count, b), np.full(count, t), nu), f"strip {1e3 * b:g} x {1e3 * t:g}"
    made = beams(
        ends,
        offset.sum(1),
        section,
        E,
        G,
        rho,
        freedoms=freedoms[pair].reshape(count, 48),
        carried=arms(offset) @ surface,
    )
    labels = tuple(f"piece {k} of {count}" for k in range(1, count + 1))
    return FrameBeams(
        f"stiffeners.{name}", labels, (size,) * count, (table.material,) * count, frozen(ends), section, E, rho, made
    )


def _motion(ground: _Ground, line: _Line) -> tuple[Floats, Ints]:
    """Motion (n, 6, 24) of every place by that of the first of its elements, and these freedoms (n, 24)."""
    rows = np.zeros((len(line.place), 6, 24))
    element, start = line.element[:, 0], 0
    for block, normals in zip(ground.blocks, ground.normals, strict=True):
        here = np.flatnonzero((element >= start) & (element < start + len(block.conn)))
        if len(here):
            own = element[here] - start
            X = ground.points[block.conn[own]]
            found = motion_at(block.kind, X, normals[own], local_place(block.kind, X, line.place[here]))
            rows[here, :, : found.shape[2]] = found
        start += len(block.conn)
    freedoms = 6 * ground.corners[element][:, :, None] + np.arange(6)
    return rows, freedoms.reshape(-1, 24)


def local_place(kind: str, X: Floats, place: Floats) -> Floats:
    """Coordinates (e, 2) within elements X (e, n, 3) of the places nearest to points (e, 3), by Gauss and Newton."""
    at = np.zeros((len(X), 2))
    for _ in range(12):
        N, dN = quad4.shape(at) if kind == "quad4" else (tria3.shape(at), np.tile(tria3.SLOPES, (len(X), 1, 1)))
        left = place - np.einsum("en,enx->ex", N, X)
        a = np.einsum("ean,enx->eax", dN, X)
        at = at + np.linalg.solve(a @ a.transpose(0, 2, 1), np.einsum("eax,ex->ea", a, left)[..., None])[..., 0]
    return np.clip(at, -1.0, 1.0) if kind == "quad4" else np.clip(at, 0.0, 1.0)


def _note(mesh: TubMesh, ground: _Ground, frame: FrameBeams, line: _Line) -> str:
    panels = dict.fromkeys(mesh.panels[p].name for p in ground.panel[line.element.ravel()])
    height = np.linalg.norm(line.centre - line.place, axis=1)
    return (
        f"{frame.name}: {frame.sizes[0]} mm of {frame.materials[0]} on {', '.join(panels)}, "
        f"{frame.length.sum():.2f} m, {frame.mass.sum():.3g} kg, its axis {1e3 * height.mean():.1f} mm "
        f"from the meshed surface"
    )
