"""From a tub to its reduced model: which vectors it gets."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import usual_angle
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.findings.torsion import axle_stiffness
from tubfem.geometry.mesh import areas
from tubfem.laminate.ply import plane_stiffness, turned
from tubfem.shell.model import ShellModel
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import Factored, solve, solve_and_keep
from tubfem.study.basis import Stiff, Vectors, driven, stiffen, with_motion
from tubfem.study.family import COMPONENTS, Change, Family, changed_shell, make_family
from tubfem.study.reduced import Basis, Reduced, project
from tubfem.tub.model import LoadCaseSetup, State, TubModel
from tubfem.tub.plies import cured_layers

IN_PLANE = ((0, 0), (1, 1), (0, 1), (2, 2), (0, 2), (1, 2))
PART = 1e-3  # an in-plane stiffness smaller than this share of the largest needs no vector
BLOCKS = (
    (slice(0, 3), slice(0, 3)),
    (slice(0, 3), slice(3, 6)),
    (slice(3, 6), slice(3, 6)),
    (slice(6, 8), slice(6, 8)),
)


@dataclass(frozen=True, eq=False, slots=True)
class Twisted:
    """A tub under its torsion load case, factorised, with everything that a reduced model is made from."""

    model: TubModel
    state: State
    setup: LoadCaseSetup
    stiff: Stiff
    vectors: Vectors
    stiffness: float


def torsion_of(model: TubModel, name: str | None = None) -> tuple[State, LoadCaseSetup]:
    """The named torsion load case, or the first.

    Raises
    ------
    CaseError
        There is none.
    """
    for state in model.states:
        for setup in state.load_cases:
            if setup.torsion is not None and name in (None, setup.name):
                return state, setup
    raise CaseError("no torsion load case" if name is None else f"no torsion load case {name}")


def twist_tub(model: TubModel, name: str | None = None, factors: Mapping[int, Factored] | None = None) -> Twisted:
    """Factorise a tub and collect the vectors of its groups, one for each way in which a group is likely to change.

    `factors` are the states' factorised stiffness where there is one, by number.

    Raises
    ------
    CaseError
        The model has no torsion load case.
    """
    state, setup = torsion_of(model, name)
    shell = state.shell
    number = next(k for k, each in enumerate(model.states) if each is state)
    factored = (factors or {}).get(number) or solve_and_keep(shell)[1]
    T = shell.ties.T
    u0 = T @ factored.inverse(T.T @ shell.loads[:, setup.column])
    at_rest = generalised_strains(shell, u0.reshape(1, -1, 6))
    energy = np.concatenate([(each.energy + each.drilling_energy)[0] for each in at_rest])
    area = areas(model.mesh)
    family = make_family(model, shell, energy + 1e-3 * energy.sum() / area.sum() * area)
    stiff = stiffen(shell, family, factored)
    vectors = driven(stiff, _fields(model, family), u0)
    stiffness = axle_stiffness(shell.points, u0.reshape(-1, 6), setup.torsion)
    return Twisted(model, state, setup, stiff, vectors, stiffness)


def reduce_tub(twisted: Twisted) -> tuple[Reduced, Basis]:
    """The reduced model and its basis."""
    load = twisted.state.shell.loads[:, twisted.setup.column]
    return project(twisted.stiff, twisted.vectors, load, twisted.stiffness)


@dataclass(frozen=True, eq=False, slots=True)
class Snapshot:
    """Motion u (d,) of the tub under its torsion with a change of its groups, solved in full."""

    change: dict[int, Floats]
    u: Floats


def snapshot(shared: tuple[Family, ShellModel, int], change: Change) -> Snapshot:
    """A tub's motion in one column of its loads, solved in full with a change of its groups."""
    family, shell, column = shared
    return Snapshot(dict(change), solve(changed_shell(family, shell, change)).u[column].ravel())


def with_solutions(twisted: Twisted, snapshots: Sequence[Snapshot]) -> Twisted:
    """The tub with vectors more that are solved already, each with what it is made of region by region.

    u = u0 - K0⁻¹ dK u, and dK is a sum over regions. The motions K0⁻¹ dK_r u cost a back-substitution each and let
    every region answer for itself where the next change is another mixture of choices.
    """
    vectors = twisted.vectors
    for each in snapshots:
        parts = _by_region(twisted.stiff.family, each.change)
        vectors = with_motion(twisted.stiff, vectors, each.u, each.change, parts)
    return replace(twisted, vectors=vectors)


def _by_region(family: Family, change: Change) -> list[Change]:
    """A change of several regions in parts, a region each, all springs together; the last is what the others leave."""
    parts: dict[str, dict[int, Floats]] = {}
    for k, dC in change.items():
        group = family.groups[k]
        parts.setdefault(group.name if group.kind == "region" else "", {})[k] = dC
    several = len(parts.keys() - {""}) > 1
    return list(parts.values())[:-1] if several else []


