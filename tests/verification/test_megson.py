"""Torsion of thin-walled sections by hand: T. H. G. Megson, Aircraft Structures for Engineering Students.

Worked examples on closed, multicell and open sections; data and results from memory, confirmed by recomputation. They
verify the rules of the hand check; lengths in mm and forces in N as in the book.
"""

import numpy as np

from tubfem.findings.thin_walls import cell_stiffness, strip_stiffness


def test_three_cell_wing(record):
    """Shear flows of a wing section of three cells under 11.3 kN m; the book prints them to 0.1 N/mm."""
    walls = np.array(  # length, thickness [mm], shear modulus [MPa]: 12 outer, 12 inner, 13, 24, 34, 35, 46, 56
        [
            (1650, 1.22, 24200),
            (508, 2.03, 27600),
            (775, 1.22, 24200),
            (775, 1.22, 24200),
            (380, 1.63, 27600),
            (508, 0.92, 20700),
            (508, 0.92, 20700),
            (254, 0.92, 20700),
        ]
    )
    incidence = np.array([[1, 1, 0, 0, 0, 0, 0, 0], [0, -1, 1, 1, 1, 0, 0, 0], [0, 0, 0, 0, -1, 1, 1, 1]])
    areas, torque = np.array([258e3, 355e3, 161e3]), 11.3e6
    GJ, flow = cell_stiffness(areas, incidence, walls[:, 0] / (walls[:, 1] * walls[:, 2]))
    record.digits(flow * torque / GJ, [7.1, 8.9, 4.2], atol=0.05, of="shear flows, N/mm")
    # recomputed to five figures: a check of the rate of twist, which the book does not print
    record("rate of twist, rad/mm", torque / GJ, 7.3596e-7, 0.01)


def test_circular_tube(record):
    """A tube of 200 mm, 2 m long, both ends fixed, 30 kN m at mid-span, at most 2 degrees: 2.7 mm of G = 25 GPa."""
    area, perimeter = np.pi * 100**2, 2 * np.pi * 100
    GJ_per_mm, _ = cell_stiffness(np.array([area]), np.array([[1]]), np.array([perimeter / 25000]))
    needed = 15e6 * 1000 / np.radians(2)
    record.digits(needed / GJ_per_mm, 2.7, atol=0.05, of="thickness, mm")


def test_channel(record):
    """A channel with flanges of 25 x 1.5 and a web of 50 x 2.5 mm: J = 316.7 mm4."""
    length, thickness = np.array([25.0, 25.0, 50.0]), np.array([1.5, 1.5, 2.5])
    record.digits(strip_stiffness(length, thickness**3 / 12), 316.7, atol=0.05, of="J, mm4")
