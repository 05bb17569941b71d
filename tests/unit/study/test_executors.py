"""Items here, in processes and on a real Dask cluster: same results, a killed worker, what is kept."""

import os
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from time import sleep

import dask_cluster
import pytest
import worked
from case_texts import CASES
from numpy.testing import assert_allclose

from tubfem.case.read import load_case
from tubfem.errors import CaseError, SolveError
from tubfem.report.compare_files import comparison
from tubfem.study.compare import compare, flag_variants
from tubfem.study.executors import SERIAL, Cluster, Kept, do_all, forget, workers
from tubfem.study.fingerprints import fingerprint
from tubfem.study.refine import refine_case, sized

ITEMS = {f"item {k}": k for k in range(4)}
AGAIN = "item {}: its worker died; it is done once more"


@contextmanager
def scheduler(tries):
    """Address of a scheduler with two worker processes, which their nannies start again, all in a process of its own.

    Its sockets and event loop would otherwise be part of this one, and two of these at once ask for one port.
    """
    with subprocess.Popen(
        [sys.executable, dask_cluster.__file__, str(tries)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        text=True,
    ) as process:
        address = process.stdout.readline().strip()
        assert address.startswith("tcp://")
        yield address
        process.stdin.close()
        process.wait(60)


@pytest.fixture(scope="module")
def cluster():
    """One that gives up an item at the first death, so that all that is done anew is ours."""
    with scheduler(0) as address:
        yield address


@pytest.fixture(params=["here", "processes", "cluster"])
def pool(request):
    if request.param == "here":
        yield SERIAL
        return
    address = request.getfixturevalue("cluster") if request.param == "cluster" else None
    with workers(2, address) as pool:
        yield pool


def test_results_come_in_order_and_are_the_same_everywhere(pool):
    found = do_all(pool, worked.added, 100, ITEMS)
    assert list(found) == list(ITEMS)
    assert [result["sum"] for result in found.values()] == [100, 101, 102, 103]
    away = {result["process"] for result in found.values()} - {os.getpid()}
    assert (pool is SERIAL) == (not away)


def test_a_fault_of_an_item_is_raised_as_it_is_and_the_others_are_kept(pool, tmp_path):
    kept = Kept(tmp_path, "fails", "a study")
    with pytest.raises(SolveError) as fault:
        do_all(pool, worked.fails, None, ITEMS, kept=kept)
    assert fault.value.messages == ("line one", "line two")
    assert [kept.read(name) for name in ITEMS] == [0, 1, None, 3]


@pytest.mark.parametrize("pool", ["processes", "cluster"], indirect=True)
def test_a_worker_killed_in_the_middle_costs_its_item_another_try(pool, tmp_path):
    noted = []
    found = do_all(pool, worked.dies_once, str(tmp_path), ITEMS, note=noted.append)
    assert found == {f"item {k}": 10 * k for k in range(4)}
    assert (tmp_path / "died").exists()
    assert noted.count(AGAIN.format(2)) == 1
    if not isinstance(pool, Cluster):  # where what waited at the worker is done elsewhere too
        assert len(noted) == 1


def test_what_a_cluster_does_anew_by_itself_is_named_too(tmp_path):
    """Three tries of the scheduler's own, as Dask has it: no fault of the item ever reaches the study."""
    noted = []
    with scheduler(3) as address, workers(1, address) as pool:
        found = do_all(pool, worked.dies_once, str(tmp_path), ITEMS, note=noted.append)
    assert found == {f"item {k}": 10 * k for k in range(4)}
    assert noted.count(AGAIN.format(2)) == 1
    assert set(noted) <= {AGAIN.format(k) for k in range(4)}


@pytest.mark.parametrize("pool", ["processes", "cluster"], indirect=True)
def test_an_item_that_kills_its_workers_is_named_and_the_others_are_kept(pool, tmp_path):
    kept, told = Kept(tmp_path, "fails", "a study"), []
    with pytest.raises(SolveError, match="item 2: the process that solved it died"):
        do_all(pool, worked.dies, None, ITEMS, kept=kept, tell=told.append)
    assert "item 2 failed; the others are finished first" in told
    assert not any(text.endswith("of 4: item 2") for text in told)
    assert [kept.read(name) for name in ITEMS] == [0, 10, None, 30]


def test_a_stopped_study_goes_on_and_another_begins_anew(tmp_path):
    marks = tmp_path / "marks"
    marks.mkdir()
    first = Kept(tmp_path, "counts", fingerprint("case", b"mesh"))
    told = []
    do_all(SERIAL, worked.counted, str(marks), {"item 1": 1, "item 2": 2}, kept=first)
    found = do_all(SERIAL, worked.counted, str(marks), ITEMS, kept=first, tell=told.append)
    assert found == {name: k**2 for name, k in ITEMS.items()}
    assert len(list(marks.iterdir())) == 4
    assert told[0] == "2 of 4 done before"
    do_all(
        SERIAL, worked.counted, str(marks), ITEMS, kept=Kept(tmp_path, "counts", fingerprint("another case", b"mesh"))
    )
    assert len(list(marks.iterdir())) == 8
    for file in (tmp_path / "finished" / "counts").iterdir():
        file.write_text("{")  # what cannot be read is done again
    do_all(SERIAL, worked.counted, str(marks), ITEMS, kept=first)
    assert len(list(marks.iterdir())) == 12
    forget(tmp_path, "counts")
    assert not (tmp_path / "finished").exists()


def test_an_interruption_says_what_is_kept(tmp_path):
    noted = []
    with pytest.raises(KeyboardInterrupt):
        do_all(SERIAL, worked.interrupts, None, ITEMS, kept=Kept(tmp_path, "stops", "a study"), note=noted.append)
    assert noted == ["stopped; 2 of 4 are kept, the same command goes on from there"]


def test_a_key_stops_workers_without_a_word_of_theirs_and_without_another_try(tmp_path):
    """As from a terminal: the interruption goes to the command and to its workers."""
    script = tmp_path / "stopped.py"
    script.write_text(STOPPED)
    path = os.pathsep.join([str(Path(__file__).parents[2]), *sys.path])
    process = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": path},
        start_new_session=True,
        text=True,
    )
    try:
        assert process.stdout.readline() == "1 of 3: item 0\n"
        while not (tmp_path / "sleeping").exists():
            sleep(0.05)
        os.killpg(process.pid, signal.SIGINT)
        told, complaints = process.communicate(timeout=60)
    finally:
        process.kill()
    assert told.splitlines() == ["stopped; 1 of 3 are kept, the same command goes on from there"]
    assert "SpawnProcess" not in complaints
    assert len(list(tmp_path.glob("sleeping*"))) == 1  # not once more


