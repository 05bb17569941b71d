"""Several solves at once: one after another here, in processes of this machine, or on a Dask cluster.

An item is done by a function of its own module, called with what all items share and with the item. What it returns is
plain enough for JSON where finished items are to be kept: then a study that was stopped takes them up again. A worker
that dies costs its item one more try; an item that kills two is named.
"""

import json
import os
import shutil
import signal
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from queue import SimpleQueue
from threading import Event
from typing import Any

from tubfem.errors import CaseError, SolveError
from tubfem.study.fingerprints import code_key, fingerprint

TRIES = 2
FINISHED = "finished"  # folder of kept items beside the results
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
LARGE = "distributed.admin.large-graph-warning-threshold"  # a tub is larger than Dask expects of a task
WAIT = 10  # seconds for a scheduler to answer
GRACE = 0.3  # seconds: an interruption from the keyboard reaches workers a little before it is known here

Work = Callable[[Any, Any], Any]  # of what is shared and of the item
Lost = Callable[[], None]  # hears that a worker died and its item is done once more


class WorkerLostError(Exception):
    """Every try of an item ended with the death of its worker."""


class Serial:
    """Items one after another, in this process."""

    def submit(self, work: Work, shared: Any, item: Any, lost: Lost) -> Future:
        """Do it at once."""
        future: Future = Future()
        try:
            future.set_result(work(shared, item))
        except Exception as error:
            future.set_exception(error)
        return future


class Processes:
    """Items in processes of this machine; each worker is a pool of its own, so that its death is its own item's."""

    def __init__(self, jobs: int, threads: Executor) -> None:
        self._threads = threads
        self._stopped = Event()
        self._idle: SimpleQueue[ProcessPoolExecutor] = SimpleQueue()
        for _ in range(jobs):
            self._idle.put(_process())

    def submit(self, work: Work, shared: Any, item: Any, lost: Lost) -> Future:
        """Do it as soon as a worker is idle."""
        return self._threads.submit(self._do, work, shared, item, lost)

    def stop(self) -> None:
        """Try nothing once more: the workers die of the same interruption."""
        self._stopped.set()

    def close(self) -> None:
        """End the workers; nothing may be running."""
        while not self._idle.empty():
            self._idle.get().shutdown(cancel_futures=True)

    def _do(self, work: Work, shared: Any, item: Any, lost: Lost) -> Any:
        pool = self._idle.get()
        try:
            for left in reversed(range(TRIES)):
                try:
                    return pool.submit(work, shared, item).result()
                except BrokenProcessPool:
                    pool.shutdown()
                    pool = _process()
                    if self._stopped.wait(GRACE):
                        break
                    if left:
                        lost()
            raise WorkerLostError
        finally:
            self._idle.put(pool)


class Cluster:
    """Items on the workers of a Dask scheduler; what is shared goes there once.

    It goes as a task, which the scheduler can repeat: data sent to a worker would be lost with it.
    """

    def __init__(self, client: Any) -> None:
        self._client = client
        self._sent: dict[int, tuple[Any, Any]] = {}
        self._out: dict[Any, tuple[Any, Lost]] = {}
        client.subscribe_topic("all", self._hear)

    def submit(self, work: Work, shared: Any, item: Any, lost: Lost) -> Any:
        """Do it wherever there is room."""
        if id(shared) not in self._sent:
            self._sent[id(shared)] = shared, self._client.submit(_whole, shared, pure=False)
        future = self._client.submit(work, self._sent[id(shared)][1], item, pure=False)
        self._out[future.key] = future, lost
        future.add_done_callback(lambda done: self._out.pop(done.key, None))
        return future

    def _hear(self, event: tuple[float, Any]) -> None:
        """The scheduler gives what was at a dead worker to another without a word, as often as it is set to."""
        message = event[1]
        if isinstance(message, dict) and message.get("action") == "remove-worker":
            for key in message.get("processing-tasks", ()):
                future, lost = self._out.get(key, (None, None))
                if future is not None and future.status == "pending":
                    lost()

    def send_anew(self) -> None:
        """Forget what was sent: it may have been lost, or blamed, with a worker."""
        self._sent.clear()


Pool = Serial | Processes | Cluster
SERIAL = Serial()


