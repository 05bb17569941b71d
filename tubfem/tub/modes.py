"""What natural modes need besides the shells: carried masses, and six determinate supports to be taken away again."""

import numpy as np
from scipy.linalg import qr

from tubfem.arrays import Floats, Ints
from tubfem.case.loads import CarriedMass
from tubfem.errors import CaseError, SolveError
from tubfem.shell.model import Springs
from tubfem.shell.ties import rigid_motion, spread_weights
from tubfem.tub.model import Carried
from tubfem.tub.places import Places


def carried_masses(places: Places, points: Floats) -> tuple[Carried, ...]:
    """Every mass of the case's [modes], or if it names none of its [vehicle].

    Parameters
    ----------
    points : (p, 3)
        [m] of all shell nodes.

    Raises
    ------
    CaseError
        What carries a mass is not in the mesh.
    """
    case = places.case
    of, masses = "modes", {} if case.modes is None else case.modes.masses
    if not masses and case.vehicle is not None:
        of, masses = "vehicle", case.vehicle.masses
    return tuple(
        Carried(name, table.mass, mass_rows(places, (of, "masses", name, "on"), table, points))
        for name, table in masses.items()
    )


def mass_rows(places: Places, path: tuple[str, ...], table: CarriedMass, points: Floats) -> Springs:
    """Velocities of a carried mass at `path` of the case, mass for stiffness.

    A spread mass moves with every node by its share; a point mass with their mean rigid motion.
    """
    try:
        found = [places.nodes(text, {}) for text in table.on]
    except CaseError as error:
        raise CaseError([places.case.message(path, message) for message in error.messages]) from None
    nodes = np.concatenate([each for each, _ in found])
    shares = np.concatenate([weights / weights.sum() / len(found) for _, weights in found])
    nodes, back = np.unique(nodes, return_inverse=True)
    shares = np.bincount(back.ravel(), shares)
    if table.at is None:
        freedoms = (6 * nodes[:, None] + np.arange(3)).reshape(-1, 1)
        return Springs(freedoms, np.ones(freedoms.shape), np.repeat(table.mass * shares, 3))
    r = points[nodes] - np.array(table.at)
    try:
        motion = spread_weights(r, shares)[:3].reshape(3, -1)
        freedoms = (6 * nodes[:, None] + np.arange(3)).ravel()
    except SolveError:  # on one line: each node carries it as a rigid arm would, and the mean of these is taken
        motion = np.concatenate(list(shares[:, None, None] * rigid_motion(-r)[:, :3]), axis=1)
        freedoms = (6 * nodes[:, None] + np.arange(6)).ravel()
    return Springs(np.tile(freedoms, (3, 1)), motion, np.full(3, table.mass))


def determinate_supports(points: Floats) -> Ints:
    """Six translations (6,), ascending, at three of the points (p, 3) far apart, that hold a free body just so."""
    first = int(np.argmin(points[:, 0]))
    arm = points - points[first]
    second = int(np.argmax((arm**2).sum(1)))
    third = int(np.argmax((np.cross(arm, arm[second]) ** 2).sum(1)))
    nodes = np.array([first, second, third])
    motion = rigid_motion(arm[nodes] / np.linalg.norm(arm[second]))[:, :3].reshape(9, 6)
    _, _, order = qr(motion.T, pivoting=True)
    return np.sort((6 * nodes[:, None] + np.arange(3)).ravel()[order[:6]])
