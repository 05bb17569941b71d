"""What holds a joint's line (tabs, lapped plies, flanges, bolts), and how far its loads use it.

Every number stands for one node of a line, so that the nodes of many lines, under many loads, are worked out at once:
docs/theory.md, "Joint findings".
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.joining import JointKind, bolt_diameter
from tubfem.case.schema import Case
from tubfem.findings.allowables import BONDS, FIRST_DAMAGE, Allowables
from tubfem.findings.fibres import fibre_family
from tubfem.findings.plies import ply_use
from tubfem.laminate.adhesive import goland_reissner, peel_peak, volkersen_peak
from tubfem.laminate.bolted import bearing, punching
from tubfem.laminate.stack import Stack, abd, make_stack
from tubfem.materials.bonds import bolted_laminate, bond
from tubfem.tub.line_stiffness import GLUE_LINE, GLUE_TENSION, RESIN_SHEAR, Side, lapped, tabbed
from tubfem.tub.model import JointTies
from tubfem.tub.plies import Layer, entry_layers

POISSON = 0.3  # of the sheets of a single lap
SHEAR, PEAK, PLIES, BEARING, PULL = "bond shear", "bond shear, peak", "tab plies", "bolt bearing", "bolt pull-through"
KINDS = (SHEAR, PEAK, PLIES, BEARING, PULL)
LAYER = RESIN_SHEAR / GLUE_LINE  # N/m³, of the resin under a tab


@dataclass(frozen=True, eq=False, slots=True)
class LineLoads:
    """Loads per length at the nodes of lines, averaged: (.., m) along, across A, square to A [N/m], moment [N].

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
        on_a = np.abs(self.across), np.abs(self.square), np.zeros(off.shape[-1])
        return on_a, (in_plane, off, np.abs(self.over[:, 0]))

    def of(self, rows: Ints) -> "LineLoads":
        """The loads of some nodes."""
        loads = (each[..., rows] for each in (self.along, self.across, self.square, self.moment))
        return LineLoads(*loads, self.over[rows])


