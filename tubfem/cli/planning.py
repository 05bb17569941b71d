"""`schedule`: how many plies where. Heavy imports wait inside, so that --help comes at once."""

from typing import Annotated, Any

import typer

from tubfem import __version__
from tubfem.cli.app import (
    CaseFile,
    Jobs,
    Out,
    Scheduler,
    app,
    faults,
    leave_with,
    name_files,
    progress,
    read_twisted,
    results_folder,
    stiffness_number,
    whole,
)
from tubfem.errors import CaseError


@app.command()
def schedule(
    case: CaseFile,
    out: Out = None,
    stiffness: Annotated[
        float | None,
        typer.Option("--stiffness", metavar="N", parser=stiffness_number, help="wanted, N·m/deg", show_default=False),
    ] = None,
    springs: Annotated[
        str | None,
        typer.Option(
            "--springs",
            metavar="FRONT,REAR[,KEEP]",
            help="roll stiffness at either axle, N·m/deg: as stiff as keeps 95 % of their balance",
        ),
    ] = None,
    least: Annotated[str | None, typer.Option("--least", metavar="mass|price", help="what is to be least")] = None,
    ply: Annotated[
        list[str] | None,
        typer.Option("--ply", metavar="PLY[@ANGLE][:FACE]", help="what may be laid; may be repeated (all of the case)"),
    ] = None,
    stock: Annotated[
        list[str] | None,
        typer.Option("--with", metavar="PLY=LENGTH", help="the cloth there is, 'biax600=6 m'; may be repeated"),
    ] = None,
    most: Annotated[
        int | None,
        typer.Option("--most", metavar="N", parser=whole(1), help="plies more in a region (3)", show_default=False),
    ] = None,
    fewer: Annotated[
        int | None,
        typer.Option(
            "--fewer",
            metavar="N",
            parser=whole(0),
            help="plies taken off a region, at most (3); 0: none",
            show_default=False,
        ),
    ] = None,
    jobs: Jobs = 1,
    scheduler: Scheduler = None,
) -> None:
    """Find how many plies to lay where, and which to leave out, with what is proven about it.

    The least mass or price that reaches a stiffness without negative margins; or, without a stiffness, the best use
    of the cloth on hand. Limits by region stand under [schedule] in the case.
    """
    with faults():
        from rich.console import Console

        from tubfem.case.asking import with_asked
        from tubfem.report.schedule_files import write_schedule
        from tubfem.report.schedule_table import print_schedule
        from tubfem.run import Stages
        from tubfem.study.executors import forget, workers
        from tubfem.study.schedule import STUDY
        from tubfem.study.schedule import schedule as search

        with progress() as tell:
            folder = results_folder(out, case)
            changes = _asked(stiffness, springs, least, ply, {"most": most, "fewer": fewer})
            asked = with_asked(read_twisted(case), stock or (), changes)
            with workers(jobs, scheduler) as pool:
                found = search(asked, folder=folder, stages=Stages(tell, note=tell.note), pool=pool)
            files = write_schedule(folder, found, version=__version__)
            forget(folder, STUDY)
        print_schedule(Console(highlight=False), found)
        name_files(folder, files)
    doubts = [] if found.reached else [f"not reached: {found.target:.1f} N·m/deg"]
    if found.margin is not None and found.margin < 0:
        doubts.append(f"negative margin: {found.place}")
    doubts += [f"negative margin: {place}" for place in found.weaker]
    leave_with(doubts)


def _asked(
    stiffness: float | None,
    springs: str | None,
    least: str | None,
    ply: list[str] | None,
    limits: dict[str, int | None],
) -> dict[str, Any]:
    """What the command line asks in place of what stands under [schedule]."""
    if stiffness is not None and springs is not None:
        raise CaseError("give --stiffness, or --springs that it follows from, not both")
    wanted: dict[str, Any] = {}
    if stiffness is not None:
        wanted |= {"stiffness": f"{stiffness} N*m/deg", "springs": None}
    if springs is not None:
        parts = [part.strip() for part in springs.split(",")]
        if len(parts) not in (2, 3):
            raise CaseError(f"--springs: {springs} is not FRONT,REAR or FRONT,REAR,KEEP such as 450,350,0.95")
        table = {"front": f"{parts[0]} N*m/deg", "rear": f"{parts[1]} N*m/deg"}
        wanted |= {"springs": table | ({"keep": parts[2]} if len(parts) == 3 else {}), "stiffness": None}
    wanted |= {} if least is None else {"least": least}
    wanted |= {} if not ply else {"candidates": tuple(ply)}
    return wanted | {name: value for name, value in limits.items() if value is not None}
