"""A schedule of whole plies on the terminal."""

import json

from rich.console import Console

from tubfem.case.planning import DEGREE, bias_kept
from tubfem.report.cautions import STANDING
from tubfem.report.numbers import margin, percent, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.schedule import Scheduled

WHAT = {"joint": "joint ", "foam": "foam in "}  # before the names of blocks
SURE = 1e-3  # of the stiffness: a reduced model as near as this to the run in full is told without a word
FEWER = " A place gets more plies or has fewer, not both; cores, coverings and the outermost plies stay."
LOADS = (
    "What is left out was not missed by the load cases of this file. Feet, seats, belts, jacks and knocks that are not "
    "in it may miss it."
)
OFTEN = 0.02  # share of the twist under which nothing is named


def print_schedule(console: Console, found: Scheduled) -> None:
    """What was asked, what to lay where, what it takes off the rolls, and how sure all that is."""
    heading(console, found.case.title or found.case.path)
    for text in STANDING:
        say(console, text)
    say(console, f"Now {three(found.base_stiffness)} N·m/deg, {found.before.mass.total:.2f} kg.")
    for line in told(found):
        say(console, line)
    for title, texts, sign in (("Lay more", found.texts, 1), ("Leave out", found.drops, -1)):
        rows = table_of("where", "plies more" if sign > 0 else "plies fewer", "lay" if sign > 0 else "leave out")
        for region, number in found.plies.items():
            if sign * number > 0:
                own = [text.partition("=")[2] for text in texts if text.startswith(f"{region}=")]
                rows.add_row(region, f"{sign * number}", ", ".join(own))
        put(console, title, rows)
    cloth = table_of("ply", "m²", "m off the roll", "on hand", right=(1, 2, 3))
    for name, area in found.cloth.items():
        ply = found.case.plies[name]
        length = "-" if ply.roll_width is None else f"{area * (1 + found.asked.waste) / ply.roll_width:.1f}"
        stock = "-" if ply.on_hand is None else f"{ply.on_hand.amount:g} {ply.on_hand.unit}"
        cloth.add_row(name, f"{area:.2f}", length, stock)
    put(console, f"Cloth, {percent(found.asked.waste)} cut off", cloth)
    if found.saved:
        areas = ", ".join(f"{area:.2f} m² of {name}" for name, area in found.saved.items())
        say(console, f"Left out: {areas}, offcuts not counted. What is on hand is not more for it.")
    held = table_of("holds the rest of the twist", "share", "ten times as stiff", "", right=(1, 2))
    for block in found.blocks:
        if block.share >= OFTEN:
            name = "mounts and bolts" if block.kind == "mount" else WHAT.get(block.kind, "") + block.name
            held.add_row(
                name, percent(block.share), three(block.stiffness), "has the most allowed" if block.full else ""
            )
    put(console, "What is left", held)
    if found.texts or found.drops:
        heading(console, "To take over")
        lines = ["[variants.scheduled]"]
        for key, texts in (("add", found.texts), ("drop", found.drops)):
            lines += [f"{key} = [", *(f"  {json.dumps(text)}," for text in texts), "]"] if texts else []
        for line in lines:
            console.print(f"  {line}", soft_wrap=True, markup=False)
    say(
        console,
        f"{found.choices} choices, {found.programs} programs; full solutions with a change in the reduced model: "
        f"{found.snapshots}. The bound is of its groups and of the candidates and limits given; margins have no part "
        f"in it.{FEWER if found.fewer else ''}",
    )


def told(found: Scheduled) -> list[str]:
    """The answer in sentences."""
    lines = []
    springs = found.asked.springs
    if springs is not None and found.target is not None:
        lines.append(
            f"Springs of {three(springs.front * DEGREE)} and {three(springs.rear * DEGREE)} N·m/deg keep "
            f"{percent(springs.keep)} of their balance on a tub of {three(found.target)} N·m/deg; as found they keep "
            f"{percent(bias_kept(found.confirmed / DEGREE, springs.front, springs.rear))}."
        )
    lines.append(_answer(found))
    lines.append(
        f"Solved in full: {found.confirmed:.0f} N·m/deg; the reduced model said {found.low:.0f} to {found.high:.0f}. "
        + _margins(found)
    )
    if found.weaker:
        places = "; ".join(f"{place}: {margin(own)}" for place, own in found.weaker.items())
        lines.append(f"Negative by what is left out: {places}.")
    if found.drops:
        lines.append(LOADS)
    return lines


