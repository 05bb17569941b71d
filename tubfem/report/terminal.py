"""The shapes that everything printed has: headings, indented paragraphs, tables without lines."""

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text


def table_of(*headings: str, right: Sequence[int] = (), gap: int = 2) -> Table:
    """An empty table, `gap` between columns; those numbered in `right` are set to the right and never broken."""
    table = Table(box=None, pad_edge=False, padding=(0, gap, 0, 0), header_style="dim")
    for index, heading in enumerate(headings):
        table.add_column(
            heading, justify="right" if index in right else "left", no_wrap=index in right, overflow="fold"
        )
    return table


def put(console: Console, title: str | None, table: Table) -> None:
    """Print a table under its heading, if it has rows."""
    if table.row_count:
        if title is not None:
            heading(console, title)
        console.print(Padding(table, (0, 0, 0, 2), expand=False))


def heading(console: Console, text: str) -> None:
    """Print a heading after an empty line."""
    console.print()
    console.print(Text(text, style="bold underline"))


def say(console: Console, text: str) -> None:
    """Print one indented paragraph."""
    console.print(Padding(Text(text), (0, 0, 0, 2), expand=False))
