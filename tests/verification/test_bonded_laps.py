"""Bond lines and bolts: O. Volkersen 1938; M. Goland & E. Reissner, J. Appl. Mech. 11 (1944) A17; beams on an elastic
layer; ECSS-E-HB-32-22A (second-hand) and statics.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_bvp

from tubfem.laminate.adhesive import goland_reissner, peel_peak, volkersen_peak
from tubfem.laminate.bolted import bearing, core_shear, crush, insert_capacity, net_section, punching, shear_out

BOND = 1e9 / 0.2e-3  # G = 1 GPa, 0.2 mm
ALUMINIUM, CARBON = 70e9 * 2e-3, 60e9 * 2e-3


@pytest.mark.parametrize(("first", "peak"), [(ALUMINIUM, 3.3492), (CARBON, 3.7508)])
def test_volkersen_peak(record, first, peak):
    """Peak shear of a lap of 25 mm over its mean, even and uneven sheets.

    Volkersen's closed form worked independently: W = 6.6815 and 6.9544; five digits.
    """
    record.digits(volkersen_peak(0.025, BOND, first, ALUMINIUM), peak, rtol=2e-5)


def test_volkersen_of_a_published_exercise(record):
    """Peak shear of a lap in a published exercise: aluminium sheets of 2 mm, 30 mm long, 8 MPa mean.

    C. Willberg, Hochschule Magdeburg-Stendal, lectures on fibre composites (cwillberg.github.io/Lectures), seminar on
    joining, exercise 3: 0.1 mm of G = 800 MPa, 6 kN on 25 mm, 40.6 MPa; printed to three digits.
    """
    peak = volkersen_peak(0.030, 800e6 / 0.1e-3, ALUMINIUM, ALUMINIUM) * 6000 / (0.030 * 0.025)
    record.digits(peak, 40.6e6, rtol=2e-3)


def test_volkersen_by_solving_the_equation(record):
    """Peak shear of the uneven lap, its equation solved numerically.

    Shear lag as an ordinary differential equation for the pull N in the first sheet: N'' = k (N/a1 - (P - N)/a2).
    """
    a1, a2, length, P = CARBON, ALUMINIUM, 0.025, 1.0

    def slope(_, y):
        return np.stack([y[1], BOND * (y[0] / a1 - (P - y[0]) / a2)])

    def ends(y0, y1):
        return np.array([y0[0] - P, y1[0]])

    x = np.linspace(0, length, 200)
    found = solve_bvp(slope, ends, x, np.stack([P * (1 - x / length), np.full(200, -P / length)]), tol=1e-8)
    assert found.success
    peak = np.abs(found.sol(x)[1]).max() * length / P
    record.digits(volkersen_peak(length, BOND, a1, a2), peak, rtol=1e-5)


def test_volkersen_limits():
    assert_allclose(volkersen_peak(1e-5, BOND, ALUMINIUM, CARBON), 1.0, rtol=1e-5)  # a short lap is evenly sheared
    # one stiff sheet: the leg of a tab, W coth W
    W = 0.025 * np.sqrt(BOND / ALUMINIUM)
    assert_allclose(volkersen_peak(0.025, BOND, ALUMINIUM, np.inf), W / np.tanh(W), rtol=1e-12)


# M. Goland and E. Reissner 1944, closed form; the limit k = 1 was reproduced to five digits by an independently
# computed bonded-beam model (shear 6.6815 of the mean, peel 38.730 MPa at 100 N/mm). P [N/mm], shear, peel [MPa].
LAPS = [(10, 2.422, 3.376), (100, 20.753, 26.923), (300, 55.784, 68.148)]


@pytest.mark.parametrize(("load", "shear", "peel"), LAPS)
def test_goland_reissner(record, load, shear, peel):
    """Peak shear and peel of a single lap that bends, three pulls."""
    sheet = {"thickness": 2e-3, "modulus": 70e9, "nu": 0.33, "bond_shear": BOND, "bond_tension": 2.8e9 / 0.2e-3}
    found = goland_reissner(1e3 * load, 0.025, **sheet)
    record.digits(found, [1e6 * shear, 1e6 * peel], rtol=2e-4, of=f"{load} N/mm")  # printed to four digits


def test_goland_reissner_of_a_vanishing_pull_is_k_1(record):
    """The same under a vanishing pull, against bonded beams."""
    sheet = {"thickness": 2e-3, "modulus": 70e9, "nu": 0.0, "bond_shear": BOND, "bond_tension": 2.8e9 / 0.2e-3}
    shear, peel = goland_reissner(1e-6, 0.025, **sheet)
    # both are linear in the pull there; bonded beams with nu = 0: 6.6815 of the mean, 38.730 MPa per 100 N/mm
    record.digits([shear * 0.025 / 1e-6, peel / 1e-6 * 1e5], [6.6815, 38.730e6], rtol=2e-4)


def test_leg_pulled_off_is_a_beam_on_an_elastic_layer(record):
    """Peel under the leg of a tab pulled and turned off: a beam on an elastic layer by finite differences."""
    D, k, width, p, m = 0.5, 2e11, 0.05, 1000.0, 1.0
    n = 2001
    h = width / (n - 1)
    K = np.zeros((n + 4, n + 4))
    f = np.zeros(n + 4)
    for i in range(n):
        K[i, i : i + 5] = np.array([1, -4, 6, -4, 1]) * D / h**4
        K[i, i + 2] += k
    for row, at, moment, force in ((n, 2, m, p), (n + 2, n + 1, 0.0, 0.0)):
        K[row, at - 1 : at + 2], f[row] = np.array([1, -2, 1]) * D / h**2, moment
        K[row + 1, at - 2 : at + 3], f[row + 1] = np.array([-1, 2, 0, -2, 1]) * D / (2 * h**3), force
    w = np.linalg.solve(K, f)[2:-2]
    record.digits(peel_peak(p, m, width, D, k), np.abs(k * w[0]), rtol=2e-3)


def test_stiff_leg_turns_as_a_whole():
    # a force and a moment at the end of a stiff leg: 4 p / w and 6 m / w² (statics)
    assert_allclose(peel_peak(1000.0, 2.0, 0.02, 1e9, 1e9), 4 * 1000.0 / 0.02 + 6 * 2.0 / 0.02**2, rtol=1e-9)


def test_bolt_in_a_strip(record):
    """A bolt in a strip by statics: bearing, net section, shear-out.

    3 kN on a 6 mm bolt, laminate 2 mm, strip 30 mm, 18 mm to the edge.
    """
    d, t = 6e-3, 2e-3
    found = [bearing(3e3, d, t), net_section(3e3, d, t, 30e-3), shear_out(3e3, 18e-3, t)]
    record.digits(found, [250e6, 62.5e6, 41.667e6], rtol=1e-5)
    assert_allclose(punching(4e3, 25e-3, 1e-3), 4e3 / (np.pi * 25e-6), rtol=1e-12)
    assert_allclose(crush(1e3, 10e-3, 6e-3), 1e3 / (np.pi * (100e-6 - 9e-6)), rtol=1e-12)


def test_bolt_of_a_published_exercise(record):
    """Forces at which a bolted strip fails in a published exercise: bearing, net section, shear-out, cleavage.

    C. Willberg, the same seminar, exercise 2: bolt of 8 mm, 4 mm thick, strip 40 mm, 24 mm to the edge; 600, 500 and
    110 MPa, 50 MPa square to the load, of which cleavage is the net section of a strip 2 e wide.
    """
    d, t, e = 8e-3, 4e-3, 24e-3
    stress = [bearing(1.0, d, t), net_section(1.0, d, t, 40e-3), shear_out(1.0, e, t), net_section(1.0, d, t, 2 * e)]
    record.digits(np.array([600e6, 500e6, 110e6, 50e6]) / stress, [19200, 64000, 21120, 8000], rtol=1e-9)


@pytest.mark.parametrize(("radius", "pull"), [(8.659e-3, 1088.0), (9.312e-3, 1170.0)])
def test_potted_insert(record, radius, pull):
    """An insert pulled out of 20 mm of core that shears at 1 MPa: the first estimate of the ECSS handbook."""
    record.digits(insert_capacity(radius, 20e-3, 1e6), pull, rtol=5e-4)
    assert_allclose(core_shear(pull, 0.0, radius, 20e-3), 1e6, rtol=5e-4)


def test_moment_of_the_core_shear_round_an_insert():
    # integral of tau cos(a) * r cos(a) * c r da is the moment
    a = np.linspace(0, 2 * np.pi, 4001)
    tau = core_shear(0.0, 3.0, 0.01, 0.02)
    assert_allclose(np.trapezoid(tau * np.cos(a) ** 2 * 0.01**2 * 0.02, a), 3.0, rtol=1e-9)
