"""One case on several meshes: what the mesh does to stiffness and margins."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.errors import CaseError, MeshError
from tubfem.findings.mesh_error import LIMIT
from tubfem.findings.results import Findings, MeshSize
from tubfem.run import Stages, run_case
from tubfem.study.convergence import LEAST_MESHES, LEAST_RATIO, Convergence, converge
from tubfem.study.executors import SERIAL, Kept, Pool, do_all
from tubfem.study.fingerprints import case_key, fingerprint

STUDY = "refine"
FACTORS = (1.6, 1.25, 1.0, 0.8, 0.64)  # of the case's own size
STIFFNESS, ON_THE_TUB, ENERGY, USE = "stiffness", "stiffness on the tub", "strain energy", "use"


@dataclass(frozen=True, eq=False, slots=True)
class Quantity:
    """A number of one load case on every mesh, the finest first.

    `what` is "stiffness" (pickup to pickup) and "stiffness on the tub" [N m/deg], "strain energy" [J] of a static load
    case, or "use": demand over allowable of a region's lowest margin, which is 1 / (1 + margin). `modes` (m,) say what
    governed on each mesh.
    """

    load_case: str
    what: str
    region: str | None
    convergence: Convergence
    modes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Refinement:
    """A case on several meshes.

    Attributes
    ----------
    case : as read
    meshes : the finest first
    own : index of the mesh that `run` would make; the finest if the sizes asked leave it out
    estimates : per load case, the mesh band that `run` reports on each mesh, a part of the compliance
    seconds : per mesh
    left_out : meshes that could not be made, in words
    """

    case: Case
    meshes: tuple[MeshSize, ...]
    own: int
    quantities: tuple[Quantity, ...]
    estimates: dict[str, tuple[float, ...]]
    seconds: tuple[float, ...]
    left_out: tuple[str, ...]

    @property
    def band(self) -> float:
        """The widest band of a stiffness (or strain energy) on the case's own mesh."""
        return max(float(q.convergence.band[self.own]) for q in self.quantities if q.what in (STIFFNESS, ENERGY))

    @property
    def warnings(self) -> tuple[str, ...]:
        """What does not converge as it should, in words, by the reason for it."""
        reasons: dict[str, list[str]] = {}
        for quantity in self.quantities:
            if quantity.convergence.doubtful:
                what = quantity.what if quantity.region is None else quantity.region
                several = len({q.load_case for q in self.quantities}) > 1
                name = f"{quantity.load_case} {what}" if several else what
                reasons.setdefault(_why(quantity), []).append(name)
        return tuple(f"{', '.join(names)}: {why}." for why, names in reasons.items())


def refine_case(
    case: Case,
    sizes: Sequence[float] | None = None,
    *,
    stages: Stages | None = None,
    pool: Pool = SERIAL,
    folder: Path | None = None,
) -> Refinement:
    """Run a case on several meshes.

    Parameters
    ----------
    sizes : mesh sizes [m], three or more, each 1.2 times the next or more; by default 1.6, 1.25, 1, 0.8 and 0.64 times
        the case's own
    pool : where each mesh is run
    folder : where finished meshes are kept, for a study that is stopped

    Raises
    ------
    CaseError
        Sizes too few or too near each other, or the case is wrong.
    MeshError
        Fewer than three of the meshes can be made.
    SolveError
        A mesh cannot be solved.
    """
    stages = stages or Stages()
    asked = checked_sizes([case.mesh.size * factor for factor in FACTORS] if sizes is None else sizes)
    items = {f"mesh {1e3 * size:.3g} mm": size for size in asked}
    kept = None if folder is None else Kept(folder, STUDY, fingerprint(case_key(case), repr(asked)))
    found = do_all(pool, on_mesh, case, items, kept=kept, tell=stages.tell, note=stages.note)
    left_out = tuple(f"{name}: {each['left_out']}" for name, each in found.items() if "left_out" in each)
    for name, each in found.items():
        if "left_out" not in each:
            stages.seconds[name] = each["seconds"]
    runs = [each for each in reversed(found.values()) if "left_out" not in each]
    if len(runs) < LEAST_MESHES:
        raise MeshError([*left_out, f"only {len(runs)} meshes are left; {LEAST_MESHES} are needed"])
    h = np.array([each["mesh"]["size"] for each in runs])
    own = np.flatnonzero(np.isclose(h, case.mesh.size, rtol=1e-6))
    return Refinement(
        case=case,
        meshes=tuple(MeshSize(**each["mesh"]) for each in runs),
        own=int(own[0]) if len(own) else 0,
        quantities=tuple(_quantities(h, [each["values"] for each in runs])),
        estimates={name: tuple(each["bands"][name] for each in runs) for name in runs[0]["bands"]},
        seconds=tuple(each["seconds"] for each in runs),
        left_out=left_out,
    )


