"""How far the stiffness may lie from the number printed, from named reasons and where the strain energy is.

A tub is loaded by one couple, so its compliance is 2 U / T^2. If the parts that hold the shares s_i of the strain
energy change their stiffness by the factors f_i, then without solving again

- with the old stresses, which still balance the load, the complementary energy gives K' >= K / sum(s_i / f_i);
- with the old motion the potential energy gives K' <= K sum(s_i f_i).

Both hold for the discrete model exactly, whatever the size of the change, so the band is never narrower than what
the model itself would say about its reasons. It is a band of those reasons, all at once, not a confidence interval.
"""

from dataclasses import dataclass

from tubfem.findings.results import Band, BandReason


@dataclass(frozen=True, slots=True)
class Reason:
    """What may differ: which part of the energy, the least and greatest factor on its stiffness, and why."""

    part: str
    low: float
    high: float
    text: str


REASONS = (
    Reason(
        "moduli along and across the fibres",
        0.90,
        1.00,
        "moduli from default formulas: those of ISO 12215-5:2008 lie about 10 % below those of NR546 (2022) at the "
        "same fibre content (both second-hand)",
    ),
    Reason(
        "in-plane shear moduli",
        1.00,
        1.25,
        "in-plane shear moduli of plies: ISO 12215-5:2008 lies 20 to 30 % above NR546 (2022) (both second-hand)",
    ),
    Reason(
        "moduli along and across the fibres",
        0.94,
        1.06,
        "fibre content unknown until weighed: 600 g/m2 of +-45 glass at mass fractions from 0.38 to 0.50 keeps its "
        "membrane shear stiffness within 6 % (NR546 formulas)",
    ),
    Reason(
        "cores in shear",
        0.75,
        1.10,
        "shear modulus of foam: 24 to 31 MPa from two published tables for the same 80 kg/m3 PVC foam",
    ),
    Reason("joints", 0.5, 2.0, "stiffness of tabs and fasteners: half to double (common practice, no source)"),
    Reason("mounts", 0.5, 2.0, "stiffness of mounts and bolts: half to double (common practice, no source)"),
)
MESH = "mesh: elements are too stiff by what their resultants lack, estimated from this one solution"
LEFT_OUT = (
    "loads spread over a mount's pad; an insert that stays rigid makes the tub stiffer",
    "workmanship: voids, waviness, missing or turned plies, joints that are not bonded",
)


def stiffness_band(stiffness: float, shares: dict[str, float], mesh: float) -> Band:
    """Band [N m/deg] from the shares of the strain energy in "joints", "mounts" and the moduli of `energy.MODULI`.

    `mesh` is the part of the compliance that the mesh may lack; it makes the tub softer, never stiffer. What is in no
    share (isotropic sheet, core in its plane) is taken as certain.
    """
    why = tuple(
        BandReason(
            reason.text,
            100 * (1 / (1 + shares[reason.part] * (1 / reason.low - 1)) - 1),
            100 * shares[reason.part] * (reason.high - 1),
        )
        for reason in REASONS
        if shares[reason.part] > 0
    )
    if mesh > 0:
        why = (*why, BandReason(MESH, 100 * (1 / (1 + mesh) - 1), 0.0))
    low, high = dict.fromkeys(shares, 1.0), dict.fromkeys(shares, 1.0)
    for reason in REASONS:
        low[reason.part] *= reason.low
        high[reason.part] *= reason.high
    softer = 1 + mesh + sum(share * (1 / low[part] - 1) for part, share in shares.items())
    stiffer = 1 + sum(share * (high[part] - 1) for part, share in shares.items())
    return Band(stiffness / softer, stiffness * stiffer, why, LEFT_OUT)