def snapshots_of(twisted: Twisted) -> tuple[Snapshot, ...]:
    """The snapshots among a tub's vectors."""
    vectors = twisted.vectors
    return tuple(Snapshot(change, vectors.U[:, k].copy()) for k, change in enumerate(vectors.changes) if change)


def family_stiffness(twisted: Twisted, change: Change) -> float:
    """Stiffness [N·m/deg] by a full solve of exactly the change that the reduced model is asked for."""
    shell = changed_shell(twisted.stiff.family, twisted.state.shell, change)
    return axle_stiffness(shell.points, solve(shell).u[twisted.setup.column], twisted.setup.torsion)


def candidate_angles(case: Case, region: str, ply: str) -> tuple[float, ...]:
    """Angles [rad] worth trying: the stack's usual one for that ply, 0, 45 and 90 degrees.

    Those that lay the same layers (a balanced cloth turned by a right angle) count once.
    """
    layup = case.layups[region]
    wanted = (usual_angle(layup.stack, ply), 0.0, np.pi / 4, np.pi / 2)
    found: list[tuple[float, Floats]] = []
    for angle in wanted:
        layers = cured_layers(case, ply, layup)
        Q = sum(p.thickness * turned(plane_stiffness([p]), np.array([angle + a]))[0] for a, p in layers)
        if not any(np.allclose(Q, other, rtol=1e-6, atol=1e-6 * abs(Q).max()) for _, other in found):
            found.append((angle, Q))
    return tuple(angle for angle, _ in found)


def _fields(model: TubModel, family: Family) -> list[dict[int, Floats]]:
    """Stress fields that drive the vectors: of every region its blocks and plies on either face, of springs a share."""
    fields: list[dict[int, Floats]] = []
    for region in dict.fromkeys(group.name for group in family.groups if group.kind == "region"):
        numbers = family.named("region", region)
        for rows, columns in BLOCKS:
            field = {}
            for k in numbers:
                D = np.zeros((COMPONENTS, COMPONENTS))
                D[rows, columns] = family.groups[k].C[rows, columns]
                D[columns, rows] = family.groups[k].C[columns, rows]
                field[k] = D
            size = max(abs(D[rows, columns]).max() for D in field.values())
            scale = max(abs(family.groups[k].C[rows, rows]).max() for k in numbers)
            if size > 1e-6 * scale:
                fields.append(field)
        fields += _ply_fields(model, region, numbers)
    names = dict.fromkeys((group.kind, group.name) for group in family.groups if group.kind != "region")
    fields += [{k: np.eye(1) for k in family.named(kind, name)} for kind, name in names]
    # What thicker panels do to tabs on both their faces: the rotation alone.
    turning = [k for k, group in enumerate(family.groups) if (group.kind, group.part) == ("joint", "rotation")]
    return fields + [{k: np.eye(1)} for k in turning if len(family.named("joint", family.groups[k].name)) > 1]


def _ply_fields(model: TubModel, region: str, numbers: list[int]) -> list[dict[int, Floats]]:
    """A thin layer on the far and on the tool face, one field for each in-plane stiffness that a candidate has."""
    layup = model.case.layups[region]
    largest = np.zeros((3, 3))
    for ply in model.case.plies:
        for angle in candidate_angles(model.case, region, ply):
            layers = cured_layers(model.case, ply, layup)
            Q = sum(p.thickness * turned(plane_stiffness([p]), np.array([angle + a]))[0] for a, p in layers)
            largest = np.maximum(largest, abs(Q))
    fields = []
    for z in faces_of(model, region):
        for i, j in IN_PLANE:
            if largest[i, j] < PART * largest.max():
                continue
            Q = np.zeros((3, 3))
            Q[i, j] = Q[j, i] = largest[i, j]
            D = np.zeros((COMPONENTS, COMPONENTS))
            D[:6, :6] = np.block([[Q, z * Q], [z * Q, z**2 * Q]])
            D[8, 8] = model.states[0].shell.drilling * Q[2, 2]
            fields.append({k: D for k in numbers})
    return fields


def faces_of(model: TubModel, region: str) -> tuple[float, float]:
    """Positions [m] of a region's own far and tool face from the meshed surface, mean over its panels."""
    panels = [panel for panel in model.mesh.panels if panel.region == region]
    layup = model.case.layups[region]
    thickness = sum(
        entry.thickness
        if entry.thickness is not None
        else entry.count * sum(p.thickness for _, p in cured_layers(model.case, entry.name, layup))
        for entry in layup.stack
    )
    tool = -float(np.mean([panel.shift for panel in panels]))
    return tool + thickness, tool
