"""The studies: many solutions of one case. Heavy imports wait inside, so that --help comes at once."""

from pathlib import Path
from typing import Annotated

import typer

from tubfem import __version__
from tubfem.cli.app import (
    DONE,
    Add,
    CaseFile,
    Drop,
    Jobs,
    Out,
    Scheduler,
    Without,
    app,
    doubts_of_run,
    faults,
    leave_with,
    name_files,
    progress,
    read_twisted,
    results_folder,
    whole,
)
from tubfem.errors import CaseError


@app.command()
def compare(
    cases: Annotated[
        list[Path], typer.Argument(metavar="CASE [CASE...]", help="the base and other cases", show_default=False)
    ],
    out: Out = None,
    add: Add = None,
    drop: Drop = None,
    without: Without = None,
    jobs: Jobs = 1,
    scheduler: Scheduler = None,
) -> None:
    """Set a case and its variants side by side.

    Variants are other cases, those under [variants] in the first one, and each change given here by itself.
    """
    with faults():
        from rich.console import Console

        from tubfem.case.read import load_case
        from tubfem.report.compare_files import write_comparison
        from tubfem.report.compare_table import print_comparison
        from tubfem.run import Stages
        from tubfem.study.compare import STUDY, Variant, flag_variants, written_variants
        from tubfem.study.compare import compare as run_all
        from tubfem.study.executors import forget, workers

        with progress() as tell:
            stages = Stages(tell, note=tell.note)
            base = load_case(cases[0])
            flags = {"add": add or (), "drop": drop or (), "without": without or ()}
            variants = [Variant(path.stem, (), load_case(path)) for path in cases[1:]]
            variants += [*written_variants(base), *flag_variants(base, flags)]
            if not variants:
                raise CaseError("nothing to compare: name a second case, or --add, --drop, --without, or [variants]")
            folder = results_folder(out, cases[0])
            asked = {"judge": doubts_of_run, "folder": folder, "stages": stages}
            with workers(jobs, scheduler) as pool:
                compared = run_all(base, variants, **asked, pool=pool)
            files = write_comparison(folder, compared, version=__version__)
            forget(folder, STUDY)
        print_comparison(Console(highlight=False), compared)
        name_files(folder, files)
        doubts = [f"{each.variant.name}: {doubt}" for each in compared for doubt in each.doubts]
    leave_with(doubts)


@app.command()
def refine(
    case: CaseFile,
    out: Out = None,
    sizes: Annotated[
        str | None, typer.Option("--sizes", metavar="MM,MM,MM", help="mesh sizes, three or more", show_default=False)
    ] = None,
    jobs: Jobs = 1,
    scheduler: Scheduler = None,
) -> None:
    """Run a case on several meshes: how wrong the mesh makes it.

    Observed order, extrapolated value, discretisation band, the mesh that gives 1 %.
    """
    with faults():
        from rich.console import Console

        from tubfem.case.read import load_case
        from tubfem.report.refine_table import print_refinement
        from tubfem.report.refinement import write_refinement
        from tubfem.run import Stages
        from tubfem.study.executors import forget, workers
        from tubfem.study.refine import STUDY, doubts_of, refine_case

        asked = None if sizes is None else _sizes(sizes)
        with progress() as tell:
            folder, read_case = results_folder(out, case), load_case(case)
            with workers(jobs, scheduler) as pool:
                refinement = refine_case(
                    read_case, asked, stages=Stages(tell, note=tell.note), pool=pool, folder=folder
                )
            names = write_refinement(folder, refinement, version=__version__)
            forget(folder, STUDY)
        print_refinement(Console(highlight=False), refinement)
        name_files(folder, names, "Written")
        doubts = doubts_of(refinement)
    leave_with(doubts)


def _sizes(text: str) -> list[float]:
    """Mesh sizes [m] from "40,32,25" [mm]."""
    try:
        return [1e-3 * float(part) for part in text.split(",")]
    except ValueError as error:
        raise CaseError(f"--sizes: {text} is no list of millimetres such as 40,32,25") from error


@app.command("next-ply")
def next_ply(
    case: CaseFile,
    out: Out = None,
    ply: Annotated[
        list[str] | None, typer.Option("--ply", metavar="PLY", help="try this ply; may be repeated (all of the case)")
    ] = None,
    goal: Annotated[str, typer.Option("--goal", metavar="stiffness|margin", help="what to rank by")] = "stiffness",
    per: Annotated[str, typer.Option("--per", metavar="kg|price", help="what a gain is divided by")] = "kg",
    jobs: Jobs = 1,
    scheduler: Scheduler = None,
) -> None:
    """Rank one more ply in every region, joint tab and patch.

    On either face and at the usual angles; the first five are solved in full.
    """
    with faults():
        from rich.console import Console

        from tubfem.report.next_ply_files import write_next_ply
        from tubfem.report.next_ply_table import print_next_ply
        from tubfem.report.what_if import FILE as WHAT_IF
        from tubfem.report.what_if import write_what_if
        from tubfem.run import Stages
        from tubfem.study.executors import forget, workers
        from tubfem.study.next_ply import STUDY
        from tubfem.study.next_ply import next_ply as rank

        for flag, value, words in (("--goal", goal, ("stiffness", "margin")), ("--per", per, ("kg", "price"))):
            if value not in words:
                raise CaseError(f"{flag} {value}: write {' or '.join(words)}")
        with progress() as tell:
            folder = results_folder(out, case)
            asked = {
                "plies": ply or (),
                "goal": goal,
                "per": per,
                "folder": folder,
                "stages": Stages(tell, note=tell.note),
            }
            with workers(jobs, scheduler) as pool:
                found = rank(read_twisted(case), **asked, pool=pool)
            tell("reduced model for the page")
            write_what_if(folder, found.tub, found.mass, version=__version__)
            files = write_next_ply(folder, found, version=__version__)
            forget(folder, STUDY)
        print_next_ply(Console(highlight=False), found)
        name_files(folder, (WHAT_IF, *files))
    raise typer.Exit(DONE)


@app.command()
def spread(
    case: CaseFile,
    out: Out = None,
    samples: Annotated[
        int, typer.Option("--samples", metavar="N", parser=whole(1), help="a power of two: 64, 128, 256 ...")
    ] = 128,
    seed: Annotated[
        int, typer.Option("--seed", metavar="S", parser=whole(0), help="the same one draws the same tubs")
    ] = 1,
    jobs: Jobs = 1,
    scheduler: Scheduler = None,
) -> None:
    """Say how far stiffness and margins may lie from the run's numbers, and why.

    Fibre fraction, moduli, thickness, strength, bonds, cores, joints and mounts scatter; the mesh's part joins.
    """
    with faults():
        from rich.console import Console

        from tubfem.report.spread_files import write_spread
        from tubfem.report.spread_table import print_spread
        from tubfem.run import Stages
        from tubfem.study.executors import forget, workers
        from tubfem.study.spread import STUDY, spread_case

        with progress() as tell:
            folder = results_folder(out, case)
            asked = {"samples": samples, "seed": seed, "folder": folder, "stages": Stages(tell, note=tell.note)}
            with workers(jobs, scheduler) as pool:
                found = spread_case(read_twisted(case), **asked, pool=pool)
            files = write_spread(folder, found, version=__version__)
            forget(folder, STUDY)
        print_spread(Console(highlight=False), found)
        name_files(folder, files)
    raise typer.Exit(DONE)
