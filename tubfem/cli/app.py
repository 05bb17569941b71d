"""The command line's frame: options that commands share, faults as messages and exit codes, progress."""

import gc
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
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


def whole(least: int) -> Callable[[str | int], int]:
    """Reads whole numbers from `least` on."""

    def read_whole(text: str | int) -> int:
        if not str(text).isdecimal() or int(text) < least:
            raise typer.BadParameter(f"{text} is no whole number from {least} on")
        return int(text)

    return read_whole


def stiffness_number(text: str | float) -> float:
    """Reads a stiffness [N·m/deg] without its unit."""
    try:
        return float(text)
    except ValueError:
        raise typer.BadParameter(f"{text} is no number; N·m/deg is meant and not written") from None


CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="the case file (TOML)", show_default=False)]
Out = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="where files go (results/<case name>)")]
Add = Annotated[
    list[str] | None,
    typer.Option(
        "--add",
        metavar="TARGET=PLY[@ANGLE][*N][:FACE]",
        help="lay more: region, joint:NAME or patch:NAME; in quotes; FACE: far, tool, core, under, over; repeatable",
    ),
]
Drop = Annotated[
    list[str] | None, typer.Option("--drop", metavar="TARGET=PLY[@ANGLE][*N]", help="leave plies out; may be repeated")
]
Without = Annotated[
    list[str] | None,
    typer.Option("--without", metavar="PANEL", help="leave a panel, wall or section off; may be repeated"),
]
Jobs = Annotated[
    int,
    typer.Option("--jobs", metavar="N", parser=whole(1), help="solve so many at once, in processes of this machine"),
]
Scheduler = Annotated[
    str | None,
    typer.Option("--scheduler", metavar="tcp://HOST:PORT", help="solve on the cluster of this Dask scheduler"),
]


@app.callback(invoke_without_command=True)
def _start(
    version: Annotated[bool, typer.Option("--version", help="print the version and leave", is_eager=True)] = False,
) -> None:
    gc.set_threshold(20_000)  # little of what commands make is circular; looking took a fiftieth of a run
    if version:
        typer.echo(f"tubfem {__version__}")
        raise typer.Exit


def read(
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


def read_twisted(path: Path) -> "Case":
    """The case as written, which must have a torsion load case."""
    from tubfem.case.asking import refuse_without_twist
    from tubfem.case.read import load_case

    case = load_case(path)
    refuse_without_twist(case)
    return case


def results_folder(out: Path | None, case: Path) -> Path:
    """Where files go: `--out`, or results/<case name>. Told before anything is worked out if it cannot be."""
    folder = out or Path("results", case.stem)
    there = next((each for each in (folder, *folder.parents) if each.exists()), None)
    if there is not None and not there.is_dir():
        raise CaseError(f"{there} is a file, so that nothing can be written into {folder}; name a folder with --out")
    if there is not None and not os.access(there, os.W_OK):
        raise CaseError(f"nothing may be written into {folder}; name another folder with --out")
    return folder


def doubts_of_run(findings: "Findings", mesh: "TubMesh") -> list[str]:
    """Why a run that is done still ends with exit code 1."""
    from tubfem.findings.heat import heat_doubts
    from tubfem.findings.mesh_error import mesh_doubts
    from tubfem.findings.stability import buckling_doubts
    from tubfem.report.look import poor_elements
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
    doubts += [
        f"negative margin: hard point {point.name}, {margin(point.margin)} {point.checks[0].what}, load case {name}"
        for name, load_case in findings.load_cases.items()
        for point in load_case.hard_points.values()
        if point.margin < 0
    ]
    doubts += [
        f"negative margin: {frame.name}, {frame.worst.label}, {margin(frame.worst.margin)} {frame.worst.governs}, "
        f"load case {name}"
        for name, load_case in findings.load_cases.items()
        for frame in load_case.frames.values()
        if frame.worst.margin < 0
    ]
    doubts += [
        f"negative margin: opening {opening.name}, {margin(opening.margin)}, load case {name}"
        for name, load_case in findings.load_cases.items()
        for opening in load_case.openings.values()
        if opening.margin is not None and opening.margin < 0
    ]
    doubts += buckling_doubts(findings)
    doubts += heat_doubts(findings)
    doubts += mesh_doubts(findings)
    return doubts + poor_elements(mesh)


@contextmanager
def faults() -> Iterator[None]:
    """Turn faults that a user can meet into lines on stderr and an exit code."""
    try:
        yield
    except TubfemError as error:
        for message in error.messages:
            complain(message)
        _leave(WRONG_INPUT if isinstance(error, CaseError | MeshError) else UNSOLVED)
    except OSError as error:
        complain(f"{error.filename or 'file'}: {error.strerror or error}")
        _leave(WRONG_INPUT)


class Progress:
    """Tells what begins by `show`; what `note` is given stays to be read."""

    def __init__(self, show: Callable[[str], None], note: Callable[[str], None]) -> None:
        self._show = show
        self.note = note

    def __call__(self, stage: str) -> None:
        """A stage begins."""
        self._show(f"{stage} ...")


@contextmanager
def progress() -> Iterator[Progress]:
    """Stages on stderr: one line that changes on a terminal, a line each elsewhere."""
    if not sys.stderr.isatty():
        yield Progress(complain, complain)
        return
    from rich.console import Console

    console = Console(stderr=True, markup=False, highlight=False)
    with console.status("starting") as status:
        yield Progress(status.update, console.print)  # printed above the line that changes


def name_files(folder: Path, names: Iterable[str], word: str = "Files") -> None:
    """One line that says where files lie."""
    typer.echo(f"\n  {word}: {', '.join(str(folder / name) for name in names)}")


def leave_with(doubts: Sequence[str]) -> NoReturn:
    """End a command that is done: every doubt on stderr, exit code 1 if there is any."""
    for doubt in doubts:
        complain(doubt)
    raise typer.Exit(DOUBTFUL if doubts else DONE)


def complain(message: str) -> None:
    """One line on stderr."""
    typer.echo(message, err=True)


def _leave(code: int) -> NoReturn:
    raise typer.Exit(code)
