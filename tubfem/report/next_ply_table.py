"""The ranking of places for one more ply on the terminal."""

from rich.console import Console

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, signed, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.next_ply import Candidate, NextPly

SHOWN = 15


def print_next_ply(console: Console, found: NextPly) -> None:
    """The best candidates, what full solves say of the first, and what gains nothing."""
    heading(console, found.case.title or found.case.path)
    for text in STANDING:
        say(console, text)
    base = f"Now {three(found.stiffness)} N·m/deg, {found.mass:.2f} kg, "
    say(console, base + f"lowest margin {margin(found.margin)} in {found.region}; load case {found.load_case}.")
    order = {
        "stiffness": f"gain for each {found.per if found.per == 'kg' else 'unit of money'}",
        "margin": "lowest margin",
    }
    rows = table_of("change", "gain", "N·m/deg", "kg", "per kg", "per price", "margin", right=range(1, 7))
    useful = [c for c in found.candidates if not c.no_gain or found.goal == "margin"]
    for candidate in useful[:SHOWN]:
        rows.add_row(*_cells(candidate))
    put(console, f"One more ply, ranked by {order[found.goal]}", rows)
    if not useful:
        say(console, "No gain: nothing that was tried makes the tub stiffer.")
    for line in _shelf(useful[:SHOWN]):
        say(console, line)
    confirmed = [c for c in found.candidates if c.confirmed is not None]
    check = table_of("change", "N·m/deg", "in full", "apart", "margin", "in full", right=range(1, 6))
    for candidate in confirmed:
        gain = 100 * (candidate.confirmed / found.stiffness - 1)
        check.add_row(
            candidate.text,
            f"{candidate.stiffness:.1f}",
            f"{candidate.confirmed:.1f}",
            f"{candidate.gain_percent - gain:+.3f} %",
            margin(candidate.worst_margin),
            margin(candidate.confirmed_margin),
        )
    put(console, "The first solved in full", check)
    nothing = [c for c in found.candidates if c.no_gain]
    if nothing:
        names = ", ".join(c.text for c in nothing[:8])
        more = f" and {len(nothing) - 8} more" if len(nothing) > 8 else ""
        put_line = f"No gain (under 0.01 %): {names}{more}."
        say(console, put_line)
    worst = max((c.error_estimate / found.stiffness for c in found.candidates), default=0.0)
    full, small = found.freedoms
    solved = f", {found.snapshots} of them full solutions with a change" if found.snapshots else ""
    say(
        console,
        f"{len(found.candidates)} candidates, {1e3 * found.each:.0f} ms each in {small} unknowns{solved}, instead of "
        f"{full}; stiffness is the middle of a bracket, at most {100 * worst:.2f} % to either side. Margins "
        "are indications unless solved in full.",
    )


def _cells(candidate: Candidate) -> list[str]:
    per_kg, per_price = candidate.gain_per_kg, candidate.gain_per_price
    return [
        candidate.text,
        f"{candidate.gain_percent:+.2f} %",
        signed(candidate.gain),
        f"{candidate.mass:.2f}",
        "-" if per_kg is None else signed(per_kg),
        "-" if per_price is None else f"{signed(per_price)}/{candidate.currency}",
        margin(candidate.worst_margin),
    ]


def _shelf(candidates: list[Candidate]) -> list[str]:
    """What of the shown takes more cloth than lies on the shelf, and how much the first takes."""
    lines = []
    first = next((c for c in candidates if c.enough and c.length is not None), None)
    if first is not None:
        lines.append(f"{first.text} takes {first.length:.1f} m off the roll, without offcuts; so much is on hand.")
    short = [f"{c.text} ({c.length:.1f} m)" for c in candidates if c.enough is False and c.length is not None]
    if short:
        lines.append(f"More than is on hand: {', '.join(short)}.")
    return lines
