"""How much faster and how exact the reduced model is, against full solves on the same mesh.

    python tests/benchmarks/reduced_ratio.py [CASE] [SIZE] [SINGLE] [NEXT]

takes a case of `cases/` (the demo) on a mesh of SIZE mm (80), builds its reduced model and prints

- SINGLE (60, or as many as there are) of every region with each of three plies more, against the changed case laid and
  solved in full: gain and worst margin, without snapshots and with those that `next-ply` takes of them, and how long
  either side takes;
- NEXT (1; 0 for none) `next-ply` without its confirmations, and as many rows in full.

What is timed. Both sides begin with the tub as it is, meshed, laid and solved: gains are over that, whichever way they
are found, and `next-ply` runs it first. Then the reduced model costs its building, all of it (stacks told apart,
vectors, matrices, the elements whose margins are followed), and for every candidate what `next-ply` does: laying, the
bracket, the lowest margin. In full a candidate costs what a run does to tell the same, with the same factorisation, and
no more: the changed case laid on the same mesh, assembled, factorised and solved with the solution's checks, strains,
and the use of every element. The pictures, tables and other findings of a run are left out on both sides; the ratio is
told without margins too, though the building goes on to have what they need. Reading and meshing are on both sides and
in neither time; the last line has them.

All times are of the processor, so that other work on the machine counts for little; it still takes caches and memory
from both sides. More threads than one (OMP_NUM_THREADS=1) do not help where the matrices are as small as here.

Wanted: gains within 0.05 percentage points, the worst strain within 2 %, an evaluation under 5 ms, a hundred times
faster for each further candidate, ten times faster over all. Changes of many regions at once are in `reduced_heavy.py`.
"""

import sys
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

import numpy as np

from tubfem.case.read import load_case
from tubfem.findings.margins import element_use
from tubfem.findings.torsion import axle_stiffness
from tubfem.geometry.mesh import areas
from tubfem.run import Stages, change_case, model_case
from tubfem.shell.solve import solve, solve_and_keep
from tubfem.study.bracket import evaluated
from tubfem.study.enrich import enriched_for_margins
from tubfem.study.hot import loaded_now, lowest_margin
from tubfem.study.laying import find_seats, lay_on
from tubfem.study.next_ply import next_ply
from tubfem.study.reduce import torsion_of
from tubfem.study.side_change import side_change
from tubfem.study.store import ready

CASES = Path(__file__).parents[2] / "cases"
PLIES = ("biax600", "uni300", "twill200c")


def main(name="two_seat_roadster", size="80", single="60", following="1") -> None:
    """Print times and errors."""
    case = load_case(CASES / f"{name}.toml")
    case = case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": float(size) / 1e3})})
    meshing, model = timed(model_case, case)
    solving, solved = timed(lambda: [solve_and_keep(state.shell) for state in model.states])
    factors = {number: factored for number, (_, factored) in enumerate(solved)}
    built, (tub, _) = timed(ready, model, None, factors)
    del solved, factors
    model = tub.model  # its stacks told apart
    freedoms = tub.state.shell.ties.T.shape[1]
    print(f"{freedoms} freedoms, {tub.reduced.size} vectors, {len(tub.reduced.groups)} groups; built in {built:.1f} s")
    full = singles(case, model, tub, built, int(single)) if int(single) else 0.0
    if full and int(following):
        rows(case, full, meshing + solving)


