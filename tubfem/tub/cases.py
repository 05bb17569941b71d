"""Load cases as columns of loads, gathered by how they hold the tub: one factorisation serves all of one holding."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.loads import LoadCase, Torsion
from tubfem.case.road import Combination, RoadCase
from tubfem.errors import CaseError
from tubfem.shell.ties import Rigid
from tubfem.tub.free import free_loads
from tubfem.tub.loads import Shell, hold, static_loads
from tubfem.tub.model import LoadCaseSetup, RoadLoads, TorsionSetup
from tubfem.tub.modes import determinate_supports
from tubfem.tub.places import Places
from tubfem.tub.road import Wheeled, combined_loads, hub_couple, lifted, lifting_torque, on_wheels, road_loads
from tubfem.tub.torsion import Twist, twist

References = dict[str, dict[str, int]]  # load case -> rigid set -> node
Key = tuple[tuple[int, ...], tuple]


@dataclass(slots=True)
class Holding:
    """One way of holding the tub: supported freedoms, rigid sets, and the load cases that share it."""

    held: Ints
    rigid: tuple[Rigid, ...]
    loads: list[Floats] = field(default_factory=list)
    cases: list[LoadCaseSetup] = field(default_factory=list)

    def key(self) -> Key:
        """What makes two holdings one."""
        links = tuple((link.master, link.components, tuple(link.slaves.tolist())) for link in self.rigid)
        return tuple(self.held.tolist()), links

    def add(self, load: Floats) -> int:
        """The column of one more load (d,)."""
        self.loads.append(load.ravel())
        return len(self.loads) - 1


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """A load case on the tub: how it is held, its load (d,), what it is of; `hubs` is a twist's couple at the hubs."""

    held: Ints
    load: Floats
    free: bool
    rigid: tuple[Rigid, ...] = ()
    torsion: TorsionSetup | None = None
    hubs: Floats | None = None
    road: RoadLoads | None = None


@dataclass(slots=True)
class Placing:
    """The tub that load cases are put on, and what is told meanwhile.

    `idle` are six supports that a balanced load leaves without load: those of the first free twist, said in `words`,
    or any. All free load cases share them.
    """

    places: Places
    shell: Shell
    references: References
    restraint: str
    idle: Ints
    words: str
    wheeled: Wheeled | None
    cautions: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def place_cases(places: Places, shell: Shell, references: References, restraint: str) -> tuple[list[Holding], Placing]:
    """Every load case of the case, by how it holds the tub; cautions and notes are in the second.

    Raises
    ------
    CaseError
        A load case names what is not in the mesh, cannot be balanced, or adds up what does not hold the tub alike.
    """
    tables = places.case.load_cases
    placing = _placing(places, shell, references, restraint)
    placed = {name: _placed(placing, name, table) for name, table in tables.items() if not _is_sum(table)}
    placed |= {name: _combined(placing, name, table, placed) for name, table in tables.items() if _is_sum(table)}
    holdings: dict[Key, Holding] = {}
    for name, table in tables.items():
        one = placed[name]
        holding = Holding(one.held, one.rigid)
        holding = holdings.setdefault(holding.key(), holding)
        column, torsion = holding.add(one.load), one.torsion
        if torsion is not None and one.hubs is not None:
            torsion = replace(torsion, hubs=holding.add(one.hubs))
        setup = LoadCaseSetup(name, table.kind, column, torsion, table.buckling, one.free, one.road)
        holding.cases.append(setup)
    return list(holdings.values()), placing


def _is_sum(table: LoadCase) -> bool:
    return isinstance(table, Combination)


def _placing(places: Places, shell: Shell, references: References, restraint: str) -> Placing:
    case = places.case
    held, words = determinate_supports(places.mesh.points), ""
    for name, table in case.load_cases.items():
        if isinstance(table, Torsion) and table.restraint == "free":
            found = twist(case, name, table, places.pickups, shell.points, restraint)
            held, words = np.sort(found.held), found.setup.restraint
            break
    wheeled = on_wheels(places, shell)
    placing = Placing(places, shell, references, restraint, held, words, wheeled)
    if wheeled is not None:
        placing.cautions += [text for axle in wheeled.linkages for text in axle.cautions]
        placing.notes.append(lifting_torque(wheeled))
    return placing