@contextmanager
def workers(jobs: int = 1, scheduler: str | None = None) -> Iterator[Pool]:
    """Where items are done: on the cluster of a scheduler ("tcp://..."), in `jobs` processes, or here.

    Raises
    ------
    CaseError
        Fewer than one job; no scheduler answers, or Dask is not installed.
    """
    if jobs < 1:
        raise CaseError(f"--jobs {jobs}: write 1 or more")
    if scheduler is not None:
        with _client(scheduler) as client:
            yield Cluster(client)
    elif jobs == 1:
        yield SERIAL
    else:
        # Workers share the cores: each counts with its part of them, read when it loads its libraries.
        before = {name: os.environ.get(name) for name in THREADS}
        os.environ.update(dict.fromkeys(THREADS, str(max(1, (os.cpu_count() or 1) // jobs))))
        try:
            with ThreadPoolExecutor(jobs) as threads:
                pool = Processes(jobs, threads)
                try:
                    yield pool
                finally:
                    pool.stop()
                    threads.shutdown(cancel_futures=True)
                    pool.close()
        finally:
            for name, value in before.items():
                os.environ.pop(name) if value is None else os.environ.update({name: value})


@dataclass(frozen=True, slots=True)
class Kept:
    """Finished items of one study in `folder`, beside the results.

    `key` is of everything that all items depend on, the program itself apart, which is always in it. An item is known
    by its name, or by what stands for that in `own`.
    """

    folder: Path
    study: str
    key: str
    own: Mapping[str, str] = field(default_factory=dict)

    def read(self, name: str) -> Any | None:
        """What an item gave, None if it is not there."""
        try:
            found = json.loads(self._path(name).read_text(encoding="utf-8"))
            return found["result"] if found["name"] == self._own(name) else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def write(self, name: str, result: Any) -> None:
        """Keep what an item gave: written beside and moved, so that a stopped study leaves none half written."""
        path = self._path(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(f".{os.getpid()}")
        beside.write_text(json.dumps({"name": self._own(name), "result": result}), encoding="utf-8")
        beside.replace(path)

    def _path(self, name: str) -> Path:
        return self.folder / FINISHED / self.study / f"{fingerprint(code_key(), self.key, self._own(name))[:32]}.json"

    def _own(self, name: str) -> str:
        return self.own.get(name, name)


def forget(folder: Path, study: str) -> None:
    """Take away what was kept of a study whose results are written."""
    shutil.rmtree(folder / FINISHED / study, ignore_errors=True)
    with suppress(OSError):
        (folder / FINISHED).rmdir()


def do_all(
    pool: Pool,
    work: Work,
    shared: Any,
    items: Mapping[str, Any],
    *,
    kept: Kept | None = None,
    tell: Callable[[str], None] = lambda _: None,
    note: Callable[[str], None] = lambda _: None,
) -> dict[str, Any]:
    """Do all items; the results in the items' order, whoever was first.

    Parameters
    ----------
    work : a function that its module's name leads to; it gets `shared` and the item
    items : by name
    kept : results must be plain then (numbers, texts, lists, tables); those that are there already are not done again
    tell : hears which item is done, `note` which is done once more

    Raises
    ------
    SolveError
        An item's worker died twice.
    Exception
        Whatever `work` raises, of the first item in order that did; all others are done (and kept) before.
    """
    found: dict[str, Any] = {}
    if kept is not None:
        found = {name: result for name in items if (result := kept.read(name)) is not None}
        if found:
            tell(f"{len(found)} of {len(items)} done before")
    try:
        faults = _done(pool, work, shared, items, found, kept, tell, note)
    except KeyboardInterrupt:
        if kept is not None and found:
            note(f"stopped; {len(found)} of {len(items)} are kept, the same command goes on from there")
        raise
    for name in items:
        if name in faults:
            raise _named(faults[name], name) from faults[name]
    return {name: found[name] for name in items}


def _done(
    pool: Pool,
    work: Work,
    shared: Any,
    items: Mapping[str, Any],
    found: dict[str, Any],
    kept: Kept | None,
    tell: Callable[[str], None],
    note: Callable[[str], None],
) -> dict[str, BaseException]:
    """Do what is not in `found` and put it there; what failed, by name."""
    faults: dict[str, BaseException] = {}
    waiting = {}
    for name, item in items.items():
        if name not in found:
            tell(name)
            future = pool.submit(work, shared, item, partial(note, _again(name)))
            waiting[future] = name
            if pool is SERIAL:  # done: kept at once, in case the next one is stopped
                _take(future, name, found, faults, kept)
    for future in () if pool is SERIAL else _completed(pool, waiting):
        name = waiting[future]
        _take(future, name, found, faults, kept)
        done = f"{len(found)} of {len(items)}: {name}"
        tell(done if name in found else f"{name} failed; the others are finished first")
    if isinstance(pool, Cluster):
        # a cluster blames all items that waited at a worker for its death: each once more by itself
        for name in [name for name, error in faults.items() if _lost(error)]:
            note(_again(name))
            pool.send_anew()
            _take(pool.submit(work, shared, items[name], partial(note, _again(name))), name, found, faults, kept)
    return faults


def _again(name: str) -> str:
    return f"{name}: its worker died; it is done once more"


def _take(future: Any, name: str, found: dict[str, Any], faults: dict[str, BaseException], kept: Kept | None) -> None:
    error = future.exception()
    if error is not None:
        faults[name] = error
        return
    faults.pop(name, None)
    found[name] = future.result()
    if kept is not None:
        kept.write(name, found[name])


def _completed(pool: Pool, futures: Mapping[Any, str]) -> Iterator[Any]:
    if isinstance(pool, Cluster):
        from distributed import as_completed as of_cluster

        return iter(of_cluster(list(futures)))
    return as_completed(futures)


def _named(error: BaseException, name: str) -> BaseException:
    if _lost(error):
        return SolveError(
            f"{name}: the process that solved it died, and so did the next; memory? Fewer --jobs need less. What was "
            "finished is kept: the same command goes on from there"
        )
    return error


def _lost(error: BaseException) -> bool:
    """Whether the worker of an item died, here or on a cluster (whose own error is not loaded here)."""
    return isinstance(error, WorkerLostError) or type(error).__name__ == "KilledWorker"


def _whole(shared: Any) -> Any:
    return shared


def _process() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_die_quietly)


def _die_quietly() -> None:
    """A worker leaves it to the command to say that it was interrupted."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextmanager
def _client(scheduler: str) -> Iterator[Any]:
    try:
        import dask
        from distributed import Client
    except ImportError as error:
        raise CaseError('--scheduler needs Dask: pip install "tubfem[cluster]"') from error
    try:
        client = Client(scheduler, timeout=WAIT)
    except (OSError, ValueError, TypeError) as error:
        raise CaseError(f"--scheduler {scheduler}: nobody answers there ({error}); write tcp://HOST:PORT") from error
    with client, dask.config.set({LARGE: "1 GB"}):
        yield client
