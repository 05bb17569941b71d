"""How much faster and how exact the reduced model is, against full solves on the same mesh.

    python tests/benchmarks/reduced_ratio.py [CASE] [SIZE] [SINGLE]

takes a case of `cases/` (the demo) on a mesh of SIZE mm (80), builds its reduced model and prints

- SINGLE (60, or as many as there are) of every region with each of three plies more, against runs in full: gain and
  worst margin;
- seconds: building, one evaluation, one full solve.

Wanted: gains within 0.05 percentage points, the worst strain within 2 %, an evaluation under 5 ms, a hundred times
faster for each further candidate, ten times faster overall. Other work on the machine spoils the times, and so do more
threads than one (OMP_NUM_THREADS=1) where the matrices are as small as here. Changes of many regions at once are in
`reduced_heavy.py`.
"""

import sys
from pathlib import Path
from time import perf_counter

import numpy as np

from tubfem.case.read import load_case
from tubfem.geometry.mesh import areas
from tubfem.run import change_case, model_case, run_case
from tubfem.shell.solve import solve
from tubfem.study.bracket import bracket
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import lay_more
from tubfem.study.reduced import galerkin
from tubfem.study.side_change import side_change
from tubfem.study.store import ready

CASES = Path(__file__).parents[2] / "cases"
PLIES = ("biax600", "uni300", "twill200c")
QUIET = 5  # an evaluation is timed by the fastest of so many


def main(name="two_seat_roadster", size="80", single="60") -> None:
    """Print times and errors."""
    case = load_case(CASES / f"{name}.toml")
    case = case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": float(size) / 1e3})})
    model = model_case(case)
    start = perf_counter()
    tub = ready(model)[0]
    model = tub.model  # its stacks told apart
    built = perf_counter() - start
    model = tub.model
    freedoms = tub.state.shell.ties.T.shape[1]
    print(f"{freedoms} freedoms, {tub.reduced.size} vectors, {len(tub.reduced.groups)} groups; built in {built:.1f} s")
    singles(case, model, tub, built, int(single))


def singles(case, model, tub, built, count):
    """Regions with each of the plies, laid on the far face."""
    texts = [f"{region}={ply}" for region in case.layups for ply in PLIES if ply in case.plies][:count]
    area, springs = areas(model.mesh), tub.state.shell.springs
    start = perf_counter()
    laid = [lay_more(model, tub.family, area, text) for text in texts]
    changes = [
        one.change | side_change(model, tub.family, springs, text) for one, text in zip(laid, texts, strict=True)
    ]
    laying = (perf_counter() - start) / len(texts)
    each = np.array([min(_seconds(bracket, tub.reduced, change) for _ in range(QUIET)) for change in changes])
    print(f"one evaluation, both sides: {1e3 * each.mean():.1f} ms, {1e3 * each.max():.1f} at most; ", end="")
    print(f"laying a candidate {1e3 * laying:.1f} ms")
    gains, strains, full = [], [], []
    for text, one, change in zip(texts, laid, changes, strict=True):
        middle = 0.5 * sum(bracket(tub.reduced, change))
        margin, _, _ = lowest_margin(tub.hot, galerkin(tub.reduced, change), one.stacks)
        changed = change_case(case, add=[text])
        start = perf_counter()
        shell = model_case(changed, base=case, mesh=model.mesh).states[0].shell
        solve(shell)
        full.append(perf_counter() - start)
        findings = run_case(changed, base=case, mesh=model.mesh)[2].load_cases[tub.setup.name]
        gains.append(100 * (middle - findings.torsion.pickup_to_pickup) / tub.stiffness)
        worst = min(r.worst.margin for r in findings.regions.values() if r.worst is not None)
        strains.append(100 * ((1 + worst) / (1 + margin) - 1))
        print(f"  {text}: off by {gains[-1]:+.4f} points, worst strain by {strains[-1]:+.2f} %", flush=True)
    further = np.mean(full) / (laying + each.mean())
    whole = np.mean(full) * len(texts) / (built + len(texts) * (laying + each.mean()))
    print(f"{len(texts)} single plies: gain within {np.abs(gains).max():.4f} points, ", end="")
    print(
        f"worst strain within {np.abs(strains).max():.2f} %; laid and solved in full {np.mean(full):.2f} s each: ",
        end="",
    )
    print(f"{further:.0f} times faster for each further one, {whole:.1f} times over all", flush=True)


def _seconds(function, *arguments):
    start = perf_counter()
    function(*arguments)
    return perf_counter() - start


if __name__ == "__main__":
    main(*sys.argv[1:])
