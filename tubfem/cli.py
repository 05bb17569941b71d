"""The commands. Heavy imports wait inside them, so that --help comes at once; only this module exits."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from tubfem import __version__
from tubfem.errors import CaseError, MeshError, TubfemError

if TYPE_CHECKING:
    from tubfem.case.schema import Case
    from tubfem.findings.results import Findings
    from tubfem.geometry.mesh import TubMesh

DONE, DOUBTFUL, WRONG_INPUT, UNSOLVED = range(4)  # exit codes

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Torsional stiffness and ply margins of hand-laminated composite tubs, from one readable case file. "
    "Estimates for a licensed engineer to review; they certify nothing.",
    epilog="Exit codes: 0 done; 1 done, but a margin is negative, the mesh band above 3 % or elements poor; "
    "2 the input is wrong; 3 it cannot be solved.",
)

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="the case file (TOML)", show_default=False)]
Out = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="where files go (results/<case name>)")]
Add = Annotated[
    list[str] | None,
    typer.Option(
        "--add",
        metavar="TARGET=PLY[@ANGLE][*N][:FACE]",
        help="lay more: region, joint:NAME or patch:NAME; in quotes; FACE is far, tool or core; may be repeated",
    ),
]
Drop = Annotated[
    list[str] | None, typer.Option("--drop", metavar="TARGET=PLY[@ANGLE][*N]", help="leave plies out; may be repeated")
]
Without = Annotated[
    list[str] | None,
    typer.Option("--without", metavar="PANEL", help="leave a panel, wall or section off; may be repeated"),
]


@app.callback(invoke_without_command=True)
def _start(
    version: Annotated[bool, typer.Option("--version", help="print the version and leave", is_eager=True)] = False,
) -> None:
    if version:
        typer.echo(f"tubfem {__version__}")
        raise typer.Exit


@app.command()
def run(case: CaseFile, out: Out = None, add: Add = None, drop: Drop = None, without: Without = None) -> None:
    """Solve a case: stiffness, twist, margins, mass.

    Tables come here, files and pictures in DIR.
    """
    with _faults():
        from rich.console import Console

        from tubfem.report.files import write_results
        from tubfem.report.tables import print_ending, print_findings
        from tubfem.run import Stages, run_case, run_changed

        with _progress() as tell:
            stages = Stages(tell)
            with stages("read"):
                base, changed, changes = _read(case, add, drop, without)
            if changes:
                model, _, findings = run_changed(changed, base, stages=stages)
            else:
                model, _, findings = run_case(changed, stages=stages)
            folder = out or Path("results", case.stem)
            with stages("write"):
                write_results(folder, model, findings, stages.seconds, version=__version__, changes=changes)
        console = Console(highlight=False)
        print_findings(console, model, findings, changes)
        print_ending(console, findings, stages.seconds, str(folder))
        doubts = _doubts(findings, model.mesh)
    for doubt in doubts:
        _complain(doubt)
    raise typer.Exit(DOUBTFUL if doubts else DONE)


@app.command()
def look(case: CaseFile, out: Out = None, add: Add = None, drop: Drop = None, without: Without = None) -> None:
    """Check a case and draw it, without solving.

    Says in words which sections are closed cells and by what, joints, free edges, fibre directions.
    """
    with _faults():
        from rich.console import Console

        from tubfem.report.files import write_look
        from tubfem.report.look import look_words
        from tubfem.report.tables import print_look
        from tubfem.run import Stages, model_case

        with _progress() as tell:
            stages = Stages(tell)
            with stages("read"):
                base, changed, changes = _read(case, add, drop, without)
            model = model_case(changed, base=base, stages=stages)
            folder = out or Path("results", case.stem)
            with stages("pictures"):
                names = write_look(folder, model, changes, version=__version__)
        print_look(Console(highlight=False), model, look_words(model), changes)
        typer.echo(f"\n  Drawn in {', '.join(str(folder / name) for name in names)}")
        doubts = _poor_elements(model.mesh)
    for doubt in doubts:
        _complain(doubt)
    raise typer.Exit(DOUBTFUL if doubts else DONE)


@app.command()
def compare(
    cases: Annotated[
        list[Path], typer.Argument(metavar="CASE [CASE...]", help="the base and other cases", show_default=False)
    ],
    out: Out = None,
    add: Add = None,
    drop: Drop = None,
    without: Without = None,
) -> None:
    """Set a case and its variants side by side.

    Variants are other cases, those under [variants] in the first one, and each change given here by itself.
    """
    with _faults():
        from rich.console import Console

        from tubfem.case.read import load_case
        from tubfem.report.compare_files import write_comparison
        from tubfem.report.compare_table import print_comparison
        from tubfem.run import Stages
        from tubfem.study.compare import Variant, flag_variants, written_variants
        from tubfem.study.compare import compare as run_all

        with _progress() as tell:
            stages = Stages(tell)
            base = load_case(cases[0])
            flags = {"add": add or (), "drop": drop or (), "without": without or ()}
            variants = [Variant(path.stem, (), load_case(path)) for path in cases[1:]]
            variants += [*written_variants(base), *flag_variants(base, flags)]
            if not variants:
                raise CaseError("nothing to compare: name a second case, or --add, --drop, --without, or [variants]")
            compared = run_all(base, variants, stages=stages)
            folder = out or Path("results", cases[0].stem)
            files = write_comparison(folder, compared, version=__version__)
        print_comparison(Console(highlight=False), compared)
        typer.echo(f"\n  Files: {', '.join(str(folder / name) for name in files)}")
        doubts = [f"{c.variant.name}: {doubt}" for c in compared for doubt in _doubts(c.findings, c.model.mesh)]
    for doubt in doubts:
        _complain(doubt)
    raise typer.Exit(DOUBTFUL if doubts else DONE)


@app.command()
def refine(
    case: CaseFile,
    out: Out = None,
    sizes: Annotated[
        str | None, typer.Option("--sizes", metavar="MM,MM,MM", help="mesh sizes, three or more", show_default=False)
    ] = None,
) -> None:
    """Run a case on several meshes: how wrong the mesh makes it.

    Observed order, extrapolated value, discretisation band, the mesh that gives 1 %.
    """
    with _faults():
        from rich.console import Console

        from tubfem.case.read import load_case
        from tubfem.report.refine_table import print_refinement
        from tubfem.report.refinement import write_refinement
        from tubfem.run import Stages
        from tubfem.study.refine import doubts_of, refine_case

        asked = None if sizes is None else _sizes(sizes)
        with _progress() as tell:
            refinement = refine_case(load_case(case), asked, stages=Stages(tell))
            folder = out or Path("results", case.stem)
            names = write_refinement(folder, refinement, version=__version__)
        print_refinement(Console(highlight=False), refinement)
        typer.echo(f"\n  Written: {', '.join(str(folder / name) for name in names)}")
        doubts = doubts_of(refinement)
    for doubt in doubts:
        _complain(doubt)
    raise typer.Exit(DOUBTFUL if doubts else DONE)


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
) -> None:
    """Rank one more ply in every region, joint tab and patch.

    On either face and at the usual angles; the first five are solved in full.
    """
    with _faults():
        from rich.console import Console

        from tubfem.case.read import load_case
        from tubfem.report.next_ply_files import write_next_ply
        from tubfem.report.next_ply_table import print_next_ply
        from tubfem.run import Stages
        from tubfem.study.next_ply import next_ply as rank

        for value, words in ((goal, ("stiffness", "margin")), (per, ("kg", "price"))):
            if value not in words:
                raise CaseError(f"{value}: write {' or '.join(words)}")
        with _progress() as tell:
            folder = out or Path("results", case.stem)
            found = rank(load_case(case), plies=ply or (), goal=goal, per=per, folder=folder, stages=Stages(tell))
            files = write_next_ply(folder, found, version=__version__)
        print_next_ply(Console(highlight=False), found)
        typer.echo(f"\n  Files: {', '.join(str(folder / name) for name in files)}")
    raise typer.Exit(DONE)


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
    with _faults():
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


def main() -> None:
    """Entry point of the command `tubfem`."""
    app(prog_name="tubfem")


def _read(
    path: Path, add: list[str] | None, drop: list[str] | None, without: list[str] | None
) -> tuple["Case", "Case", tuple[str, ...]]:
    """The case as written, the case with its changes, and the changes as typed."""
    from tubfem.case.read import load_case
    from tubfem.run import change_case

    base = load_case(path)
    wanted = (("--add", add or ()), ("--drop", drop or ()), ("--without", without or ()))
    changes = tuple(f"{flag} {text}" for flag, texts in wanted for text in texts)
    changed = change_case(base, add=add or (), drop=drop or (), without=without or ())
    return base, changed, changes


def _doubts(findings: "Findings", mesh: "TubMesh") -> list[str]:
    """Why a run that is done still ends with exit code 1."""
    from tubfem.findings.mesh_error import mesh_doubts
    from tubfem.findings.stability import buckling_doubts
    from tubfem.report.numbers import margin

    doubts = [
        f"negative margin: {region.name}, {margin(region.worst.margin)} {region.worst.kind}, load case {name}"
        for name, load_case in findings.load_cases.items()
        for region in load_case.regions.values()
        if region.worst is not None and region.worst.margin < 0
    ]
    doubts += [
        f"negative margin: joint {joint.name}, {margin(joint.margin)}, load case {name}"
        for name, load_case in findings.load_cases.items()
        for joint in load_case.joints.values()
        if joint.margin is not None and joint.margin < 0
    ]
    doubts += buckling_doubts(findings)
    doubts += mesh_doubts(findings)
    return doubts + _poor_elements(mesh)


def _poor_elements(mesh: "TubMesh") -> list[str]:
    from tubfem.report.look import poor_elements

    return poor_elements(mesh)


@contextmanager
def _faults() -> Iterator[None]:
    """Turn faults that a user can meet into lines on stderr and an exit code."""
    try:
        yield
    except TubfemError as error:
        for message in error.messages:
            _complain(message)
        _leave(WRONG_INPUT if isinstance(error, CaseError | MeshError) else UNSOLVED)
    except OSError as error:
        _complain(f"{error.filename or 'file'}: {error.strerror or error}")
        _leave(WRONG_INPUT)


@contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
    """Tell stages on stderr: one line that changes on a terminal, a line each elsewhere."""
    if not sys.stderr.isatty():
        yield lambda stage: typer.echo(f"{stage} ...", err=True)
        return
    from rich.console import Console

    with Console(stderr=True).status("starting") as status:
        yield lambda stage: status.update(f"{stage} ...")


def _complain(message: str) -> None:
    typer.echo(message, err=True)


def _leave(code: int) -> NoReturn:
    raise typer.Exit(code)
