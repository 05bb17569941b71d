"""Wheel loads and forces in suspension members on the terminal."""

from rich.console import Console

from tubfem.findings.results import LoadCaseFindings
from tubfem.report.numbers import three
from tubfem.report.road_words import factor_text, felt_words, members_by_side
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.tub.model import RoadLoads

RESTING = 1.0  # N: a smaller force is rounding


def print_road(console: Console, load_case: LoadCaseFindings, road: RoadLoads) -> None:
    """The car, what it feels, its wheels' loads, its members' forces; factors with their sources."""
    heading(console, f"Load case {load_case.name}: the car on its wheels")
    x, y, z = (round(1e3 * c) + 0 for c in road.centre)
    say(console, f"{three(road.mass)} kg in all, centre of mass x = {x}, y = {y}, z = {z} mm; {felt_words(road)}.")
    for factor in road.factors:
        say(console, f"{factor.name.replace('_', ' ')} {factor_text(factor.name, factor.value)}: {factor.source}.")
    table = table_of("wheel, N", "aft", "right", "up", right=(1, 2, 3))
    for name, force in road.wheels.items():
        table.add_row(name, *(_newton(value) for value in force))
    if max(abs(value) for value in road.pull) > RESTING:
        table.add_row("jack or rope", *(_newton(value) for value in road.pull))
    put(console, None, table)
    members = members_by_side(road)
    if members:
        table = table_of("member, N", "left", "right", right=(1, 2))
        for name, left, right in members:
            table.add_row(name, *("-" if value is None else _newton(value) for value in (left, right)))
        put(console, None, table)
        say(console, "Members: + pulls, - pushes; at an arm's ball the size of its force.")


def _newton(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= RESTING else "0"
