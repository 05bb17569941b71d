"""What the page of the demo costs: writing it against the whole run, and the plies tried in it against a plain run.

    python tests/benchmarks/page_share.py [CASE]

runs `tubfem run CASE` and `tubfem run CASE --what-if`, each in a process of its own, then writes both pages again in
this process, from what lies in their folders. Seconds by the clock and of processor, of all processes a run starts.
Wanted: the page under 15 % of the run and under 12 MB. Other work on the machine spoils the clock, hardly the
seconds of processor.
"""

import json
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter, process_time

DEMO = Path(__file__).parents[2] / "cases" / "two_seat_roadster.toml"
SHARE, SIZE = 0.15, 12e6


def run(case: Path, out: Path, *more: str) -> tuple[float, float]:
    """Seconds by the clock and of processor of a `tubfem run`."""
    before, start = _children(), perf_counter()
    command = [sys.executable, "-m", "tubfem", "run", str(case), "--out", str(out), *more]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    return perf_counter() - start, _children() - before


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def write(out: Path) -> tuple[float, float]:
    """Seconds by the clock and of processor of writing the page of a run again, its template compiled anew."""
    from tubfem.report import drawing, html

    contents = json.loads((out / "results.json").read_text(encoding="utf-8"))
    model, findings, texts = drawing.read_drawing(out / drawing.FILE)
    html._environment.cache_clear()
    start, used = perf_counter(), process_time()
    html.write_report(out / "report.html", model, contents, findings, beside=out, texts=texts)
    return perf_counter() - start, process_time() - used


def main(case: str = str(DEMO)) -> None:
    """Run, write, print."""
    with tempfile.TemporaryDirectory() as folder:
        runs = {}
        for name, more in (("run", ()), ("run --what-if", ("--what-if",))):
            out = Path(folder, name.replace(" ", ""))
            runs[name] = run(Path(case), out, *more)
            page = write(out)
            size = (out / "report.html").stat().st_size
            share = [part / whole for part, whole in zip(page, runs[name], strict=True)]
            print(f"{name}: {runs[name][0]:.1f} s by the clock, {runs[name][1]:.1f} s of processor")
            kept = "kept" if max(share) < SHARE and size < SIZE else "MISSED"
            print(
                f"  its page of {size / 1e6:.1f} MB: {page[0]:.2f} s by the clock, {page[1]:.2f} s of processor, "
                f"{100 * share[0]:.1f} % and {100 * share[1]:.1f} % of the run "
                f"({kept}: {100 * SHARE:.0f} %, {SIZE / 1e6:.0f} MB)"
            )
        clock, processor = (b / a for a, b in zip(*runs.values(), strict=True))
        print(f"with the plies to try in the page: {clock:.2f} times the clock, {processor:.2f} times the processor")


if __name__ == "__main__":
    main(*sys.argv[1:])
