"""A bolt in a laminate or a sandwich: nominal stresses, docs/theory.md, "Hard points". Screening, not proof."""

from math import pi, sqrt


def bearing(load: float, diameter: float, thickness: float) -> float:
    """Mean pressure [Pa] of a bolt [N] on the side of its hole, diameter and laminate thickness [m] (H.1)."""
    return load / (diameter * thickness)


def net_section(load: float, diameter: float, thickness: float, width: float) -> float:
    """Mean pull [Pa] beside a hole in a strip of this width [m] (H.2)."""
    return load / ((width - diameter) * thickness)


def shear_out(load: float, edge: float, thickness: float) -> float:
    """Mean shear [Pa] on the two planes from a hole to the edge, `edge` [m] from the hole's middle (H.3)."""
    return load / (2 * edge * thickness)


def punching(load: float, diameter: float, thickness: float) -> float:
    """Mean shear [Pa] through a laminate round the rim of a washer or flange of this diameter [m] (H.4)."""
    return load / (pi * diameter * thickness)


def core_shear(load: float, moment: float, radius: float, core: float) -> float:
    """Greatest shear [Pa] in a core [m] thick round an insert or washer of this radius [m] (H.5).

    A pull [N] square to the panel is spread evenly, a tipping moment [N m] as the cosine of the angle round it.
    """
    return abs(load) / (2 * pi * radius * core) + abs(moment) / (pi * radius**2 * core)


def insert_capacity(radius: float, core: float, strength: float) -> float:
    """Pull [N] at which the core [m] shears round a potting of this effective radius [m]; strength [Pa] (H.6).

    Notes
    -----
    The first estimate for an insert through the whole core in ECSS-E-HB-32-22A (2011) and ESA PSS-03-1202 (1987),
    skins not counted (second-hand). Plus or minus 30 % until a sample was pulled.
    """
    return 2 * pi * radius * core * strength


def crush(load: float, radius: float, hole: float) -> float:
    """Mean pressure [Pa] under a washer or flange of this radius [m] with a hole of this diameter [m] (H.7)."""
    return load / (pi * (radius**2 - hole**2 / 4))


def resultant(first: float, second: float) -> float:
    """Size of two forces at a right angle."""
    return sqrt(first**2 + second**2)
