"""The ranking of places for one more ply on the terminal."""

from rich.console import Console

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, signed, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.next_ply import Candidate, NextPly
from tubfem.study.weakest import Weakest

SHOWN = 15
ROOM = 31  # of a change in the table, 80 wide


def print_next_ply(console: Console, found: NextPly) -> None:
    """The best candidates, what full solves say of the first, and what gains nothing."""
    heading(console, found.case.title or found.case.path)
    for text in STANDING:
        say(console, text)
    now = found.weakest
    lowest = (
        "nothing judged" if now.margin is None else f"lowest margin {margin(now.margin)} in {now.place} ({now.kind})"
    )
    base = f"Now {three(found.stiffness)} N·m/deg, {found.mass:.2f} kg, {lowest}; load case {found.load_case}."
    say(console, base)
    order = {
        "stiffness": f"gain for each {found.per if found.per == 'kg' else 'unit of money'}",
        "margin": "lowest margin",
    }
    useful = [c for c in found.candidates if not c.no_gain or found.goal == "margin"]
    currencies = {c.currency for c in useful if c.currency}
    each = f"per {currencies.pop()}" if len(currencies) == 1 else "per price" if currencies else ""
    headings = ["change", "N·m/deg", "%", "kg", "per kg", *[each] * bool(each), "margin"]
    rows = table_of(*headings, right=range(1, len(headings)), gap=1)
    for candidate in useful[:SHOWN]:
        cells = _cells(candidate, named=each == "per price")
        rows.add_row(*(cells if each else [*cells[:5], cells[6]]))
    put(console, f"One more ply: what it wins, ranked by {order[found.goal]}", rows)
    for line in _elsewhere(useful[:SHOWN], now):
        say(console, line)
    if not useful:
        say(console, "No gain: nothing that was tried makes the tub stiffer.")
    for line in _shelf(useful[:SHOWN]):
        say(console, line)
    confirmed = [c for c in found.candidates if c.confirmed is not None]
    check = table_of("change", "N·m/deg", "apart", "margin", "apart", right=range(1, 5))
    for candidate in confirmed:
        gain = 100 * (candidate.confirmed / found.stiffness - 1)
        check.add_row(
            in_two(candidate.text),
            f"{candidate.confirmed:.1f}",
            f"{round(candidate.gain_percent - gain, 3) + 0.0:+.3f} %",
            margin(candidate.confirmed_weakest.margin),
            _apart(candidate),
        )
    put(console, "The first solved in full, and how far off the numbers above are", check)
    for candidate in confirmed:
        said, full = candidate.weakest, candidate.confirmed_weakest
        if full.place != said.place:
            say(console, f"{candidate.text}: in full {full.place} ({full.kind}) governs, not {said.place}.")
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
        "are the lowest of plies, cores and joints, indications unless solved in full; a run with --add judges hard "
        "points too.",
    )


def _cells(candidate: Candidate, *, named: bool) -> list[str]:
    """A row; `named` says the currency in it."""
    per_kg, per_price = candidate.gain_per_kg, candidate.gain_per_price
    return [
        in_two(candidate.text),
        signed(candidate.gain),
        f"{candidate.gain_percent:+.2f}",
        f"{candidate.mass:.2f}",
        "-" if per_kg is None else signed(per_kg),
        "-" if per_price is None else signed(per_price) + (f"/{candidate.currency}" if named else ""),
        margin(candidate.weakest.margin),
    ]


def _elsewhere(candidates: list[Candidate], now: Weakest) -> list[str]:
    """What governs the margin with a change, where it is another region or joint than before."""
    others: dict[str, list[str]] = {}
    for candidate in candidates:
        with_it = candidate.weakest
        if with_it.place != now.place and with_it.margin is not None:
            others.setdefault(f"{with_it.place} ({with_it.kind})", []).append(candidate.text)
    return [f"The margin is that of {place} with {', '.join(texts)}." for place, texts in others.items()]


def _apart(candidate: Candidate) -> str:
    said, full = candidate.weakest.margin, candidate.confirmed_weakest.margin
    return "-" if said is None or full is None else f"{round(said - full, 3) + 0.0:+.3f}"


def in_two(text: str) -> str:
    """A change that is too long for its column on a narrow terminal, broken before what is laid."""
    return text if len(text) <= ROOM else "\n  =".join(text.split("=", 1))


def _shelf(candidates: list[Candidate]) -> list[str]:
    """What of the shown takes more cloth than lies on the shelf, and how much the first takes."""
    lines = []
    first = next((c for c in candidates if c.enough and c.length is not None), None)
    if first is not None:
        lines.append(f"{first.text} takes {three(first.length)} m off the roll, without offcuts; so much is on hand.")
    short = [f"{c.text} ({c.length:.1f} m)" for c in candidates if c.enough is False and c.length is not None]
    if short:
        lines.append(f"More than is on hand: {', '.join(short)}.")
    return lines
