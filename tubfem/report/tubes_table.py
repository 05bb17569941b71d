"""Subframes of tubes and stiffeners on the terminal."""

import re

from rich.console import Console

from tubfem.findings.results import LoadCaseFindings
from tubfem.findings.tube_results import FrameFindings, TubeFinding
from tubfem.report.numbers import margin, percent, three
from tubfem.report.terminal import put, say, table_of

TUBES_SHOWN = 12
SIDES = r"\.(left|right)(?=-|$)"


def print_tubes(console: Console, load_case: LoadCaseFindings) -> None:
    """Every frame's tubes, lowest margins first; of a stiffener its worst piece."""
    for frame in load_case.frames.values():
        if frame.name.startswith("subframes."):
            _frame(console, load_case, frame)
    stiffeners: dict[str, FrameFindings] = {}
    for frame in sorted(load_case.frames.values(), key=lambda frame: frame.worst.margin):
        if frame.name.startswith("stiffeners."):
            stiffeners.setdefault(re.sub(SIDES, "", frame.name), frame)  # of both sides the worse
    table = table_of("stiffener", "made of", "m", "pull, N", "bend, N·m", "MPa", "margin", right=range(2, 7))
    for name, frame in stiffeners.items():
        worst, length = frame.worst, sum(tube.length for tube in frame.tubes)
        loads = (three(length), three(worst.normal), three(worst.bending), three(1e-6 * worst.stress))
        made = f"{worst.size}, {worst.material}"
        table.add_row(name.removeprefix("stiffeners."), made, *loads, margin(worst.strength_margin))
    put(console, f"Stiffeners as bonded beams, load case {load_case.name}: where each is worst", table)


def frame_masses(masses: dict[str, float]) -> str:
    """Masses of all frames in words, both sides of a stiffener together."""
    both: dict[str, float] = {}
    for name, mass in masses.items():
        plain = re.sub(SIDES, "", name)
        both[plain] = both.get(plain, 0.0) + mass
    return ", ".join(f"{name} {three(mass)} kg" for name, mass in both.items())


def _frame(console: Console, load_case: LoadCaseFindings, frame: FrameFindings) -> None:
    table = table_of("tube", "size", "pull, N", "bend, N·m", "MPa", "yield", "column", right=range(2, 7))
    tubes: dict[str, TubeFinding] = {}
    for tube in sorted(frame.tubes, key=lambda tube: tube.margin):
        tubes.setdefault(re.sub(SIDES, "", tube.label), tube)  # of both sides the worse
    for label, tube in list(tubes.items())[:TUBES_SHOWN]:
        loads = (three(tube.normal), three(tube.bending), three(1e-6 * tube.stress))
        column = "-" if tube.column_margin is None else margin(tube.column_margin)
        size = f"{tube.size.removeprefix('tube ')} {tube.material}"
        table.add_row(label, size, *loads, margin(tube.strength_margin), column)
    put(console, f"Tubes of {frame.name}, load case {load_case.name}: yield, and as columns", table)
    more = f"{len(tubes) - TUBES_SHOWN} more in tubes.csv; " if len(tubes) > TUBES_SHOWN else ""
    say(console, f"{more}{three(frame.mass)} kg, {percent(frame.energy_share)} of the strain energy.")
