"""Stress peaks in thin bond lines: shear lag (Volkersen), peel (Goland and Reissner); docs/theory.md, "Joint findings".

Everything per width of joint: loads [N/m], moments [N], membrane stiffness E t [N/m], bending stiffness [N m].
"""

import numpy as np

from tubfem.arrays import Floats


def volkersen_peak(length: float, bond: float, first: float, second: float) -> float:
    """Peak over mean shear stress of a lap whose sheets only stretch (F.1, F.2).

    Parameters
    ----------
    length
        Of the overlap along the load [m].
    bond
        Shear stiffness G / t of the bond line [N/m³].
    first, second
        Membrane stiffness of both sheets [N/m]; infinity for one that does not stretch.

    Notes
    -----
    O. Volkersen, Luftfahrtforschung 15 (1938) 41-47 (from memory). The peak is at the end where the softer sheet
    carries the whole load.
    """
    soft = 1 / first + 1 / second
    W = length * np.sqrt(bond * soft)
    unlike = abs(1 / first - 1 / second) / soft
    return float(0.5 * W * (1 / np.tanh(0.5 * W) + unlike * np.tanh(0.5 * W)))


def goland_reissner(
    load: Floats, length: float, *, thickness: float, modulus: float, nu: float, bond_shear: float, bond_tension: float
) -> tuple[Floats, Floats]:
    """Peak shear and peel stress [Pa] in a single lap of two like sheets in one direction of pull (F.3-F.5).

    Parameters
    ----------
    load
        Pull per width [N/m], > 0.
    length
        Of the overlap [m].
    thickness, modulus, nu
        Of one sheet [m, Pa, -].
    bond_shear, bond_tension
        Stiffness G / t and E / t of the bond line [N/m³].

    Notes
    -----
    M. Goland and E. Reissner, J. Appl. Mech. 11 (1944) A17-A27 (from memory).
    """
    P, t, E = np.asarray(load, dtype=float), thickness, modulus
    c = 0.5 * length
    stretch = np.sqrt(P / (t * E))
    k = 1 / (1 + 2 * np.sqrt(2) * np.tanh(np.sqrt(1.5 * (1 - nu**2)) * c / t * stretch))
    x = c * np.sqrt(8 * bond_shear / (E * t))
    shear = P / length * 0.25 * (x * (1 + 3 * k) / np.tanh(x) + 3 * (1 - k))
    lam = c * (6 * bond_tension / (E * t**3)) ** 0.25
    k1 = k * c / t * np.sqrt(3 * (1 - nu**2)) * stretch
    # sinh and cosh over e^2lam: a long overlap must not overflow
    fade = np.exp(-2 * lam)
    sinh2, cosh2 = 0.5 * (1 - fade**2), 0.5 * (1 + fade**2)
    below = sinh2 + np.sin(2 * lam) * fade
    first = 0.5 * lam**2 * k * (sinh2 - np.sin(2 * lam) * fade) / below
    second = lam * k1 * (cosh2 + np.cos(2 * lam) * fade) / below
    return shear, P / t * (t / c) ** 2 * (first + second)


def kink_peel(load: Floats, bending: float, layer: float) -> Floats:
    """Peak stress [Pa] under a sheet lifted off along a line by a load [N/m]; it goes on to both sides (P.4).

    A beam without end of stiffness `bending` [N m] on an elastic layer [N/m3], a line load on it.
    """
    return 0.5 * (layer / (4 * bending)) ** 0.25 * np.abs(load)


def peel_peak(load: Floats, moment: Floats, width: float, bending: float, bond_tension: float) -> Floats:
    """Peel stress [Pa] at the end of a leg that is pulled off by a force [N/m] and a moment [N] there (F.6).

    A beam of stiffness `bending` [N m] on an elastic layer `bond_tension` [N/m³]; never less than what a stiff leg of
    this width [m] has, force and moment counted together.
    """
    beta = (bond_tension / (4 * bending)) ** 0.25
    p, m = np.abs(load), np.abs(moment)
    return np.maximum(2 * beta * p + 2 * beta**2 * m, 4 * p / width + 6 * m / width**2)
