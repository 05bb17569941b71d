"""How far stiffness and margins may lie from the numbers of a run: everything that scatters, drawn many times.

Draws go through the reduced model; a few are solved in full. The mesh's part joins as one more variable.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import ndtr

from tubfem.arrays import Floats, frozen
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.collect import find
from tubfem.findings.results import Findings
from tubfem.findings.strains import describe_elements
from tubfem.run import Stages, model_case, solve_state
from tubfem.study.executors import SERIAL, Kept, Pool, do_all
from tubfem.study.fingerprints import case_key, fingerprint
from tubfem.study.joint_margins import joint_lines
from tubfem.study.mesh_part import MeshPart, mesh_part
from tubfem.study.reduce import torsion_of
from tubfem.study.sampled import Responses, Solved, drawn_of, evaluate, responses
from tubfem.study.sampled_joints import node_forces, uses_in_full
from tubfem.study.scatter import MESH, Cause
from tubfem.study.scattered import Drawn, Source, drawn_tub, scatter, source_of
from tubfem.study.sobol import Sampled, base_samples, exchanged, plane_slopes, quantile_errors, shares
from tubfem.study.weakest import JOINT, joints_of
from tubfem.tub.model import State

STUDY = "spread"
BAND = (0.05, 0.5, 0.95)
SAMPLES, LEAST, MOST = 128, 16, 4096
MESH_LEFT = 0.25  # of the mesh's band on a mesh of half the size, by its second order
SINGLE = 8  # variables named one by one
OF_MESH = Cause(MESH, "mesh", 1.0, "", "make the mesh half the size, or look with tubfem refine", MESH_LEFT)


@dataclass(frozen=True, slots=True)
class Driver:
    """A cause's part in the variance of an output: first-order and total share with their standard errors.

    `measured` is the standard deviation that would be left after the cause's measurement, as a share of today's.
    """

    cause: Cause
    first: float
    first_error: float
    total: float
    total_error: float
    measured: float


@dataclass(frozen=True, eq=False, slots=True)
class Outcome:
    """An output over all draws: values (n,), 5, 50 and 95 % quantiles with standard errors, drivers, greatest first.

    Stiffness in N·m/deg; of a region the greatest use, 1 / (1 + margin), whose drivers are those of its logarithm.
    """

    values: Floats
    quantiles: tuple[float, float, float]
    errors: tuple[float, float, float]
    drivers: tuple[Driver, ...]

    @property
    def mean(self) -> float:
        """Mean of the values."""
        return float(self.values.mean())

    @property
    def sd(self) -> float:
        """Standard deviation of the values."""
        return float(self.values.std())

    @property
    def margins(self) -> tuple[float, float, float]:
        """Margins below which 5, 50 and 95 % of all tubs lie, where the values are uses."""
        low, middle, high = (1 / use - 1 for use in reversed(self.quantiles))
        return low, middle, high

    @property
    def negative(self) -> float:
        """Share of all tubs with a negative margin, where the values are uses."""
        return float((self.values > 1).mean())


@dataclass(frozen=True, slots=True)
class Confirmation:
    """One draw solved in full: which, stiffness without the mesh's part, lowest margin and its place, both ways."""

    what: str
    stiffness: float
    stiffness_full: float
    place: str
    margin: float
    margin_full: float


@dataclass(frozen=True, eq=False, slots=True)
class Spread:
    """The answer.

    Attributes
    ----------
    stiffness_now : of the run [N·m/deg], `margins_now` its lowest margin by region, `joints_now` by joint
    causes : what scatters, with coefficients and where they are from
    stiffness : with the mesh's part; `tub_alone` 5, 50 and 95 % without it
    regions, joints : by name, joints without their sides
    single : (name of a variable, its share of the stiffness variance), greatest first
    samples, evaluations : rows of the base samples, draws in all
    """

    case: Case
    load_case: str
    findings: Findings
    stiffness_now: float
    margins_now: dict[str, float]
    joints_now: dict[str, float]
    causes: tuple[Cause, ...]
    mesh: MeshPart
    stiffness: Outcome
    tub_alone: tuple[float, float, float]
    regions: dict[str, Outcome]
    joints: dict[str, Outcome]
    single: tuple[tuple[str, float], ...]
    confirmations: tuple[Confirmation, ...]
    samples: int
    evaluations: int
    seed: int
    each: float

    @property
    def best(self) -> Driver:
        """The cause whose measurement leaves least."""
        return min(self.stiffness.drivers, key=lambda driver: driver.measured)


