"""From fibre, resin and fraction to one layer.

The route used for plies is the one of the class note BV NR546 (Nov 2022, read second-hand): `unidirectional`, and from
it `woven` and `mat`. It is the default because it matches the one row of the 2019 edition of ISO 12215-5 that could be
checked. The textbook rules below it serve comparison. Every function takes floats or arrays that broadcast.
"""

from dataclasses import dataclass

from tubfem.materials.library import Fibre, Resin

WEAVE_SHEAR = 0.9  # G13 / G12 of a woven layer, BV NR546, from memory
CROSS_SHEAR = 0.7  # G23 / G12 of a unidirectional layer, G13 / G12(unidirectional) of mat, BV NR546, from memory


@dataclass(frozen=True, slots=True)
class Layer:
    """Elastic constants of one layer: moduli [Pa], nu12 [-]."""

    E1: float
    E2: float
    G12: float
    nu12: float
    G13: float
    G23: float


def volume_fraction(mass_fraction: float, fibre_density: float, resin_density: float) -> float:
    """Fibre volume fraction [-] of a void-free layer from the fibre mass fraction [-] and densities [kg/m3]."""
    fibre = mass_fraction / fibre_density
    return fibre / (fibre + (1 - mass_fraction) / resin_density)


def mass_fraction(volume_fraction: float, fibre_density: float, resin_density: float) -> float:
    """Fibre mass fraction [-] from the fibre volume fraction [-] and densities [kg/m3]."""
    fibre = volume_fraction * fibre_density
    return fibre / (fibre + (1 - volume_fraction) * resin_density)


def cured_thickness(areal_weight: float, volume_fraction: float, fibre_density: float) -> float:
    """Cured thickness [m] of a void-free layer from the dry cloth's areal weight [kg/m2]."""
    return areal_weight / (fibre_density * volume_fraction)


def cured_density(volume_fraction: float, fibre_density: float, resin_density: float) -> float:
    """Density [kg/m3] of a void-free layer."""
    return volume_fraction * fibre_density + (1 - volume_fraction) * resin_density


def resin_areal_weight(areal_weight: float, mass_fraction: float) -> float:
    """Resin [kg/m2] that goes with a dry cloth [kg/m2] at a fibre mass fraction [-]."""
    return areal_weight * (1 - mass_fraction) / mass_fraction


def unidirectional(fibre: Fibre, resin: Resin, volume_fraction: float) -> Layer:
    """A unidirectional layer by the class note's formulas (BV NR546, Nov 2022, second-hand).

    ``E1 = c1 (Ef Vf + Em (1-Vf))``; E2 a corrected Puck form; G12 the Halpin-Tsai form with unit reinforcement; nu12 a
    corrected rule of mixtures; G13 = G12, G23 = 0.7 G12.
    """
    V = volume_fraction
    plane = resin.E / (1 - resin.nu**2)
    E1 = fibre.c1 * (fibre.E1 * V + resin.E * (1 - V))
    E2 = fibre.c2 * plane * (1 + 0.85 * V**2) / ((1 - V) ** 1.25 + plane / fibre.E2 * V)
    G12 = fibre.c12 * halpin_tsai(fibre.G12, resin.G, V, 1.0)
    nu12 = fibre.cnu * rule_of_mixtures(fibre.nu12, resin.nu, V)
    return Layer(E1, E2, G12, nu12, G12, CROSS_SHEAR * G12)


def woven(fibre: Fibre, resin: Resin, volume_fraction: float) -> Layer:
    """A balanced woven layer: half 0, half 90 of the unidirectional one at the same fraction, no loss for crimp."""
    layer = unidirectional(fibre, resin, volume_fraction)
    k = 1 - layer.nu12**2 * layer.E2 / layer.E1
    Q12 = layer.nu12 * layer.E2 / k
    A11 = 0.5 * (layer.E1 + layer.E2) / k
    E = A11 - Q12**2 / A11
    shear = WEAVE_SHEAR * layer.G12
    return Layer(E, E, layer.G12, Q12 / A11, shear, shear)


def mat(fibre: Fibre, resin: Resin, volume_fraction: float) -> Layer:
    """A random mat, isotropic in its plane: E = 3/8 E1 + 5/8 E2 of the unidirectional layer, nu = 0.3."""
    layer = unidirectional(fibre, resin, volume_fraction)
    E = 0.375 * layer.E1 + 0.625 * layer.E2
    shear = CROSS_SHEAR * layer.G12
    return Layer(E, E, E / 2.6, 0.3, shear, shear)


def rule_of_mixtures(fibre: float, matrix: float, volume_fraction: float) -> float:
    """Parallel rule: fibre and matrix share the strain (E1, nu12)."""
    return fibre * volume_fraction + matrix * (1 - volume_fraction)


def inverse_rule(fibre: float, matrix: float, volume_fraction: float) -> float:
    """Series rule: fibre and matrix share the stress (a low bound for E2, G12)."""
    return 1 / (volume_fraction / fibre + (1 - volume_fraction) / matrix)


def halpin_tsai(fibre: float, matrix: float, volume_fraction: float, reinforcement: float) -> float:
    """Modulus by Halpin and Tsai; reinforcement 2 for E2 of round fibres, 1 for G12."""
    eta = (fibre / matrix - 1) / (fibre / matrix + reinforcement)
    return matrix * (1 + reinforcement * eta * volume_fraction) / (1 - eta * volume_fraction)


def chamis(fibre: float, matrix: float, volume_fraction: float) -> float:
    """E2 or G12 by Chamis, NASA TM-83320 (1983)."""
    return matrix / (1 - volume_fraction**0.5 * (1 - matrix / fibre))


def iso_thickness(areal_weight: float, mass_fraction: float, family: str) -> float:
    """Cured thickness [m] by ISO 12215-5:2008 annex C, second-hand; family "glass", "carbon" or "aramid".

    Rests on resin of 1200 kg/m3 and fibres of 2560, 1800 and 1450; shown beside the default, not used for plies.
    """
    fibre, resin = {"glass": 2560.0, "carbon": 1800.0, "aramid": 1450.0}[family], 1200.0
    return areal_weight * (fibre / mass_fraction - (fibre - resin)) / (fibre * resin)
