"""Straight two-node beams in space with shear deformation, exact for loads at their ends, as springs.

A beam's strain energy is a sum of six squares, its natural modes [J. H. Argyris & D. W. Scharpf, Aeronautical Journal
73 (1969) 961]: elongation, twist, and in both planes a bending that is the same all along and one that changes
sign. With Φ = 12 E I / (G As L²) the last is that of Timoshenko's beam [J. S. Przemieniecki, Theory of Matrix
Structural Analysis, 1968, eq. (5.116)], so nothing locks however short and stocky the beam. Each mode is a spring:
assembly, energies and checks of springs serve beams too. (T.1) to (T.6) of theory.md.

Axes: e1 from the first end to the second, e3 the given direction as far as it is square to e1, e2 = e3 × e1.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from tubfem.arrays import Floats, Ints, frozen
from tubfem.shell.frames import cross_matrix
from tubfem.shell.model import MODES_OF_A_BEAM, Beams, Springs

ODD = 2 * np.arange(40) + 1.0
GAUSS = 0.5 + 0.5 * np.polynomial.legendre.leggauss(4)[0]  # enough for the product of two cubics
WEIGHT = 0.5 * np.polynomial.legendre.leggauss(4)[1]


@dataclass(frozen=True, eq=False, slots=True)
class Section:
    """Cross-sections of beams, each (b,).

    Attributes
    ----------
    area, shear_2, shear_3
        Area, and effective areas in shear along e2 and e3 [m²].
    second_2, second_3
        Second moments about e2 (bending along e3) and about e3 (bending along e2) [m⁴].
    torsion, torsion_modulus
        GJ/G [m⁴], and torque over the greatest shear stress [m³].
    reach_2, reach_3
        Farthest fibre from the axis along e2 and e3 [m].
    round
        Whether bending in both planes adds up as vectors do (tubes) or in a corner (rectangles).
    """

    area: Floats
    shear_2: Floats
    shear_3: Floats
    second_2: Floats
    second_3: Floats
    torsion: Floats
    torsion_modulus: Floats
    reach_2: Floats
    reach_3: Floats
    round: Ints

    def __post_init__(self) -> None:
        for name in self.__slots__:
            object.__setattr__(self, name, frozen(np.atleast_1d(np.asarray(getattr(self, name)))))


def tube(diameter: Floats, wall: Floats, nu: Floats) -> Section:
    """Round tubes of outer diameter and wall (b,) [m]; a solid rod has a wall of half its diameter.

    Effective shear area by G. R. Cowper, J. Appl. Mech. 33 (1966) 335, for Poisson's ratio nu (b,). (T.7)
    """
    diameter, wall, nu = (np.atleast_1d(np.asarray(x, dtype=float)) for x in (diameter, wall, nu))
    outer, inner = diameter / 2, diameter / 2 - wall
    area, second = pi * (outer**2 - inner**2), pi / 4 * (outer**4 - inner**4)
    ratio = (inner / outer) ** 2
    square = (1 + ratio) ** 2
    shear = area * 6 * (1 + nu) * square / ((7 + 6 * nu) * square + (20 + 12 * nu) * ratio)
    return Section(
        area, shear, shear, second, second, 2 * second, 2 * second / outer, outer, outer, np.ones(len(outer), dtype=int)
    )


def rectangle(width: Floats, height: Floats, nu: Floats) -> Section:
    """Solid rectangles, width along e2 and height along e3 (b,) [m].

    Torsion by Saint-Venant's series [Timoshenko & Goodier, Theory of Elasticity, art. 109], shear by Cowper. (T.8)
    """
    width, height, nu = (np.atleast_1d(np.asarray(x, dtype=float)) for x in (width, height, nu))
    area = width * height
    shear = area * 10 * (1 + nu) / (12 + 11 * nu)
    long, short = np.maximum(width, height), np.minimum(width, height)
    argument = pi / 2 * ODD * (long / short)[:, None]
    torsion = long * short**3 / 3 * (1 - 192 / pi**5 * short / long * (np.tanh(argument) / ODD**5).sum(1))
    steepest = short * (1 - 8 / pi**2 * (1 / (ODD**2 * np.cosh(np.minimum(argument, 300.0)))).sum(1))
    return Section(
        area,
        shear,
        shear,
        width * height**3 / 12,
        height * width**3 / 12,
        torsion,
        torsion / steepest,
        width / 2,
        height / 2,
        np.zeros(len(area), dtype=int),
    )


def axes(ends: Floats, upright: Floats) -> Floats:
    """Frames (b, 3, 3), rows e1 e2 e3, of beams between ends (b, 2, 3) [m]; e3 nearest to `upright` (b, 3)."""
    e1 = ends[:, 1] - ends[:, 0]
    e1 = e1 / np.linalg.norm(e1, axis=1, keepdims=True)
    e2 = np.cross(upright, e1)
    e2 = e2 / np.linalg.norm(e2, axis=1, keepdims=True)
    return np.stack([e1, e2, np.cross(e1, e2)], axis=1)


def any_upright(ends: Floats) -> Floats:
    """A direction (b, 3) well off each beam's axis, for sections that do not care: z, or x along upright beams."""
    e1 = (ends[:, 1] - ends[:, 0]) / np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1, keepdims=True)
    return np.where(np.abs(e1[:, 2:]) < 0.9, np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))


