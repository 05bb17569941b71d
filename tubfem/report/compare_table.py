"""The comparison on the terminal: one table for each load case."""

from collections.abc import Sequence

from rich.console import Console

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, place, signed, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.compare import Compared, Lowest, gain_per_price

CLOSE = 0.02  # m: the lowest margin of two variants is in one place


def print_comparison(console: Console, compared: Sequence[Compared]) -> None:
    """Stiffness, mass, cost, gain for each kilogram and each unit of money, and the lowest margin of every variant."""
    base = compared[0]
    heading(console, base.variant.case.title or base.variant.case.path)
    for text in STANDING:
        say(console, text)
    for number, each in enumerate(compared):
        say(console, f"{number}  {each.variant.name}")
    priced = any(each.cost.amounts for each in compared)
    for name, before in base.load_cases.items():
        headings = ["", "N·m/deg", "gain", "kg", "gain/kg", *["cost", "gain/price"] * priced, "margin", "joints"]
        rows, moves = table_of(*headings, right=range(1, len(headings))), []
        for number, each in enumerate(compared):
            found = each.load_cases.get(name)
            if found is None:
                continue
            gain = next((gain for gain in each.gains if gain.load_case == name), None)
            worst, other = found.lowest, found.lowest_other
            per_price = None if gain is None else gain_per_price(base, each, gain)
            rows.add_row(
                f"{number}",
                "-" if found.stiffness is None else three(found.stiffness),
                "-" if gain is None else f"{gain.gain_percent:+.2f} %",
                f"{each.mass:.2f}",
                "-" if gain is None or gain.gain_per_kg is None else signed(gain.gain_per_kg),
                *[_cost(each), "-" if per_price is None else signed(per_price)] * priced,
                "-" if worst is None else margin(worst.margin),
                "-" if other is None else margin(other[0]),
            )
            moves += _moved(number, worst, before.lowest)
            moves += _moved_other(number, other, before.lowest_other)
        put(console, f"Load case {name}", rows)
        say(console, "Margin: the lowest of plies and cores; joints: that of joints, hard points, tubes and openings.")
        for text in moves:
            say(console, text)
    unpriced = sorted({name for each in compared for name in each.cost.unpriced})
    if unpriced:
        say(console, f"Without a price in the case: {', '.join(unpriced)}. Costs leave them out.")
    for each in compared:
        if each.own_mesh:
            say(
                console,
                f"{each.variant.name} has another geometry and a mesh of its own; small gains may be the mesh's.",
            )


def _moved(number: int, now: Lowest | None, before: Lowest | None) -> list[str]:
    """Where the lowest margin is, for the base and wherever it is another one; left and right count as one place."""
    if now is None or before is None:
        return []
    apart = max(abs(abs(a) - abs(b)) for a, b in zip(now.position, before.position, strict=True))
    same = (now.region, now.mode, now.ply_index) == (before.region, before.mode, before.ply_index)
    if number and same and apart < CLOSE:
        return []
    return [f"{number}: lowest margin in {now.ply}, {now.mode}, at x, y, z = {place(now.position)} mm"]


def _moved_other(number: int, now: tuple[float, str] | None, before: tuple[float, str] | None) -> list[str]:
    """The same of all that is no region."""
    if now is None or (number and before is not None and _sideless(now[1]) == _sideless(before[1])):
        return []
    return [f"{number}: of joints, hard points, tubes and openings it is in {now[1]}"]


def _sideless(name: str) -> str:
    return name.replace(".left", "").replace(".right", "")


def _cost(each: Compared) -> str:
    return " + ".join(f"{three(amount)} {currency}" for currency, amount in each.cost.amounts.items()) or "-"
