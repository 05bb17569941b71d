"""One refinement here and in two processes: python tests/benchmarks/executors.py CASE [MM,MM,MM].

Seconds of processor are told beside those of the clock: they hold on a machine that does other work too.
"""

import resource
import sys
import tempfile
from pathlib import Path
from time import perf_counter

from tubfem.case.read import load_case
from tubfem.study.executors import FINISHED, workers
from tubfem.study.refine import refine_case


def processor() -> float:
    """Seconds of processor until now, of this process and of those it has waited for."""
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)


def main() -> None:
    """Print a line for each way, and how much is kept."""
    case = load_case(Path(sys.argv[1]))
    sizes = [1e-3 * float(part) for part in sys.argv[2].split(",")] if len(sys.argv) > 2 else None
    for jobs in (1, 2):
        with tempfile.TemporaryDirectory() as folder:
            start, before = perf_counter(), processor()
            with workers(jobs) as pool:
                found = refine_case(case, sizes, pool=pool, folder=Path(folder))
            each = (processor() - before) / len(found.meshes)
            kept = max(file.stat().st_size for file in Path(folder, FINISHED).rglob("*.json"))
        print(
            f"{jobs} at once: {perf_counter() - start:.1f} s on the clock, {each:.1f} s of processor for each mesh of "
            f"{', '.join(f'{1e3 * mesh.size:.3g}' for mesh in found.meshes)} mm; band {100 * found.band:.3f} %; "
            f"a finished mesh is kept in {1e-3 * kept:.1f} kB"
        )


if __name__ == "__main__":
    main()
