"""The tub in service on the terminal."""

from rich.console import Console

from tubfem.findings.heat_results import HeatFindings
from tubfem.report.numbers import margin, percent
from tubfem.report.terminal import put, say, table_of


def print_heat(console: Console, heat: HeatFindings) -> None:
    """Every region's temperature, its limit, what of it counts, its lowest margin when warm."""
    table = table_of("region", "degC", "limit", "credited", "margin", "kind", "load case", right=(1, 2, 3, 4))
    for region in heat.regions:
        limit = "not known" if region.limit is None else f"{region.limit:.0f}"
        low = "-" if region.margin is None else margin(region.margin)
        names = region.kind or "-", region.load_case or "-"
        table.add_row(region.name, f"{region.celsius:.0f}", limit, percent(region.credited), low, *names)
    put(console, "In service: resin and cores as warm as they get, lowest margins there", table)
    say(
        console,
        "Resin keeps sqrt((Tw - T) / (Td - 21)) of stiffness and strength, Td dry and Tw moist glass transition "
        "(Chamis, NASA TM-83320, from memory); an estimate until coupons are tested warm.",
    )
