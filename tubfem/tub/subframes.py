"""Subframes of tubes: their nodes, which bolts and pickups each node carries, and their tubes as beams."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tubfem.arrays import Floats, frozen
from tubfem.case.joining import Subframe, Tube
from tubfem.case.schema import Case
from tubfem.case.targets import split_side
from tubfem.errors import CaseError, SolveError
from tubfem.geometry.mesh import TubMesh
from tubfem.materials import library
from tubfem.shell.beam2 import any_upright, node_beams, tube
from tubfem.tub.model import FrameBeams

BRACKET = 60e-3  # m from a frame's node to a bolt or pickup: the reach of a plate welded to it, taken as rigid
MIDDLE = 1e-6  # m
CROSSING = 1e-3  # m: tubes whose axes come this near pass through each other


def frame_nodes(
    case: Case, mesh: TubMesh, name: str, pickups: Sequence[tuple[str, str, tuple[float, float, float]]]
) -> dict[str, Floats]:
    """Nodes of a subframe of tubes with their side, and where they are (3,) [m]; `pickups`: (name, side, place)."""
    table, found = case.subframes[name], {}
    places = {mount.name: mount.centre for mount in mesh.mounts}
    places |= {pickup + side: np.array(at) for pickup, side, at in pickups}
    for node, at in table.nodes.items():
        if isinstance(at, str):
            sides = [side for side in ("", ".left", ".right") if at + side in places]
            found |= {node + side: places[at + side] for side in sides}
        elif case.mirror is None or abs(at[1]) < MIDDLE:
            found[node] = np.array(at)
        else:
            found |= {f"{node}.left": np.array(at) * [1, -1, 1], f"{node}.right": np.array(at)}
    return found


def frame_tubes(case: Case, name: str, nodes: dict[str, Floats]) -> list[tuple[str, str, Tube]]:
    """Ends and table of every tube, both sides of a mirrored case.

    Raises
    ------
    CaseError
        A tube's end is not there on its side, or both are the same place.
    """
    found, faults = [], []
    for index, each in enumerate(case.subframes[name].tubes):
        place = ("subframes", name, "tubes", index)
        for ends in _both_sides(case, each, nodes):
            lost = [end for end in ends if end not in nodes]
            if lost:
                faults.append(case.message(place, f"no node {' and '.join(lost)}; there are {', '.join(nodes)}"))
            elif np.linalg.norm(nodes[ends[0]] - nodes[ends[1]]) < CROSSING:
                faults.append(case.message(place, f"{ends[0]} and {ends[1]} are the same place"))
            else:
                found.append((*ends, each))
    if faults:
        raise CaseError(faults)
    return found


def _both_sides(case: Case, each: Tube, nodes: dict[str, Floats]) -> list[tuple[str, str]]:
    first, last = each.from_, each.to
    if case.mirror is None or split_side(first)[1] or split_side(last)[1]:
        return [(first, last)]
    if first == last:
        return [(f"{first}.left", f"{first}.right")]
    pairs = [tuple(end if end in nodes else end + side for end in (first, last)) for side in (".left", ".right")]
    return list(dict.fromkeys(pairs))


def nearest_node(case: Case, frame: str, nodes: dict[str, Floats], place: Floats, what: str) -> str:
    """The node of a frame that carries what is at a place (3,).

    Raises
    ------
    CaseError
        Even the nearest is farther than a bracket reaches.
    """
    gap = {node: float(np.linalg.norm(at - place)) for node, at in nodes.items()}
    node = min(gap, key=gap.__getitem__)
    if gap[node] > BRACKET:
        text = (
            f"{what} is {1e3 * gap[node]:.0f} mm from {node}, the nearest node; at most {1e3 * BRACKET:.0f} mm are "
            "taken as a bracket: put a node there"
        )
        raise CaseError(case.message(("subframes", frame, "nodes"), text))
    return node


def parts_of(nodes: Sequence[str], tubes: Sequence[tuple[str, str, Tube]]) -> list[list[str]]:
    """Nodes of every part of a frame that hangs together."""
    number = {node: k for k, node in enumerate(nodes)}
    ends = np.array([[number[a], number[b]] for a, b, _ in tubes]).T
    graph = coo_array((np.ones(ends.shape[1]), tuple(ends)), shape=(len(nodes), len(nodes)))
    count, part = connected_components(graph, directed=False)
    return [[node for node in nodes if part[number[node]] == k] for k in range(count)]


def refuse_loose(
    name: str, nodes: dict[str, Floats], tubes: Sequence[tuple[str, str, Tube]], held: dict[str, tuple[str, Floats]]
) -> None:
    """Raise `SolveError` for every part of a frame that has not three bolts beside a line.

    Parameters
    ----------
    held
        Mount -> the frame's node that it holds, and where the mount is (3,).
    """
    faults: list[str] = []
    for part in parts_of(list(nodes), tubes):
        what = f"subframes.{name}" if len(part) == len(nodes) else f"subframes.{name}, part {', '.join(part)}"
        faults += bolt_faults(what, {mount: at for mount, (node, at) in held.items() if node in part})
    if faults:
        raise SolveError(faults)


def bolt_faults(what: str, mounts: dict[str, Floats]) -> list[str]:
    """What is wrong with the bolts of a subframe or of a part of it, at mounts by name and place (3,) [m]."""
    if len(mounts) < 3:
        return [
            f"{what} hangs on {len(mounts)} bolts ({', '.join(mounts) or 'none'}); "
            "at least three that are not in line are needed"
        ]
    centres = np.array(list(mounts.values()))
    spread = np.linalg.svd(centres - centres.mean(0), compute_uv=False)
    if spread[1] < 1e-3 * spread[0]:
        return [
            f"{what}: its {len(mounts)} bolts ({', '.join(mounts)}) lie in one line, so it could turn about that; "
            "add a bolt beside the line"
        ]
    return []


def frame_beams(
    case: Case, name: str, points: Floats, nodes: dict[str, int], tubes: Sequence[tuple[str, str, Tube]]
) -> FrameBeams:
    """Tubes of a subframe as beams.

    Parameters
    ----------
    points : (p, 3)
        [m] of all nodes of the model.
    nodes
        Of the frame by name: their numbers among `points`.
    """
    table = case.subframes[name]
    size = np.array([each.tube or table.tube for *_, each in tubes])
    names = tuple(each.material or table.material for *_, each in tubes)
    solids = [_solid(case, name, table, material) for material in names]
    E, G, rho, nu = np.array([[s.E1, s.G12, s.density, s.nu12] for s in solids]).T
    section = tube(size[:, 0], size[:, 1], nu)
    pairs = np.array([[nodes[a], nodes[b]] for a, b, _ in tubes])
    ends = points[pairs]
    beams = node_beams(points, pairs, np.zeros((len(pairs), 2, 3)), any_upright(ends), section, E, G, rho)
    return FrameBeams(
        name=f"subframes.{name}",
        labels=tuple(tube_label(a, b) for a, b, _ in tubes),
        sizes=tuple(f"tube {1e3 * d:g} x {1e3 * t:g}" for d, t in size),
        materials=names,
        ends=frozen(ends),
        section=section,
        E=frozen(E),
        density=frozen(rho),
        beams=beams,
        nodes=nodes,
    )


def tube_label(a: str, b: str) -> str:
    """A tube by its ends: "A-B.left" where both are on one side, "A across" from one side to the other."""
    (first, side), (last, other) = split_side(a), split_side(b)
    if side and side == other:
        return f"{first}-{b}"
    return f"{first} across" if first == last else f"{a}-{b}"


def _solid(case: Case, name: str, table: Subframe, material: str) -> library.Solid:
    try:
        return library.solid(material)
    except CaseError as error:
        place = ("subframes", name, "material" if material == table.material else "tubes")
        raise CaseError([case.message(place, text) for text in error.messages]) from None


def frame_note(frame: FrameBeams, points: Floats, pickups: dict[str, int]) -> str:
    """A frame of tubes in words: tubes, mass, and which node each pickup moves with; points (p, 3) [m]."""
    names = {node: name for name, node in frame.nodes.items()}
    hung = [
        f"{name} on node {names[node]}, {1e3 * np.linalg.norm(points[pickups[name]] - points[node]):.0f} mm from it"
        for name, node in frame.carries.items()
    ]
    return (
        f"{frame.name}: {len(frame.labels)} tubes, {frame.length.sum():.2f} m, {frame.mass.sum():.3g} kg; "
        f"pickups: {'; '.join(hung) or 'none'}"
    )


def crossing_cautions(frame: FrameBeams) -> Iterator[str]:
    """Tubes that pass through each other without a node there: they are not joined."""
    ends = frame.ends
    for i, j in combinations(range(len(ends)), 2):
        shared = np.linalg.norm(ends[i][:, None] - ends[j][None], axis=2).min() < CROSSING
        if not shared and segment_gap(ends[i], ends[j]) < CROSSING:
            yield f"{frame.name}: tubes {frame.labels[i]} and {frame.labels[j]} cross without a node, so not joined"


def segment_gap(one: Floats, other: Floats) -> float:
    """Least distance [m] between two straight segments (2, 3), parallel ones read at their ends."""
    u, v, w = one[1] - one[0], other[1] - other[0], one[0] - other[0]
    normal = np.array([[u @ u, -u @ v], [-u @ v, v @ v]])
    if np.linalg.det(normal) > 1e-9 * normal[0, 0] * normal[1, 1]:
        s, t = np.linalg.solve(normal, [-w @ u, w @ v])
        if 0 <= s <= 1 and 0 <= t <= 1:
            return float(np.linalg.norm(w + s * u - t * v))
    gaps = []
    for point, (a, b) in ((one[0], other), (one[1], other), (other[0], one), (other[1], one)):
        along = np.clip((point - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        gaps.append(np.linalg.norm(point - a - along * (b - a)))
    return float(min(gaps))
