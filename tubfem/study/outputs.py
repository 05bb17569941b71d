"""What the reduced model reads besides stiffness: the twist curve, and the forces of every tied joint.

Both are linear in the motion, so that a row for each basis vector is all it takes. They carry no bound.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.gauges import place_gauges, rotation
from tubfem.study.family import Change, Family
from tubfem.study.reduce import Twisted
from tubfem.study.reduced import Basis

LOADS = ("shear_flow", "normal", "peel", "moment")


@dataclass(frozen=True, eq=False, slots=True)
class Outputs:
    """Rows for n basis vectors: `curve` (g, n) [deg] at `x` (g,) [m], `forces` (rows, n) [N, N·m] of spring rows.

    Forces are those of the unchanged springs; `rows` (rows,) says which of all spring sets they are.
    """

    x: Floats
    curve: Floats
    forces: Floats
    rows: Floats


def find_outputs(twisted: Twisted, basis: Basis) -> Outputs:
    """Twist curve and joint forces of every basis vector."""
    model, shell = twisted.model, twisted.state.shell
    gauges = place_gauges(model.mesh, model.case.stations)
    turned = np.array([rotation(shell.points, u.reshape(-1, 6), gauges.pairs) for u in basis.V.T]).T
    curve = np.degrees(turned[:1] - turned)
    rows = np.concatenate([np.zeros(0, dtype=np.int64), *(ties.rows.ravel() for ties in model.joints)])
    root = np.sqrt(np.concatenate([np.zeros(0), *(springs.stiffness for springs in shell.springs)]))[rows]
    forces = root[:, None] * (twisted.stiff.springs[rows] @ basis.V)
    return Outputs(gauges.x, curve, forces.astype(np.float32), rows)


def twist_curve(outputs: Outputs, b: Floats) -> Floats:
    """Twist [deg] at the gauges, from the foremost, for amounts b (n,) of the basis."""
    return outputs.curve @ b


def joint_forces(outputs: Outputs, family: Family, b: Floats, change: Change) -> Floats:
    """Forces (m, 4) [N, N·m] of the springs of every node of every tied joint, in the model's order."""
    factor = np.ones(len(family.of_spring))
    for k, share in change.items():
        if family.groups[k].kind != "region":
            factor[family.groups[k].members] = 1 + share[0, 0]
    return ((outputs.forces @ b) * factor[outputs.rows]).reshape(-1, len(LOADS))
