"""Mounts on their pads, subframes and pickups on their bolts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.check_frames import carrier
from tubfem.case.joining import Mount as MountTable
from tubfem.case.joining import bolt_diameter
from tubfem.case.schema import Case
from tubfem.case.targets import mates
from tubfem.errors import CaseError, SolveError
from tubfem.geometry.mesh import Mount, TubMesh, vector_areas
from tubfem.shell.model import Springs
from tubfem.shell.ties import Rigid, Spread, rigid_motion
from tubfem.tub.model import FrameBeams
from tubfem.tub.mounts import plain_name
from tubfem.tub.split import SplitMesh
from tubfem.tub.subframes import (
    bolt_faults,
    crossing_cautions,
    frame_beams,
    frame_nodes,
    frame_tubes,
    nearest_node,
    refuse_loose,
)

M6_STIFFNESS = 12e6  # N/m of an M6 with washer in glass: 8 to 15 kN/mm, an order of magnitude, from memory
PATCH_ELEMENTS = 12  # fewer make a poor area integral


@dataclass(frozen=True, eq=False, slots=True)
class Attachments:
    """What hangs on the tub.

    Attributes
    ----------
    points : (n, 3) [m] of the reference nodes, numbered from the first free node on
    mounts, pickups : name -> node
    subframes : name -> node of every rigid one
    frames : subframes of tubes
    rigid, spread : links
    bolts : springs of every bolt, six rows each: two in shear, one along it, two tipping, one turning
    carried : (mount, what it carries, frame (3, 3)) of every bolt
    cautions : sentences for the report
    """

    points: Floats
    mounts: dict[str, int]
    subframes: dict[str, int]
    pickups: dict[str, int]
    rigid: tuple[Rigid, ...]
    spread: tuple[Spread, ...]
    bolts: Springs
    carried: tuple[tuple[str, str, Floats], ...]
    cautions: tuple[str, ...]
    frames: tuple[FrameBeams, ...] = ()


@dataclass(frozen=True, slots=True)
class _Bolt:
    """A bolt between a rigid body (node `body`, called `carries`) and a mount (node `node`)."""

    carries: str
    body: int
    mount: Mount
    node: int


@dataclass(slots=True)
class _Hanging:
    """Reference nodes and links as they are hung, one after another."""

    first: int
    points: list[Floats]
    rigid: list[Rigid]
    spread: list[Spread]

    def node(self, at: Floats) -> int:
        self.points.append(np.asarray(at, dtype=float))
        return self.first + len(self.points) - 1


def hang(case: Case, mesh: TubMesh, split: SplitMesh, *, pads: str = "spread") -> Attachments:
    """Reference nodes of mounts, subframes and pickups, and what ties them to the tub.

    A mount follows the mean motion of its pad (spread, adds no stiffness), or the pad is rigid and moves with it.
    A subframe is a rigid body on bolt springs, or a frame of tubes whose nodes nearest to the mounts are; a pickup on
    it moves with it, or with the frame's node. A pickup carried by mounts is a bracket, a rigid body on bolt springs
    of its own; its left one hangs on left mounts.

    Parameters
    ----------
    pads
        "spread" or "rigid": the two ends of the band in which a real hard point lies.

    Raises
    ------
    CaseError
        A pickup has no mount on its side; a frame of tubes has no node near a bolt or pickup.
    SolveError
        A subframe has fewer than three bolts, or all in one line; rigid pads overlap.
    """
    if pads == "rigid":
        _refuse_overlap(mesh, split)
    hanging = _Hanging(len(split.mesh_node), [], [], [])
    mounts = {mount.name: _hang_mount(hanging, mesh, split, mount, pads) for mount in mesh.mounts}
    cautions = [_small_pad(mount, pads) for mount in mesh.mounts]
    by_name = {mount.name: mount for mount in mesh.mounts}
    bolts: list[_Bolt] = []
    subframes, framed = {}, {}
    for name, table in case.subframes.items():
        carriers = {carrier: by_name[carrier] for carrier in _carriers(case, mesh, table.bolts)}
        if table.kind == "tubes":
            framed[name], holders = _hang_frame(case, mesh, hanging, name, carriers)
        else:
            if faults := bolt_faults(f"subframes.{name}", {c: mount.centre for c, mount in carriers.items()}):
                raise SolveError(faults)
            subframes[name] = hanging.node(np.mean([mount.centre for mount in carriers.values()], axis=0))
            holders = dict.fromkeys(carriers, subframes[name])
        bolts += [_Bolt(f"subframes.{name}", holders[c], mount, mounts[c]) for c, mount in carriers.items()]
    pickups: dict[str, int] = {}
    on_body: dict[int, list[int]] = {}
    for name, side, at in pickup_places(case):
        table = case.pickups[name]
        node = hanging.node(at)
        pickups[name + side] = node
        if table.on is not None:
            body = _body(case, name, side, np.array(at), subframes, framed)
            on_body.setdefault(body, []).append(node)
        else:
            carriers = _carriers(case, mesh, table.carried_by, side)
            if not carriers:
                text = f"{', '.join(table.carried_by)}: no such mount on the {side.removeprefix('.')}"
                raise CaseError(case.message(("pickups", name, "carried_by"), text))
            bolts += [_Bolt(f"pickups.{name}{side}", node, by_name[c], mounts[c]) for c in carriers]
    hanging.rigid += [Rigid(body, np.array(nodes)) for body, nodes in on_body.items()]
    carried = {pickup: body for body, nodes in on_body.items() for pickup, node in pickups.items() if node in nodes}
    frames = tuple(_beams(case, hanging, name, nodes, carried) for name, (nodes, _) in framed.items())
    for frame in frames:
        cautions += crossing_cautions(frame)
    points = np.array(hanging.points).reshape(-1, 3)
    return Attachments(
        points,
        mounts,
        subframes,
        pickups,
        tuple(hanging.rigid),
        tuple(hanging.spread),
        _bolt_springs(case, bolts, points, hanging.first),
        tuple((bolt.mount.name, bolt.carries, frozen(bolt_frame(bolt.mount.normal))) for bolt in bolts),
        tuple(text for text in cautions if text),
        frames,
    )


Framed = tuple[dict[str, int], dict[str, Floats]]  # nodes of a frame of tubes by name: their numbers, their places


def _hang_frame(
    case: Case, mesh: TubMesh, hanging: _Hanging, name: str, carriers: dict[str, Mount]
) -> tuple[Framed, dict[str, int]]:
    """Nodes of a subframe of tubes, and for every mount the node that its bolt holds."""
    places = frame_nodes(case, mesh, name, pickup_places(case))
    tubes = frame_tubes(case, name, places)
    own = {c: nearest_node(case, name, places, mount.centre, f"the bolt of mount {c}") for c, mount in carriers.items()}
    refuse_loose(name, places, tubes, {c: (node, carriers[c].centre) for c, node in own.items()})
    nodes = {node: hanging.node(at) for node, at in places.items()}
    return (nodes, places), {c: nodes[node] for c, node in own.items()}


def _body(case: Case, name: str, side: str, at: Floats, subframes: dict[str, int], framed: dict[str, Framed]) -> int:
    """What a pickup on a subframe moves with: the rigid body, the node that it names, or the nearest one."""
    subframe, wanted = carrier(case.pickups[name])
    if subframe in subframes:
        return subframes[subframe]
    nodes, places = framed[subframe]
    if wanted is None:
        return nodes[nearest_node(case, subframe, places, at, f"pickup {name}{side}")]
    if wanted + side not in nodes and wanted not in nodes:
        raise CaseError(case.message(("pickups", name, "on"), f"no node {wanted}{side}; there are {', '.join(nodes)}"))
    return nodes.get(wanted + side, nodes.get(wanted))


def _beams(case: Case, hanging: _Hanging, name: str, nodes: dict[str, int], carried: dict[str, int]) -> FrameBeams:
    """Tubes of a subframe, which carries those pickups (name -> node) that hang on nodes of its own."""
    points = np.concatenate([np.zeros((hanging.first, 3)), np.array(hanging.points).reshape(-1, 3)])
    tubes = frame_tubes(case, name, {node: points[k] for node, k in nodes.items()})
    own = {pickup: node for pickup, node in carried.items() if node in nodes.values()}
    return replace(frame_beams(case, name, points, nodes, tubes), carries=own)


def pickup_places(case: Case) -> list[tuple[str, str, tuple[float, float, float]]]:
    """(name, side suffix, place [m]) of every pickup: both sides of a mirrored case unless it is on the middle."""
    places = []
    for name, table in case.pickups.items():
        x, y, z = table.at
        if case.mirror is None or y == 0.0:
            places.append((name, "", (x, y, z)))
        else:
            places += [(name, ".left", (x, -y, z)), (name, ".right", (x, y, z))]
    return places


def _hang_mount(hanging: _Hanging, mesh: TubMesh, split: SplitMesh, mount: Mount, pads: str) -> int:
    node = hanging.node(mount.centre)
    if pads == "rigid":
        hanging.rigid.append(Rigid(node, _nodes(split, mount.pad)))
    else:
        patch, area = tributary_areas(mesh, split, mount.pad)
        hanging.spread.append(Spread(node, patch, area))
    return node


def tributary_areas(mesh: TubMesh, split: SplitMesh, elements: Ints) -> tuple[Ints, Floats]:
    """Shell nodes of some elements and the area [m²] that belongs to each: an equal part of every element."""
    nodes, areas = [], []
    for conn in _blocks(split, elements):
        area = np.linalg.norm(vector_areas(mesh.points, split.mesh_node[conn]), axis=1)
        nodes.append(conn.ravel())
        areas.append(np.repeat(area / conn.shape[1], conn.shape[1]))
    patch, back = np.unique(np.concatenate(nodes), return_inverse=True)
    return patch, np.bincount(back.ravel(), np.concatenate(areas))


def _nodes(split: SplitMesh, elements: Ints) -> Ints:
    """Shell nodes of some elements."""
    return np.unique(np.concatenate([conn.ravel() for conn in _blocks(split, elements)]))


def _blocks(split: SplitMesh, elements: Ints) -> list[Ints]:
    """Shell nodes (m, n) of some elements, block by block."""
    found, first = [], 0
    for conn in split.conn:
        found.append(conn[np.sort(elements[(elements >= first) & (elements < first + len(conn))]) - first])
        first += len(conn)
    return found


def _refuse_overlap(mesh: TubMesh, split: SplitMesh) -> None:
    """Two rigid pads that share nodes would hold each other."""
    owner: dict[int, str] = {}
    for mount in mesh.mounts:
        for node in _nodes(split, mount.pad).tolist():
            other = owner.setdefault(node, mount.name)
            if other != mount.name:
                raise SolveError(f"mounts {other} and {mount.name}: their pads touch, so they cannot both be rigid")


def _small_pad(mount: Mount, pads: str) -> str:
    count = len(mount.pad)
    if pads == "spread" and count < PATCH_ELEMENTS:
        return f"mount {mount.name}: its pad has {count} elements, {PATCH_ELEMENTS} wanted; refine the mesh or widen it"
    return ""


def _carriers(case: Case, mesh: TubMesh, patterns: Sequence[str], side: str = "") -> list[str]:
    """Meshed mounts that patterns name, of one side if that is said (".left", ".right")."""
    names = set(mates(case.mounts, tuple(patterns)))
    outward = {"": 0.0, ".left": -1.0, ".right": 1.0}[side]
    return [m.name for m in mesh.mounts if plain_name(m.name) in names and outward * m.centre[1] > -1e-6]


def bolt_stiffness(table: MountTable) -> Floats:
    """Stiffness of a bolt in its hole (6,): two in shear, along it [N/m]; two tipping, turning [N·m/rad].

    In proportion to the diameter from an M6; tipping and turning as of a ring of the mount's radius r, k r²/2 and
    k r² (K.1, K.2 of theory.md). Values given in the case win.
    """
    stiffness = M6_STIFFNESS * bolt_diameter(table.bolt) / 6e-3
    given = table.stiffness
    axial = (given.axial if given else None) or stiffness
    shear = (given.shear if given else None) or stiffness
    tipping = (given.tipping if given else None) or axial * table.radius**2 / 2
    return np.array([shear, shear, axial, tipping, tipping, shear * table.radius**2])


def _bolt_springs(case: Case, bolts: Sequence[_Bolt], points: Floats, first: int) -> Springs:
    """Rows of all bolts: motion of the body at the mount less the mount's own, in the bolt's frame."""
    freedoms = np.zeros((len(bolts), 6, 12), dtype=np.int64)
    coefficients, stiffness = np.zeros((len(bolts), 6, 12)), np.zeros((len(bolts), 6))
    component = np.arange(6)
    for k, bolt in enumerate(bolts):
        turn = np.kron(np.eye(2), bolt_frame(bolt.mount.normal))
        carried = rigid_motion(points[bolt.node - first] - points[bolt.body - first])
        coefficients[k] = np.concatenate([turn @ carried, -turn], axis=1)
        freedoms[k] = np.concatenate([6 * bolt.body + component, 6 * bolt.node + component])
        stiffness[k] = bolt_stiffness(case.mounts[plain_name(bolt.mount.name)])
    return Springs(freedoms.reshape(-1, 12), coefficients.reshape(-1, 12), stiffness.ravel())


def bolt_frame(normal: Floats) -> Floats:
    """Rows (3, 3): two directions in shear, then along the bolt."""
    helper = np.eye(3)[np.argmin(np.abs(normal))]
    first = np.cross(normal, helper)
    first = first / np.linalg.norm(first)
    return np.array([first, np.cross(normal, first), normal])
