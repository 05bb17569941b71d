"""Static load cases: forces, pressures and accelerations on every freedom, supports and rigid sets."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.loads import MOTIONS, RigidSet, Static
from tubfem.errors import CaseError
from tubfem.shell.loads import body_force, pressure, row_force
from tubfem.shell.model import Beams, Block
from tubfem.shell.ties import Rigid, Support, rigid_motion
from tubfem.tub.places import Places


@dataclass(frozen=True, eq=False, slots=True)
class Held:
    """How a static case is held: supported freedoms (m,) and rigid sets."""

    supports: Ints
    rigid: tuple[Rigid, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Shell:
    """What loads are integrated over: points (p, 3) [m], blocks, mass (s, 3) of stacks, lumps (p,) [kg], beams."""

    points: Floats
    blocks: tuple[Block, ...]
    mass: Floats
    lumps: Floats
    beams: tuple[Beams, ...] = ()


def hold(places: Places, name: str, table: Static, references: dict[str, int], points: Floats) -> Held:
    """Supports and rigid sets of a static case.

    Motions of a reference node that its rigid set never asks for are held as well: they would float.
    """
    rigid, idle = [], []
    for set_name, body in table.rigid.items():
        link = _rigid_set(places, body, references[set_name])
        rigid.append(link)
        idle.append(6 * link.master + _idle(link, points))
    fixed = [np.empty(0, dtype=np.int64), *idle]
    for support in table.supports:
        components = np.array([MOTIONS.index(motion) for motion in support.fix])
        for text in support.on:
            nodes = _named(places, name, text, references)[0]
            fixed.append((6 * nodes[:, None] + components).ravel())
    return Held(np.unique(np.concatenate(fixed)), tuple(rigid))


def supports(held: Ints) -> tuple[Support, ...]:
    """Supports at zero."""
    return (Support(held),) if len(held) else ()


def _named(places: Places, name: str, text: str, references: dict[str, int]) -> tuple[Ints, Floats]:
    try:
        return places.nodes(text, references)
    except CaseError as error:
        raise CaseError([places.case.message(("load_cases", name), message) for message in error.messages]) from None


def _rigid_set(places: Places, body: RigidSet, reference: int) -> Rigid:
    nodes = np.unique(np.concatenate([places.nodes(text, {})[0] for text in body.on]))
    return Rigid(reference, nodes, tuple(MOTIONS.index(motion) for motion in body.fix))


def _idle(link: Rigid, points: Floats) -> Ints:
    """Motions of the reference node that no follower's motion depends on."""
    r = points[link.slaves] - points[link.master]
    size = np.array([1.0, 1.0, 1.0, *[max(np.abs(r).max(), 1e-12)] * 3])
    G = rigid_motion(r)[:, list(link.components)] / size
    return np.flatnonzero(np.abs(G).max((0, 1)) < 1e-9)


def static_loads(places: Places, name: str, table: Static, references: dict[str, int], shell: Shell) -> Floats:
    """Force and moment (d,) of a static case [N, N·m].

    Notes
    -----
    A load is shared evenly among the texts it acts on, then by length along an edge, by area over a panel. An
    acceleration acts as gravity does: every mass is pushed along it.
    """
    load = np.zeros((len(shell.points), 6))
    for force in table.forces:
        total = np.array([*force.force, *force.moment]) / len(force.on)
        for text in force.on:
            nodes, weights = _named(places, name, text, references)
            np.add.at(load, nodes, weights[:, None] / weights.sum() * total)
    column = load.ravel()
    for given in table.pressures:
        for text in given.on:
            chosen = np.zeros(places.mesh.element_count)
            chosen[places.elements(text)] = given.pressure
            counts = np.cumsum([len(block.conn) for block in shell.blocks])[:-1]
            for block, value in zip(shell.blocks, np.split(chosen, counts), strict=True):
                column = column + pressure(shell.points, block, value)
    if any(table.acceleration):
        pull = np.array(table.acceleration)
        column = column + body_force(shell.points, shell.blocks, shell.mass, pull)
        column = column + np.outer(shell.lumps, [*pull, 0.0, 0.0, 0.0]).ravel()
        for beams in shell.beams:
            column = column + row_force(len(shell.points), beams.masses, pull)
    return column
