"""Springs per length of joint line, from what the joint is made of: docs/theory.md, "Joints"."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joining import JointKind, bolt_diameter
from tubfem.case.schema import Case
from tubfem.laminate.stack import Stack, abd, make_stack
from tubfem.tub.fillets import wedge_shear
from tubfem.tub.model import Corners
from tubfem.tub.plies import Layer, entry_layers

RESIN_SHEAR = 1.1e9  # Pa, shear modulus of a laminating epoxy, from memory
GLUE_LINE = 0.2e-3  # m, resin between a tab and what it is laid on, from memory
GLUE_TENSION = 2.8  # E/G of a resin with Poisson's ratio 0.4
STEEL = 210e9  # Pa
HELD = 1e12  # N/m per m: a hundred times and more what any laminate of a tub offers per metre
Bridge = tuple[Sequence[Layer], float]  # layers with their angles from the line, width of the leg [m]
DIRECTIONS = ("along", "across", "square", "rotation")


@dataclass(frozen=True, slots=True)
class Side:
    """A panel at a joint: total thickness, thickness of its plies without core [m], their mean modulus [Pa]."""

    thickness: float
    solid: float
    modulus: float


@dataclass(frozen=True, slots=True)
class LineSprings:
    """Stiffness per length of line: along, across (in the plane of A), square to both [N/m²]; rotation [N/rad]."""

    along: float
    across: float
    square: float
    rotation: float

    def values(self) -> Floats:
        """The four in the order of `DIRECTIONS`."""
        return np.array([self.along, self.across, self.square, self.rotation])


def side_of(stack: Stack) -> Side:
    """What a joint sees of a panel's stack."""
    A = abd(stack)[0]
    compliance = np.linalg.inv(A)
    solid = sum(ply.thickness for ply in stack.plies if not ply.core) or stack.thickness
    return Side(stack.thickness, solid, float(0.5 * (1 / compliance[0, 0] + 1 / compliance[1, 1]) / solid))


def line_springs(
    case: Case,
    kind: JointKind,
    a: Side,
    b: Side,
    *,
    angle: float,
    bridges: Sequence[Bridge] = (),
    corners: Corners = (),
) -> LineSprings:
    """Springs of a joint that is not continuous; values given in the case win.

    Parameters
    ----------
    kind
        The joint's kind, complete.
    a, b
        The two panels; A is the one that stands on B.
    angle
        Between the two panels [rad], pi where they lie in one plane.
    bridges
        Plies of one panel that run on over the other: each ties them beside the joint's own means.
    corners
        In which a fillet can lie: what its filler holds along the line, if the kind names one.
    """
    if kind.kind == "tabbed":
        tab = entry_layers(case, kind.tab, label="tab")
        springs = tabbed(tab, width=kind.width, sides=kind.sides, fillet=kind.fillet, angle=angle, height=a.thickness)
        springs = replace(springs, along=springs.along + wedge_shear(case, kind, corners))
    elif kind.kind == "fastened":
        springs = fastened(bolt_diameter(kind.bolt), kind.pitch, a, b)
    elif kind.kind == "bonded":
        springs = bonded(kind.width, kind.bond_thickness, kind.bond_shear_modulus or RESIN_SHEAR)
    else:
        springs = LineSprings(HELD, HELD, HELD, 0.0)
    for layers, width in bridges:
        springs = _beside(springs, lapped(layers, width=width, fillet=kind.fillet, angle=angle))
    given = kind.stiffness
    if given is None:
        return springs
    chosen = (getattr(given, name) for name in DIRECTIONS)
    return LineSprings(
        *(own if own is not None else worked for own, worked in zip(chosen, springs.values(), strict=True))
    )


def tabbed(
    tab: Sequence[Layer], *, width: float, sides: int, fillet: float, angle: float, height: float
) -> LineSprings:
    """Tabs over a fillet: each bridges the fillet's arc and takes hold of both panels by shear of the resin (J.1-J.4).

    Parameters
    ----------
    tab
        Layers of one tab, 0 along the line.
    width
        Of each leg [m].
    sides
        1, or 2 for tabs on both faces of A.
    fillet
        Radius [m].
    angle
        Between the panels [rad].
    height
        Thickness of A [m], the distance between tabs on both faces.
    """
    A, _, D = abd(make_stack([(layer.angle, layer.ply) for layer in tab]))
    arc = fillet * (np.pi - angle)
    along, across = (sides / bridge_compliance(a, arc, width) for a in (A[2, 2], A[1, 1]))
    grip = np.sqrt(A[1, 1] * GLUE_LINE / RESIN_SHEAR)
    rotation = sides * D[1, 1] / (arc + 2 * grip)
    if sides == 2:
        rotation += across * height**2 / 4
    return LineSprings(along, across, across, rotation)


def lapped(layers: Sequence[Layer], *, width: float, fillet: float, angle: float) -> LineSprings:
    """A ply that belongs to one panel and is bonded to the other: as a tab with one leg (J.1-J.3)."""
    A, _, D = abd(make_stack([(layer.angle, layer.ply) for layer in layers]))
    arc = fillet * (np.pi - angle)
    along, across = (1 / bridge_compliance(a, arc, width, legs=1) for a in (A[2, 2], A[1, 1]))
    return LineSprings(along, across, across, D[1, 1] / (arc + np.sqrt(A[1, 1] * GLUE_LINE / RESIN_SHEAR)))


def _beside(one: LineSprings, other: LineSprings) -> LineSprings:
    return LineSprings(*(one.values() + other.values()))


def bridge_compliance(a: float, length: float, width: float, legs: int = 2) -> float:
    """Compliance [m²/N] of a strip of membrane stiffness a [N/m] over a gap, with a bonded leg at one or either end.

    The leg is Volkersen's bonded joint with one rigid adherend: stiffness sqrt(k a) tanh(width sqrt(k / a)) with k
    the shear stiffness of the resin under it (J.1, J.2).
    """
    k = RESIN_SHEAR / GLUE_LINE
    leg = np.sqrt(k * a) * np.tanh(width * np.sqrt(k / a))
    return length / a + legs / leg


def fastened(diameter: float, pitch: float, a: Side, b: Side) -> LineSprings:
    """Bolts in single shear, each as flexible as Huth's formula says, spread over the pitch (J.5, J.6)."""
    shear = 1 / bolt_compliance(diameter, a, b) / pitch
    return LineSprings(shear, shear, shear, shear * diameter**2 / 2)


def bolt_compliance(diameter: float, a: Side, b: Side) -> float:
    """Flexibility [m/N] of one bolt in single shear, laminates bolted (Huth, ASTM STP 927, 1986; from memory)."""
    own = 1 / (a.solid * a.modulus) + 1 / (b.solid * b.modulus)
    bolt = 1 / (2 * a.solid * STEEL) + 1 / (2 * b.solid * STEEL)
    return ((a.solid + b.solid) / (2 * diameter)) ** (2 / 3) * 4.2 * (own + bolt)


def bonded(width: float, thickness: float, shear_modulus: float) -> LineSprings:
    """A bond line as an elastic layer (J.7)."""
    shear = shear_modulus * width / thickness
    peel = GLUE_TENSION * shear
    return LineSprings(shear, shear, peel, peel * width**2 / 12)
