"""A case on its mesh becomes a shell model for every way of holding it."""

from dataclasses import dataclass, field, replace

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.loads import Static, Torsion
from tubfem.case.schema import Case
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.shear import stiffness8
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.ties import Rigid, tie
from tubfem.tub.attachments import Attachments, hang
from tubfem.tub.connections import connections
from tubfem.tub.drops import steep_drops
from tubfem.tub.fill import Foam, foam_springs
from tubfem.tub.folds import folds
from tubfem.tub.free import free_loads
from tubfem.tub.joints import Joined, join
from tubfem.tub.layup import layup_mass, mixed
from tubfem.tub.loads import Shell, hold, static_loads, supports
from tubfem.tub.model import BoltTies, FrameBeams, LayupField, LoadCaseSetup, ModesSetup, State, TorsionSetup, TubModel
from tubfem.tub.modes import carried_masses, determinate_supports
from tubfem.tub.places import Places
from tubfem.tub.torsion import twist


@dataclass(slots=True)
class _Holding:
    """One way of holding the tub and the load cases that share it."""

    held: Ints
    rigid: tuple[Rigid, ...]
    loads: list[Floats] = field(default_factory=list)
    cases: list[tuple[str, str, TorsionSetup | None, bool, bool]] = field(default_factory=list)

    def key(self) -> tuple:
        links = tuple((link.master, link.components, tuple(link.slaves.tolist())) for link in self.rigid)
        return tuple(self.held.tolist()), links


def build_model(
    case: Case, mesh: TubMesh, layup: LayupField, *, pads: str = "spread", restraint: str = "rear"
) -> TubModel:
    """Everything the solver needs, with the names of its parts.

    Parameters
    ----------
    pads
        "spread": mounts follow the mean motion of their pads; "rigid": their pads do not deform. The truth of a hard
        point lies between.
    restraint
        Which determinate set of restraints holds a free torsion case, see `torsion.RESTRAINTS`.

    Raises
    ------
    CaseError
        Joints are left unsaid or contradict each other, or a load case names what is not in the mesh.
    SolveError
        A subframe is not held by its bolts.
    """
    joined = join(case, mesh)
    hung = hang(case, mesh, joined.split, pads=pads)
    base = np.concatenate([mesh.points[joined.split.mesh_node], hung.points])
    points, references = _reference_points(case, base)
    frames = hung.frames
    beams = tuple(frame.beams for frame in frames)
    shell = Shell(points, _blocks(mesh, layup, joined), layup_mass(layup), beams)
    places = Places(case, mesh, joined.split, hung.mounts, hung.pickups)
    holdings: dict[tuple, _Holding] = {}
    foams = foam_springs(case, mesh, layup, joined.split)
    cautions: list[str] = [*joined.cautions, *hung.cautions, *steep_drops(case)]
    probes: dict[str, dict[str, int]] = {}
    free_notes: list[str] = []
    for name, table in case.load_cases.items():
        probes[name] = {}
        if isinstance(table, Torsion):
            found = twist(case, name, table, hung.pickups, points, restraint)
            holding, setup = _Holding(np.sort(found.held), ()), found.setup
            load = np.zeros((len(points), 6))
            for node, force in found.forces:
                load[node] += force
            cautions += found.cautions
        elif table.free:
            found = free_loads(places, name, table, shell)
            holding, setup = _Holding(_free_supports(case, hung, points, mesh, restraint), ()), None
            load, free_notes = found.load, [*free_notes, found.note]
            for probe, text in table.probes.items():
                probes[name] |= _probes(places, probe, text, {})
        else:
            own = hold(places, name, table, references[name], points)
            holding, setup = _Holding(own.supports, own.rigid), None
            load = static_loads(places, name, table, references[name], shell)
            for probe, text in table.probes.items():
                probes[name] |= _probes(places, probe, text, references[name])
        holding = holdings.setdefault(holding.key(), holding)
        holding.loads.append(load.ravel())
        holding.cases.append((name, table.kind, setup, table.buckling, isinstance(table, Static) and table.free))
    modes = _modes(case, places, points, holdings)
    extra = np.arange(len(base), len(points))
    sets = (joined.springs, hung.bolts, *(foam.springs for foam in foams), *(each.springs for each in beams))
    springs = tuple(each for each in sets if len(each.stiffness))
    states = _states(layup, shell, springs, hung, list(holdings.values()), extra)
    mesh_node = np.concatenate([joined.split.mesh_node, np.full(len(points) - len(joined.split.mesh_node), -1)])
    return TubModel(
        case=case,
        mesh=mesh,
        layup=layup,
        states=states,
        mesh_node=frozen(mesh_node),
        pickups=hung.pickups,
        mounts=hung.mounts,
        subframes=hung.subframes,
        joints=joined.ties,
        joint_kinds=joined.kinds,
        probes=probes,
        cautions=tuple(cautions),
        notes=(*layup.notes, *joined.notes, *free_notes),
        modes=modes,
        bolts=_bolts(joined, hung),
        foams=_foam_rows(foams, len(joined.springs.stiffness) + len(hung.bolts.stiffness)),
        connections=connections(case, mesh, joined.kinds),
        folds=folds(mesh, joined.kinds),
        frames=_with_rows(frames, sum(len(each.stiffness) for each in sets)),
    )


