"""How exact the reduced model is where many regions change at once, against full solves on the same mesh.

    python tests/benchmarks/reduced_heavy.py [CASE] [SIZE] [RANDOM] [HEAVY] [FOLDER]

takes a case of `cases/` (the demo) on a mesh of SIZE mm (80), builds its reduced model and prints

- RANDOM (200) changes of 0.5 to 3 times on regions, joints and mounts, softer only as far as every element of a group
  keeps a stiffness: whether the bracket holds, without snapshots and with them, and how far its middle is off;
- HEAVY (24) changes of 0 to 4 plies in every region, with cores put into skins in every other one, against runs in
  full of the changed case: gain and worst strain.

Snapshots are taken until every bracket is as narrow as is asked of its middle, twelve at most. Each figure stands
beside what is asked: gains within 0.3 and 0.5 percentage points, the worst strain within 5 %, no bracket broken.
Finished solves and snapshots are kept in FOLDER, where the same command goes on from.
"""

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tubfem.case.read import load_case
from tubfem.case.schema import Case
from tubfem.errors import SolveError
from tubfem.findings.torsion import axle_stiffness
from tubfem.run import change_case, model_case, run_case
from tubfem.shell.solve import solve
from tubfem.study.bracket import bracket, evaluated
from tubfem.study.enrich import MOST, enriched
from tubfem.study.executors import SERIAL, Kept, do_all
from tubfem.study.family import Change, changed_shell
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.study.hot import beyond_reach, lowest_margin_laid
from tubfem.study.relaid import relaid
from tubfem.study.store import FILE, Ready, ready

