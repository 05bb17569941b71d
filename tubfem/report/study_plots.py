"""What the page draws of the studies beside it, from their JSON files: curves and bars, each with its numbers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tubfem.report import numbers
from tubfem.report.chart import Chart, draw, ticks
from tubfem.study.compare import PREFIXES, lowest_by_kind

CURVES, BARS = 6, 12  # shown at most


@dataclass(frozen=True, slots=True)
class Plot:
    """Curves with their names, `x` and `y` their kinds of quantity, `way` what lies along x."""

    title: str
    drawing: Chart
    names: tuple[str, ...]
    x: str
    y: str
    way: str


@dataclass(frozen=True, slots=True)
class Bars:
    """Rows of (name, length from 0 to 1, its number as text); `before`, a part of every length that was there.

    `words` are said before them.
    """

    title: str
    rows: tuple[tuple[str, float, str], ...]
    before: tuple[float, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Rows:
    """A table whose keys say how their column is written, as the study's own file does."""

    title: str
    keys: tuple[str, ...]
    cells: tuple[tuple[Any, ...], ...]


def plots(name: str, found: Mapping[str, Any]) -> list[Plot | Bars | Rows]:
    """Drawings of one study; none where its file holds other keys than this version writes."""
    try:
        return DRAWN[name](found) if name in DRAWN else []
    except (KeyError, TypeError, ValueError, IndexError):
        return []


def _compare(found: Mapping[str, Any]) -> list[Plot | Bars | Rows]:
    """Twist of all variants under the torque of the first, and what that is less, for each torsion load case."""
    drawn: list[Plot | Bars | Rows] = []
    for case, base in found["variants"][0]["load_cases"].items():
        drawn.append(_side_by_side(case, found["variants"]))
        if base["torque"] is None:
            continue
        curves, names = [], []
        for each in found["variants"][:CURVES]:
            own = each["load_cases"].get(case)
            if own is None or not own["twist_curve"]:
                continue
            scale = base["torque"] / own["torque"]
            curves.append(tuple(np.array([p[key] for p in own["twist_curve"]]) for key in ("x", "twist_deg")))
            curves[-1] = curves[-1][0], scale * curves[-1][1]
            names.append(f"{each['name']}: {numbers.three(own['stiffness_Nm_per_deg'])} N·m/deg")
        less = [(x, np.interp(x, *curves[0]) - twist) for x, twist in curves]
        for title, lines in (
            (f"Twist, load case {case}", curves),
            (f"Twist less than the first, from the front to x, load case {case}", less),
        ):
            drawn.append(Plot(title, draw(lines), tuple(names), "length", "angle", "x from the front"))
    return drawn


def _side_by_side(case: str, variants: Sequence[Mapping[str, Any]]) -> Rows:
    """What the terminal shows of a load case."""
    keys = ("variant", "stiffness_Nm_per_deg", "gain_percent", "mass", "gain_per_kg", "cost")
    rows = []
    for each in variants:
        own = each["load_cases"].get(case)
        if own is None:
            continue
        cost = " + ".join(f"{numbers.three(amount)} {currency}" for currency, amount in each["cost"].items())
        worst, others = own["worst"] or {}, lowest_by_kind(own["others"])
        row = (own["stiffness_Nm_per_deg"], own["gain_percent"], each["mass"], own["gain_per_kg"], cost)
        places = [worst.get("margin"), worst.get("ply")]
        for what, prefix in PREFIXES.items():
            lowest, name = others.get(what, (None, ""))
            places += [lowest, name.removeprefix(prefix)]
        rows.append((each["name"], *row, *places))
    keys = (*keys, "lowest_margin", "in")
    for what in PREFIXES:
        keys += (f"margin_of_{what.replace(' ', '_')}", "in")
    said = [k for k in range(len(keys)) if any(row[k] not in (None, "") for row in rows)]
    cells = tuple(tuple(row[k] for k in said) for row in rows)
    return Rows(f"Load case {case}", tuple(keys[k] for k in said), cells)


def _next_ply(found: Mapping[str, Any]) -> list[Plot | Bars]:
    """Gains of the best places, or the lowest margins where these were asked for: bars are demand over allowable."""
    if found["goal"] == "margin":
        rows = [row for row in found["rows"] if row["worst_margin"] is not None][:BARS]
        shown = tuple(
            (
                row["change"],
                min(1 / (1 + row["worst_margin"]), 1.0),
                f"{numbers.margin(row['worst_margin'])} {row['worst_place']}",
            )
            for row in rows
        )
        now = found["base"]["worst_margin"]
        words = "" if now is None else f"Now {numbers.margin(now)}, {found['base']['worst_place']}."
        return [Bars("Lowest margin with one ply more, best first", shown, words=words)] if shown else []
    rows = [row for row in found["rows"] if not row["no_gain"]][:BARS]
    most = max((row["gain_percent"] for row in rows), default=0.0)
    shown = tuple((row["change"], row["gain_percent"] / most, f"{row['gain_percent']:+.2f} %") for row in rows)
    return [Bars("Gain in stiffness of the best places, best for their mass or price first", shown)] if shown else []


