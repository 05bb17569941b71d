"""A refinement on the terminal: meshes, stiffness and margins against their size, warnings."""

from collections.abc import Sequence

from rich.console import Console

from tubfem.report.cautions import STANDING
from tubfem.report.numbers import percent, three
from tubfem.report.terminal import heading, put, say, table_of
from tubfem.study.convergence import Convergence
from tubfem.study.refine import ENERGY, Quantity, Refinement

SAME = 1e-6  # of a mesh size
CLOSE = 5  # so many meshes stand closer together


def print_refinement(console: Console, refinement: Refinement) -> None:
    """What the mesh does to stiffness and margins."""
    heading(console, refinement.case.title or refinement.case.path)
    for text in STANDING:
        say(console, text)
    sizes = [f"{1e3 * mesh.size:.3g}" + "*" * (k == refinement.own) for k, mesh in enumerate(refinement.meshes)]
    star = "the case's own mesh"
    if abs(refinement.meshes[refinement.own].size / refinement.case.mesh.size - 1) > SAME:
        star = f"the finest mesh (the case's own, {1e3 * refinement.case.mesh.size:.3g} mm, is not among them)"
    meshes = table_of("mesh, mm", "elements", "freedoms", "seconds", right=range(4))
    for size, mesh, seconds in zip(sizes, refinement.meshes, refinement.seconds, strict=True):
        meshes.add_row(size, f"{mesh.elements}", f"{mesh.freedoms}", f"{seconds:.1f}")
    put(console, "Meshes, the finest first", meshes)
    for name, bands in refinement.estimates.items():
        own = [quantity for quantity in refinement.quantities if quantity.load_case == name]
        whole, regions = ([q for q in own if (q.region is None) == is_whole] for is_whole in (True, False))
        regions.sort(key=lambda quantity: -quantity.convergence.values[0])
        what = "strain energy, J" if any(q.what == ENERGY for q in whole) else "stiffness, N·m/deg"
        _put(console, f"Load case {name}: {what}", whole, sizes, refinement)
        title = f"Load case {name}: demand over allowable by region, 1 / (1 + lowest margin)"
        _put(console, title, regions, sizes, refinement)
        say(console, f"A run on one of these meshes alone says of itself: {', '.join(percent(b) for b in bands)}.")
    console.print()
    say(
        console,
        f"* {star}, and the band there: the grid convergence index. Limit: extrapolated to a mesh of size "
        "nought with the order shown, in brackets where it is not the observed one. Last column: the mesh, mm, that "
        "has a band of 1 %.",
    )
    doubtful = refinement.warnings
    if doubtful:
        doubtful = (*doubtful, "Nothing is extrapolated there; the band is three times that of a first-order curve.")
    for title, lines in (("Does not converge", doubtful), ("Left out", refinement.left_out)):
        if lines:
            heading(console, title)
            for line in lines:
                say(console, line)


def _put(
    console: Console, title: str, quantities: Sequence[Quantity], sizes: Sequence[str], refinement: Refinement
) -> None:
    numbers = (*sizes, "order", "limit", "band*", "1 %")
    table = table_of("", *numbers, right=range(1, len(numbers) + 1), gap=2 if len(sizes) < CLOSE else 1)
    for quantity in quantities:
        found = quantity.convergence
        size = found.size_for_one_percent
        table.add_row(
            quantity.what if quantity.region is None else quantity.region,
            *(three(value) for value in found.values),
            _order(found),
            "-" if found.extrapolated is None else three(found.extrapolated),
            percent(band) if (band := float(found.band[refinement.own])) <= 1 else "> 100 %",
            "-" if found.extrapolated is None or size is None else _size(size, refinement.meshes[-1].size),
        )
    put(console, title, table)


def _size(size: float, coarsest: float) -> str:
    """A mesh size in mm to two digits; none beyond the coarsest that was tried."""
    return f"> {1e3 * coarsest:.3g}" if size > coarsest else f"{float(f'{1e3 * size:.2g}'):g}"


def _order(found: Convergence) -> str:
    """The order of the extrapolation, in brackets if it is not the one observed."""
    if found.order_used is None:
        return "-"
    return f"{found.order_used:.1f}" if found.order_used == found.order else f"({found.order_used:.1f})"