def arms(offset: Floats) -> Floats:
    """Motion (b, 12, 12) of two ends at offsets (b, 2, 3) [m] from the nodes that carry them, by rigid arms."""
    total = np.zeros((len(offset), 12, 12))
    total[:] = np.eye(12)
    for end in (0, 1):
        total[:, 6 * end : 6 * end + 3, 6 * end + 3 : 6 * end + 6] = -cross_matrix(offset[:, end])
    return total


def natural_modes(ends: Floats, upright: Floats) -> Floats:
    """Amounts of the six natural modes as rows (b, 6, 12) on the ends' motion, as rows (T.1).

    Elongation, twist, constant and alternating bending in the 1-2 plane, then in the 1-3 plane.
    """
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)[:, None]
    e1, e2, e3 = np.moveaxis(axes(ends, upright), 1, 0)
    rows = np.zeros((len(ends), MODES_OF_A_BEAM, 2, 6))
    for end, sign in ((0, -1.0), (1, 1.0)):
        rows[:, 0, end, :3] = sign * e1
        rows[:, 1, end, 3:] = sign * e1
        # in the 1-2 plane the slope of v is θ3, in the 1-3 plane that of w is -θ2
        for first, across, turn in ((2, e2, e3), (4, e3, -e2)):
            rows[:, first, end, 3:] = sign * turn
            rows[:, first + 1, end, 3:] = turn / 2
            rows[:, first + 1, end, :3] = -sign * across / length
    return rows.reshape(len(ends), MODES_OF_A_BEAM, 12)


def shear_parameters(length: Floats, E: Floats, G: Floats, section: Section) -> tuple[Floats, Floats]:
    """Φ (b,) of bending in the 1-2 and in the 1-3 plane: bending over shear stiffness (T.2)."""
    return (
        12 * E * section.second_3 / (G * section.shear_2 * length**2),
        12 * E * section.second_2 / (G * section.shear_3 * length**2),
    )


def natural_stiffness(length: Floats, E: Floats, G: Floats, section: Section) -> Floats:
    """Stiffness (b, 6) of the natural modes [N/m, N·m] (T.3)."""
    phi_2, phi_3 = shear_parameters(length, E, G, section)
    about_3, about_2 = E * section.second_3 / length, E * section.second_2 / length
    modes = [E * section.area, G * section.torsion]
    bending = [about_3, 12 * about_3 / (1 + phi_2), about_2, 12 * about_2 / (1 + phi_3)]
    return np.stack([*(each / length for each in modes), *bending], 1)


def beams(
    ends: Floats,
    upright: Floats,
    section: Section,
    E: Floats,
    G: Floats,
    rho: Floats,
    *,
    freedoms: Ints,
    carried: Floats,
) -> Beams:
    """Beams whose ends move as some freedoms of the model do.

    Parameters
    ----------
    ends : (b, 2, 3)
        Ends of the axes [m].
    upright : (b, 3)
        Direction of e3.
    E, G, rho : (b,)
        [Pa, Pa, kg/m³].
    freedoms : (b, f)
        Freedoms that the ends follow: of two nodes, or of the elements the ends are bonded to.
    carried : (b, 12, f)
        Motion of both ends per unit of each freedom: `arms` for two nodes.
    """
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    modes = natural_modes(ends, upright)
    place, turn, slope = _inside(ends, upright, modes, shear_parameters(length, E, G, section))
    share = (length[:, None] * WEIGHT)[..., None]  # (b, g, 1)
    by_length = rho[:, None, None] * share
    axis = np.stack([section.second_2 + section.second_3, section.second_2, section.second_3], 1)
    weight = np.concatenate([by_length * section.area[:, None, None] * np.ones(3), by_length * axis[:, None]], 2)
    return Beams(
        springs=_springs(freedoms, modes @ carried, natural_stiffness(length, E, G, section)),
        masses=_springs(freedoms, np.concatenate([place, turn], 2) @ carried[:, None], weight),
        slopes=_springs(freedoms, slope @ carried[:, None], share * np.ones(2)),
    )


