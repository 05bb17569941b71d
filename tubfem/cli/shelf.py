"""What is on the shelf: the material library and the schema of case files."""

from pathlib import Path
from typing import Annotated

import typer

from tubfem.cli.app import app, faults


@app.command()
def cloths(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="one of its names", show_default=False)] = None,
    case: Annotated[
        Path | None, typer.Option("--case", metavar="CASE", help="the plies of a case file, as they are laid there")
    ] = None,
) -> None:
    """Show the material library, with sources.

    One name of it in full, or with --case the plies of a case as they are laid there.
    """
    with faults():
        from rich.console import Console

        from tubfem.report.cloths import library_sheet, ply_entries, ply_sheet
        from tubfem.report.tables import print_catalogue, print_sheet

        console = Console(highlight=False)
        if case is not None:
            from tubfem.case.read import load_case

            read = load_case(case)
            if name is None:
                print_catalogue(console, ply_entries(read))
            else:
                print_sheet(console, ply_sheet(read, name))
        elif name is None:
            from tubfem.materials.catalogue import catalogue

            print_catalogue(console, catalogue())
        else:
            print_sheet(console, library_sheet(name))


@app.command()
def schema() -> None:
    """Print the JSON schema of case files, for editors."""
    import json

    from tubfem.case.schema import case_schema

    typer.echo(json.dumps(case_schema(), indent=1))
