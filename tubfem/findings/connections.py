"""What each lamination path carries between two parts, and how stiffly the paths hold them (docs/theory.md)."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.shell.assemble import assemble, element_stiffness, padded_stiffness, strain_matrix
from tubfem.shell.frames import cross_matrix
from tubfem.shell.model import ShellModel
from tubfem.tub.connections import Connection, PathLine
from tubfem.tub.model import JointTies, TubModel

CANCELLED = 1e-6  # of the paths' own forces: what is left is rounding
Turning = tuple[float, float, float] | None  # N m/rad about x, y, z; None where a path is moulded: no joint gives way


@dataclass(frozen=True, eq=False, slots=True)
class PathFindings:
    """One path: the force (3,) [N] and moment (3,) [N m] it puts on the other part, about the connection's middle.

    `force_share` and `moment_share` are its parts along the whole force and the whole moment; over all paths they sum
    to 1, and are None where the paths' forces cancel. `without` is the turning stiffness that the other paths have.
    """

    joint: str
    kind: str
    length: float
    force: Floats
    moment: Floats
    force_share: float | None
    moment_share: float | None
    without: Turning


@dataclass(frozen=True, eq=False, slots=True)
class ConnectionFindings:
    """A connection in one load case.

    `turning` is the stiffness of its joints' springs against turning about x, y, z through `middle` [m], both parts
    taken as rigid, free to shift and held from turning about the other two.
    """

    name: str
    middle: Floats
    force: Floats
    moment: Floats
    turning: Turning
    paths: tuple[PathFindings, ...]


def find_connections(
    model: TubModel, shell: ShellModel, motion: Floats, forces: Floats
) -> dict[str, ConnectionFindings]:
    """All connections of the case under one load.

    Parameters
    ----------
    motion
        (P, 6) [m, rad].
    forces
        (rows,) of all springs [N, N m].
    """
    return {each.name: _connection(model, shell, motion, forces, each) for each in model.connections}


def _connection(
    model: TubModel, shell: ShellModel, motion: Floats, forces: Floats, connection: Connection
) -> ConnectionFindings:
    by_path = _paths(model, connection)
    kinds = {joint: model.joint_kinds[joint] for joint in by_path}
    moulded = [joint for joint, kind in kinds.items() if kind == "continuous"]
    inner = _inner_forces(model, shell, motion, connection.one) if moulded else None
    places = [_middles(model, lines) for lines in by_path.values()]
    lengths = np.concatenate([length for _, length in places])
    middle = np.concatenate([at for at, _ in places]).T @ lengths / lengths.sum()
    taken: set[int] = set()
    loads, springs = {}, {}
    for joint, lines in by_path.items():
        if kinds[joint] == "continuous":
            loads[joint] = _moulded(model, shell, inner, lines, connection, middle, taken)
        else:
            ties = _ties_of(model, joint)
            loads[joint] = _tied(model, ties, forces, connection, middle)
            springs[joint] = sum(_rigid_stiffness(model, part, middle) for part in ties)
    force = np.sum([load[:3] for load in loads.values()], axis=0)
    moment = np.sum([load[3:] for load in loads.values()], axis=0)
    forced, turned = (_shares([load[part] for load in loads.values()]) for part in (slice(3), slice(3, 6)))
    shares = dict(zip(by_path, zip(forced, turned, strict=True), strict=True))
    paths = []
    for joint, (_, length) in zip(by_path, places, strict=True):
        others = [other for other in by_path if other != joint]
        without = _turning([springs.get(other) for other in others])
        own = loads[joint]
        paths.append(
            PathFindings(
                joint,
                kinds[joint],
                float(length.sum()),
                frozen(own[:3]),
                frozen(own[3:]),
                *shares[joint],
                without=without,
            )
        )
    whole = _turning([springs.get(joint) for joint in by_path])
    return ConnectionFindings(connection.name, frozen(middle), frozen(force), frozen(moment), whole, tuple(paths))


def _paths(model: TubModel, connection: Connection) -> dict[str, tuple[PathLine, ...]]:
    """Lines of every path by the joint's name; joints that are the same springs are one path."""
    found: dict[str, tuple[PathLine, ...]] = {}
    for joint, lines in connection.paths.items():
        ties = _ties_of(model, joint)
        name = next((part.name for part in ties if part.name in connection.paths), joint)
        if name == joint or name not in found:
            found[name] = lines
    return found


def _shares(parts: list[Floats]) -> list[float | None]:
    """Part of each along their sum; None where they cancel each other."""
    whole = np.sum(parts, axis=0)
    if np.linalg.norm(whole) <= CANCELLED * sum(float(np.linalg.norm(part)) for part in parts):
        return [None] * len(parts)
    return [float(part @ whole / (whole @ whole)) for part in parts]