CASES = Path(__file__).parents[2] / "cases"
PLIES = ("biax600", "uni300")  # as far as the case has them
RANDOM_POINTS, HEAVY_POINTS, STRAIN_PERCENT = 0.3, 0.5, 5.0  # asked
RANDOM_SEED, HEAVY_SEED = 7, 11
ROUNDING, WITH_SNAPSHOTS = 1e-8, 1e-6  # of a bracket: a snapshot leaves nothing of it but that of single precision


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure beside what is asked of it."""

    words: str
    value: float
    asked: float
    unit: str = ""

    @property
    def kept(self) -> bool:
        """Whether it is what is asked."""
        return self.value <= self.asked

    def tell(self) -> None:
        """Print it."""
        kept = "kept" if self.kept else "MISSED"
        print(f"  {self.words}: {self.value:.3g}{self.unit}, asked {self.asked:g}{self.unit}: {kept}", flush=True)


def main(name="two_seat_roadster", size="80", random="200", heavy="24", folder=None) -> None:
    """Print figures and whether they are what is asked."""
    case = load_case(CASES / f"{name}.toml")
    case = case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": float(size) / 1e3})})
    folder = None if folder is None else Path(folder)
    tub = ready(model_case(case), folder)[0]
    print(f"{name} at {size} mm: {tub.reduced.size} vectors, {len(tub.reduced.groups)} groups", flush=True)
    if int(random):
        random_changes(tub, int(random), folder)
    if int(heavy):
        heavy_changes(case, tub, int(heavy), folder)


def random_changes(tub: Ready, count: int, folder: Path | None) -> tuple[Figure, ...]:
    """Factors between 0.5 and 3 on most regions, joints and mounts: figures without snapshots, and with them."""
    changes = list(draw_changes(tub, np.random.default_rng(RANDOM_SEED), count))
    shared = tub.family, tub.state.shell, tub.setup
    items = {f"random {k}": change for k, change in enumerate(changes)}
    true = list(do_all(SERIAL, stiffness_of, shared, items, kept=_kept(folder, tub, "random")).values())
    print(f"{count} random changes of 0.5 to 3 times:")
    before = in_brackets(tub, changes, true)
    own = None if folder is None else folder / "random"
    return before + in_brackets(_richer(tub, changes, RANDOM_POINTS, own), changes, true)


def draw_changes(tub: Ready, rng: np.random.Generator, count: int) -> Iterator[Change]:
    """Random changes of most groups."""
    family = tub.family
    for _ in range(count):
        change = {}
        for kind, name in dict.fromkeys((group.kind, group.name) for group in family.groups):
            if rng.random() < 0.7:
                factor = np.exp(rng.uniform(np.log(0.5), np.log(3.0)))
                for k in family.named(kind, name):
                    change[k] = (max(factor, 1 - 0.9 * _least(family.groups[k])) - 1) * family.groups[k].C
        yield change


def stiffness_of(shared: tuple, change: Change) -> float:
    """Stiffness by a full solve of exactly the change of the groups."""
    family, shell, setup = shared
    changed = changed_shell(family, shell, change)
    return axle_stiffness(changed.points, solve(changed).u[setup.column], setup.torsion)


def in_brackets(tub: Ready, changes: Sequence[Change], true: Sequence[float]) -> tuple[Figure, ...]:
    """How many of the true stiffnesses are in their brackets, and how far from the middle."""
    slack = WITH_SNAPSHOTS if tub.snapshots else ROUNDING
    low, high = np.array([bracket(tub.reduced, change) for change in changes]).T
    outside = int(((np.array(true) < low * (1 - slack)) | (np.array(true) > high * (1 + slack))).sum())
    errors = 100 * np.abs(0.5 * (low + high) - true) / tub.stiffness
    width = 100 * (high - low).max() / tub.stiffness
    print(f"  with {len(tub.snapshots)} snapshots brackets are {width:.3f} points wide at most")
    return _told(
        Figure("brackets broken", outside, 0),
        Figure("middle off by at most", float(errors.max()), RANDOM_POINTS, " points"),
    )


def heavy_changes(case: Case, tub: Ready, count: int, folder: Path | None) -> tuple[Figure, ...]:
    """Plies everywhere and cores put into skins."""
    model, cases = tub.model, list(draw_cases(case, np.random.default_rng(HEAVY_SEED), count))
    changes = [relaid(model, tub.family, changed) for changed in cases]
    own = None if folder is None else folder / "heavy"
    richer = _richer(tub, changes, HEAVY_POINTS, own)
    print(f"{count} changes of 0 to 4 plies everywhere and cores put into skins, {len(richer.snapshots)} snapshots:")
    items = {f"heavy {k}": changed for k, changed in enumerate(cases)}
    kept = _kept(folder, tub, "heavy")
    in_full = do_all(SERIAL, run_in_full, (case, model.mesh, tub.setup.name), items, kept=kept)
    errors, strains = [], []
    for number, (changed, change, found) in enumerate(zip(cases, changes, in_full.values(), strict=True)):
        if "error" in found:
            print(f"  {number}: no full solution: {found['error']}")
            continue
        low, high, b = evaluated(richer.reduced, change)
        layup = model_case(changed, base=case, mesh=model.mesh).layup
        margin, region, kind = lowest_margin_laid(richer.hot, b, layup)
        errors.append(100 * (0.5 * (low + high) - found["stiffness"]) / tub.stiffness)
        strains.append(100 * ((1 + found["margin"]) / (1 + margin) - 1))
        solved = any(_same(snapshot.change, change) for snapshot in richer.snapshots)
        print(
            f"  {number}{' (a snapshot)' if solved else ''}: {found['stiffness'] / tub.stiffness:.2f} times as stiff, "
            f"off by {errors[-1]:+.3f} points, bracket {100 * (high - low) / tub.stiffness:.3f} wide; "
            f"worst strain off by {strains[-1]:+.2f} % ({region} {kind}, in full {found['region']} {found['kind']})",
            flush=True,
        )
        if too_thick := beyond_reach(richer.hot, layup):
            print(f"    averages end short of their length in {', '.join(too_thick)}")
    return _told(
        Figure("without a full solution", count - len(errors), 0),
        Figure("gain off by at most", float(np.abs(errors).max()), HEAVY_POINTS, " points"),
        Figure("worst strain off by at most", float(np.abs(strains).max()), STRAIN_PERCENT, " %"),
    )


def draw_cases(case: Case, rng: np.random.Generator, count: int) -> Iterator[Case]:
    """0 to 4 plies of one cloth in every region; in every other case a core in a third of those that have none."""
    core = next(entry for layup in case.layups.values() for entry in layup.stack if entry.is_core)
    names = [name for name in PLIES if name in case.plies]
    for number in range(count):
        changed = case
        for region in case.layups:
            plies = int(rng.integers(0, 5))
            if plies:
                changed = change_case(changed, add=[f"{region}={rng.choice(names)}*{plies}"])
            stack = changed.layups[region].stack
            if number % 2 and not any(entry.is_core for entry in stack) and rng.random() < 1 / 3:
                layup = changed.layups[region].model_copy(update={"stack": (*stack[:2], core, *stack[2:])})
                changed = changed.model_copy(update={"layups": {**changed.layups, region: layup}})
        yield changed


def run_in_full(shared: tuple, changed: Case) -> dict[str, Any]:
    """Stiffness and lowest margin by a run of the changed case."""
    case, mesh, name = shared
    try:
        found = run_case(changed, base=case, mesh=mesh)[2].load_cases[name]
    except SolveError as error:
        return {"error": str(error)}
    region, worst = min(
        ((region, r.worst) for region, r in found.regions.items() if r.worst is not None),
        key=lambda each: each[1].margin,
    )
    stiffness = found.torsion.pickup_to_pickup
    return {"stiffness": stiffness, "margin": worst.margin, "region": region, "kind": worst.kind}


def _richer(tub: Ready, changes: Sequence[Change], points: float, folder: Path | None) -> Ready:
    """Snapshots until the middle of every bracket is within so many percentage points of both its ends."""
    begun = folder is not None and (folder / FILE).is_file()
    start = ready(tub.model, folder)[0] if begun else tub
    return enriched(start, changes, narrow=2 * points / 100, most=MOST, folder=folder)


def _kept(folder: Path | None, tub: Ready, study: str) -> Kept | None:
    if folder is None:
        return None
    return Kept(folder, study, fingerprint(case_key(tub.model.case), tub.model.mesh.points.tobytes()))


def _told(*figures: Figure) -> tuple[Figure, ...]:
    for figure in figures:
        figure.tell()
    return figures


def _same(one: Change, other: Change) -> bool:
    return one.keys() == other.keys() and all(np.array_equal(dC, other[k]) for k, dC in one.items())


def _least(group) -> float:
    """Least share of its group's mean stiffness that an element has in any direction."""
    half = np.linalg.inv(np.linalg.cholesky(group.C))
    return float(np.linalg.eigvalsh(half @ group.corners @ half.T).min())


if __name__ == "__main__":
    main(*sys.argv[1:])