def _margins(found: Scheduled) -> str:
    if found.margin is None:
        return "No margin is judged: nothing that is loaded has a limit."
    before = "not judged" if found.base_margin is None else margin(found.base_margin)
    return f"Lowest margin of plies, cores and joints {margin(found.margin)} in {found.place}, before {before}."


def _answer(found: Scheduled) -> str:
    price = "" if found.price is None or found.currency is None else f", {_money(found.price, found.currency)}"
    laid = f"{abs(found.mass):.2f} kg {'more' if found.mass >= 0 else 'less'}{price}"
    weak = "" if found.strong else " A margin is negative all the same, and no choice that was tried mends it."
    off = found.confirmed / found.summed - 1 if found.summed > 0 else 0.0
    if found.target is None:
        best = (
            f"No other choice gives more than {found.bound:.0f}, "
            f"{100 * max(found.bound / found.confirmed - 1, 0.0):.2f} % above."
            if abs(off) <= SURE
            else f"The bound comes from quicker sums, which give this choice {found.summed:.0f}, {_less(off)} than the "
            f"run in full: by them no other gives more than {found.bound:.0f}, "
            f"{100 * max(found.bound / found.summed - 1, 0.0):.2f} % above this one."
        )
        return (
            f"The stiffest found with the cloth on hand: {found.confirmed:.0f} N·m/deg "
            f"({100 * (found.confirmed / found.base_stiffness - 1):+.1f} %) for {laid}. {best}{weak}"
        )
    if not found.possible:
        return (
            f"{three(found.target)} N·m/deg is out of reach: the stiffest that the limits and the cloth on hand allow "
            f"gives {found.confirmed:.0f} N·m/deg for {laid}. What holds the rest of the twist stands below."
        )
    if found.reached and not found.texts and not found.drops:
        asked = f"{three(found.target)} N·m/deg"
        less = " Nothing that was tried may be left out." if found.fewer else ""
        return f"{asked}: the tub has {found.confirmed:.0f} as it is, and nothing need be laid.{less}{weak}"
    met = "reached" if found.reached else f"missed by {100 * (1 - found.confirmed / found.target):.2f} %"
    unit = "kg" if found.asked.least == "mass" else found.currency
    worth = found.worth
    gap = 0.0 if worth <= 0 else max(worth - found.bound, 0.0) / worth
    apart = (
        ""
        if abs(off) <= SURE
        else f" That bound comes from quicker sums, which give this choice {_less(off)} stiffness than the run in "
        "full, and is no surer than that."
    )
    if found.summed <= 0:
        apart = " That bound comes from quicker sums, which add up what several places take off one stack and leave "
        apart += "nothing of it here: it is only an indication."
    by_area = f" By area, corners not counted, that is {_signed(worth)} kg." if found.asked.least == "mass" else ""
    if found.fewer:
        beyond = max(worth - found.bound, 0.0)
        least = (
            "Stiffness alone allows no less, margins left aside."
            if three(beyond) == "0"
            else f"By stiffness alone no choice comes to less than {_signed(found.bound)} {unit}: {three(beyond)} "
            f"{unit} below this one, margins left aside."
        )
        return (
            f"{three(found.target)} N·m/deg is {met} with {laid}, the least {found.asked.least} found.{by_area} "
            f"{least}{apart}{weak}"
        )
    return (
        f"{three(found.target)} N·m/deg is {met} with {laid}, the least {found.asked.least} found.{by_area} "
        f"No choice needs less than {three(max(found.bound, 0.0))} {unit}: at most {percent(gap)} too much."
        f"{apart}{weak}"
    )


def _signed(amount: float) -> str:
    return f"{'-' if amount < 0 else ''}{three(abs(amount))}"


def _money(price: float, currency: str) -> str:
    return f"{three(abs(price))} {currency}{' less' if price < 0 else ''}"


def _less(off: float) -> str:
    return f"{100 * abs(off):.2f} % {'less' if off > 0 else 'more'}"
