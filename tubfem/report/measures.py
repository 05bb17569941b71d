"""Kinds of quantity a page shows, in metric and inch-pound units: one table for its text and its scripts."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measure:
    """How an SI value is shown: factor and unit, metric and inch-pound; `unit` is empty for plain numbers."""

    factor: float
    unit: str
    inch_factor: float
    inch_unit: str


POUND, INCH, FOOT = 0.45359237, 0.0254, 0.3048  # kg, m, m: exact by definition
OUNCE, YARD = POUND / 16, 3 * FOOT
POUND_FORCE = POUND * 9.80665  # N
MEASURES = {
    "stiffness": Measure(1.0, "N·m/deg", 1 / (POUND_FORCE * FOOT), "lbf·ft/deg"),
    "torque": Measure(1.0, "N·m", 1 / (POUND_FORCE * FOOT), "lbf·ft"),
    "mass": Measure(1.0, "kg", 1 / POUND, "lb"),
    "length": Measure(1e3, "mm", 1 / INCH, "in"),
    "run": Measure(1.0, "m", 1 / FOOT, "ft"),
    "area": Measure(1.0, "m²", 1 / FOOT**2, "ft²"),
    "areal": Measure(1.0, "kg/m²", FOOT**2 / POUND, "lb/ft²"),
    "force": Measure(1.0, "N", 1 / POUND_FORCE, "lbf"),
    "line_force": Measure(1e-3, "N/mm", INCH / POUND_FORCE, "lbf/in"),
    "line_moment": Measure(1.0, "N·mm/mm", 1 / POUND_FORCE, "lbf·in/in"),
    "stress": Measure(1e-6, "MPa", INCH**2 / POUND_FORCE * 1e-3, "ksi"),
    "modulus": Measure(1e-9, "GPa", INCH**2 / POUND_FORCE * 1e-6, "Msi"),
    "density": Measure(1.0, "kg/m3", FOOT**3 / POUND, "lb/ft³"),
    "cloth": Measure(1e3, "g/m2", YARD**2 / OUNCE, "oz/yd²"),
    "cut": Measure(1e4, "cm²", 1 / INCH**2, "in²"),
    "volume": Measure(1e3, "l", 1 / INCH**3, "in³"),
    "line_stiffness": Measure(1e-6, "N/mm per mm", INCH**2 / POUND_FORCE, "lbf/in per in"),
    "line_turning": Measure(1.0, "N·mm/mm per degree", 1 / POUND_FORCE, "lbf·in/in per degree"),
    "angle": Measure(1.0, "deg", 1.0, "deg"),
    "turning": Measure(1.0, "N·m/rad", 1 / (POUND_FORCE * FOOT), "lbf·ft/rad"),
    "rate": Measure(1.0, "deg/m", FOOT, "deg/ft"),
    "strain": Measure(1e2, "%", 1e2, "%"),
    "share": Measure(1e2, "%", 1e2, "%"),
    "energy": Measure(1.0, "J", 1 / (POUND_FORCE * FOOT), "ft·lbf"),
    "energy_density": Measure(1.0, "J/m²", FOOT / POUND_FORCE, "ft·lbf/ft²"),
    "per_mass": Measure(1.0, "N·m/deg per kg", POUND / (POUND_FORCE * FOOT), "lbf·ft/deg per lb"),
    "torsion_rigidity": Measure(1.0, "N·m²", 1 / (POUND_FORCE * FOOT**2), "lbf·ft²"),
    "plain": Measure(1.0, "", 1.0, ""),
}
OF_UNIT = {  # of a margin's demand and allowable
    "-": "strain",
    "Pa": "stress",
    "N/m": "line_force",
    "N": "force",
    "m": "length",
    "of the criterion's load": "share",
}
