"""Rims of openings, and edges of cores, on the terminal."""

from rich.console import Console

from tubfem.findings.results import LoadCaseFindings
from tubfem.findings.rim_results import OpeningFindings
from tubfem.report.numbers import margin, place, three
from tubfem.report.terminal import put, say, table_of

EDGES_SHOWN = 6


def print_openings(console: Console, load_case: LoadCaseFindings) -> None:
    """Every opening, lowest margin first, and what was tried round it."""
    if not load_case.openings:
        return
    table = table_of("opening", "margin", "by", "first", "at rim", "further out", right=(1, 4, 5))
    tried, notes = [], []
    for opening in sorted(load_case.openings.values(), key=_margin):
        if not opening.checks:
            notes.append(f"{opening.name}: {opening.note}.")
            continue
        worst = opening.checks[0]
        table.add_row(
            f"{opening.name} at {place(worst.position)} mm",
            margin(worst.margin),
            worst.criterion,
            f"{worst.kind}, {worst.mode}; {worst.ply}",
            f"{three(100 * opening.strain_rim)} %",
            f"{three(100 * opening.strain_round)} %",
        )
        if opening.doubler is not None:
            tried.append(f"{opening.name}: {margin(opening.doubler.margin)} with {opening.doubler.text}")
    put(console, f"Openings, load case {load_case.name}: strain 1 mm from the rim and over 4 mm", table)
    for text in (*notes, *tried):
        say(console, text)
    if tried:
        say(
            console,
            "Doublers were tried beside the rim alone, the rest held; write one into the case and run it to confirm.",
        )


def print_core_edges(console: Console, load_case: LoadCaseFindings) -> None:
    """Lines on which a core ends, the weakest first."""
    if not load_case.core_edges:
        return
    table = table_of("core ends at", "skin, N/mm", "peel, MPa", "margin", "at its", right=(1, 2, 3))
    for name, edge in list(load_case.core_edges.items())[:EDGES_SHOWN]:
        at = f"{edge.where} of {edge.region} at {place(edge.position)} mm"
        at += "; test needed" if edge.test_needed else ""
        table.add_row(name, three(1e-3 * edge.force), three(1e-6 * edge.demand), margin(edge.margin), at)
    put(console, f"Where cores end, load case {load_case.name}: a weak estimate, not part of the margins", table)
    more = len(load_case.core_edges) - EDGES_SHOWN
    if more > 0:
        say(console, f"and {more} more in results.json")


def _margin(opening: OpeningFindings) -> float:
    return float("inf") if opening.margin is None else opening.margin
