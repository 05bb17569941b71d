"""How much faster and how exact the reduced model is, against full solves of single plies.

    python tests/benchmarks/reduced_ratio.py [CASE] [SIZE] [COUNT]

takes a case of `cases/` (the demo) on a mesh of SIZE mm (as shipped), builds its reduced model, evaluates every single
addition on every region, and solves COUNT of them in full (8), drawn at random. Wanted: gains within 0.05 percentage
points, an evaluation under 5 ms, a hundred times faster for each further candidate, ten times faster overall. Other
work on the machine spoils the times, not the gains.
"""

import sys
from pathlib import Path
from time import perf_counter

import numpy as np

from tubfem.case.read import load_case
from tubfem.findings.torsion import axle_twist
from tubfem.geometry.mesh import areas
from tubfem.run import change_case, model_case
from tubfem.shell.solve import solve
from tubfem.study.bracket import bracket
from tubfem.study.fasteners import fastener_change
from tubfem.study.laying import lay_more
from tubfem.study.reduce import reduce_tub, torsion_of, twist_tub
from tubfem.study.reduced import galerkin

STAGES = ("laying", "one side", "both sides")
CASES = Path(__file__).parents[2] / "cases"


def main(name: str = "two_seat_roadster", size: str = "", count: str = "8") -> None:
    """Print times and errors."""
    case = load_case(CASES / f"{name}.toml")
    if size:
        case = case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": float(size) / 1e3})})
    model = model_case(case)
    start = perf_counter()
    twisted = twist_tub(model)
    vectors = perf_counter()
    reduced, _ = reduce_tub(twisted)
    built = perf_counter() - start
    print(f"{twisted.state.shell.ties.T.shape[1]} freedoms, {reduced.size} vectors, {len(reduced.groups)} groups")
    print(f"built in {built:.1f} s, of which {vectors - start:.1f} s for factorisation and back-substitutions")
    texts = [f"{region}={ply}{face}" for region in case.layups for ply in case.plies for face in ("", ":tool")]
    area, family = areas(model.mesh), twisted.stiff.family
    start = perf_counter()
    changes = [
        lay_more(model, family, area, text).change | fastener_change(model, family, twisted.state.shell.springs, text)
        for text in texts
    ]
    laid = perf_counter() - start
    start = perf_counter()
    for change in changes:
        galerkin(reduced, change)
    one = (perf_counter() - start) / len(texts)
    start = perf_counter()
    sides = [bracket(reduced, change) for change in changes]
    two = (perf_counter() - start) / len(texts)
    laid /= len(texts)
    print(
        f"{len(texts)} candidates: laid {1e3 * laid:.1f} ms, one side {1e3 * one:.1f} ms, both {1e3 * two:.1f} ms each"
    )
    errors, full = [], 0.0
    for k in np.random.default_rng(0).choice(len(texts), int(count), replace=False).tolist():
        start = perf_counter()
        again = model_case(change_case(case, add=[texts[k]]), base=case, mesh=model.mesh)
        shell = torsion_of(again)[0].shell
        u = solve(shell).u[twisted.setup.column]
        full += perf_counter() - start
        setup = twisted.setup.torsion
        true = setup.torque / float(np.degrees(axle_twist(shell.points, u, setup)))
        low, high = sides[k]
        errors.append(50 * (low + high - 2 * true) / twisted.stiffness)
        print(f"  {texts[k]}: {100 * (true / twisted.stiffness - 1):+.4f} %, reduced off by {errors[-1]:+.4f} points")
    full /= int(count)
    whole = full * len(texts) / (built + len(texts) * (laid + two))
    print(f"largest error {np.abs(errors).max():.4f} points; full solve {full:.2f} s each")
    print(f"{full / (laid + two):.0f} times faster for each further candidate, {whole:.0f} times over all {len(texts)}")


if __name__ == "__main__":
    main(*sys.argv[1:])
