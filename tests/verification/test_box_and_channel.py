"""The shipped cases of a closed box and an open channel against formulas of thin-walled torsion, from text to twist.

Bredt-Batho: a closed cell has K = 4 A^2 (G t) / (s L), with G t the wall's A66 for a balanced wall. Saint-Venant: an
open section free to warp has K = G J / L, J the sum of b t^3 / 3. Vlasov: warping held at one end,
K = (G J / L) / (1 - tanh(k L) / (k L)), k^2 = G J / (E I_omega). E.g. Megson, Aircraft Structures for Engineering
Students, chapters on torsion of beams and on axial constraint effects, from memory.
"""

import numpy as np
from numpy.testing import assert_allclose
from tub_runs import run_of

# Closed box, from the head of its case file: mid-line and walls [m], tape [Pa].
WIDTH, HEIGHT, LENGTH, WALL = 0.2, 0.1, 1.0, 1e-3
E1, E2, G12, NU12 = 135e9, 10e9, 5e9, 0.3
# Channel: flanges and web on the mid-line, thickness [m], aluminium [Pa].
FLANGE, WEB, SHEET = 0.05, 0.1, 2e-3
E, NU = 70e9, 0.3


def twist(name, load_case):
    return run_of(name)[2].load_cases[load_case].probes["front"][3]


def test_closed_box_is_bredt_with_A66(record):
    """`cases/closed_box.toml`, [45/-45]s carbon: Bredt with A66.

    A66 from Q66 at 45 degrees, (Q11 + Q22 - 2 Q12) / 4.
    """
    reduced = 1 - NU12**2 * E2 / E1
    A66 = WALL * (E1 + E2 - 2 * NU12 * E2) / (4 * reduced)
    bredt = 4 * (WIDTH * HEIGHT) ** 2 * A66 / (2 * (WIDTH + HEIGHT) * LENGTH)
    assert_allclose(bredt, 93_289, rtol=1e-5)  # as the head of the case file says
    record("closed box [N·m/rad]", 1000.0 / twist("closed_box", "twist"), bredt, 1.0, mesh="25 mm")


def test_open_channel_free_to_warp_is_saint_venant(record):
    """`cases/open_channel.toml`, free to warp: Saint-Venant.

    1.2 %: an independent p-version shell converges to 14.195, 1.1 % below the formula.
    """
    J = (2 * FLANGE + WEB) * SHEET**3 / 3
    free = E / (2 * (1 + NU)) * J / LENGTH
    assert_allclose(free, 14.359, rtol=1e-4)
    record("channel free to warp [N·m/rad]", 1.0 / twist("open_channel", "free"), free, 1.2, mesh="12.5 mm")


def test_open_channel_with_warping_held_is_vlasov(record):
    """`cases/open_channel.toml`, warping held at one end: Vlasov.

    1 %: an independent p-version shell converges to 55.15, 0.5 % below the formula.

    Sectorial properties of a channel: shear centre e = 3 b^2 / (6 b + h) behind the web,
    I_omega = t h^2 b^3 / 12 (3 b + 2 h) / (6 b + h).
    """
    b, h, t = FLANGE, WEB, SHEET
    warping = t * h**2 * b**3 / 12 * (3 * b + 2 * h) / (6 * b + h)
    assert_allclose(warping, 1.82292e-10, rtol=1e-5)  # m^6
    GJ = E / (2 * (1 + NU)) * (2 * b + h) * t**3 / 3
    kL = np.sqrt(GJ / (E * warping)) * LENGTH
    held = GJ / LENGTH / (1 - np.tanh(kL) / kL)
    assert_allclose(held, 55.42, rtol=1e-4)
    record("channel held from warping [N·m/rad]", 1.0 / twist("open_channel", "held"), held, 1.0, mesh="12.5 mm")


def test_warping_held_at_one_end_makes_an_open_section_stiffer():
    """Nearly four times, from the end alone."""
    assert 3.7 < twist("open_channel", "free") / twist("open_channel", "held") < 4.0
