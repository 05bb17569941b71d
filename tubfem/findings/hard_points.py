"""Mounts under their bolts' loads, case by case: nominal checks of laminate, core and insert (docs/theory.md)."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, pi

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joining import Mount as MountTable
from tubfem.case.joining import bolt_diameter
from tubfem.findings.allowables import BONDS, CORE, FIBRE, Allowables
from tubfem.findings.fibres import fibre_family
from tubfem.findings.joint_results import HardPoint, HardPointCheck
from tubfem.findings.plies import greatest_use, ply_use
from tubfem.geometry.mesh import Mount, TubMesh
from tubfem.laminate.bolted import (
    bearing,
    core_shear,
    crush,
    insert_capacity,
    net_section,
    punching,
    resultant,
    shear_out,
)
from tubfem.laminate.stack import Stack, abd
from tubfem.materials.bonds import bolted_laminate
from tubfem.materials.knockdowns import knockdown
from tubfem.materials.ply import CorePly
from tubfem.shell.model import ShellModel
from tubfem.tub.attachments import bolt_frame
from tubfem.tub.model import TubModel
from tubfem.tub.mounts import plain_name

EDGE = 3.0  # bolt diameters from the bolt's middle to an edge
EDGE_SOURCE = "e/d of 3 at least (C. Willberg, lectures on fibre composites), 4 for hand work (from memory)"
NOMINAL = "nominal stress; strength of the plies under factors as for fibre failure"
DOUBT = 1.0  # theory of cores round inserts is good to 30 %: below this margin a sample has to be pulled
UNLOADED = 1.0  # N: less is rounding


@dataclass(frozen=True, eq=False, slots=True)
class _Place:
    """A mount with what its bolt goes through."""

    mount: Mount
    table: MountTable
    stack: Stack
    region: str
    edge: float

    @property
    def core(self) -> CorePly | None:
        """The thickest core under the bolt, None in solid laminate."""
        cores = [ply for ply in self.stack.plies if ply.core]
        return max(cores, key=lambda ply: ply.thickness, default=None)

    @property
    def solid(self) -> float:
        """Thickness of the plies without core [m]."""
        return sum(ply.thickness for ply in self.stack.plies if not ply.core)

    @property
    def diameter(self) -> float:
        """Of the hole in the laminate [m]: the insert's, or the bolt's."""
        return 2 * self.table.insert_radius


def hard_points(
    model: TubModel, shell: ShellModel, column: int, forces: Floats, scale: float, allowables: Allowables
) -> dict[str, HardPoint]:
    """Every mount that something acts on.

    Parameters
    ----------
    shell, column
        The load case's own loads on mounts are counted too.
    forces
        (rows,) of all springs at the load case's own load [N, N m].
    scale
        From there to the load that margins are taken at.
    """
    found = {}
    for mount in model.mesh.mounts:
        load = scale * _load(model, shell, column, forces, mount)
        place = _place(model, mount)
        if max(np.abs(load[:3]).max(), np.abs(load[3:]).max() / place.table.radius) > UNLOADED:
            found[mount.name] = _judge(model, place, load, allowables)
    return found


def _load(model: TubModel, shell: ShellModel, column: int, forces: Floats, mount: Mount) -> Floats:
    """Force and moment (6,) on a mount in its bolt's frame: two in shear, along the normal; two tipping, turning."""
    node = model.mounts[mount.name]
    applied = shell.loads[6 * node : 6 * node + 6, column].reshape(2, 3)
    frame = bolt_frame(mount.normal)
    total = (applied @ frame.T).ravel()
    for bolt in model.bolts:
        if bolt.mount == mount.name:
            total = total + forces[bolt.rows]  # the row pulls the mount towards what it carries
    return total


