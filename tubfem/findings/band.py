"""How far the stiffness may lie from the number printed, from named reasons and where the strain energy is.

A tub is loaded by one couple, so its compliance is 2 U / T^2. If the parts that hold the shares s_i of the strain
energy change their stiffness by the factors f_i, then without solving again

- with the old stresses, which still balance the load, the complementary energy gives K' >= K / sum(s_i / f_i);
- with the old motion the potential energy gives K' <= K sum(s_i f_i).

Both hold for the discrete model exactly, whatever the size of the change, so the band is never narrower than what
the model itself would say about its reasons. It is a band of those reasons, all at once, not a confidence interval.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from tubfem.findings.results import Band, BandReason, Findings


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
SAME = 1e-4  # of the stiffness: the tub is still the one that was spread
NINE_OF_TEN = 1.645  # standard deviations of a normal number to either side
SEEN = 0.05  # percent
MESH = "mesh: elements are too stiff by what their resultants lack, estimated from this one solution"
ALL_AT_ONCE = "All reasons at once, further than chance takes them together; tubfem spread draws them as they come."
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
    return Band(stiffness / softer, stiffness * stiffer, why, LEFT_OUT, ALL_AT_ONCE)


def with_spread(findings: Findings, spread: Mapping[str, Any]) -> Findings:
    """Findings whose torsion load case has the band that spread.json holds for it.

    Left as they are if the stiffness is not the one that was spread, as after a change of the program.
    """
    load_case = findings.load_cases.get(spread["load_case"])
    if load_case is None or load_case.torsion is None:
        return findings
    now, then = load_case.torsion.pickup_to_pickup, spread["base"]["stiffness_Nm_per_deg"]
    if abs(now / then - 1) > SAME:
        return findings
    torsion = replace(load_case.torsion, band=drawn_band(spread))
    return replace(findings, load_cases={**findings.load_cases, load_case.name: replace(load_case, torsion=torsion)})


def drawn_band(spread: Mapping[str, Any]) -> Band:
    """The band of spread.json: its 5 and 95 % quantiles; of every reason what it does by itself to nine tubs of ten."""
    found, causes = spread["stiffness"], {cause["key"]: cause for cause in spread["causes"]}
    why = []
    for driver in found["drivers"]:
        cause = causes[driver["cause"]]
        if driver["cause"] == "mesh":
            low, high = (100 * (found["mesh"][end] - 1) for end in ("low", "high"))
            why.append(BandReason(f"mesh: {found['mesh']['words']}", low, high))
            continue
        share = max(min(driver["first"], driver["total"]), 0.0)  # both are estimates, of which the lower is kept
        reach = 100 * NINE_OF_TEN * share**0.5 * found["standard_deviation"] / found["middle"]
        if reach > SEEN:
            text = f"{cause['name']}: {100 * cause['scatter']:.3g} % of scatter; {cause['source']}"
            why.append(BandReason(text, -reach, reach))
    meaning = (
        f"Nine tubs of ten built like this are in the band, by tubfem spread "
        f"({spread['evaluations']} draws); each reason by itself as far as nine of ten go."
    )
    return Band(found["low"], found["high"], tuple(why), LEFT_OUT, meaning)
