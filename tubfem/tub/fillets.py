"""What tabbed and bonded joints are made of beside the panels: tab plies, filler of the fillets, adhesive."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.joining import JointKind
from tubfem.case.joint_table import kind_named
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.laminate.fillet import fillet_area, fillet_shear
from tubfem.materials import library
from tubfem.materials.library import Filler
from tubfem.tub.model import Corners, JointTies
from tubfem.tub.plies import entry_layers

IN_LINE = np.radians(170)  # panels at this angle or more have no fillet: 0.0002 r² would be in it
ADHESIVE = "thickened epoxy"  # of bonded flanges, whose adhesive the case gives no density


@dataclass(frozen=True, eq=False, slots=True)
class LineMass:
    """What is laid and filled along one line of a joint [kg]: tab plies, filler, adhesive."""

    ties: JointTies
    tabs: float
    filler: float
    adhesive: float

    @property
    def total(self) -> float:
        """All three [kg]."""
        return self.tabs + self.filler + self.adhesive

    @property
    def centre(self) -> Floats:
        """Centre of the line (3,) [m], where all of it is taken to lie."""
        length = np.linalg.norm(self.ties.line[:, 1] - self.ties.line[:, 0], axis=1)
        return self.ties.line.mean(1).T @ length / length.sum()


def filler_of(case: Case, kind: JointKind) -> Filler | None:
    """The filler of a joint's fillets, the case's own before the library's; None where none is named.

    Raises
    ------
    CaseError
        It is neither in the case nor in the library.
    """
    if kind.filler is None:
        return None
    own = case.fillers.get(kind.filler)
    if own is not None:
        return Filler(kind.filler, own.density, own.shear_modulus)
    try:
        return library.filler(kind.filler)
    except CaseError as error:
        name = next((name for name, table in case.joint_kinds.items() if table is kind), "")
        place = ("joints" if "/" in name else "joint_kinds", name, "filler")
        raise CaseError([case.message(place, f"{text}; own ones: [fillers]") for text in error.messages]) from None


def fillets(kind: JointKind, corners: Corners) -> Iterator[tuple[float, float]]:
    """Angle [rad] and number, mean along the line, of a tabbed joint's fillets; none between panels in line.

    With a fillet on either side of the panel that ends at the line, tabs have one each, a single tab the mean of both
    since nobody says on which side it lies; else there is one, inside the corner.
    """
    for angles, share in corners:
        found = [angle for angle in angles if angle < IN_LINE]
        yield from ((angle, share * (kind.sides / 2 if len(found) > 1 else 1.0)) for angle in found)


def wedge_shear(case: Case, kind: JointKind, corners: Corners) -> float:
    """Stiffness along the line per length of it [N/m²] of all filler that a joint names (J.9, J.10); else 0."""
    filler = filler_of(case, kind)
    if filler is None:
        return 0.0
    return sum(number * fillet_shear(kind.fillet, angle, filler.G) for angle, number in fillets(kind, corners))


def tab_area(kind: JointKind, ties: JointTies) -> float:
    """Area [m²] of one ply of all tabs along a line: two legs and the arc over the fillet, on each side."""
    return kind.sides * (2 * kind.width + kind.fillet * (np.pi - ties.angle)) * ties.run


def joint_masses(case: Case, joints: Sequence[JointTies]) -> tuple[LineMass, ...]:
    """Mass of everything beside the panels along every line that is tabbed or bonded, whatever the mesh (W.2)."""
    found = []
    for ties in joints:
        if not ties.means:  # ties made without a case have springs and nothing else
            continue
        kind = kind_named(case, ties.means)
        tabs = filler = adhesive = 0.0
        if kind.kind == "tabbed":
            layers = entry_layers(case, kind.tab, label="tab")
            tabs = tab_area(kind, ties) * sum(layer.ply.areal_mass for layer in layers)
            paste = filler_of(case, kind)
            if paste is not None:
                area = sum(number * fillet_area(kind.fillet, angle) for angle, number in fillets(kind, ties.corners))
                filler = paste.density * area * ties.run
        elif kind.kind == "bonded":
            adhesive = library.filler(ADHESIVE).density * kind.width * kind.bond_thickness * ties.run
        else:
            continue
        found.append(LineMass(ties, tabs, filler, adhesive))
    return tuple(found)


def lumped(masses: Sequence[LineMass], points: int) -> Floats:
    """The same masses at the points (p,) [kg], half at either panel's nodes."""
    total = np.zeros(points)
    for each in masses:
        share = 0.5 * each.total * each.ties.lengths / each.ties.lengths.sum()
        np.add.at(total, each.ties.pairs, share[:, None])
    return total
