"""The main job: `run` and `look`. Heavy imports wait inside, so that --help comes at once."""

from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Annotated

import typer

from tubfem import __version__
from tubfem.cli.app import (
    DONE,
    Add,
    CaseFile,
    Drop,
    Out,
    Without,
    app,
    doubts_of_run,
    faults,
    leave_with,
    progress,
    read,
    results_folder,
)

if TYPE_CHECKING:
    from tubfem.shell.solve import Factored
    from tubfem.tub.model import TubModel


@app.command()
def run(
    case: CaseFile,
    out: Out = None,
    add: Add = None,
    drop: Drop = None,
    without: Without = None,
    what_if: Annotated[
        bool, typer.Option("--what-if", help="put a reduced model into report.html, so that plies can be tried there")
    ] = False,
) -> None:
    """Solve a case: stiffness, twist, margins, mass.

    Tables come here, files and pictures in DIR.
    """
    with faults():
        from rich.console import Console

        from tubfem.report.artist import Artist
        from tubfem.run import Stages, run_case, run_changed

        with progress() as tell:
            loading = Thread(target=_get_ready)

            def at(stage: str) -> None:
                tell(stage)
                if stage == "mesh" and loading.ident is None:
                    loading.start()  # gmsh needs no Python meanwhile

            stages = Stages(at)
            folder = results_folder(out, case)
            with stages("read"):
                base, changed, changes = read(case, add, drop, without)
            factors: dict[int, Factored] = {}
            kept = factors.__setitem__ if what_if else None
            with Artist() as artist:

                def modelled(model: "TubModel") -> None:
                    artist.begin(model, changes)

                if changes:
                    model, _, findings = run_changed(changed, base, stages=stages, modelled=modelled, solved=kept)
                else:
                    model, _, findings = run_case(changed, stages=stages, modelled=modelled, solved=kept)
                from tubfem.findings.band import with_spread
                from tubfem.report.files import write_results
                from tubfem.report.spread_earlier import read_spread

                drawn = None if changes else read_spread(folder, base)
                if drawn is not None:
                    findings = with_spread(findings, drawn)
                if what_if:
                    from tubfem.report.what_if import write_what_if
                    from tubfem.study.store import ready

                    with stages("reduced model"):
                        tub, _ = ready(model, folder, factors)
                        write_what_if(folder, tub, findings.mass.total, changes=changes, version=__version__)
                with stages("write"):
                    seconds, told = stages.seconds, {"version": __version__, "changes": changes}
                    write_results(folder, model, findings, seconds, **told, artist=artist)
        from tubfem.report.tables import print_ending, print_findings

        console = Console(highlight=False)
        print_findings(console, model, findings, changes)
        print_ending(console, findings, stages.seconds, str(folder))
        doubts = doubts_of_run(findings, model.mesh)
    leave_with(doubts)


def _get_ready() -> None:
    """Load what solves and what writes the report."""
    from tubfem.run import load_rest

    load_rest()
    from tubfem.report import files, html, tables  # noqa: F401

    html.get_ready()


@app.command()
def redraw(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="where a run wrote its files", show_default=False)],
) -> None:
    """Draw pictures and report.html again from the JSON files of a folder.

    Nothing is solved. Studies that were run since then come into the page.
    """
    with faults():
        from tubfem.report.redraw import redraw as draw_again

        names = draw_again(folder)
        typer.echo(f"  Drawn: {', '.join(str(folder / name) for name in names)}")
    raise typer.Exit(DONE)


@app.command()
def look(case: CaseFile, out: Out = None, add: Add = None, drop: Drop = None, without: Without = None) -> None:
    """Check a case and draw it, without solving.

    Says in words which sections are closed cells and by what, joints, free edges, fibre directions.
    """
    with faults():
        from rich.console import Console

        from tubfem.report.files import write_look
        from tubfem.report.look import look_words, poor_elements
        from tubfem.report.tables import print_look
        from tubfem.run import Stages, model_case

        with progress() as tell:
            stages = Stages(tell)
            folder = results_folder(out, case)
            with stages("read"):
                base, changed, changes = read(case, add, drop, without)
            model = model_case(changed, base=base, stages=stages)
            with stages("pictures"):
                names = write_look(folder, model, changes, version=__version__)
        print_look(Console(highlight=False), model, look_words(model), changes)
        typer.echo(f"\n  Drawn in {', '.join(str(folder / name) for name in names)}")
        doubts = poor_elements(model.mesh)
    leave_with(doubts)