@dataclass(frozen=True, eq=False, slots=True)
class Strips:
    """Tabs and lapped plies over joints, one row for each node that they hold; `rows` (r,) are those of the loads.

    `width` [m] of the leg, `shares` (r, 3) of what goes along, across or square, and of the moment; `lever` [m] between
    a tab and its fellow on the other face of A, infinite if it stands alone and bends. `rise` (r, 2, 2) is peak over
    mean shear of the leg on A and on B, along and across; `bending` [N m]. `plies` (r,) says which of `used` the plies
    are: use per pull across [N/m], shear [N/m] and moment [N], (3, n). `strength` (r,) of the bond, a share of the
    library's.
    """

    rows: Ints
    width: Floats
    shares: Floats
    lever: Floats
    rise: Floats
    bending: Floats
    plies: Ints
    strength: Floats
    used: tuple[Floats, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Flanges:
    """Bonded flanges in the plane of A, as `Strips`: the softer sheet's thickness [m] and modulus [Pa].

    `rise` (r,) is peak over mean shear along the line, `shear` and `tension` [N/m³] are the bond line's.
    """

    rows: Ints
    width: Floats
    rise: Floats
    thickness: Floats
    modulus: Floats
    shear: Floats
    tension: Floats
    strength: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Bolts:
    """Bolts square to A, as `Strips`: diameter and pitch [m], of both panels (r, 2) thickness [m] and strengths [Pa].

    `bearing` and `punching` are divided by the required factor.
    """

    rows: Ints
    diameter: Floats
    pitch: Floats
    solid: Floats
    bearing: Floats
    punching: Floats


Means = Strips | Flanges | Bolts
Cured = Callable[[Sequence[Layer]], tuple[Layer, ...]]


@dataclass(frozen=True, eq=False, slots=True)
class Demand:
    """What loads ask of one kind of means; arrays (.., r).

    `uses` is demand over allowable by kind; `peel` too, by the elastic peak, which nobody counts on. `told` are the
    greatest stresses [Pa], widths [m] and bolt loads [N] by the names of `JointStrength`.
    """

    rows: Ints
    uses: Mapping[str, Floats]
    peel: Floats | None = None
    told: Mapping[str, Floats] = field(default_factory=dict)


def means_of(
    case: Case,
    kind: JointKind,
    ties: JointTies,
    regions: tuple[str, str],
    sides: tuple[Side, Side],
    allowables: Allowables,
    first: int = 0,
    *,
    cured: Cured = tuple,
    strength: float = 1.0,
) -> list[Means]:
    """Everything that holds one line and is judged; nothing for hinges.

    Parameters
    ----------
    kind
        The joint's kind, complete.
    regions, sides
        Of A and of B.
    first
        Row of the loads of the line's first node.
    cured
        Layers of a tab or lapped ply as they are when those of the case are given: of a tub that is not as written.
    strength
        Of bonds, and of laminates round bolts, as a share of the library's.
    """
    nodes = first + np.arange(len(ties.pairs))
    if kind.kind == "fastened" and not ties.bridges:
        return [_bolts(case, kind, nodes, regions, sides, allowables, strength)]
    if kind.kind == "bonded" and not ties.bridges:
        return [_flange(kind, nodes, sides, strength)]
    return [_strip(*each, nodes, sides, allowables, strength) for each in _laid(case, kind, ties, sides, cured)]


def packed(means: Sequence[Means]) -> list[Means]:
    """The same, all of one sort in one."""
    found: list[Means] = []
    for sort in (Strips, Flanges, Bolts):
        own = [each for each in means if isinstance(each, sort)]
        if not own:
            continue
        arrays = [f.name for f in fields(sort) if f.name != "used"]
        together = {name: np.concatenate([getattr(each, name) for each in own]) for name in arrays}
        if sort is Strips:
            firsts = np.cumsum([0, *(len(each.used) for each in own)])
            together["plies"] = np.concatenate([each.plies + n for each, n in zip(own, firsts, strict=False)])
            together["used"] = tuple(used for each in own for used in each.used)
        found.append(sort(**together))
    return found


def some_of(means: Means, rows: Ints) -> Means:
    """What holds some of the nodes (ascending), which are numbered as they come in `rows` then."""
    own = np.isin(means.rows, rows)
    changed = {f.name: getattr(means, f.name)[own] for f in fields(means) if f.name != "used"}
    return replace(means, **changed | {"rows": np.searchsorted(rows, means.rows[own])})


def demands(means: Sequence[Means], loads: LineLoads, allowables: Allowables) -> Iterator[Demand]:
    """What loads ask of all means."""
    for each in means:
        own = loads.of(each.rows)
        if isinstance(each, Strips):
            yield _on_strips(each, own, allowables)
        elif isinstance(each, Flanges):
            yield _on_flanges(each, own, allowables)
        else:
            yield _on_bolts(each, own)


def _laid(
    case: Case, kind: JointKind, ties: JointTies, sides: tuple[Side, Side], cured: Cured
) -> Iterator[tuple[Stack, float, Floats, float]]:
    """Stack, leg [m], shares by stiffness (3,) and lever [m] of tabs and lapped plies.

    A hinge, bolts or glue beside laps are not counted on.
    """
    own, layers, height = None, (), sides[0].thickness
    if kind.kind == "tabbed":
        layers = cured(entry_layers(case, kind.tab, label="tab"))
        springs = tabbed(
            layers, width=kind.width, sides=kind.sides, fillet=kind.fillet, angle=ties.angle, height=height
        )
        own = springs.values()
    bridges = [(cured(ply), width) for ply, width in ties.bridges]
    laps = [lapped(ply, width=w, fillet=kind.fillet, angle=ties.angle).values() for ply, w in bridges]
    total = np.sum([*([] if own is None else [own]), *laps], axis=0)
    if own is not None:
        share = own / total / kind.sides
        yield _stack(layers), kind.width, share[[0, 1, 3]], height if kind.sides == 2 else np.inf
    for (ply, width), lap in zip(bridges, laps, strict=True):
        yield _stack(ply), width, (lap / total)[[0, 1, 3]], np.inf


def _stack(layers: tuple[Layer, ...]) -> Stack:
    return make_stack([(layer.angle, layer.ply) for layer in layers])


def _strip(
    stack: Stack,
    width: float,
    shares: Floats,
    lever: float,
    nodes: Ints,
    sides: tuple[Side, Side],
    allowables: Allowables,
    strength: float,
) -> Strips:
    A, _, D = abd(stack)
    panels = [side.solid * side.modulus for side in sides]
    rise = [[volkersen_peak(width, LAYER, sheet, panel) for sheet in (A[2, 2], A[1, 1])] for panel in panels]
    each = np.ones(len(nodes))
    return Strips(
        rows=nodes,
        width=width * each,
        shares=each[:, None] * shares,
        lever=lever * each,
        rise=each[:, None, None] * np.array(rise),
        bending=D[1, 1] * each,
        plies=np.zeros(len(nodes), dtype=np.int64),
        strength=strength * each,
        used=(strip_uses(stack, allowables),),
    )


def _flange(kind: JointKind, nodes: Ints, sides: tuple[Side, Side], strength: float) -> Flanges:
    G = kind.bond_shear_modulus or RESIN_SHEAR
    shear = G / kind.bond_thickness
    soft = min(sides, key=lambda side: side.solid * side.modulus)
    rise = volkersen_peak(kind.width, shear, *(side.solid * side.modulus for side in sides))
    numbers = kind.width, rise, soft.solid, soft.modulus, shear, GLUE_TENSION * shear, strength
    return Flanges(nodes, *(value * np.ones(len(nodes)) for value in numbers))


def _bolts(
    case: Case,
    kind: JointKind,
    nodes: Ints,
    regions: tuple[str, str],
    sides: tuple[Side, Side],
    allowables: Allowables,
    strength: float,
) -> Bolts:
    laminates = [bolted_laminate(fibre_family(case, region)) for region in regions]
    asked, each = allowables.required[BONDS] / strength, np.ones((len(nodes), 1))
    return Bolts(
        nodes,
        bolt_diameter(kind.bolt) * each[:, 0],
        kind.pitch * each[:, 0],
        each * [side.solid for side in sides],
        each * [laminate.bearing / asked for laminate in laminates],
        each * [laminate.punching / asked for laminate in laminates],
    )


def strip_uses(stack: Stack, allowables: Allowables) -> Floats:
    """Use (3, n), first damage, of a strip (0 along the line) that is held along it: size of every mode's use.

    Per pull across [N/m], shear along [N/m] and moment across [N]. Every combination of their signs occurs, so that
    the use is the sum of the three sizes.
    """
    A, _, D = abd(stack)
    use = ply_use(stack, allowables, FIRST_DAMAGE)
    strain = np.zeros((3, 8))
    strain[:2, 1:3] = np.linalg.inv(A[1:, 1:])
    strain[2, 4] = 1 / D[1, 1]
    return np.abs(strain @ use.matrix)


def _on_strips(strips: Strips, loads: LineLoads, allowables: Allowables) -> Demand:
    along = np.abs(loads.along) * strips.shares[:, 0]
    moment = np.abs(loads.moment) * strips.shares[:, 2]
    pair = moment * 2 / strips.lever  # shares are of one tab: both make the moment; nothing where it stands alone
    bend = np.where(np.isinf(strips.lever), moment, 0.0)
    mean, peak, peel = [], [], []
    for leg, (across, off, turned) in enumerate(loads.legs()):
        across = across * strips.shares[:, 1] + pair * np.sqrt(np.maximum(1 - turned**2, 0))
        off = off * strips.shares[:, 1] + pair * turned
        rise = strips.rise[:, leg].T
        mean.append(np.hypot(along, across) / strips.width)
        peak.append(np.hypot(along * rise[0], across * rise[1]) / strips.width)
        peel.append(peel_peak(off, bend, strips.width, strips.bending, GLUE_TENSION * LAYER))
    pull = np.hypot(loads.across, loads.square) * strips.shares[:, 1] + pair
    asked = np.stack([pull, along, bend], axis=-1)
    use = np.zeros(pull.shape)
    for number in np.unique(strips.plies):
        own = strips.plies == number
        use[..., own] = (asked[..., own, :] @ strips.used[number]).max(axis=-1, initial=0.0)
    greatest = (np.maximum(*both_legs) for both_legs in (mean, peak, peel))
    found = _on_bond(strips, *greatest, allowables)
    return replace(found, uses={**found.uses, PLIES: use}, told={**found.told, "ply_use": use})


def _on_flanges(flanges: Flanges, loads: LineLoads, allowables: Allowables) -> Demand:
    """Volkersen for shear along, Goland and Reissner for the pull across, peel on top."""
    along, across = np.abs(loads.along), np.abs(loads.across)
    lap = {"thickness": flanges.thickness, "modulus": flanges.modulus, "nu": POISSON}
    stiff = {"bond_shear": flanges.shear, "bond_tension": flanges.tension}
    eccentric, pulled = goland_reissner(np.maximum(across, 1e-9), flanges.width, **lap, **stiff)
    mean = np.hypot(along, across) / flanges.width
    peak = np.hypot(along / flanges.width * flanges.rise, eccentric)
    D = flanges.modulus * flanges.thickness**3 / (12 * (1 - POISSON**2))
    peel = pulled + peel_peak(loads.square, loads.moment, flanges.width, D, flanges.tension)
    return _on_bond(flanges, mean, peak, peel, allowables)


def _on_bond(held: Strips | Flanges, mean: Floats, peak: Floats, peel: Floats, allowables: Allowables) -> Demand:
    glue, width = bond(), held.width
    knock, asked = allowables.knock_down["bond"] * held.strength, allowables.required[BONDS]
    first = allowables.required[FIRST_DAMAGE]
    design = glue.mean_shear * knock / asked
    uses = {SHEAR: mean / design, PEAK: peak / (glue.peak_shear * knock / first)}
    told = {"mean_shear": mean, "peak_shear": peak, "peak_peel": peel}
    told |= {"width": width, "width_needed": mean * width / design}
    return Demand(held.rows, uses, peel / (glue.peel * knock / first), told)


def _on_bolts(bolts: Bolts, loads: LineLoads) -> Demand:
    """Shear on the side of the holes, pull through under a washer twice the bolt's diameter."""
    d = bolts.diameter
    shear = np.hypot(loads.along, loads.across) * bolts.pitch
    pull = (np.abs(loads.square) + np.abs(loads.moment) / d) * bolts.pitch
    bear = bearing(shear[..., None], d[:, None], bolts.solid) / bolts.bearing
    through = punching(pull[..., None], 2 * d[:, None], bolts.solid) / bolts.punching
    uses = {BEARING: bear.max(axis=-1), PULL: through.max(axis=-1)}
    return Demand(bolts.rows, uses, told={"bolt_shear": shear, "bolt_pull": pull})