def node_beams(
    points: Floats, nodes: Ints, offset: Floats, upright: Floats, section: Section, E: Floats, G: Floats, rho: Floats
) -> Beams:
    """Beams between nodes (b, 2), their ends `offset` (b, 2, 3) [m] from them by rigid arms; see `beams`."""
    freedoms = (6 * nodes[:, :, None] + np.arange(6)).reshape(len(nodes), 12)
    return beams(points[nodes] + offset, upright, section, E, G, rho, freedoms=freedoms, carried=arms(offset))


def _springs(freedoms: Ints, rows: Floats, stiffness: Floats) -> Springs:
    """Rows (b, ..., f) on the freedoms (b, f) of every beam, one after another."""
    count, f = freedoms.shape
    rows = rows.reshape(count, -1, f)
    return Springs(np.repeat(freedoms, rows.shape[1], axis=0), rows.reshape(-1, f), stiffness.ravel())


def _inside(ends: Floats, upright: Floats, modes: Floats, phi: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """Rows on the ends' motion at the Gauss points (T.4).

    Translation in global axes and rotation in the beam's (b, g, 3, 12), slopes of the axis (b, g, 2, 12).
    """
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)[:, None, None]
    frame = axes(ends, upright)
    s = GAUSS[None, :, None]
    end = np.zeros((len(ends), 2, 2, 3, 12))  # (b, end, translation or rotation, component, freedom)
    for k in (0, 1):
        for which in (0, 1):
            end[:, k, which, :, 6 * k + 3 * which : 6 * k + 3 * which + 3] = frame
    linear = (1 - s)[..., None, None] * end[:, None, 0] + s[..., None, None] * end[:, None, 1]
    place, turn = linear[:, :, 0], linear[:, :, 1]
    slope = np.zeros((len(ends), len(GAUSS), 2, 12))
    chord = (end[:, 1, 0] - end[:, 0, 0]) / length
    for k, (across, about, sign, first) in enumerate(((1, 2, 1.0, 2), (2, 1, -1.0, 4))):
        even, odd = modes[:, None, first], modes[:, None, first + 1]
        soft = 1 / (1 + phi[k])[:, None, None]
        bent = s * (1 - s) * length * (soft * (1 - 2 * s) * odd - even / 2)
        place[:, :, across] += bent
        turned = chord[:, None, across] + (s - 0.5) * even + (1 - 6 * s * (1 - s) * soft) * odd
        turn[:, :, about] = sign * turned
        slope[:, :, k] = chord[:, None, across] + (s - 0.5) * even + soft * (1 - 6 * s * (1 - s)) * odd
    return np.swapaxes(frame, 1, 2)[:, None] @ place, turn, slope


def axis_motion(beams: Beams, u: Floats) -> Floats:
    """Translation (b, 2, 3) of the ends of every axis under a motion u (p, 6), by the cubic through the mass points."""
    read = (u.ravel()[beams.masses.freedoms] * beams.masses.coefficients).sum(1).reshape(-1, len(GAUSS), 6)[..., :3]
    to_ends = np.vander([0.0, 1.0], len(GAUSS)) @ np.linalg.inv(np.vander(GAUSS))
    return np.einsum("ng,bgx->bnx", to_ends, read)


@dataclass(frozen=True, eq=False, slots=True)
class BeamForces:
    """What beams carry, each (c, b) or at both ends (c, b, 2).

    Attributes
    ----------
    normal, torque
        Pull and twisting moment, the same all along [N, N·m].
    shear_2, shear_3
        Along e2 and e3 [N].
    bending_2, bending_3
        About e2 and e3 at both ends; positive where the fibres at +e3, +e2 are pressed [N·m].
    """

    normal: Floats
    torque: Floats
    shear_2: Floats
    shear_3: Floats
    bending_2: Floats
    bending_3: Floats


def beam_forces(forces: Floats, length: Floats) -> BeamForces:
    """Forces in beams from those of their natural modes (c, 6·b), lengths (b,) [m] (T.5)."""
    P = forces.reshape(len(forces), -1, MODES_OF_A_BEAM)
    end = np.array([-0.5, 0.5])
    about_3 = P[..., 2, None] + P[..., 3, None] * end
    about_2 = P[..., 4, None] + P[..., 5, None] * end
    return BeamForces(P[..., 0], P[..., 1], -P[..., 3] / length, -P[..., 5] / length, about_2, about_3)


def peak_stresses(found: BeamForces, section: Section) -> tuple[Floats, Floats, Floats]:
    """Greatest pull and push (signed) and greatest shear of torsion (c, b) [Pa], at the worse end (T.6)."""
    about_2 = np.abs(found.bending_2) * (section.reach_3 / section.second_2)[:, None]
    about_3 = np.abs(found.bending_3) * (section.reach_2 / section.second_3)[:, None]
    bending = np.where(section.round[:, None] > 0, np.hypot(about_2, about_3), about_2 + about_3).max(-1)
    axial = found.normal / section.area
    return axial + bending, axial - bending, np.abs(found.torque) / section.torsion_modulus