def singles(case, model, tub, built, count):
    """Regions with each of the plies, laid on the far face; mean seconds of one in full."""
    plies = [ply for ply in PLIES if ply in case.plies]
    tried = [(region, f"{region}={ply}") for region in case.layups for ply in plies][:count]
    area, springs = areas(model.mesh), tub.state.shell.springs
    seats, seated = {}, 0.0
    for region in dict.fromkeys(region for region, _ in tried):
        seconds, seats[region] = timed(find_seats, model, tub.family, area, region)
        seated += seconds / len(tried)
    reduced, full, bare, gains, strains, told = [], [], [], [], [], []
    for region, text in tried:
        laying, one = timed(lay_on, model, seats[region], [text])
        aside, aside_change = timed(side_change, model, tub.family, springs, text)
        evaluating, (low, high, b) = timed(evaluated, tub.reduced, one.change | aside_change)
        judging, (margin, _, _) = timed(lowest_margin, tub.hot, b, one.stacks)
        reduced.append((seated + laying + aside, evaluating, judging))
        changed = change_case(case, add=[text])
        seconds, (now, stiffness) = timed(_stiffness, changed, case, model.mesh, tub.setup.name)
        more, worst = timed(_worst, *now)
        bare.append(seconds)
        full.append(seconds + more)
        gains.append(100 * (0.5 * (low + high) - stiffness) / tub.stiffness)
        strains.append(100 * ((1 + worst) / (1 + margin) - 1))
        told.append((one.change | aside_change, one.stacks, stiffness, worst))
        print(f"  {text}: off by {gains[-1]:+.4f} points, worst strain by {strains[-1]:+.2f} %", flush=True)
    laying, evaluating, judging = np.mean(reduced, axis=0)
    full, bare, count = np.mean(full), np.mean(bare), len(tried)
    print(
        f"one evaluation, both sides: {1e3 * evaluating:.1f} ms, {1e3 * np.max(reduced, axis=0)[1]:.1f} at most; "
        f"laying a candidate {1e3 * laying:.1f} ms, its margin {1e3 * judging:.1f} ms"
    )
    print(
        f"{count} single plies: gain within {np.abs(gains).max():.4f} points, worst strain within "
        f"{np.abs(strains).max():.2f} %; in full {full:.2f} s each, {bare:.2f} s without margins"
    )
    with_snapshots(tub, told)
    both = laying + evaluating
    for what, own, each in (
        ("with margins on both sides", full, both + judging),
        ("without margins on either side", bare, both),
        ("with margins by the reduced model alone", bare, both + judging),
    ):
        whole = count * own / (built + count * each)
        print(f"{what}: {own / each:.0f} times faster for each further one, {whole:.1f} times over all", flush=True)
    return full


def with_snapshots(tub, told):
    """The same with snapshots as `next-ply` takes them; changes with stacks, stiffness and lowest margin in full."""
    richer = enriched_for_margins(tub, [change for change, _, _, _ in told])
    gains, strains = [], []
    for change, stacks, stiffness, worst in told:
        low, high, b = evaluated(richer.reduced, change)
        gains.append(100 * (0.5 * (low + high) - stiffness) / tub.stiffness)
        strains.append(100 * ((1 + worst) / (1 + lowest_margin(richer.hot, b, stacks)[0]) - 1))
    print(
        f"with {len(richer.snapshots)} snapshots: gain within {np.abs(gains).max():.4f} points, worst strain within "
        f"{np.abs(strains).max():.2f} %",
        flush=True,
    )


def rows(case, full, begun):
    """`next-ply`, and as many rows in full; `begun` seconds go to meshing and solving the tub as it is."""
    stages = Clock()
    seconds, found = timed(lambda: next_ply(case, confirm=0, stages=stages))
    own = sum(stages.spent[name] for name in ("reduced model", "candidates", "snapshots"))
    count = len(found.candidates)
    print(
        f"next-ply: {count} rows in {own:.1f} s, {found.snapshots} snapshots among them, in full {count * full:.0f} s: "
        f"{count * full / own:.0f} times over all"
    )
    print(
        f"with reading, meshing and the run of the tub as it is {seconds:.1f} s, in full {begun + count * full:.0f} s",
        flush=True,
    )


@dataclass
class Clock(Stages):
    """Stages that keep seconds of the processor."""

    spent: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def __call__(self, name):
        """Time one stage; the same name again adds to it."""
        start = process_time()
        with super().__call__(name):
            yield
        self.spent[name] = self.spent.get(name, 0.0) + process_time() - start


def timed(function, *arguments):
    """Seconds of the processor, and the result."""
    start = process_time()
    found = function(*arguments)
    return process_time() - start, found


def _stiffness(changed, case, mesh, load_case):
    """A changed case laid and solved on the mesh of its base: what margins are found from, and its stiffness."""
    model = model_case(changed, base=case, mesh=mesh)
    state, setup = torsion_of(model, load_case)
    motion = solve(state.shell).u[setup.column]
    return (model, state.shell, motion, setup), axle_stiffness(state.shell.points, motion, setup.torsion)


def _worst(model, shell, motion, setup):
    """Lowest margin of plies and cores."""
    loaded, _ = loaded_now(model, shell, motion, setup.torsion.torque)
    return 1 / max(float(use.max()) for use in element_use(loaded).values()) - 1


if __name__ == "__main__":
    main(*sys.argv[1:])
