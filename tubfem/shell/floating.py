"""What is not held: parts that can move as rigid bodies, and mechanisms inside a part."""

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from tubfem.arrays import Floats, Ints
from tubfem.errors import SolveError
from tubfem.shell.factor import NotDefiniteError, factorise
from tubfem.shell.model import ShellModel
from tubfem.shell.ties import rigid_motion

TINY = 1e-15  # softest motion, as a share of the diagonal, that is not rounding; a thin, fine shell stays above 1e-13
HELD = 1e-8  # softest rigid motion of a part against its supports, as a share of the stiffest


class FloatingError(SolveError):
    """Something is not held; `nodes` (k,) are the points that move."""

    def __init__(self, message: str, nodes: Ints) -> None:
        super().__init__(message)
        self.nodes = nodes


def connected_parts(model: ShellModel) -> Ints:
    """Number (p,) of the part that each point belongs to, connected by elements, springs and links."""
    points = len(model.points)
    ends = [np.empty((2, 0), dtype=np.int64)]
    for block in model.blocks:
        ends.append(np.stack([np.repeat(block.conn[:, 0], block.conn.shape[1]), block.conn.ravel()]))
    for spring in model.springs:
        first = np.repeat(spring.freedoms[:, 0], spring.freedoms.shape[1])
        ends.append(np.stack([first, spring.freedoms.ravel()]) // 6)
    row, column = sparse.coo_array(model.ties.links).coords
    ends.append(np.stack([row, model.ties.independent[column]]) // 6)
    start, stop = np.concatenate(ends, axis=1)
    graph = sparse.coo_array((np.ones(len(start)), (start, stop)), shape=(points, points))
    return csgraph.connected_components(graph, directed=False)[1].astype(np.int64)


def refuse_floating(model: ShellModel) -> None:
    """Raise `FloatingError` if a part can move as a rigid body against its supports and grounded springs."""
    part = connected_parts(model)
    count = np.bincount(part)
    centre = np.stack([np.bincount(part, model.points[:, k]) for k in range(3)], 1) / count[:, None]
    arm = model.points - centre[part]
    size = np.zeros(len(count))
    np.maximum.at(size, part, np.linalg.norm(arm, axis=1))
    size = np.where(size > 0, size, 1.0)
    # Rigid motion of every freedom, rotations scaled so that they count like translations.
    scale = np.ones((len(count), 6))
    scale[:, 3:] = 1 / size[:, None]
    motion = (rigid_motion(arm) * scale[part][:, None]).reshape(-1, 6)
    held = np.zeros((len(count), 6, 6))
    for freedom, rows in _restraints(model, motion):
        np.add.at(held, part[freedom // 6], rows[:, :, None] * rows[:, None, :])
    stiffness = np.linalg.eigvalsh(held)
    loose = stiffness <= HELD * np.maximum(stiffness[:, -1:], HELD)
    if loose.any():
        names = [f"{loose[k].sum()} rigid motions of a part of {count[k]} points" for k in np.flatnonzero(loose.any(1))]
        more = [] if len(names) <= 5 else [f"{len(names) - 5} more parts"]
        raise FloatingError("not held: " + ", ".join(names[:5] + more), np.flatnonzero(loose.any(1)[part]))


def _restraints(model: ShellModel, motion: Floats) -> list[tuple[Ints, Floats]]:
    """Freedom (m,) and reading (m, 6) of rigid motion, of supports and of springs that reach the ground."""
    supported = model.ties.supported
    size = np.linalg.norm(motion[supported], axis=1, keepdims=True)
    found = [(supported, motion[supported] / np.where(size > 0, size, 1.0))]
    for spring in model.springs:
        parts = spring.coefficients[..., None] * motion[spring.freedoms]
        reading, size = parts.sum(1), np.linalg.norm(parts, axis=2).sum(1)
        reading = np.where(size > 0, 1.0, 0.0)[:, None] * reading / np.where(size > 0, size, 1.0)[:, None]
        found.append((spring.freedoms[:, 0], np.where(np.abs(reading) > HELD, reading, 0.0)))
    return found


def softest_share(A: sparse.csc_array, start: Floats, answer: Floats) -> float:
    """Softest motion's stiffness as a share of the diagonal, from one inverse iteration A answer = √diagonal start."""
    weight = np.sqrt(A.diagonal())
    return float(np.linalg.norm(start) / (np.linalg.norm(weight * answer) * np.sqrt(len(start))))


def mechanism(model: ShellModel, A: sparse.csc_array) -> FloatingError:
    """The error that says which points move without resistance in the singular matrix A (free, free)."""
    diagonal = A.diagonal()
    typical = np.median(diagonal[diagonal > 0]) if (diagonal > 0).any() else 1.0
    shift = np.where(diagonal > 0, 1e-9 * diagonal, 1e-9 * typical)
    motion = np.random.default_rng(0).standard_normal((A.shape[0], 4))
    try:
        solve = factorise(sparse.csc_array(A + sparse.diags_array(shift)))
        for _ in range(3):
            motion = solve(shift[:, None] * motion)
            motion /= np.linalg.norm(motion, axis=0)
    except NotDefiniteError:
        message = "the stiffness is not positive definite: check the stiffness of every stack and spring"
        return FloatingError(message, np.empty(0, dtype=np.int64))
    amplitude = np.abs(model.ties.T @ motion).max(1).reshape(-1, 6).max(1)
    nodes = np.flatnonzero(amplitude > 0.05 * amplitude.max())
    return FloatingError(f"{len(nodes)} points can move without resistance", nodes)