STOPPED = """
import signal, sys
from pathlib import Path
import worked
from tubfem.report.compare_files import comparison
from tubfem.study.compare import compare, flag_variants
from tubfem.study.executors import Kept, do_all, workers

def told(text):
    if " of 3" in text or "stopped" in text:
        print(text, flush=True)

if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)
    folder = Path(sys.argv[1])
    with workers(2) as pool:
        items = {f"item {k}": k for k in range(3)}
        do_all(pool, worked.sleeps, str(folder), items, kept=Kept(folder, "s", "a"), tell=told, note=told)
"""


def test_processes_share_the_cores():
    before = os.environ.get("OMP_NUM_THREADS")
    with workers(2) as pool:
        found = do_all(pool, worked.threads, None, {"one": 1})
    assert found == {"one": str(max(1, os.cpu_count() // 2))}
    assert os.environ.get("OMP_NUM_THREADS") == before


def test_wrong_wishes_are_told(monkeypatch):
    with pytest.raises(CaseError, match="--jobs 0"), workers(0):
        pass
    monkeypatch.setattr("tubfem.study.executors.WAIT", 0.5)
    with pytest.raises(CaseError, match="nobody answers there"), workers(1, "tcp://127.0.0.1:9"):
        pass


def test_a_study_gives_the_same_numbers_everywhere(pool, tmp_path):
    case = load_case(CASES / "closed_box.toml")
    found = refine_case(case, [0.1, 0.07, 0.05], pool=pool, folder=tmp_path)
    here = refine_case(case, [0.1, 0.07, 0.05])
    for one, other in zip(found.quantities, here.quantities, strict=True):
        assert (one.what, one.region, one.modes) == (other.what, other.region, other.modes)
        assert_allclose(one.convergence.values, other.convergence.values, rtol=1e-9)
    assert len(list((tmp_path / "finished" / "refine").iterdir())) == 3
    again = refine_case(case, [0.1, 0.07, 0.05], folder=tmp_path)
    assert again.seconds == found.seconds  # read, not solved


def test_a_comparison_is_the_same_everywhere(pool, tmp_path):
    """Doubts are told by the workers, who find the function by its module's name."""
    case = sized(load_case(CASES / "closed_box.toml"), 0.1)
    variants = flag_variants(case, {"add": ["box=tape@45", "box=tape@0*2"]})
    found = compare(case, variants, judge=worked.doubts, pool=pool, folder=tmp_path)
    here = compare(case, variants, judge=worked.doubts)
    for one, other in zip(comparison(found, "0")["variants"], comparison(here, "0")["variants"], strict=True):
        assert one == other
    assert [each.doubts for each in found] == [each.doubts for each in here] != [()] * 3
    assert len(list((tmp_path / "finished" / "compare").iterdir())) == 2