def _place(model: TubModel, mount: Mount) -> _Place:
    layup, mesh = model.layup, model.mesh
    mixture = np.bincount(layup.mixture[mount.pad]).argmax()
    heaviest = int(np.argmax(layup.mixture_weights[mixture]))
    stack = layup.stacks[layup.mixture_stacks[mixture][heaviest]]
    table = model.case.mounts[plain_name(mount.name)]
    return _Place(mount, table, stack, mesh.panels[mount.panel].region, edge_distance(model, mount))


def edge_distance(model: TubModel, mount: Mount) -> float:
    """From a mount's middle [m] to the nearest edge of its panel: a free one, or a line that is not moulded."""
    mesh = model.mesh
    own = np.unique(_nodes_of(mesh, mount.panel))
    lines = [mesh.free_edges.reshape(-1, 2)]
    for line in mesh.joints:
        if mount.panel in line.panels and not _moulded(model, mount.panel, line.panels):
            lines.append(line.edges)
    edges = np.concatenate(lines)
    edges = edges[np.isin(edges, own).all(axis=1)]
    if not len(edges):
        return float("inf")
    a, b = mesh.points[edges[:, 0]], mesh.points[edges[:, 1]]
    along = ((mount.centre - a) * (b - a)).sum(1) / ((b - a) ** 2).sum(1)
    nearest = a + np.clip(along, 0, 1)[:, None] * (b - a)
    return _exact(float(np.linalg.norm(nearest - mount.centre, axis=1).min()))


def _exact(length: float) -> float:
    """A length [m] without rounding errors of meshing, so that three diameters as written are three diameters."""
    return round(length, 9)


def _moulded(model: TubModel, panel: int, panels: tuple[int, ...]) -> bool:
    """Whether a panel is moulded to any other on a line."""
    name = model.mesh.panels[panel].name
    for other in panels:
        if other != panel:
            their = model.mesh.panels[other].name
            kind = model.joint_kinds.get(f"{name}/{their}") or model.joint_kinds.get(f"{their}/{name}")
            if kind == "continuous" or model.mesh.panels[other].region == model.mesh.panels[panel].region:
                return True
    return False


def _nodes_of(mesh: TubMesh, panel: int) -> Floats:
    return np.concatenate([block.conn[block.panel == panel].ravel() for block in mesh.blocks])


def _judge(model: TubModel, place: _Place, load: Floats, allowables: Allowables) -> HardPoint:
    shear, axial, tipping = resultant(load[0], load[1]), float(load[2]), resultant(load[3], load[4])
    checks = [*_in_plane(model, place, shear, allowables), *_square(model, place, axial, tipping, allowables)]
    checks.sort(key=lambda check: check.margin)
    return HardPoint(
        name=place.mount.name,
        panel=model.mesh.panels[place.mount.panel].name,
        force=load,
        shear=shear,
        axial=axial,
        tipping=tipping,
        diameter=place.diameter,
        edge=place.edge,
        construction=_construction(place),
        checks=tuple(checks),
        pull_test=_pull_test(place, checks),
    )


def _construction(place: _Place) -> str:
    bolt, core, insert = place.table.bolt, place.core, place.table.insert
    if core is None:
        return f"{bolt} through {1e3 * place.solid:.2g} mm of laminate"
    skins = f"{1e3 * place.solid:.2g} mm of skins on {1e3 * core.thickness:.3g} mm {core.name}"
    if insert is None:
        return f"{bolt} through {skins}, no insert"
    return f"{bolt} in an insert of {1e3 * insert.diameter:g} mm, {skins}"


def _in_plane(model: TubModel, place: _Place, shear: float, allowables: Allowables) -> Iterator[HardPointCheck]:
    """Bearing, net section, shear-out, edge distance; skins of a sandwich share the load by their thickness."""
    d, t, asked = place.diameter, place.solid, allowables.required[BONDS]
    laminate = bolted_laminate(fibre_family(model.case, place.region))
    source = dict(laminate.sources)["bearing"]
    yield HardPointCheck("bearing", bearing(shear, d, t), laminate.bearing / asked, "Pa", source)
    if not isfinite(place.edge) or place.edge <= d / 2:
        return
    yield HardPointCheck("edge distance", _exact(EDGE * d), place.edge, "m", EDGE_SOURCE)
    pull, cut = laminate_strengths(place.stack, allowables)
    hole = knockdown(f"open hole, {'carbon' if fibre_family(model.case, place.region) == 'carbon' else 'glass'}")
    net = net_section(shear, d, t, 2 * place.edge)
    yield HardPointCheck("net section", net, pull * hole.factor, "Pa", f"{NOMINAL}, x {hole.factor:g} for the hole")
    yield HardPointCheck("shear-out", shear_out(shear, place.edge, t), cut, "Pa", NOMINAL)


