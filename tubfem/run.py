"""One case through the rooms: the sentence that docs/architecture.md draws, with the time each stage took.

What comes after the mesh is imported where it is used, so that it can be loaded while gmsh, which needs no Python,
is meshing (`load_rest`).
"""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

from tubfem.arrays import Ints
from tubfem.case.changes import add_plies, drop_plies
from tubfem.case.schema import Case
from tubfem.case.sections import expand, plain_of
from tubfem.case.without import take_off
from tubfem.errors import CaseError, MeshError, SolveError
from tubfem.geometry.mesh import TubMesh
from tubfem.geometry.mesher import mesh_tub
from tubfem.tub.plies import base_thickness

if TYPE_CHECKING:
    from tubfem.findings.results import Findings
    from tubfem.shell.eigen import Buckling
    from tubfem.shell.solve import Factored, Solution
    from tubfem.tub.model import State, TubModel

CAUTION = "caution: "  # how a note of the geometry begins that a builder should not overlook


@dataclass(slots=True)
class Stages:
    """A clock for the stages of a run: tells each as it starts, keeps its seconds; `note` hears what should stay."""

    tell: Callable[[str], None] = lambda _: None
    seconds: dict[str, float] = field(default_factory=dict)
    note: Callable[[str], None] = lambda _: None

    @contextmanager
    def __call__(self, name: str) -> Iterator[None]:
        """Time one stage; the same name again adds to it."""
        self.tell(name)
        start = perf_counter()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + perf_counter() - start


def load_rest() -> None:
    """Import what `run_case` needs late in the mesh and after it."""
    import scipy.optimize  # noqa: F401

    from tubfem.findings import collect, modes, stability  # noqa: F401
    from tubfem.shell import eigen, floating, solve  # noqa: F401
    from tubfem.tub import build, layup, rims  # noqa: F401


def change_case(case: Case, *, add: Sequence[str] = (), drop: Sequence[str] = (), without: Sequence[str] = ()) -> Case:
    """A case with changes as the command line writes them: parts left off first, then plies dropped, then added.

    Raises
    ------
    CaseError
        Every change that cannot be made, with the nearest spelling.
    """
    faults: list[str] = []
    for change, texts in ((take_off, without), (drop_plies, drop), (add_plies, add)):
        for text in texts:
            try:
                case = change(case, text)
            except CaseError as error:
                faults += error.messages
    if faults:
        raise CaseError(faults)
    return case


def model_case(
    case: Case, *, base: Case | None = None, mesh: TubMesh | None = None, stages: Stages | None = None
) -> "TubModel":
    """Mesh a case, lay it up and make its shell model; its notes and cautions begin with the geometry's.

    Parameters
    ----------
    case : with its changes, if there are any
    base : the case without them: the surface that is meshed is the middle of its stacks, so that plies added or
        dropped stay where they are laid; `case` itself by default
    mesh : of another case of the same geometry and base, to be used again
    stages : keeps the seconds of every stage

    Raises
    ------
    CaseError, MeshError
        With every fault found in the stage that found any.
    """
    stages = stages or Stages()
    with stages("geometry"):
        thickness = base_thickness(base or case)
        whole = expand(case, thickness)
        plain, notes = plain_of(whole)
    if mesh is None:
        with stages("mesh"):
            try:
                mesh = mesh_tub(plain)
            except MeshError as error:
                raise MeshError([_with_line(case, message) for message in error.messages]) from error

    from tubfem.tub.build import build_model
    from tubfem.tub.layup import lay_plies
    from tubfem.tub.rims import opening_rims

    with stages("layup"):
        layup = lay_plies(case, mesh, thickness, whole)
    with stages("model"):
        model = replace(build_model(case, mesh, layup, base=base), rims=opening_rims(plain, mesh), whole=whole)
    cautions = tuple(note for note in notes if note.startswith(CAUTION))
    notes = tuple(note for note in notes if note not in cautions)
    return replace(model, cautions=(*cautions, *model.cautions), notes=(*notes, *model.notes))


def _with_line(case: Case, message: str) -> str:
    """A message of the mesher with the line of its panel (or the section that it is of), mount or mesh size."""
    if message.startswith("mesh.size: "):
        return f"{case.where('mesh', 'size')}: {message}"
    named = re.match(r"(panels|mounts)\.([^\s.:]+)", message)
    if named is None:
        return message
    family = "sections" if named[1] == "panels" and named[2] not in case.panels else named[1]
    return f"{case.where(family, named[2])}: {message}"


