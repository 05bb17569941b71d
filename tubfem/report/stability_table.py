"""Buckling and natural modes on the terminal."""

from rich.console import Console

from tubfem.findings.results import LoadCaseFindings
from tubfem.findings.stability_results import BayCheck, BucklingFindings, ModesFindings
from tubfem.report.numbers import margin, percent, place, three
from tubfem.report.terminal import put, say, table_of

BAYS_SHOWN = 5


def print_buckling(console: Console, load_case: LoadCaseFindings, buckling: BucklingFindings) -> None:
    """First ripple for each sign of the load, then the weakest bays by hand."""
    table = table_of("load", "times", "margin", "ripples", "of it", "by hand", right=(1, 2, 4, 5))
    for mode in buckling.modes:
        load = "as given" if mode.sign > 0 else "reversed"
        if load_case.torsion is not None:
            load = f"{'+' if mode.sign > 0 else '-'}{three(mode.factor * load_case.torsion.torque)} N·m"
        hand = "-" if mode.hand is None else _factor(mode.hand, mode.sign)
        where = f"{mode.region}: {mode.panel} at {place(mode.position)} mm"
        table.add_row(load, three(mode.factor), margin(mode.margin), where, percent(mode.share), hand)
    put(console, f"Buckling, load case {load_case.name}: the first panel that ripples", table)
    if not buckling.modes:
        say(console, "No multiple of this load makes a panel ripple.")
    table = table_of("panel, mm", "along", "across", "shear", "bears", "times", right=(1, 2, 3, 4, 5))
    for bay in buckling.bays[:BAYS_SHOWN]:
        loads = (three(1e-3 * load) for load in (bay.along, bay.across, bay.shear))
        size = f"{bay.name}, {1e3 * bay.a:.0f} x {1e3 * bay.b:.0f}"
        table.add_row(size, *loads, three(1e-3 * bay.shear_critical), _factor(bay, 1))
    put(console, "By hand: simply supported rectangles under their mean load, N/mm; bears: shear alone", table)
    say(
        console,
        "k = 5.35 + 4 (b/a)^2 in shear; clamping, curvature, openings and D16 left out: a check of size, not a margin.",
    )


def print_modes(console: Console, modes: ModesFindings) -> None:
    """Frequencies of the free tub, what its sections do, where the kinetic energy is."""
    table = table_of("mode", "Hz", "what", "twist", "bend z", "bend y", "most in", right=(0, 1, 3, 4, 5))
    for number, mode in enumerate(modes.modes, start=1):
        shares = (percent(mode.shares[name]) for name in ("torsion", "vertical bending", "lateral bending"))
        parts = mode.regions | mode.carried
        most = max(parts, key=parts.get)
        table.add_row(f"{number}", three(mode.frequency), mode.shape, *shares, f"{most} {percent(parts[most])}")
    put(console, "Natural modes of the free tub: shares of kinetic energy", table)
    carried = ", ".join(f"{name} {three(mass)} kg" for name, mass in modes.carried_mass.items())
    say(console, f"{three(modes.mass)} kg vibrate{f', of which {carried}' if carried else ''}.")


def _factor(bay: BayCheck, sign: int) -> str:
    factor = bay.factors[0 if sign > 0 else 1]
    return "-" if factor is None else three(factor)
