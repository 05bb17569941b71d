"""Work for executors: functions that a worker finds by the name of this module."""

import os
import signal
from pathlib import Path
from time import sleep

from tubfem.errors import SolveError


def added(shared, item):
    """A sum, and where it was done."""
    return {"sum": shared + item, "process": os.getpid()}


def counted(shared, item):
    """Leaves a mark for every call."""
    marks = Path(shared)
    (marks / f"{item}-{len(list(marks.iterdir()))}").touch()
    return item**2


def dies_once(shared, item):
    """Kills its own process in the middle of the first try of item 2."""
    mark = Path(shared, "died")
    if item == 2 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return 10 * item


def dies(shared, item):
    """Kills its process whenever it comes to item 2."""
    if item == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return 10 * item


def fails(shared, item):
    """Item 2 cannot be solved."""
    if item == 2:
        raise SolveError(["line one", "line two"])
    return item


def interrupts(shared, item):
    """The user stops at item 2."""
    if item == 2:
        raise KeyboardInterrupt
    return item


def sleeps(shared, item):
    """Item 0 is done at once; the others take until they are stopped, and item 1 leaves a mark for every try."""
    if item == 1:
        mark = Path(shared, "sleeping")
        mark.with_name(f"sleeping{os.getpid()}" if mark.exists() else "sleeping").touch()
    if item:
        sleep(60)
    return item


def doubts(findings, mesh):
    """What is doubted about a run."""
    return [f"{findings.mass.total} kg in {mesh.element_count} elements"]


def threads(shared, item):
    """What numerical libraries are told."""
    return os.environ.get("OMP_NUM_THREADS")