def on_mesh(case: Case, size: float) -> dict[str, Any]:
    """What one mesh says, plain enough to be kept: its size, mesh bands, [load case, what, region, value, mode]."""
    clock = Stages()
    try:
        _, _, findings = run_case(sized(case, size), stages=clock)
    except MeshError as error:
        return {"left_out": error.messages[0]}
    return {
        "mesh": asdict(findings.mesh),
        "bands": {name: load_case.mesh.band for name, load_case in findings.load_cases.items()},
        "values": [row for name in findings.load_cases for row in _values(name, findings)],
        "seconds": sum(clock.seconds.values()),
    }


def doubts_of(refinement: Refinement) -> list[str]:
    """Why a refinement ends with exit code 1."""
    if refinement.band <= LIMIT:
        return []
    size = 1e3 * refinement.meshes[refinement.own].size
    return [f"mesh of {size:.3g} mm: band {100 * refinement.band:.1f} %, above {100 * LIMIT:.0f} %"]


def checked_sizes(sizes: Sequence[float]) -> list[float]:
    """Mesh sizes [m], the coarsest first; `CaseError` if they are too few, too near each other or not positive."""
    found = sorted(sizes, reverse=True)
    faults = [f"--sizes: {1e3 * size:g} is no size of an element" for size in found if not size > 0]
    if len(found) < LEAST_MESHES:
        faults.append(f"--sizes: {len(found)} given; a trend needs {LEAST_MESHES} or more")
    if not faults:
        faults += [
            f"--sizes: {1e3 * a:g} and {1e3 * b:g} are too near; each must be {LEAST_RATIO:g} times the next or more"
            for a, b in pairwise(found)
            if a / b < LEAST_RATIO - 1e-9
        ]
    if faults:
        raise CaseError(faults)
    return found


def sized(case: Case, size: float) -> Case:
    """The case on another mesh size [m]."""
    return case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": size})})


def _values(name: str, findings: Findings) -> Iterator[list[Any]]:
    load_case = findings.load_cases[name]
    torsion = load_case.torsion
    if torsion is None:
        yield [name, ENERGY, None, load_case.energy.total, None]
    else:
        yield [name, STIFFNESS, None, torsion.pickup_to_pickup, None]
        if torsion.between_stations is not None:
            yield [name, ON_THE_TUB, None, torsion.between_stations, None]
    for region, found in load_case.regions.items():
        if found.worst is not None and np.isfinite(found.worst.margin):
            yield [name, USE, region, 1 / (1 + found.worst.margin), found.worst.kind]


def _quantities(h: Floats, runs: Sequence[Sequence[Sequence[Any]]]) -> Iterator[Quantity]:
    """What every mesh has a value of, in the order of the finest."""
    tables = [{tuple(row[:3]): row[3:] for row in rows} for rows in runs]
    for key in tables[0]:
        if all(key in table for table in tables):
            values, modes = zip(*(table[key] for table in tables), strict=True)
            name, what, region = key
            yield Quantity(name, what, region, converge(h, np.array(values)), () if region is None else modes)


def _why(quantity: Quantity) -> str:
    """Why a quantity does not converge."""
    if len(set(quantity.modes)) > 1:
        return "another kind of margin governs on another mesh"
    if quantity.convergence.kind == "oscillating":
        if quantity.region is None:
            return "it comes and goes from mesh to mesh"
        return "the lowest margin comes and goes from mesh to mesh; it is read at the worst place, which moves"
    if quantity.region is None:
        return "order below a half: far from converged on these meshes"
    return (
        "order below a half: a peak that grows with every mesh, as at re-entrant corners while elements are larger "
        "than the length that strains are averaged over"
    )
