"""A spread on the terminal: the band, the margins of every region, what drives them, what to measure."""

from collections.abc import Mapping

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, percent, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.spread import Outcome, Spread

JOINTS = 10  # shown, worst first


def print_spread(console: Console, spread: Spread) -> None:
    """Everything that a builder is told of a spread."""
    heading(console, spread.case.title or spread.case.path)
    for text in STANDING:
        say(console, text)
    _band(console, spread)
    _margins(console, spread)
    _drivers(console, spread)
    _measure(console, spread)
    _causes(console, spread)
    _confirmed(console, spread)


def in_words(spread: Spread) -> str:
    """The best measurement in a sentence."""
    best = spread.best
    return (
        f"What would narrow the stiffness most: {best.cause.measure}; the standard deviation of "
        f"{percent(spread.stiffness.sd / spread.stiffness.mean)} would become "
        f"{percent(best.measured * spread.stiffness.sd / spread.stiffness.mean)}."
    )


def _band(console: Console, spread: Spread) -> None:
    found = spread.stiffness
    heading(console, f"Load case {spread.load_case}: how sure is the stiffness?")
    low, middle, high = found.quantiles
    answer = Text(f"{three(low)} to {three(high)} N·m/deg", style="bold")
    answer.append("  holds nine tubs of ten built like this; one in twenty lies below, one above", "not bold")
    console.print(Padding(answer, (0, 0, 0, 2), expand=False))
    say(
        console,
        f"Middle {three(middle)}, mean {three(found.mean)}, standard deviation {three(found.sd)} "
        f"({percent(found.sd / found.mean)}); the run itself says {three(spread.stiffness_now)}.",
    )
    say(
        console,
        f"Chance of the draws (one standard error): {three(found.errors[0])} N·m/deg at the lower end, "
        f"{three(found.errors[2])} at the upper, {three(found.errors[1])} in the middle; more --samples make it less. "
        f"{spread.evaluations} draws in a reduced model, {1e3 * spread.each:.1f} ms each.",
    )
    alone = spread.tub_alone
    say(
        console,
        f"The mesh is in it: {spread.mesh.words}. Without it {three(alone[0])} to {three(alone[2])} N·m/deg.",
    )


def _margins(console: Console, spread: Spread) -> None:
    both = (*spread.regions.values(), *spread.joints.values())
    _lowest(console, "region", spread.regions, spread.margins_now, len(spread.regions))
    if spread.joints:
        _lowest(console, "joint", spread.joints, spread.joints_now, JOINTS)
    if both and not any(found.negative for found in both):
        say(console, f"No margin of these is negative in any of {2 * spread.samples} tubs drawn.")
    say(console, "Margins of hard points and tubes are not drawn: the run's own numbers stand for them.")


def _lowest(console: Console, what: str, outcomes: Mapping[str, Outcome], now: Mapping[str, float], shown: int) -> None:
    """Bands of the lowest margins, worst first."""
    ranked = sorted(outcomes.items(), key=lambda each: each[1].margins[0])
    worst, rest = ranked[:shown], ranked[shown:]
    any_negative = any(found.negative for _, found in worst)
    headings = [what, "run", "5 %", "middle", "95 %", *["below 0"] * any_negative, "% driven by"]
    table = table_of(*headings, right=range(1, len(headings) - 1))
    for name, found in worst:
        low, middle, high = found.margins
        own = now.get(name)
        table.add_row(
            name,
            "-" if own is None else margin(own),
            margin(low),
            margin(middle),
            margin(high),
            *[percent(found.negative) if found.negative else "-"] * any_negative,
            first_drivers(found),
        )
    put(console, f"Lowest margin of every {what}: one tub in twenty lies below the 5 % number", table)
    if rest:
        others = "The other joint has" if len(rest) == 1 else f"The other {len(rest)} joints have"
        lowest = margin(rest[0][1].margins[0])
        say(console, f"{others} a 5 % number of {lowest} or higher; all stand in spread.json.")


def first_drivers(found: Outcome, count: int = 2) -> str:
    """The greatest drivers with their shares, those under 5 % left out."""
    said = [f"{100 * d.first:.0f} {d.cause.key.replace('_', ' ')}" for d in found.drivers[:count] if d.first > 0.05]
    return ", ".join(said) or "nothing by itself"


def _drivers(console: Console, spread: Spread) -> None:
    table = table_of("cause", "alone", "error", "with others", "error", right=range(1, 5))
    for d in spread.stiffness.drivers:
        shown = (d.first, d.first_error, d.total, d.total_error)
        table.add_row(d.cause.name, *(percent(max(value, 0.0)) for value in shown))
    put(console, "What drives the stiffness: shares of its variance", table)
    say(
        console,
        "Alone: what would go from the variance if this were known exactly. With others: what it does together with "
        "the rest too; the two differ only by chance where causes simply add up.",
    )
    if spread.single:
        parts = [f"{name} {percent(share)}" for name, share in spread.single if share > 0.02]
        if parts:
            say(console, f"One by one: {'; '.join(parts)}.")


def _measure(console: Console, spread: Spread) -> None:
    now = spread.stiffness.sd / spread.stiffness.mean
    table = table_of("measure", "would leave", right=(1,))
    worth = [d for d in sorted(spread.stiffness.drivers, key=lambda d: d.measured) if d.measured < 0.99]
    for driver in worth:
        words = Text(f"{driver.cause.name}: {driver.cause.measure}")  # brackets are meant
        table.add_row(words, percent(driver.measured * now))
    put(console, f"What to measure: standard deviation of the stiffness, {percent(now)} now", table)
    if worth:
        say(console, in_words(spread))


def _causes(console: Console, spread: Spread) -> None:
    table = table_of("what scatters", "by", "where that is from", right=(1,))
    for driver in sorted(spread.stiffness.drivers, key=lambda d: -d.cause.scatter):
        if driver.cause.key != "mesh":
            table.add_row(driver.cause.name, percent(driver.cause.scatter), Text(driver.cause.source))
    put(console, "Coefficients of variation: yours under [spread] win", table)
    say(
        console,
        f"{percent(spread.case.spread.common)} of the variance of fibre fractions, joints and bonds is common to the "
        "whole tub (one batch of resin, one pair of hands), the rest by region and kind of joint. What the case gives "
        "as measured (E1, E2, G12, thickness of a ply) is taken as certain. Not in it: workmanship, voids, missing or "
        "turned plies, joints that are not bonded, geometry as built.",
    )


def _confirmed(console: Console, spread: Spread) -> None:
    table = table_of("draw", "N·m/deg", "in full", "apart", "margin", "in full", right=range(1, 6))
    places: dict[str, list[str]] = {}
    for one in spread.confirmations:
        table.add_row(
            one.what,
            f"{one.stiffness:.1f}",
            f"{one.stiffness_full:.1f}",
            f"{100 * (one.stiffness / one.stiffness_full - 1):+.2f} %",
            margin(one.margin),
            margin(one.margin_full),
        )
        places.setdefault(one.place, []).append(one.what)
    put(console, "Draws solved in full, without the mesh's part", table)
    for place, draws in places.items():
        which = "" if len(places) == 1 else f" ({'; '.join(draws)})"
        say(console, f"The margin in full is that of {place}{which}.")
