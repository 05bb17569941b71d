"""A free tub under loads that nothing holds: they accelerate it and what it carries, and inertia balances them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.loads import Static
from tubfem.case.road import G
from tubfem.errors import CaseError
from tubfem.shell.loads import node_masses, row_masses
from tubfem.shell.model import Springs
from tubfem.shell.ties import rigid_motion
from tubfem.tub.loads import Shell, static_loads
from tubfem.tub.modes import mass_rows
from tubfem.tub.places import Places


@dataclass(frozen=True, eq=False, slots=True)
class FreeLoads:
    """Loads (d,) [N, N·m] with the inertia that balances them, and the acceleration in words."""

    load: Floats
    note: str


def free_loads(places: Places, name: str, table: Static, shell: Shell) -> FreeLoads:
    """Loads of a case with free = true; without masses of its own the tub carries those of the vehicle.

    Raises
    ------
    CaseError
        What is named is not in the mesh, or the masses cannot balance the loads.
    """
    applied = static_loads(places, name, table, {}, shell)
    path: tuple[str, ...] = ("load_cases", name)
    tables = table.masses
    if not tables and places.case.vehicle is not None:
        path, tables = ("vehicle",), places.case.vehicle.masses
    rows = [mass_rows(places, (*path, "masses", mass, "on"), carried, shell.points) for mass, carried in tables.items()]
    rows += [beams.masses for beams in shell.beams]
    masses = node_masses(shell.points, shell.blocks, shell.mass) + shell.lumps
    try:
        inertia, motion = balance(shell.points, masses, rows, applied)
    except np.linalg.LinAlgError:
        text = "the tub has no mass to balance its loads: give its plies a density"
        raise CaseError(places.case.message(("load_cases", name), text)) from None
    total = masses.sum() + sum(carried.mass for carried in tables.values())
    total += sum(row_masses(len(shell.points), beams.masses).sum() for beams in shell.beams)
    ax, ay, az = motion[:3] / G
    rx, ry, rz = motion[3:]
    note = (
        f"load_cases.{name}: {total:.4g} kg, accelerated by its loads {ax:+.3g} g aft, {ay:+.3g} g right, "
        f"{az:+.3g} g up at the centre of mass; about these axes {rx:+.3g}, {ry:+.3g}, {rz:+.3g} rad/s2"
    )
    return FreeLoads(applied + inertia, note)


def mass_matrix(points: Floats, masses: Floats, carried: Sequence[Springs]) -> tuple[Floats, Floats]:
    """U'MU (6, 6) and MU (d, 6) of the rigid motions U about the origin; arguments as `balance`."""
    U = rigid_motion(points).reshape(-1, 6)
    MU = np.zeros_like(U)
    MU.reshape(-1, 6, 6)[:, :3] = masses[:, None, None] * U.reshape(-1, 6, 6)[:, :3]
    for rows in carried:
        velocity = np.einsum("rc,rci->ri", rows.coefficients, U[rows.freedoms])
        momentum = rows.stiffness[:, None] * velocity
        np.add.at(MU, rows.freedoms, rows.coefficients[..., None] * momentum[:, None])
    return U.T @ MU, MU


def balance(points: Floats, masses: Floats, carried: Sequence[Springs], load: Floats) -> tuple[Floats, Floats]:
    """The inertia of a rigid acceleration that balances a load.

    With U the rigid motions (d, 6) and M the mass, a solves U'MU a = U'f, and f - M U a has neither force nor moment.

    Parameters
    ----------
    points : (p, 3) [m]
    masses : (p,) [kg] of the shells and joints, lumped at the nodes
    carried : velocities of carried masses, mass for stiffness
    load : (d,) [N, N·m]

    Returns
    -------
    inertia : (d,) [N, N·m]; acceleration : (6,) of the centre of mass [m/s2] and about it [rad/s2]

    Raises
    ------
    numpy.linalg.LinAlgError
        The masses do not resist some rigid acceleration.
    """
    M, MU = mass_matrix(points, masses, carried)
    U = rigid_motion(points).reshape(-1, 6)
    acceleration = np.linalg.solve(M, U.T @ load)
    centre = np.array([M[1, 5], M[2, 3], M[0, 4]]) / M[0, 0]
    at_centre = acceleration[:3] + np.cross(acceleration[3:], centre)
    return -MU @ acceleration, np.concatenate([at_centre, acceleration[3:]])
