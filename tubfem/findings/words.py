"""The findings that matter most, said in plain sentences."""

from tubfem.findings.results import Energy, LoadCaseFindings, Torsion, Worst

HINGE = 0.05  # of the strain energy in one joint's springs: said to work like a hinge
LISTED = 3


def torsion_sentences(torsion: Torsion) -> tuple[str, ...]:
    """Softest bay, pickups' share, both in words."""
    found = []
    if torsion.softest is not None:
        bay, total = torsion.softest, torsion.curve_deg[-1]
        share = 100 * bay.twist_deg / total if total else 0.0
        found.append(
            f"The tub is softest between {bay.start} and {bay.end}: {abs(bay.twist_deg_per_m):.3g} deg/m there, "
            f"{share:.0f} % of the tub's twist on {bay.x[1] - bay.x[0]:.2f} m."
        )
    for axle, share in (("front", torsion.front_share), ("rear", torsion.rear_share)):
        if share is not None and abs(share) >= 0.05:
            found.append(
                f"{100 * share:.0f} % of the twist between the pickups is between the {axle} pickups and the tub "
                "beside them (mounts, subframe, panels round the mounts)."
            )
    return tuple(found)


def hinge_sentences(energy: Energy) -> tuple[str, ...]:
    """Joints whose springs hold a large share of the strain energy, largest first."""
    large = sorted(((share, name) for name, share in energy.joints.items() if share >= HINGE), reverse=True)
    return tuple(
        f"Joint {name} works like a hinge: {100 * share:.0f} % of the strain energy is in its bond or bolts."
        for share, name in large[:LISTED]
    )


def worst_sentence(worst: Worst, sign: bool) -> str:
    """Where a margin is lowest, in one sentence; `sign` says whether the hand of the torque matters."""
    x, y, z = (1000 * value for value in worst.position)
    hand = f", torque {'+' if worst.sign > 0 else '-'}" if sign else ""
    face = "" if worst.face is None else f" at its {'tool side' if worst.face == 'bottom' else 'far side'}"
    margin = f"{worst.margin:+.2f}" if abs(worst.margin) >= 0.01 else f"{worst.margin:+.4f}"
    mode = "" if worst.mode == worst.kind else f" ({worst.mode})"
    return (
        f"Lowest margin {margin}: {worst.kind}{mode} of {worst.ply}{face} in {worst.panel} at "
        f"x {x:.0f}, y {y:.0f}, z {z:.0f} mm{hand}."
    )


def lowest_margin(case: LoadCaseFindings) -> Worst | None:
    """The lowest margin of all regions in a load case."""
    found = [region.worst for region in case.regions.values() if region.worst is not None]
    return min(found, key=lambda worst: worst.margin, default=None)


def case_sentences(case: LoadCaseFindings) -> tuple[str, ...]:
    """All sentences of a load case."""
    found = list(torsion_sentences(case.torsion)) if case.torsion is not None else []
    found += hinge_sentences(case.energy)
    worst = lowest_margin(case)
    if worst is not None:
        found.append(worst_sentence(worst, case.torsion is not None))
    return tuple(found)
