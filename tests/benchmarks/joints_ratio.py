"""How long the demo takes with its joints against the same tub moulded in one.

    python tests/benchmarks/joints_ratio.py [ROUNDS]

runs `tubfem run` on the demo as shipped and on the demo with every joint continuous, in turn, ROUNDS times each (3),
each in a process of its own from the first import to the last file, and prints the least time of either and their
ratio. Wanted: at most 1.3. Other work on the machine spoils the times; processor time stands beside them.
"""

import re
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

DEMO = Path(__file__).parents[2] / "cases" / "two_seat_roadster.toml"
WANTED = 1.3


def continuous(folder: Path) -> Path:
    """The demo with `"*/*" = "moulded"` as its only joint."""
    text, count = re.subn(r"(?m)^(\[joints\].*\n)(?:.+\n)+", '\\1"*/*" = "moulded"\n', DEMO.read_text())
    if count != 1:
        raise SystemExit(f"{DEMO}: one table [joints] expected")
    path = folder / "continuous.toml"
    path.write_text(text)
    return path


def run(case: Path, out: Path) -> tuple[float, float]:
    """Seconds and processor seconds of one whole run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = perf_counter()
    command = [sys.executable, "-m", "tubfem", "run", str(case), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    seconds = perf_counter() - start
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return seconds, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(rounds: str = "3") -> None:
    """Run both in turn and print the ratio."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cases = {"with its joints": DEMO, "all continuous": continuous(folder)}
        times = {what: [] for what in cases}
        for _ in range(int(rounds)):
            for what, case in cases.items():
                times[what].append(run(case, folder / "out"))
    least = {what: [min(each) for each in zip(*found, strict=True)] for what, found in times.items()}
    for what, (seconds, processor) in least.items():
        print(f"{what}: {seconds:.2f} s, {processor:.2f} s of processor time")
    ratio, other = (a / b for a, b in zip(*least.values(), strict=True))
    print(f"ratio {ratio:.2f}, of processor time {other:.2f}; wanted at most {WANTED:g}")
    print("kept" if ratio <= WANTED else "not kept")


if __name__ == "__main__":
    main(*sys.argv[1:])