def laminate_strengths(stack: Stack, allowables: Allowables) -> tuple[float, float]:
    """Allowable mean stress [Pa] of the plies in pull (the weaker direction) and in shear, by fibre failure."""
    A = abd(stack)[0]
    solid = sum(ply.thickness for ply in stack.plies if not ply.core)
    use = ply_use(stack, allowables, FIBRE)
    strain = np.zeros((3, 8))
    strain[:, :3] = np.linalg.inv(A)
    ratio = greatest_use(use, strain, both_hands=True)
    allowed = 1 / np.maximum(ratio, 1e-300) / solid
    return float(min(allowed[:2])), float(allowed[2])


def _square(
    model: TubModel, place: _Place, axial: float, tipping: float, allowables: Allowables
) -> Iterator[HardPointCheck]:
    """What acts along the bolt and tips it: through the laminate, into the core, under the washer."""
    washer, hole = place.table.radius, bolt_diameter(place.table.bolt)
    asked = allowables.required[BONDS]
    laminate = bolted_laminate(fibre_family(model.case, place.region))
    source = dict(laminate.sources)["punching"]
    edge = abs(axial) + 2 * tipping / washer  # greatest pull per length of the rim times the rim: 2 M / r for a cosine
    core = place.core
    if core is None:
        yield HardPointCheck(
            "pull-through", punching(edge, 2 * washer, place.solid), laminate.punching / asked, "Pa", source
        )
        return
    insert, knock = place.table.insert, allowables.knock_down
    radius = washer if insert is None else insert.diameter / 2
    depth = core.thickness if insert is None or insert.depth is None else min(insert.depth, core.thickness)
    shear = min(core.shear_strengths) * core.shear_use * knock["core shear"] / allowables.required[CORE]
    where = dict(core.sources).get("shear_strength", "case file")
    if isfinite(shear):
        if insert is not None:
            pull = abs(axial) + 2 * tipping / radius
            words = f"2 pi b c tau, ECSS-E-HB-32-22A first estimate (second-hand); core: {where}"
            yield HardPointCheck("insert pull-out", pull, insert_capacity(radius, depth, shear), "N", words)
        tau = core_shear(axial, tipping, radius, depth)
        yield HardPointCheck("core shear around it", tau, shear, "Pa", f"plus or minus 30 %; core: {where}")
    crushing = core.compressive_strength * knock["core compression"] / allowables.required[CORE]
    if insert is None and isfinite(crushing):
        area = pi * (washer**2 - hole**2 / 4)
        pressure = crush(abs(axial), washer, hole) + 4 * tipping / (area * washer)
        words = dict(core.sources).get("compressive_strength", "case file")
        yield HardPointCheck(
            "core crushed by the washer", pressure, crushing, "Pa", f"no bolt tension counted; {words}"
        )


def _pull_test(place: _Place, checks: list[HardPointCheck]) -> str:
    """Why a pull test is needed, "" if it is not."""
    if place.core is None:
        return ""
    if place.table.insert is None:
        return "bolt through foam without insert or solid core: a bolt's own tension crushes it"
    doubtful = [c for c in checks if c.what in ("insert pull-out", "core shear around it") and c.margin < DOUBT]
    if doubtful:
        return f"{doubtful[0].what} has a margin of {doubtful[0].margin:+.2f} by a theory good to 30 %"
    return ""