def run_case(
    case: Case,
    *,
    base: Case | None = None,
    mesh: TubMesh | None = None,
    stages: Stages | None = None,
    modelled: Callable[["TubModel"], None] | None = None,
    solved: Callable[[int, "Factored"], None] | None = None,
) -> tuple["TubModel", tuple["Solution", ...], "Findings"]:
    """Model, solve and find; arguments and errors as `model_case`.

    `modelled` gets the model as soon as it stands, before it is solved; `solved` the number of every state with its
    factorised stiffness, for what comes after.

    Returns
    -------
    TubModel, one Solution for each of its states, Findings

    Raises
    ------
    SolveError
        A part floats (named), or a check of a solution fails.
    """
    stages = stages or Stages()
    model = model_case(case, base=base, mesh=mesh, stages=stages)

    from tubfem.findings.collect import find
    from tubfem.findings.modes import WHOLE, section_masses
    from tubfem.findings.stability import add_stability
    from tubfem.shell.eigen import buckling, vibration, whole_vibration

    if modelled is not None:
        modelled(model)
    solutions: list[Solution] = []
    buckled: dict[str, Buckling] = {}
    vibrating = None
    for number, state in enumerate(model.states):
        with stages("solve"):
            solution, factored = solve_state(model, state)
        solutions.append(solution)
        if solved is not None:
            solved(number, factored)
        for asked in (load_case for load_case in state.load_cases if load_case.buckling):
            with stages("buckling"):
                buckled[asked.name] = buckling(state.shell, factored, solution.u[asked.column])
        if model.modes is not None and model.modes.state == number:
            with stages("modes"):
                carried = [each.rows for each in model.modes.carried]
                own = vibration(state.shell, factored, model.modes.count, carried=carried, free=True)
                vibrating = own, whole_vibration(state.shell, factored, WHOLE, section_masses(model))
    with stages("findings"):
        findings = find(model, tuple(solutions))
        if buckled or vibrating is not None:
            findings = add_stability(findings, model, buckled, vibrating)
    if model.case.heat is not None:
        with stages("heat"):
            findings = _in_service(model, findings)
    return model, tuple(solutions), findings


def _in_service(model: "TubModel", findings: "Findings") -> "Findings":
    """Findings with those of the tub as warm as it gets, and of what of it may be counted on."""
    from tubfem.findings.collect import find
    from tubfem.findings.heat import add_heat
    from tubfem.findings.torsion import axle_stiffness
    from tubfem.tub.heat import service, warm_model

    state = service(model)
    warm, credited = warm_model(model, state), None
    if not state.credited.all():
        left = warm_model(model, state, credited_only=True)
        credited = {
            setup.name: axle_stiffness(each.shell.points, solution.u[setup.column], setup.torsion)
            for each, solution in zip(left.states, _solutions(left), strict=True)
            for setup in each.load_cases
            if setup.torsion is not None
        }
    return add_heat(findings, model, state, find(warm, _solutions(warm)), credited)


def _solutions(model: "TubModel") -> tuple["Solution", ...]:
    return tuple(solve_state(model, state)[0] for state in model.states)


def run_changed(
    case: Case,
    base: Case,
    *,
    stages: Stages | None = None,
    modelled: Callable[["TubModel"], None] | None = None,
    solved: Callable[[int, "Factored"], None] | None = None,
) -> tuple["TubModel", tuple["Solution", ...], "Findings"]:
    """Run a changed case, and the case as written beside it, so that the findings say what the changes win.

    Both have one mesh, unless a part was taken off. Arguments, results and errors as `run_case`.
    """
    stages = stages or Stages()
    model, solutions, findings = run_case(case, base=base, stages=stages, modelled=modelled, solved=solved)
    from tubfem.findings.gain import gains

    mesh = model.mesh if case.without == base.without else None
    _, _, before = run_case(base, mesh=mesh, stages=stages)
    return model, solutions, replace(findings, gains=gains(before, findings))


def solve_state(model: "TubModel", state: "State") -> tuple["Solution", "Factored"]:
    """The solution of one state with its factorised stiffness; what floats is told by its name."""
    from tubfem.shell.floating import FloatingError
    from tubfem.shell.solve import solve_and_keep

    try:
        return solve_and_keep(state.shell)
    except FloatingError as error:
        cases = ", ".join(load_case.name for load_case in state.load_cases)
        names = ", ".join(names_at(model, error.nodes))
        raise SolveError(
            [
                *(f"load case {cases}: {message}" for message in error.messages),
                f"what moves: {names}; tie it to its neighbours under [joints], or support it",
            ]
        ) from error


def names_at(model: "TubModel", nodes: Ints) -> tuple[str, ...]:
    """Panels, mounts, subframes, nodes of tubes and pickups that own any of these shell nodes."""
    panel = model.mesh.element_panel
    touched = np.concatenate([np.isin(block.conn, nodes).any(axis=1) for block in model.states[0].shell.blocks])
    names = [model.mesh.panels[i].name for i in np.unique(panel[touched])]
    wanted = set(np.asarray(nodes).tolist())
    for kind, table in (("mount", model.mounts), ("subframe", model.subframes), ("pickup", model.pickups)):
        names += [f"{kind} {name}" for name, node in table.items() if node in wanted]
    for frame in model.frames:
        names += [f"node {name} of {frame.name}" for name, node in frame.nodes.items() if node in wanted]
    return tuple(names)
