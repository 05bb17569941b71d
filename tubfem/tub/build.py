"""A case on its mesh becomes a shell model for every way of holding it."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.case.schema import Case
from tubfem.geometry.mesh import TubMesh
from tubfem.laminate.shear import stiffness8
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.ties import Ties, tie
from tubfem.tub.attachments import Attachments, hang
from tubfem.tub.cases import Holding, place_cases, probe_nodes
from tubfem.tub.connections import connections
from tubfem.tub.drops import steep_drops
from tubfem.tub.edges import bulge, edge_stiffness, relieve
from tubfem.tub.fill import Foam, foam_springs
from tubfem.tub.fillets import joint_masses, lumped
from tubfem.tub.folds import folds
from tubfem.tub.joints import Joined, join
from tubfem.tub.layup import layup_mass, mixed
from tubfem.tub.loads import Shell, supports
from tubfem.tub.model import BoltTies, FrameBeams, LayupField, ModesSetup, State, TubModel
from tubfem.tub.modes import carried_masses, determinate_supports
from tubfem.tub.places import Places
from tubfem.tub.stiffeners import stiffener_beams
from tubfem.tub.subframes import frame_note


def build_model(
    case: Case,
    mesh: TubMesh,
    layup: LayupField,
    *,
    base: Case | None = None,
    pads: str = "spread",
    restraint: str = "rear",
) -> TubModel:
    """Everything the solver needs, with the names of its parts.

    Parameters
    ----------
    base
        The case without its changes, whose stacks say how sides bulge and how wide the layers along free edges are;
        by default the case.
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
    hung_on = np.concatenate([mesh.points[joined.split.mesh_node], hung.points])
    foams = foam_springs(case, mesh, layup, joined.split, len(hung_on))
    meshed = np.concatenate([hung_on, *(foam.points for foam in foams)])
    points, references = _reference_points(case, meshed)
    at_edges = edge_stiffness(case, base or case, mesh)
    blocks = bulge(mesh, at_edges, _blocks(mesh, layup, joined))
    bonded, stiffener_notes = stiffener_beams(case, mesh, layup, points, blocks)
    frames = (*hung.frames, *bonded)
    frame_notes = (frame_note(frame, points, hung.pickups) for frame in hung.frames)
    beams = tuple(frame.beams for frame in frames)
    shell = Shell(points, blocks, layup_mass(layup), lumped(joint_masses(case, joined.ties), len(points)), beams)
    tubes = {
        f"{frame.name.removeprefix('subframes.')}.{name}": node
        for frame in hung.frames
        for name, node in frame.nodes.items()
    }
    places = Places(case, mesh, joined.split, hung.mounts, hung.pickups, tubes)
    holdings, placing = place_cases(places, shell, references, restraint)
    probes = probe_nodes(places, references)
    modes = _modes(case, places, points, holdings)
    extra = np.arange(len(meshed), len(points))
    sets = (joined.springs, hung.bolts, *(foam.springs for foam in foams), *(each.springs for each in beams))
    springs = tuple(each for each in sets if len(each.stiffness))
    unturned = np.arange(len(hung_on), len(meshed))  # points of bricks have no rotations
    free = partial(relieve, mesh, at_edges)
    states = _states(layup, shell, springs, hung, holdings, extra, unturned, free)
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
        cautions=(*joined.cautions, *hung.cautions, *steep_drops(case), *_no_room(foams), *placing.cautions),
        notes=(
            *layup.notes,
            *(foam.note for foam in foams),
            *frame_notes,
            *stiffener_notes,
            *joined.notes,
            *placing.notes,
        ),
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


def _foam_rows(foams: tuple[Foam, ...], first: int) -> tuple[tuple[str, Ints], ...]:
    """Rows of all foam among the springs: after those of joints and bolts."""
    starts = first + np.cumsum([0, *(len(foam.springs.stiffness) for foam in foams)])
    return tuple(
        (foam.name, frozen(np.arange(i, j))) for foam, i, j in zip(foams, starts[:-1], starts[1:], strict=True) if i < j
    )


def _no_room(foams: tuple[Foam, ...]) -> tuple[str, ...]:
    """Cautions of foam whose walls meet inside, for one half of each section."""
    each = {foam.name.partition(".")[0]: foam.caution for foam in reversed(foams) if foam.caution}
    return tuple(reversed(each.values()))


def _bolts(joined: Joined, hung: Attachments) -> tuple[BoltTies, ...]:
    """Bolts with their rows among all springs: those of the joints come first."""
    first = len(joined.springs.stiffness)
    return tuple(
        BoltTies(mount, carries, frozen(first + 6 * k + np.arange(6)), frame)
        for k, (mount, carries, frame) in enumerate(hung.carried)
    )


def _modes(case: Case, places: Places, points: Floats, holdings: list[Holding]) -> ModesSetup | None:
    """What is asked of the modes; adds a holding of its own if no load case holds the tub determinately."""
    if case.modes is None:
        return None
    free = [any(setup.free for setup in holding.cases) for holding in holdings]
    if not any(free):
        holdings.append(Holding(determinate_supports(places.mesh.points), ()))
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


def _blocks(mesh: TubMesh, layup: LayupField, joined: Joined) -> tuple[Block, ...]:
    counts = np.cumsum([len(block.conn) for block in mesh.blocks])[:-1]
    parts = zip(mesh.blocks, joined.split.conn, np.split(layup.mixture, counts), strict=True)
    return tuple(Block(block.kind, conn, mixture, block.direction) for block, conn, mixture in parts)


def _states(
    layup: LayupField,
    shell: Shell,
    springs: tuple[Springs, ...],
    hung: Attachments,
    holdings: list[Holding],
    extra: Ints,
    unturned: Ints,
    free: Callable[[Floats, tuple[Block, ...], Ties], tuple[Block, ...]],
) -> tuple[State, ...]:
    """One shell model for every way of holding, which says what edges are free; all else is shared."""
    stiffness = mixed(layup, np.array([stiffness8(stack) for stack in layup.stacks]))
    states = []
    for holding in holdings:
        used = [link.master for link in holding.rigid]
        unused = np.setdiff1d(extra, used)  # reference points of other load cases
        idle = (6 * unused[:, None] + np.arange(6)).ravel(), (6 * unturned[:, None] + np.arange(3, 6)).ravel()
        held = np.concatenate([holding.held, *idle])
        ties = tie(
            shell.points,
            len(holding.loads),
            supports=supports(held),
            rigid=(*hung.rigid, *holding.rigid),
            spread=hung.spread,
        )
        loads = np.array(holding.loads).reshape(-1, 6 * len(shell.points)).T
        model = ShellModel(
            shell.points,
            free(shell.points, shell.blocks, ties),
            stiffness,
            shell.mass,
            springs,
            ties,
            loads,
            beams=shell.beams,
            lumps=shell.lumps,
        )
        states.append(State(model, tuple(holding.cases)))
    return tuple(states)
