"""Bond shear, peel, tab plies and bolts of every joint that is not moulded: docs/theory.md, "Joint findings"."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joining import JointKind, bolt_diameter
from tubfem.case.joint_table import kind_named
from tubfem.findings.allowables import BONDS, FIRST_DAMAGE, Allowables
from tubfem.findings.fibres import fibre_family
from tubfem.findings.hinges import fixity
from tubfem.findings.joint_results import JointStrength
from tubfem.findings.plies import greatest_use, ply_use
from tubfem.findings.results import JointFindings
from tubfem.findings.strains import Elements
from tubfem.laminate.adhesive import goland_reissner, peel_peak, volkersen_peak
from tubfem.laminate.bolted import bearing, punching
from tubfem.laminate.stack import Stack, abd, make_stack
from tubfem.materials.bonds import bolted_laminate, bond
from tubfem.tub.line_stiffness import GLUE_LINE, GLUE_TENSION, RESIN_SHEAR, Side, lapped, side_of, tabbed
from tubfem.tub.model import JointTies, TubModel
from tubfem.tub.plies import Layer, entry_layers

POISSON = 0.3  # of the sheets of a single lap
SHEAR, PEAK, PLIES, BEARING, PULL = "bond shear", "bond shear, peak", "tab plies", "bolt bearing", "bolt pull-through"


@dataclass(frozen=True, eq=False, slots=True)
class LineLoads:
    """Loads per length of one joint, averaged: (m,) along, across A, square to A [N/m], moment [N].

    `over` (m, 2) are the parts of A's across and square directions along B's normal.
    """

    along: Floats
    across: Floats
    square: Floats
    moment: Floats
    over: Floats

    def legs(self) -> tuple[tuple[Floats, Floats, Floats], ...]:
        """(pull across in the leg's plane, force off it, part of a pull across A that goes off it) on A, then on B."""
        off = np.abs(self.across * self.over[:, 0] + self.square * self.over[:, 1])
        in_plane = np.sqrt(np.maximum(self.across**2 + self.square**2 - off**2, 0.0))
        on_a = np.abs(self.across), np.abs(self.square), np.zeros(len(off))
        return on_a, (in_plane, off, np.abs(self.over[:, 0]))


@dataclass(frozen=True, eq=False, slots=True)
class _Strip:
    """A tab or lapped ply over the joint: its stack (0 along the line), its leg [m] and its shares of the load.

    `shares` of what goes along, across or square, and of the moment; `lever` [m] between it and its fellow on the
    other face of A, None if it stands alone and bends.
    """

    stack: Stack
    width: float
    shares: tuple[float, float, float]
    lever: float | None


def joint_strength(
    model: TubModel,
    ties: list[JointTies],
    forces: Floats,
    normals: Floats,
    sides: Mapping[str, Side],
    allowables: Allowables,
) -> JointStrength | None:
    """Strength of one joint; None if nothing of it can be judged (hinges).

    Parameters
    ----------
    ties
        All ties of the joint.
    forces
        (rows,) of all springs [N, N m].
    normals
        (P, 3) unit normals of B's surface at the shell nodes on it.
    sides
        What a joint sees of each region's layup.
    """
    kind = kind_named(model.case, ties[0].means)
    if kind.kind == "hinged" and not any(part.bridges for part in ties):
        return None
    first, second = (sides[model.mesh.panels[panel].region] for panel in ties[0].panels)
    length = kind.width or kind.pitch or max((w for part in ties for _, w in part.bridges), default=0.0)
    found = [
        _part(model, kind, part, averaged_loads(model, part, forces, normals, length), (first, second), allowables)
        for part in ties
    ]
    return worst_of([part for part in found if part is not None], length)


def judged(
    model: TubModel, elements: Elements, joints: dict[str, JointFindings], forces: Floats, allowables: Allowables
) -> dict[str, JointFindings]:
    """The joints with their strength, margin and fixity; continuous ones as they are.

    Parameters
    ----------
    forces
        (rows,) of all springs at the load that margins are taken at [N, N m].
    """
    parts: dict[str, list[JointTies]] = {}
    for ties in model.joints:
        parts.setdefault(ties.name, []).append(ties)
    meant = [ties[0] for ties in parts.values() if ties[0].means]  # others were made without a case: springs alone
    sides = {region: _side(model, region) for region in {model.mesh.panels[k].region for t in meant for k in t.panels}}
    found = dict(joints)
    for name, ties in parts.items():
        strength = None
        if ties[0].means:
            strength = joint_strength(model, ties, forces, _normals(model, elements, ties), sides, allowables)
        margin = None if strength is None else min(strength.margins.values())
        fixed = fixity(model, elements, ties)
        found[name] = replace(found[name], strength=strength, margin=margin, fixity=fixed)
    return found


def _normals(model: TubModel, elements: Elements, ties: list[JointTies]) -> Floats:
    """Unit normals (P, 3) of B's surface at the shell nodes of its elements."""
    wanted = np.zeros(len(model.mesh.panels), dtype=bool)
    wanted[[part.panels[1] for part in ties]] = True
    total = np.zeros((len(model.mesh_node), 3))
    first = 0
    for block in model.states[0].shell.blocks:
        mine = np.flatnonzero(wanted[elements.panel[first : first + len(block.conn)]])
        for corner in block.conn[mine].T:
            np.add.at(total, corner, elements.normal[first + mine])
        first += len(block.conn)
    return total / np.maximum(np.sqrt((total * total).sum(axis=1)), 1e-12)[:, None]


def worst_of(parts: list[JointStrength], length: float) -> JointStrength | None:
    """The greatest demands and lowest margins of a joint's parts."""
    if not parts:
        return None

    def most(name: str) -> float | None:
        return max((v for part in parts if (v := getattr(part, name)) is not None), default=None)

    margins: dict[str, float] = {}
    for part in parts:
        for kind, value in part.margins.items():
            margins[kind] = min(value, margins.get(kind, np.inf))
    names = ("mean_shear", "peak_shear", "peak_peel", "ply_use", "width", "width_needed", "bolt_shear", "bolt_pull")
    peel = min((part.peel for part in parts if part.peel is not None), default=None)
    return JointStrength(length, margins, **{name: most(name) for name in names}, peel=peel)


def averaged_loads(model: TubModel, ties: JointTies, forces: Floats, normals: Floats, length: float) -> LineLoads:
    """Line loads averaged along the line over `length` [m], every node's share by its tributary length."""
    points = model.states[0].shell.points
    at = points[ties.pairs[:, 0]]
    near = np.linalg.norm(at[:, None] - at[None], axis=-1) <= 0.5 * length + 1e-9
    total = near @ forces[ties.rows]
    along, across, square, moment = (total / (near @ ties.lengths)[:, None]).T
    over = np.einsum("mkx,mx->mk", ties.frames[:, 1:], normals[ties.pairs[:, 1]])
    return LineLoads(along, across, square, moment, over)


def _side(model: TubModel, region: str) -> Side:
    layup = model.case.layups[region]
    return side_of(_stack(entry_layers(model.case, layup.stack, layup=layup, label=region)))


def _part(
    model: TubModel,
    kind: JointKind,
    ties: JointTies,
    loads: LineLoads,
    sides: tuple[Side, Side],
    allowables: Allowables,
) -> JointStrength | None:
    if kind.kind == "fastened" and not ties.bridges:
        return _bolts(model, kind, ties, loads, sides, allowables)
    if kind.kind == "bonded" and not ties.bridges:
        return _flange(kind, loads, sides, allowables)
    found = [_strip(strip, loads, sides, allowables) for strip in _strips(model, kind, ties, sides)]
    return worst_of(found, 0.0)


def _strips(model: TubModel, kind: JointKind, ties: JointTies, sides: tuple[Side, Side]) -> Iterator[_Strip]:
    """Tabs and lapped plies with their shares, by stiffness; a hinge, bolts or glue beside laps are not counted on."""
    own, layers = None, ()
    if kind.kind == "tabbed":
        layers = entry_layers(model.case, kind.tab, label="tab")
        height = sides[0].thickness
        springs = tabbed(
            layers, width=kind.width, sides=kind.sides, fillet=kind.fillet, angle=ties.angle, height=height
        )
        own = springs.values()
    laps = [lapped(ply, width=w, fillet=kind.fillet, angle=ties.angle).values() for ply, w in ties.bridges]
    total = np.sum([*([] if own is None else [own]), *laps], axis=0)
    if own is not None:
        share = own / total / kind.sides
        lever = height if kind.sides == 2 else None
        yield _Strip(_stack(layers), kind.width, (share[0], share[1], share[3]), lever)
    for (ply, width), lap in zip(ties.bridges, laps, strict=True):
        share = lap / total
        yield _Strip(_stack(ply), width, (share[0], share[1], share[3]), None)


def _stack(layers: tuple[Layer, ...]) -> Stack:
    return make_stack([(layer.angle, layer.ply) for layer in layers])


def _strip(strip: _Strip, loads: LineLoads, sides: tuple[Side, Side], allowables: Allowables) -> JointStrength:
    A, _, D = abd(strip.stack)
    k = RESIN_SHEAR / GLUE_LINE
    along = np.abs(loads.along) * strip.shares[0]
    moment = np.abs(loads.moment) * strip.shares[2]
    pair = moment * 2 / strip.lever if strip.lever is not None else 0.0  # shares are of one tab: both make the moment
    bend = moment if strip.lever is None else np.zeros_like(moment)
    mean, peak, peel = [], [], []
    for (across, off, turned), side in zip(loads.legs(), sides, strict=True):
        across = across * strip.shares[1] + pair * np.sqrt(np.maximum(1 - turned**2, 0))
        off = off * strip.shares[1] + pair * turned
        panel = side.solid * side.modulus
        rise = volkersen_peak(strip.width, k, A[2, 2], panel), volkersen_peak(strip.width, k, A[1, 1], panel)
        mean.append(np.hypot(along, across) / strip.width)
        peak.append(np.hypot(along * rise[0], across * rise[1]) / strip.width)
        peel.append(peel_peak(off, bend, strip.width, D[1, 1], GLUE_TENSION * k))
    pull = np.hypot(loads.across, loads.square) * strip.shares[1] + pair
    use = ply_strain_use(strip.stack, along, pull, bend, allowables)
    return _bonded_strength(np.max(mean), np.max(peak), np.max(peel), strip.width, allowables, use)


def ply_strain_use(stack: Stack, along: Floats, pull: Floats, bend: Floats, allowables: Allowables) -> float:
    """Strain over allowable, first damage, of a strip (0 along the line) held along the line.

    Parameters
    ----------
    along, pull, bend
        (m,) shear and pull across [N/m], moment across [N]; every combination of their signs is tried.
    """
    A, _, D = abd(stack)
    use = ply_use(stack, allowables, FIRST_DAMAGE)
    sheet = np.linalg.inv(A[1:, 1:])
    worst = 0.0
    for sign_pull in (1.0, -1.0):
        for sign_bend in (1.0, -1.0):
            strain = np.zeros((len(along), 8))
            strain[:, 1:3] = np.stack([sign_pull * pull, along], axis=1) @ sheet
            strain[:, 4] = sign_bend * bend / D[1, 1]
            worst = max(worst, float(greatest_use(use, strain, both_hands=True).max()))
    return worst


def _bonded_strength(
    mean: float, peak: float, peel: float, width: float, allowables: Allowables, use: float | None
) -> JointStrength:
    glue = bond()
    knock, asked, first = allowables.knock_down["bond"], allowables.required[BONDS], allowables.required[FIRST_DAMAGE]
    design = glue.mean_shear * knock / asked
    margins = {SHEAR: _margin(design, mean), PEAK: _margin(glue.peak_shear * knock / first, peak)}
    if use is not None:
        margins[PLIES] = _margin(1.0, use)
    return JointStrength(
        0.0,
        margins,
        mean_shear=float(mean),
        peak_shear=float(peak),
        peak_peel=float(peel),
        ply_use=use,
        width=width,
        width_needed=float(mean * width / design),
        peel=_margin(glue.peel * knock / first, peel),
    )


def _margin(allowable: float, demand: float) -> float:
    return float(allowable / demand - 1) if demand > 0 else np.inf


def _flange(kind: JointKind, loads: LineLoads, sides: tuple[Side, Side], allowables: Allowables) -> JointStrength:
    """A bonded flange in the plane of A: Volkersen for shear, Goland and Reissner for the pull across, peel on top."""
    G = kind.bond_shear_modulus or RESIN_SHEAR
    shear, tension = G / kind.bond_thickness, GLUE_TENSION * G / kind.bond_thickness
    a, b = (side.solid * side.modulus for side in sides)
    along, across = np.abs(loads.along), np.abs(loads.across)
    soft = min(sides, key=lambda side: side.solid * side.modulus)
    lap = {"thickness": soft.solid, "modulus": soft.modulus, "nu": POISSON}
    tiny = np.maximum(across, 1e-9)
    eccentric, pulled = goland_reissner(tiny, kind.width, **lap, bond_shear=shear, bond_tension=tension)
    rise = volkersen_peak(kind.width, shear, a, b)
    mean = np.hypot(along, across) / kind.width
    peak = np.hypot(along / kind.width * rise, eccentric)
    D = soft.modulus * soft.solid**3 / (12 * (1 - POISSON**2))
    peel = pulled + peel_peak(loads.square, loads.moment, kind.width, D, tension)
    return _bonded_strength(mean.max(), peak.max(), peel.max(), kind.width, allowables, None)


def _bolts(
    model: TubModel,
    kind: JointKind,
    ties: JointTies,
    loads: LineLoads,
    sides: tuple[Side, Side],
    allowables: Allowables,
) -> JointStrength:
    """Bolts square to A: shear on the side of the holes, pull through under a washer twice the bolt's diameter."""
    d = bolt_diameter(kind.bolt)
    shear = float(np.hypot(loads.along, loads.across).max() * kind.pitch)
    pull = float((np.abs(loads.square) + np.abs(loads.moment) / d).max() * kind.pitch)
    asked = allowables.required[BONDS]
    bear, through = [], []
    for panel, side in zip(ties.panels, sides, strict=True):
        laminate = bolted_laminate(fibre_family(model.case, model.mesh.panels[panel].region))
        bear.append(_margin(laminate.bearing / asked, bearing(shear, d, side.solid)))
        through.append(_margin(laminate.punching / asked, punching(pull, 2 * d, side.solid)))
    return JointStrength(0.0, {BEARING: min(bear), PULL: min(through)}, bolt_shear=shear, bolt_pull=pull)
