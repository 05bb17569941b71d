"""The comparison on the terminal: one table for each load case."""

from collections.abc import Sequence

from rich.console import Console

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, place, signed, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.compare import PREFIXES, Compared, Lowest, Told, gain_per_price

PLIES = "plies, cores"
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
    for name in base.load_cases:
        headings = ["", "N·m/deg", "gain", "kg", "gain/kg", *["cost", "gain/price"] * priced]
        rows = table_of(*headings, right=range(1, len(headings)))
        for number, each in enumerate(compared):
            found = each.load_cases.get(name)
            if found is None:
                continue
            gain = next((gain for gain in each.gains if gain.load_case == name), None)
            per_price = None if gain is None else gain_per_price(base, each, gain)
            rows.add_row(
                f"{number}",
                "-" if found.stiffness is None else three(found.stiffness),
                "-" if gain is None else f"{gain.gain_percent:+.2f} %",
                f"{each.mass:.2f}",
                "-" if gain is None or gain.gain_per_kg is None else signed(gain.gain_per_kg),
                *[_cost(each), "-" if per_price is None else signed(per_price)] * priced,
            )
        put(console, f"Load case {name}", rows)
        _margins(console, name, compared)
    unpriced = sorted({name for each in compared for name in each.cost.unpriced})
    if unpriced:
        say(console, f"Without a price in the case: {', '.join(unpriced)}. Costs leave them out.")
    for each in compared:
        if each.own_mesh:
            say(
                console,
                f"{each.variant.name} has another geometry and a mesh of its own; small gains may be the mesh's.",
            )


def _margins(console: Console, name: str, compared: Sequence[Compared]) -> None:
    """The lowest margins of every variant by kind, and where they are."""
    told = {number: each.load_cases[name] for number, each in enumerate(compared) if name in each.load_cases}
    kinds = [what for what in PREFIXES if any(what in found.lowest_others for found in told.values())]
    table = table_of("", PLIES, *kinds, right=range(1, len(kinds) + 2))
    for number, found in told.items():
        others = [found.lowest_others.get(what) for what in kinds]
        worst = "-" if found.lowest is None else margin(found.lowest.margin)
        table.add_row(f"{number}", worst, *("-" if other is None else margin(other[0]) for other in others))
    put(console, f"Lowest margins, load case {name}", table)
    places = [text for number, found in told.items() for text in _places(number, found, told[0])]
    for text in ["Where, and of variants only what is elsewhere:", *places] if places else ():
        say(console, text)


def _places(number: int, now: Told, before: Told) -> list[str]:
    """Where the lowest margins are, of a variant only what is elsewhere than in the base."""
    found = []
    worst = now.lowest
    if worst is not None and not (number and before.lowest is not None and _same_place(worst, before.lowest)):
        found.append(f"{PLIES}: {worst.ply}, {worst.mode}, at x, y, z = {place(worst.position)} mm")
    for what, (_, name) in now.lowest_others.items():
        then = before.lowest_others.get(what)
        if not (number and then is not None and _sideless(name) == _sideless(then[1])):
            found.append(f"{what}: {name.removeprefix(PREFIXES[what])}")
    return [f"{number}  {'; '.join(found)}"] if found else []


def _same_place(one: Lowest, other: Lowest) -> bool:
    """Left and right count as one place."""
    apart = max(abs(abs(a) - abs(b)) for a, b in zip(one.position, other.position, strict=True))
    return (one.region, one.mode, one.ply_index) == (other.region, other.mode, other.ply_index) and apart < CLOSE


def _sideless(name: str) -> str:
    return name.replace(".left", "").replace(".right", "")


def _cost(each: Compared) -> str:
    return " + ".join(f"{three(amount)} {currency}" for currency, amount in each.cost.amounts.items()) or "-"