def _middles(model: TubModel, lines: tuple[PathLine, ...]) -> tuple[Floats, Floats]:
    edges = model.mesh.points[np.concatenate([line.edges for line in lines])]
    return edges.mean(axis=1), np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)


def _ties_of(model: TubModel, joint: str) -> list[JointTies]:
    return [part for part in model.joints if joint == part.name or joint in part.also]


def _tied(model: TubModel, ties: list[JointTies], forces: Floats, connection: Connection, middle: Floats) -> Floats:
    """Force and moment (6,) that a joint's springs put on the other part."""
    total = np.zeros(6)
    points = model.states[0].shell.points
    for part in ties:
        row = forces[part.rows]
        # a row pulls B after A: its force on B is along the frame, if A is of the one part
        sign = 1.0 if part.panels[0] in connection.one or part.panels[1] in connection.other else -1.0
        push = sign * np.einsum("mk,mkx->mx", row[:, :3], part.frames)
        turn = sign * row[:, 3, None] * part.frames[:, 0]
        arm = points[part.pairs[:, 1]] - middle
        total[:3] += push.sum(axis=0)
        total[3:] += (turn + np.cross(arm, push)).sum(axis=0)
    return total


def _inner_forces(model: TubModel, shell: ShellModel, motion: Floats, panels: tuple[int, ...]) -> Floats:
    """Forces (P, 6) that the elements of some panels put on their nodes."""
    C = padded_stiffness(shell.stiffness, shell.drilling)
    chosen = np.isin(model.mesh.element_panel, panels)
    starts = np.cumsum([0, *(len(block.conn) for block in shell.blocks)])

    def stiffness(index: int, part: slice, normals: Floats) -> Floats:
        block = shell.blocks[index]
        conn = block.conn[part]
        K = np.zeros((len(conn), 6 * conn.shape[1], 6 * conn.shape[1]))
        mine = chosen[starts[index] :][part]
        if mine.any():
            B, M, dA = (each[mine] for each in strain_matrix(shell.points, block, part, normals))
            K[mine] = element_stiffness(B, M, dA, C[block.stack[part][mine]])
        return K

    return -(assemble(shell, stiffness) @ motion.ravel()).reshape(-1, 6)


def _moulded(
    model: TubModel,
    shell: ShellModel,
    inner: Floats,
    lines: tuple[PathLine, ...],
    connection: Connection,
    middle: Floats,
    taken: set[int],
) -> Floats:
    """Force and moment (6,) that the one part's elements put on the nodes of a moulded line, each node once."""
    wanted = np.unique(np.concatenate([line.edges.ravel() for line in lines]))
    touch = [_nodes(model, shell, panels) for panels in (connection.one, connection.other)]
    here = np.flatnonzero(np.isin(model.mesh_node, wanted))
    nodes = [n for n in np.intersect1d(np.intersect1d(here, touch[0]), touch[1]).tolist() if n not in taken]
    taken.update(nodes)
    load = inner[nodes]
    arm = shell.points[nodes] - middle
    return np.concatenate([load[:, :3].sum(axis=0), (load[:, 3:] + np.cross(arm, load[:, :3])).sum(axis=0)])


def _nodes(model: TubModel, shell: ShellModel, panels: tuple[int, ...]) -> Ints:
    found, first = [], 0
    for block in shell.blocks:
        mine = np.isin(model.mesh.element_panel[first : first + len(block.conn)], panels)
        found.append(block.conn[mine].ravel())
        first += len(block.conn)
    return np.unique(np.concatenate(found))


def _rigid_stiffness(model: TubModel, ties: JointTies, middle: Floats) -> Floats:
    """Stiffness (6, 6) of a joint's springs against the one part moving as a whole before the other."""
    shell = model.states[0].shell
    k = shell.springs[0].stiffness[ties.rows]
    arm = shell.points[ties.pairs[:, 0]] - middle
    moved = np.concatenate([ties.frames, -ties.frames @ cross_matrix(arm)], axis=2)  # (m, 3, 6)
    turned = np.concatenate([np.zeros_like(ties.frames[:, :1]), ties.frames[:, :1]], axis=2)
    rows = np.concatenate([moved, turned], axis=1)
    return np.einsum("mri,mr,mrj->ij", rows, k, rows)


def _turning(parts: list[Floats | None]) -> Turning:
    """Turning stiffness about x, y, z with the shifts free; None if any path is moulded."""
    if any(part is None for part in parts):
        return None
    K = np.sum([np.zeros((6, 6)), *parts], axis=0)
    shifts = np.linalg.pinv(K[:3, :3], rcond=1e-12, hermitian=True)
    left = K[3:, 3:] - K[3:, :3] @ shifts @ K[:3, 3:]
    return tuple(np.maximum(np.diag(left), 0.0).tolist())
