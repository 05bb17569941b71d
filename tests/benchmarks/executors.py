"""One refinement here and in processes: python tests/benchmarks/executors.py CASE [MM,MM,MM]."""

import sys
from pathlib import Path
from time import perf_counter

from tubfem.case.read import load_case
from tubfem.study.executors import workers
from tubfem.study.refine import refine_case

if __name__ == "__main__":
    case = load_case(Path(sys.argv[1]))
    sizes = [1e-3 * float(part) for part in sys.argv[2].split(",")] if len(sys.argv) > 2 else None
    for jobs in (1, 2):
        start = perf_counter()
        with workers(jobs) as pool:
            found = refine_case(case, sizes, pool=pool)
        told = ", ".join(
            f"{1e3 * mesh.size:.3g} mm {s:.1f}" for mesh, s in zip(found.meshes, found.seconds, strict=True)
        )
        print(f"{jobs} at once: {perf_counter() - start:.1f} s in all; each: {told}; band {100 * found.band:.3f} %")