def _placed(placing: Placing, name: str, table: LoadCase) -> Placed:
    if isinstance(table, Torsion):
        return _twisted(placing, name, table)
    if isinstance(table, RoadCase):
        load, road = road_loads(placing.wheeled, name, table)
        return Placed(placing.idle, load, free=True, road=road)
    if table.free:
        found = free_loads(placing.places, name, table, placing.shell)
        placing.notes.append(found.note)
        return Placed(placing.idle, found.load, free=True)
    own = placing.references[name]
    held = hold(placing.places, name, table, own, placing.shell.points)
    load = static_loads(placing.places, name, table, own, placing.shell)
    return Placed(held.supports, load, free=False, rigid=held.rigid)


def _twisted(placing: Placing, name: str, table: Torsion) -> Placed:
    points = placing.shell.points
    found: Twist = twist(placing.places.case, name, table, placing.places.pickups, points, placing.restraint)
    placing.cautions += found.cautions
    load = np.zeros((len(points), 6))
    for node, force in found.forces:
        load[node] += force
    if table.restraint == "bench":
        return Placed(np.sort(found.held), load.ravel(), free=False, torsion=found.setup)
    hubs = None if placing.wheeled is None else hub_couple(placing.wheeled, table)
    torsion = replace(found.setup, restraint=placing.words)
    return Placed(placing.idle, load.ravel(), free=True, torsion=torsion, hubs=hubs)


def _combined(placing: Placing, name: str, table: Combination, placed: dict[str, Placed]) -> Placed:
    """The sum of other load cases, which must hold the tub alike."""
    case, parts = placing.places.case, {each: placed[each] for each in table.of}
    first_name, first = next(iter(parts.items()))
    key = Holding(first.held, first.rigid).key()
    for other, one in parts.items():
        if Holding(one.held, one.rigid).key() != key:
            text = f"{first_name} and {other} hold the tub in different ways, so they cannot act together"
            raise CaseError(case.message(("load_cases", name, "of"), text))
    load = np.sum([number * parts[each].load for each, number in table.of.items()], axis=0)
    road = combined_loads(table.of, {each: one.road for each, one in parts.items()})
    if road is not None:
        pulled = ", ".join(lifted(placing.wheeled, road))
        if pulled:
            text = f'the road would have to pull {pulled} down; less of what lifts, or weight (kind = "bending") more'
            placing.cautions.append(case.message(("load_cases", name), text))
    return Placed(first.held, load, free=first.free, rigid=first.rigid, road=road)


def probe_nodes(places: Places, references: References) -> dict[str, dict[str, int]]:
    """Load case -> probe -> node; `.left` and `.right` of it where the text names both sides."""
    found: dict[str, dict[str, int]] = {}
    for name, table in places.case.load_cases.items():
        found[name] = {}
        for probe, text in getattr(table, "probes", {}).items():
            found[name] |= dict(_probe(places, probe, text, references[name]))
    return found


def _probe(places: Places, probe: str, text: str, references: dict[str, int]) -> Iterator[tuple[str, int]]:
    nodes, _ = places.nodes(text, references)
    mesh_node = places.split.mesh_node
    first: dict[int, int] = {}
    for node in nodes.tolist():  # of the nodes that a joint made of one, the first
        first.setdefault(int(mesh_node[node]) if node < len(mesh_node) else -1 - node, node)
    if len(first) == 1:
        yield probe, next(iter(first.values()))
        return
    y = {node: places.mesh.points[mesh_node[node], 1] for node in first.values() if node < len(mesh_node)}
    named = list(first.values()) if len(y) < len(first) else sorted(first.values(), key=lambda node: y[node])
    for side, node in zip((".left", ".right"), named, strict=True):
        yield f"{probe}{side}", node
