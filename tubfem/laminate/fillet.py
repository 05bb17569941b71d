"""The fillet between two panels: its cross-section, and how its filler holds them along the line."""

from math import log, pi, tan

from scipy.special import gamma

ROOT = 1e-3  # m, gap under a panel cut and set by hand, taken as empty: our own guess, from memory


def fillet_area(radius: float, angle: float) -> float:
    """Cross-section [m²] between an arc and the two faces that it touches (J.8), `angle` [rad] between the faces.

    0 where the faces lie in line.
    """
    if not 0 < angle < pi:
        return 0.0
    return radius**2 * (1 / tan(angle / 2) - (pi - angle) / 2)


def fillet_shear(radius: float, angle: float, shear_modulus: float, root: float = ROOT) -> float:
    """Stiffness along the line per length of it [N/m²] of a sound wedge of filler between two stiff faces (J.9, J.10).

    The displacement along the line solves Laplace's equation in the cross-section, which a triangle of circles maps
    to a strip. The gap at the root and the faces' edge beside it are in it, to first order in root / radius; a
    fillet that is hardly larger than the gap holds nothing, which is low.

    Parameters
    ----------
    radius
        Of the arc [m].
    angle
        Between the faces [rad].
    shear_modulus
        Of the filler [Pa].
    root
        Gap between the edge of the one panel and the other [m].
    """
    if not 0 < angle < pi:
        return 0.0
    a = angle / pi
    reach = 16**a / tan(angle / 2) * gamma(1 - a) * gamma((1 + a) / 2) ** 2 / (gamma(1 + a) * gamma((1 - a) / 2) ** 2)
    return shear_modulus / angle * max(log(reach * radius / root), 0.0)