@dataclass(frozen=True, eq=False, slots=True)
class _Drawn:
    """Samples A and B (n, v + 1), the mesh's variable last; outputs of A, of B and of A with a cause's columns from B.

    `tub` (n,), (n,), (causes, n) [N·m/deg], the mesh's part left out; `use` likewise, (.., regions and joints).
    """

    A: Floats
    B: Floats
    tub: tuple[Floats, Floats, Floats]
    use: tuple[Floats, Floats, Floats]


def spread_case(
    case: Case,
    *,
    samples: int = SAMPLES,
    seed: int = 1,
    folder: Path | None = None,
    stages: Stages | None = None,
    pool: Pool = SERIAL,
) -> Spread:
    """Draw a case's tub many times.

    Parameters
    ----------
    samples : rows of each base sample, a power of two; draws are as many times two and the causes
    seed : of the scrambling; the same seed gives the same draws
    folder : where refine.json is looked for, and finished solves are kept
    pool : where draws are solved in full

    Raises
    ------
    CaseError
        Samples are not a power of two between 16 and 4096; nothing scatters; there is no torsion load case.
    """
    stages = stages or Stages()
    if not LEAST <= samples <= MOST or samples & (samples - 1):
        raise CaseError(f"--samples {samples}: write a power of two from {LEAST} to {MOST}, such as {SAMPLES}")
    model = model_case(case, stages=stages)
    state, setup = torsion_of(model)
    model = replace(model, states=(state,), modes=None)
    source = source_of(model)
    scattered = scatter(source, state.shell)
    if not scattered.causes:
        raise CaseError([case.message(("spread",), "nothing scatters: every coefficient is 0")])
    with stages("solve"):
        solution, factored = solve_state(model, state)
    with stages("findings"):
        findings = find(model, (solution,))
    own = findings.load_cases[setup.name]
    now = own.torsion.pickup_to_pickup
    with stages("answers to each cause"):
        motion = solution.u[setup.column].ravel()
        answers = responses(Solved(source, state, setup, factored, motion, now), scattered)
    part = mesh_part(case, findings, setup.name, folder)
    before = stages.seconds.get("draws", 0.0)
    with stages("draws"):
        drawn = _draw(answers, samples, seed)
    evaluations = samples * (2 + len(scattered.causes))
    each = (stages.seconds["draws"] - before) / evaluations
    causes = (*scattered.causes, replace(OF_MESH, source=part.words))
    groups = [*(scattered.columns(cause.key) for cause in scattered.causes), [len(scattered.variables)]]
    joined = Sampled(drawn.A, drawn.B, groups, *_with_mesh(drawn, part))
    regions, joints = answers.followed.elements.regions, answers.joints.names
    outcomes = {
        k: _outcome(
            Sampled(drawn.A, drawn.B, groups[:-1], *(use[..., k] for use in drawn.use)),
            scattered.causes,
            seed,
            logarithm=True,
        )
        for k in range(len(regions) + len(joints))
        if (np.concatenate(drawn.use[:2])[:, k] > 0).all()
    }
    worst = {w.region: w.margin for r in own.regions.values() if (w := r.worst)}
    with stages("full solves"):
        confirmations = _confirmed(answers, drawn, pool, folder, stages)
    return Spread(
        case=case,
        load_case=setup.name,
        findings=findings,
        stiffness_now=now,
        margins_now=worst,
        joints_now={name: margin for name, (margin, _) in joints_of(own).items()},
        causes=causes,
        mesh=part,
        stiffness=_outcome(joined, causes, seed, logarithm=False),
        tub_alone=tuple(np.quantile(np.concatenate(drawn.tub[:2]), BAND).tolist()),
        regions={name: outcomes[k] for k, name in enumerate(regions) if k in outcomes},
        joints={name: outcomes[k] for k, name in enumerate(joints, len(regions)) if k in outcomes},
        single=_single(joined, (*scattered.variables, MESH)),
        confirmations=confirmations,
        samples=samples,
        evaluations=evaluations,
        seed=seed,
        each=each,
    )