def _with_rows(frames: tuple[FrameBeams, ...], total: int) -> tuple[FrameBeams, ...]:
    """Frames with their rows among `total` springs, of which theirs are the last."""
    counts = [len(frame.beams.springs.stiffness) for frame in frames]
    starts = total - sum(counts) + np.cumsum([0, *counts])
    return tuple(
        replace(frame, rows=frozen(np.arange(i, j)))
        for frame, i, j in zip(frames, starts[:-1], starts[1:], strict=True)
    )


def _free_supports(case: Case, hung: Attachments, points: Floats, mesh: TubMesh, restraint: str) -> Ints:
    """Six supports that a balanced load leaves idle: those of a free twist if there is one, to share its factors."""
    for name, table in case.load_cases.items():
        if isinstance(table, Torsion) and table.restraint == "free":
            return np.sort(twist(case, name, table, hung.pickups, points, restraint).held)
    return determinate_supports(mesh.points)


def _foam_rows(foams: tuple[Foam, ...], first: int) -> tuple[tuple[str, Ints], ...]:
    """Rows of all foam among the springs: after those of joints and bolts."""
    starts = first + np.cumsum([0, *(len(foam.springs.stiffness) for foam in foams)])
    return tuple(
        (foam.name, frozen(np.arange(i, j))) for foam, i, j in zip(foams, starts[:-1], starts[1:], strict=True)
    )


def _bolts(joined: Joined, hung: Attachments) -> tuple[BoltTies, ...]:
    """Bolts with their rows among all springs: those of the joints come first."""
    first = len(joined.springs.stiffness)
    return tuple(
        BoltTies(mount, carries, frozen(first + 6 * k + np.arange(6)), frame)
        for k, (mount, carries, frame) in enumerate(hung.carried)
    )


def _modes(case: Case, places: Places, points: Floats, holdings: dict[tuple, _Holding]) -> ModesSetup | None:
    """What is asked of the modes; adds a holding of its own if no load case holds the tub determinately."""
    if case.modes is None:
        return None
    free = [
        any(setup is not None and setup.restraint.startswith("free") for _, _, setup, *_ in holding.cases)
        for holding in holdings.values()
    ]
    if not any(free):
        holding = _Holding(determinate_supports(places.mesh.points), ())
        holdings[holding.key()] = holding
        free.append(True)
    return ModesSetup(case.modes.count, free.index(True), carried_masses(places, points))


def _reference_points(case: Case, points: Floats) -> tuple[Floats, dict[str, dict[str, int]]]:
    """Points with those of all rigid sets behind them, and load case -> set -> node."""
    added, references = [points], {}
    count = len(points)
    for name, table in case.load_cases.items():
        references[name] = {}
        for set_name, body in getattr(table, "rigid", {}).items():
            references[name][set_name] = count
            added.append(np.array([body.at]))
            count += 1
    return np.concatenate(added), references


def _probes(places: Places, probe: str, text: str, references: dict[str, int]) -> dict[str, int]:
    """A probe's node; `.left` and `.right` of it where the text names both sides."""
    nodes, _ = places.nodes(text, references)
    mesh_node = places.split.mesh_node
    first: dict[int, int] = {}
    for node in nodes.tolist():  # of the nodes that a joint made of one, the first
        first.setdefault(int(mesh_node[node]) if node < len(mesh_node) else -1 - node, node)
    if len(first) == 1:
        return {probe: next(iter(first.values()))}
    y = {node: places.mesh.points[mesh_node[node], 1] for node in first.values() if node < len(mesh_node)}
    named = list(first.values()) if len(y) < len(first) else sorted(first.values(), key=lambda node: y[node])
    return {f"{probe}{side}": node for side, node in zip((".left", ".right"), named, strict=True)}


def _blocks(mesh: TubMesh, layup: LayupField, joined: Joined) -> tuple[Block, ...]:
    counts = np.cumsum([len(block.conn) for block in mesh.blocks])[:-1]
    parts = zip(mesh.blocks, joined.split.conn, np.split(layup.mixture, counts), strict=True)
    return tuple(Block(block.kind, conn, mixture, block.direction) for block, conn, mixture in parts)


def _states(
    layup: LayupField,
    shell: Shell,
    springs: tuple[Springs, ...],
    hung: Attachments,
    holdings: list[_Holding],
    extra: Ints,
) -> tuple[State, ...]:
    """One shell model for every way of holding; nodes, elements and springs are shared."""
    stiffness = mixed(layup, np.array([stiffness8(stack) for stack in layup.stacks]))
    states = []
    for holding in holdings:
        used = [link.master for link in holding.rigid]
        unused = np.setdiff1d(extra, used)  # reference points of other load cases
        held = np.concatenate([holding.held, (6 * unused[:, None] + np.arange(6)).ravel()])
        ties = tie(
            shell.points,
            len(holding.loads),
            supports=supports(held),
            rigid=(*hung.rigid, *holding.rigid),
            spread=hung.spread,
        )
        loads = np.array(holding.loads).reshape(-1, 6 * len(shell.points)).T
        model = ShellModel(shell.points, shell.blocks, stiffness, shell.mass, springs, ties, loads, beams=shell.beams)
        cases = (LoadCaseSetup(name, kind, k, *rest) for k, (name, kind, *rest) in enumerate(holding.cases))
        states.append(State(model, tuple(cases)))
    return tuple(states)
