"""Tubes of subframes and beams of stiffeners under load: stress at their ends, columns, what they weigh and store."""

from math import pi

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.allowables import FIBRE, TUBE_BUCKLING, TUBE_YIELD, Allowables
from tubfem.findings.tube_results import FrameFindings, TubeFinding
from tubfem.materials import library
from tubfem.shell.beam2 import beam_forces, peak_stresses
from tubfem.tub.model import FrameBeams, TubModel

PRESSED = 1e-6  # of the greatest pull or push in the frame: less is rounding


def frame_findings(
    model: TubModel, forces: Floats, energies: Floats, scale: float, allowables: Allowables, *, both_hands: bool
) -> dict[str, FrameFindings]:
    """Every frame of the model.

    Parameters
    ----------
    forces, energies
        (rows,) of all springs at the load case's own load [N, N·m], and their shares of the energy.
    scale
        From there to the load that margins are taken at.
    both_hands
        Whether the load may act the other way round as well.
    """
    return {
        frame.name: _frame(frame, scale * forces[frame.rows], energies[frame.rows], allowables, both_hands)
        for frame in model.frames
    }


def column_load(E: Floats, second: Floats, length: Floats) -> Floats:
    """Euler's load [N] of a column on pinned ends. (T.10)."""
    return pi**2 * E * second / length**2


def _frame(
    frame: FrameBeams, forces: Floats, shares: Floats, allowables: Allowables, both_hands: bool
) -> FrameFindings:
    found = beam_forces(forces[None], frame.length)
    pull, push, shear = (values[0] for values in peak_stresses(found, frame.section))
    second = np.minimum(frame.section.second_2, frame.section.second_3)
    column = column_load(frame.E, second, frame.length) / allowables.required[TUBE_BUCKLING]
    bending = np.hypot(found.bending_2, found.bending_3)[0].max(-1)
    across = np.hypot(found.shear_2, found.shear_3)[0]
    by_beam = shares.reshape(len(frame.labels), -1).sum(1)
    size = np.abs(found.normal).max()
    bonded = frame.name.startswith("stiffeners.")
    tubes = []
    for k, label in enumerate(frame.labels):
        solid, normal = library.solid(frame.materials[k]), float(found.normal[0, k])
        stress, allowable = _judged(solid, pull[k], push[k], shear[k], allowables, both_hands, welded=not bonded)
        press = abs(normal) if both_hands else -normal
        pressed = not bonded and press > PRESSED * size
        tubes.append(
            TubeFinding(
                label=label,
                size=frame.sizes[k],
                material=frame.materials[k],
                length=float(frame.length[k]),
                mass=float(frame.mass[k]),
                energy_share=float(by_beam[k]),
                normal=normal,
                torque=float(found.torque[0, k]),
                bending=float(bending[k]),
                shear=float(across[k]),
                stress=stress,
                allowable=allowable,
                strength_margin=allowable / stress - 1 if stress > 0 else float("inf"),
                column=float(column[k]) if pressed else None,
                column_margin=float(column[k] / press - 1) if pressed else None,
            )
        )
    return FrameFindings(frame.name, float(frame.mass.sum()), float(shares.sum()), tuple(tubes))


def _judged(
    solid: library.Solid,
    pull: float,
    push: float,
    shear: float,
    allowables: Allowables,
    both_hands: bool,
    *,
    welded: bool,
) -> tuple[float, float]:
    """Stress and allowable [Pa] whose ratio is highest: yield of metals (T.6), pull, push or shear of the others."""
    if solid.is_isotropic:
        stress = np.hypot(max(abs(pull), abs(push)), np.sqrt(3) * shear)
        return float(stress), solid.X1t * (solid.weld_factor if welded else 1.0) / allowables.required[TUBE_YIELD]
    knock, asked = allowables.knock_down, allowables.required[FIBRE]
    greatest, least = (max(pull, -push), min(push, -pull)) if both_hands else (pull, push)
    pairs = [
        (max(greatest, 0.0), solid.X1t * knock["fibre tension"] / asked),
        (max(-least, 0.0), solid.X1c * knock["fibre compression"] / asked),
        (shear, solid.S12 * knock["in-plane shear"] / asked),
    ]
    stress, allowable = max(pairs, key=lambda pair: pair[0] / pair[1])
    return float(stress), allowable