def _draw(answers: Responses, samples: int, seed: int) -> _Drawn:
    scattered = answers.scatter
    A, B = base_samples(samples, len(scattered.variables) + 1, seed)
    columns = [scattered.columns(cause.key) for cause in scattered.causes]
    every = np.concatenate([A, B, *(exchanged(A, B, own) for own in columns)])
    stiffness, use = evaluate(answers, every[:, :-1] @ scattered.mix.T)
    stiffness, use = stiffness.reshape(-1, samples), use.reshape(len(stiffness) // samples, samples, -1)
    return _Drawn(A, B, (stiffness[0], stiffness[1], stiffness[2:]), (use[0], use[1], use[2:]))


def _with_mesh(drawn: _Drawn, part: MeshPart) -> tuple[Floats, Floats, Floats]:
    """Stiffness with the mesh's part, anywhere in its range alike; a cause more in the last."""
    of_A, of_B = (part.low + (part.high - part.low) * ndtr(Z[:, -1]) for Z in (drawn.A, drawn.B))
    tub_A, tub_B, tub_AB = drawn.tub
    return tub_A * of_A, tub_B * of_B, np.concatenate([tub_AB * of_A, (tub_A * of_B)[None]])


def _outcome(sampled: Sampled, causes: Sequence[Cause], seed: int, *, logarithm: bool) -> Outcome:
    values = np.concatenate([sampled.one, sampled.other])
    if logarithm:
        sampled = replace(
            sampled, one=np.log(sampled.one), other=np.log(sampled.other), crossed=np.log(sampled.crossed)
        )
    first, total, *errors = (part.tolist() for part in shares(sampled, seed))
    drivers = (
        Driver(cause, first[k], errors[0][k], total[k], errors[1][k], _measured(cause, first[k]))
        for k, cause in enumerate(causes)
    )
    return Outcome(
        values=frozen(values),
        quantiles=tuple(np.quantile(values, BAND).tolist()),
        errors=tuple(quantile_errors(values, BAND, seed).tolist()),
        drivers=tuple(sorted(drivers, key=lambda driver: -driver.total)),
    )


def _measured(cause: Cause, first: float) -> float:
    """Standard deviation left, as a share, once a cause is known as well as its measurement tells it (S.6)."""
    known = 1 - (cause.left / cause.scatter) ** 2
    return float(np.sqrt(1 - min(max(first, 0.0), 1.0) * known))


def _single(sampled: Sampled, names: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """Shares of single variables in the variance, by the plane through all draws; none if they are too few."""
    slopes = plane_slopes(sampled.A, sampled.B, sampled.one, sampled.other)
    share = slopes**2 / np.concatenate([sampled.one, sampled.other]).var()
    return tuple((names[k], float(share[k])) for k in np.argsort(-share)[:SINGLE] if share[k] > 0)


def _confirmed(
    answers: Responses, drawn: _Drawn, pool: Pool, folder: Path | None, stages: Stages
) -> tuple[Confirmation, ...]:
    """The draws nearest to either end of the band, and the one with the lowest margin, solved in full."""
    solved, stiffness, use = answers.solved, drawn.tub[0], drawn.use[0]
    model = solved.source.model
    low, _, high = np.quantile(stiffness, BAND)
    rows = {
        int(abs(stiffness - low).argmin()): "5 % of stiffness",
        int(abs(stiffness - high).argmin()): "95 % of stiffness",
        int(use.max(axis=1).argmax()): "lowest margin of all",
    }
    Z = drawn.A[:, :-1] @ answers.scatter.mix.T
    items = {what: drawn_of(answers.scatter, Z[row]) for row, what in rows.items()}
    key = fingerprint(case_key(model.case), model.mesh.points.tobytes(), repr(list(items.values())))
    kept = None if folder is None else Kept(folder, STUDY, key)
    shared = solved.source, solved.state, solved.setup.name
    found = do_all(pool, in_full, shared, items, kept=kept, tell=stages.tell, note=stages.note)
    return tuple(
        Confirmation(
            what=what,
            stiffness=float(stiffness[row]),
            stiffness_full=found[what]["stiffness"],
            place=found[what]["place"],
            margin=float(1 / use[row].max() - 1),
            margin_full=found[what]["margin"],
        )
        for row, what in rows.items()
    )


def in_full(shared: tuple[Source, State, str], drawn: Drawn) -> dict[str, Any]:
    """Stiffness, lowest margin and its place of one draw by a full solve."""
    source, state, name = shared
    full = drawn_tub(source, state, drawn)
    (now,) = full.states
    solution = solve_state(full, now)[0]
    found = find(full, (solution,)).load_cases[name]
    margins = {region: r.worst.margin for region, r in found.regions.items() if r.worst is not None}
    setup = next(each for each in now.load_cases if each.name == name)
    forces = node_forces(source, now.shell, solution.u[setup.column].reshape(-1, 1))[..., 0]
    lines = joint_lines(full, setup, describe_elements(full))
    uses = uses_in_full(source, lines, forces, drawn)
    margins |= {f"{JOINT}{joint}": 1 / use - 1 for joint, use in uses.items() if use > 0}
    place = min(margins, key=lambda each: margins[each])
    return {"stiffness": found.torsion.pickup_to_pickup, "place": place, "margin": margins[place]}
