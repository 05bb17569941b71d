"""One case on several meshes: what the mesh does to stiffness and margins."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tubfem.case.schema import Case
from tubfem.errors import CaseError, MeshError
from tubfem.findings.mesh_error import LIMIT
from tubfem.findings.results import Findings, MeshSize
from tubfem.run import Stages, run_case
from tubfem.study.convergence import LEAST_MESHES, LEAST_RATIO, Convergence, converge

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


def refine_case(case: Case, sizes: Sequence[float] | None = None, *, stages: Stages | None = None) -> Refinement:
    """Run a case on several meshes.

    Parameters
    ----------
    sizes : mesh sizes [m], three or more, each 1.2 times the next or more; by default 1.6, 1.25, 1, 0.8 and 0.64 times
        the case's own

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
    runs: list[tuple[float, Findings, float]] = []
    left_out: list[str] = []
    for size in asked:
        clock = Stages(lambda stage, size=size: stages.tell(f"mesh {1e3 * size:.3g} mm: {stage}"))
        try:
            _, _, findings = run_case(sized(case, size), stages=clock)
        except MeshError as error:
            left_out.append(f"mesh {1e3 * size:.3g} mm: {error.messages[0]}")
            continue
        seconds = sum(clock.seconds.values())
        stages.seconds[f"mesh {1e3 * size:.3g} mm"] = seconds
        runs.append((size, findings, seconds))
    if len(runs) < LEAST_MESHES:
        raise MeshError([*left_out, f"only {len(runs)} meshes are left; {LEAST_MESHES} are needed"])
    runs.reverse()
    found = [findings for _, findings, _ in runs]
    h = np.array([size for size, _, _ in runs])
    own = np.flatnonzero(np.isclose(h, case.mesh.size, rtol=1e-6))
    return Refinement(
        case=case,
        meshes=tuple(findings.mesh for findings in found),
        own=int(own[0]) if len(own) else 0,
        quantities=tuple(q for name in found[0].load_cases for q in _quantities(name, h, found)),
        estimates={
            name: tuple(findings.load_cases[name].mesh.band for findings in found) for name in found[0].load_cases
        },
        seconds=tuple(seconds for _, _, seconds in runs),
        left_out=tuple(left_out),
    )


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


def _quantities(name: str, h: np.ndarray, found: list[Findings]) -> list[Quantity]:
    cases = [findings.load_cases[name] for findings in found]
    rows: list[tuple[str, list[float]]] = []
    torsions = [case.torsion for case in cases if case.torsion is not None]
    if torsions:
        rows.append((STIFFNESS, [torsion.pickup_to_pickup for torsion in torsions]))
        on_tub = [t.between_stations for t in torsions if t.between_stations is not None]
        if len(on_tub) == len(cases):
            rows.append((ON_THE_TUB, on_tub))
    else:
        rows.append((ENERGY, [case.energy.total for case in cases]))
    quantities = [Quantity(name, what, None, converge(h, np.array(values))) for what, values in rows]
    for region in cases[0].regions:
        worst = [case.regions[region].worst for case in cases]
        if any(w is None or not np.isfinite(w.margin) for w in worst):
            continue
        use = np.array([1 / (1 + w.margin) for w in worst])
        quantities.append(Quantity(name, USE, region, converge(h, use), tuple(w.kind for w in worst)))
    return quantities


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