def _refine(found: Mapping[str, Any]) -> list[Plot | Bars]:
    """How much stiffer than the finest mesh each is, and at size nought where that leads."""
    sizes = np.array([mesh["size"] for mesh in found["meshes"]])
    drawn: list[Plot | Bars] = []
    for each in found["quantities"]:
        if each["what"] != "stiffness":
            continue
        finest, limit = each["values"][0], each["extrapolated"]
        x, y = (sizes, each["values"]) if limit is None else (np.append(0.0, sizes), [limit, *each["values"]])
        title = f"Stiffness more than on the finest mesh, load case {each['load_case']}"
        name = f"finest: {numbers.three(finest)} N·m/deg"
        if limit is not None:
            name += f"; at size nought: {numbers.three(limit)} N·m/deg"
        drawn.append(Plot(title, draw([(x, np.array(y) - finest)]), (name,), "length", "stiffness", "mesh size"))
    return drawn


def _schedule(found: Mapping[str, Any]) -> list[Plot | Bars]:
    """Plies of every place that gets more or has fewer, as it was and as chosen."""
    laid = sorted(found["laid"], key=lambda each: -each["plies"])[:BARS]
    most = max((max(each["plies"], each["plies_before"]) for each in laid), default=1)
    rows = tuple((each["region"], each["plies"] / most, _plies(each)) for each in laid)
    before = tuple(each["plies_before"] / most for each in laid)
    what = "gets more or has fewer" if any(each.get("leave_out") for each in laid) else "gets more"
    return [Bars(f"Plies of every place that {what}, as it was and as chosen", rows, before)] if rows else []


def _plies(each: Mapping[str, Any]) -> str:
    more = each["plies"] - each["plies_before"]
    if more < 0:
        return f"{each['plies_before']} - {-more}: without {each['leave_out']}"
    return f"{each['plies_before']} + {more}: {each['lay']}"


def _spread(found: Mapping[str, Any]) -> list[Plot | Bars]:
    """How many tubs lie where, what drives the stiffness, and the lowest margins."""
    drivers = sorted(found["stiffness"]["drivers"], key=lambda each: -each["total"])[:BARS]
    rows = tuple((d["name"], min(max(d["total"], 0.0), 1.0), numbers.percent(max(d["total"], 0.0))) for d in drivers)
    return [
        _tubs(found["stiffness"], found["base"]["stiffness_Nm_per_deg"]),
        Bars("What drives the stiffness: share of its variance, with all that goes with it", rows),
        _lowest(found["regions"], "Lowest margins of plies and cores"),
        *([_lowest(found["joints"], "Lowest margins of joints")] if found["joints"] else []),
    ]


def _tubs(found: Mapping[str, Any], now: float) -> Bars:
    values = np.array(found["values"])
    edges = ticks(float(values.min()), float(values.max()), 5)
    counts, _ = np.histogram(values, bins=edges)
    rows = tuple(
        (f"{numbers.three(low)} to {numbers.three(high)} N·m/deg", n / counts.max(), numbers.percent(n / len(values)))
        for low, high, n in zip(edges[:-1], edges[1:], counts.tolist(), strict=True)
    )
    words = (
        f"{numbers.three(found['low'])} to {numbers.three(found['high'])} N·m/deg holds nine tubs of ten built like "
        f"this; the run itself says {numbers.three(now)} N·m/deg."
    )
    return Bars("How many tubs lie where", rows, words=words)


def _lowest(places: Mapping[str, Any], title: str) -> Bars:
    """Regions or joints by the margin that one tub in twenty is below; bars are demand over allowable there."""
    worst = sorted(places.items(), key=lambda each: each[1]["margin"]["low"])[:BARS]
    rows = tuple(
        (
            name,
            min(1 / (1 + found["margin"]["low"]), 1.0),
            f"{numbers.margin(found['margin']['low'])}, middle {numbers.margin(found['margin']['middle'])}",
        )
        for name, found in worst
    )
    return Bars(f"{title}: one tub in twenty is below the first number", rows)


DRAWN = {"compare": _compare, "next_ply": _next_ply, "refine": _refine, "schedule": _schedule, "spread": _spread}
