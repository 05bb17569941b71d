"""The twist: a balanced couple on the pickups of both axles, and how the tub is held meanwhile."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.case.loads import Torsion
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.tub.model import TorsionSetup

X, Y, Z = 0, 1, 2
# Six statically determinate restraints: (which pickup, components). None carries anything under a balanced couple.
RESTRAINTS = {
    "rear": (("rear.right", (X, Y, Z)), ("rear.left", (X, Z)), ("front.right", (Z,))),
    "front": (("front.left", (X, Y, Z)), ("front.right", (X, Z)), ("rear.left", (Z,))),
    "diagonal": (("front.left", (X, Y, Z)), ("rear.left", (Y, Z)), ("rear.right", (Z,))),
}


@dataclass(frozen=True, eq=False, slots=True)
class Twist:
    """Held freedoms (m,), nodal forces (node, (6,)), the set-up for findings, and cautions."""

    held: Ints
    forces: tuple[tuple[int, Floats], ...]
    setup: TorsionSetup
    cautions: tuple[str, ...]


def twist(case: Case, name: str, table: Torsion, pickups: dict[str, int], points: Floats, restraint: str) -> Twist:
    """Loads and restraints of a torsion case.

    The couple is two vertical forces an axle, up on the right at the front. Where left and right pickups stand at
    different x, their forces also turn about y: equal couples on both pickups take that back.

    Parameters
    ----------
    points : (p, 3)
        [m] of all nodes.
    restraint
        One of `RESTRAINTS`; the answer does not depend on which. A `bench` case clamps the rear pickups instead and
        has the couple at the front only.

    Raises
    ------
    CaseError
        An axle has no left and right pickup.
    """
    axles = {
        end: _axle(case, name, end, names, pickups, points)
        for end, names in (("front", table.front), ("rear", table.rear))
    }
    forces: list[tuple[int, Floats]] = []
    cautions: list[str] = []
    for end, sign in (("front", 1.0), ("rear", -1.0)):
        if end == "rear" and table.restraint == "bench":
            continue
        nodes, text = _couple(points, axles[end], sign * table.torque)
        forces += nodes
        if text:
            cautions.append(f"load_cases.{name}: {end} {text}")
    if table.restraint == "bench":
        held = np.concatenate([6 * node + np.arange(6) for node in axles["rear"]])
        words = "bench: rear pickups clamped"
    else:
        place = {
            f"{end}.{side}": node
            for end, pair in axles.items()
            for side, node in zip(("left", "right"), pair, strict=True)
        }
        held = np.concatenate([6 * place[which] + np.array(parts) for which, parts in RESTRAINTS[restraint]])
        words = "free: " + ", ".join(
            f"{which} {''.join('xyz'[p] for p in parts)}" for which, parts in RESTRAINTS[restraint]
        )
    return Twist(held, tuple(forces), TorsionSetup(table.torque, axles["front"], axles["rear"], words), tuple(cautions))


def _axle(
    case: Case, name: str, end: str, names: tuple[str, ...], pickups: dict[str, int], points: Floats
) -> tuple[int, int]:
    """Nodes of an axle's pickups, left and right."""
    found = [pickups[each + side] for each in names for side in ("", ".left", ".right") if each + side in pickups]
    if len(found) != 2 or abs(points[found[0], Y] - points[found[1], Y]) < 1e-3:
        raise CaseError(
            case.message(
                ("load_cases", name, end),
                f"{', '.join(names)}: a couple needs a left and a right pickup apart from each other",
            )
        )
    left, right = sorted(found, key=lambda node: points[node, Y])
    return left, right


def _couple(points: Floats, axle: tuple[int, int], torque: float) -> tuple[list[tuple[int, Floats]], str]:
    left, right = axle
    span = points[right] - points[left]
    force = torque / span[Y]
    back = span[X] * force / 2  # the pair turns about y by -span_x force
    nodal = [(right, np.array([0, 0, force, 0, back, 0])), (left, np.array([0, 0, -force, 0, back, 0]))]
    if abs(span[X]) < 1e-6:
        return nodal, ""
    return nodal, f"pickups stand {1e3 * abs(span[X]):.1f} mm apart in x; equal couples on both balance their forces"
