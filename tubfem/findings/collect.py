"""All findings of a solved tub."""

from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import Floats, frozen
from tubfem.findings.allowables import (
    FIBRE,
    FIRST_DAMAGE,
    INTERLAMINAR,
    TUBE_BUCKLING,
    TUBE_YIELD,
    Allowables,
    allowables,
)
from tubfem.findings.connections import find_connections
from tubfem.findings.core_edges import EdgeOfCore, core_edge_sentences, core_edges, edges_of_cores
from tubfem.findings.energy import (
    MODULI,
    element_energy,
    element_stiffness,
    energy_shares,
    moduli_stiffness,
    second_moments,
)
from tubfem.findings.hand_check import hand_check
from tubfem.findings.hard_points import hard_points
from tubfem.findings.hot_spots import hot_spots
from tubfem.findings.joint_names import JointPlaces, joint_places, pair_names
from tubfem.findings.joint_strength import judged
from tubfem.findings.joints import joint_loads
from tubfem.findings.margins import Loaded, Rules, element_use, margin_rules, margins_of, worst_of_region
from tubfem.findings.mass import mixture_thickness, whole_mass
from tubfem.findings.mesh_error import mesh_band
from tubfem.findings.plies import surface_strain
from tubfem.findings.results import (
    CheckFinding,
    Energy,
    Fields,
    Findings,
    LoadCaseFindings,
    Mass,
    MeshSize,
    RegionFindings,
)
from tubfem.findings.rims import (
    RimLoad,
    SolvedRim,
    judge_rims,
    opening_sentences,
    solve_rims,
    with_doublers,
    with_openings,
)
from tubfem.findings.sandwich import KINDS
from tubfem.findings.strains import (
    Elements,
    describe_elements,
    gather_strains,
    membrane_forces,
    surface_peaks,
)
from tubfem.findings.torsion import read_torsion
from tubfem.findings.tubes import frame_findings
from tubfem.findings.verdicts import verdicts
from tubfem.findings.words import case_sentences
from tubfem.shell.recover import ElementStrains, generalised_strains, spring_energies, spring_forces
from tubfem.shell.solve import Solution
from tubfem.tub.layup import layup_mass
from tubfem.tub.model import LoadCaseSetup, State, TubModel

REACTIONS = 1e-6  # of the applied force: a couple that balances itself leaves the determinate supports without load
CHECKS = {"energy": "energy_balance"}  # the solver's names that results.json writes differently
NOTES = (
    "Mass counts the laid plies and cores, foam inside sections, modelled tubes, and of joints tab plies, filler that "
    "a joint names and the adhesive of bonded flanges, along their lines; fillets without a named filler, bolts, "
    "inserts, potting and rigid subframes are not in it.",
    "Margins are taken at strains averaged over 10 mm or twice the laminate's thickness (or the element, if larger), "
    "transverse shear by its size whichever way it points; the margin at the worst integration point there stands "
    "beside.",
    "Wrinkling is 0.5 (Ef Ec Gc)^(1/3) against the required factor, and 0.3 (Ef Ec Gc)^(1/3) as class rules have it.",
)


@dataclass(frozen=True, eq=False, slots=True)
class _Tub:
    """What all load cases of a tub share."""

    model: TubModel
    elements: Elements
    mass: Mass
    allowables: Allowables
    rules: Rules
    places: JointPlaces
    moduli: Floats
    core_edges: tuple[EdgeOfCore, ...]


def find(model: TubModel, solutions: tuple[Solution, ...]) -> Findings:
    """Findings of every load case of every state.

    Parameters
    ----------
    solutions
        One per state of the model, in order.

    Raises
    ------
    CaseError
        If the case's margins name a knock-down that the library does not have.
    """
    tub = _shared(model)
    cases, loads = {}, {}
    for state, solution in zip(model.states, solutions, strict=True):
        elements = generalised_strains(state.shell, solution.u)
        rims = solve_rims(model, state, solution.u)
        for setup in state.load_cases:
            load = _rim_load(model, state, setup, solution, rims)
            found = _load_case(tub, state, setup, solution, elements)
            cases[setup.name] = replace(found, openings=judge_rims(model, load, tub.rules))
            loads[setup.name] = load
    cases = with_doublers(model, cases, loads, tub.allowables)
    mesh, layup = model.mesh, model.layup
    freedoms = model.states[0].shell.ties.T.shape[1]
    sentences = [
        f"{name}: {text}"
        for name, found in cases.items()
        for text in (*case_sentences(found), *opening_sentences(found), *core_edge_sentences(found.core_edges))
    ]
    return Findings(
        mesh=MeshSize(len(mesh.points), mesh.element_count, freedoms, mesh.size),
        mass=tub.mass,
        factors=tuple(f for f in tub.allowables.factors if model.frames or f.name not in (TUBE_YIELD, TUBE_BUCKLING)),
        regions=tub.elements.regions,
        element_region=frozen(tub.elements.region),
        element_mass=frozen(layup_mass(layup)[layup.mixture, 0]),
        element_thickness=frozen(mixture_thickness(layup)),
        load_cases=cases,
        cautions=model.cautions,
        notes=(*NOTES, _factorisations(model)),
        sentences=tuple(sentences),
        verdicts=with_openings(verdicts(model, tub.elements.regions, cases, tub.allowables), cases),
    )


def _shared(model: TubModel) -> _Tub:
    elements = describe_elements(model)
    factors = allowables(model.case.margins)
    rules = margin_rules(model.layup, factors)
    return _Tub(
        model,
        elements,
        whole_mass(model, elements),
        factors,
        rules,
        joint_places(model.mesh, pair_names(model.joint_kinds)),
        moduli_stiffness(model.layup, model.states[0].shell.stiffness)[:, model.layup.mixture],
        edges_of_cores(model, elements, rules, factors),
    )


def _load_case(
    tub: _Tub, state: State, setup: LoadCaseSetup, solution: Solution, found: tuple[ElementStrains, ...]
) -> LoadCaseFindings:
    model, elements, mesh, column = tub.model, tub.elements, tub.model.mesh, setup.column
    motion = solution.u[column]
    read, stored, areas = zip(*((f.strain[column], f.stored[column], f.area) for f in found), strict=True)
    strains = gather_strains(elements, read, areas, stored)
    stiffness, moments = element_stiffness(state.shell), second_moments(strains)
    shells = element_energy(stiffness, moments)
    drilling = sum(float(f.drilling_energy[column].sum()) for f in found)
    sets = state.shell.springs
    forces, springs = (
        np.concatenate([np.zeros(0), *(of(spring, motion[None])[0] for spring in sets)])
        for of in (spring_forces, spring_energies)
    )
    energy = energy_shares(model, elements, shells, drilling, springs)
    mesh_part = mesh_band(state.shell, elements, strains, energy.total)
    torsion = None
    if setup.torsion is not None:
        parts = zip(MODULI, tub.moduli, strict=True)
        shares = {part: float(element_energy(C, moments).sum()) / energy.total for part, C in parts}
        shares |= {"joints": sum(energy.joints.values()), "mounts": energy.mounts}
        stations = model.case.stations
        hubs = setup.torsion.hubs
        work = None if hubs is None else float(state.shell.loads[:, hubs] @ solution.u[hubs].ravel())
        torsion = read_torsion(state.shell.points, motion, setup.torsion, mesh, stations, shares, mesh_part.band, work)
        torsion = replace(torsion, hand_check=hand_check(mesh, elements, stiffness, torsion, energy))
    scale = _margin_scale(model, setup)
    scaled = strains.times(scale)
    loaded = Loaded(model, elements, tub.rules, scaled, torsion is not None)
    regions, use = _regions(tub, loaded, energy)
    uses = np.array(list(use.values()))
    margin = margins_of(uses.max(axis=0))
    surface = surface_strain(scaled.averaged, elements.faces)
    peak = surface_peaks(scaled, elements.faces)
    joints = joint_loads(model, elements, forces, springs, energy.total, membrane_forces(stiffness, strains))
    return LoadCaseFindings(
        name=setup.name,
        kind=setup.kind,
        margin_scale=scale,
        torsion=torsion,
        probes={name: tuple(motion[node].tolist()) for name, node in model.probes.get(setup.name, {}).items()},
        checks=_checks(state, setup, solution),
        regions=regions,
        joints=judged(model, elements, joints, scale * forces, tub.allowables),
        hard_points=hard_points(model, state.shell, column, forces, scale, tub.allowables),
        connections=find_connections(model, state.shell, motion, forces),
        frames=frame_findings(
            model, forces, springs / energy.total, scale, tub.allowables, both_hands=torsion is not None
        ),
        road=setup.road,
        core_edges=core_edges(loaded, tub.core_edges),
        hot_spots=hot_spots(mesh, elements, tub.places, surface, peak, margin, mirrored=model.case.mirror is not None),
        energy=energy,
        fields=Fields(
            displacement=frozen(motion),
            strain=frozen(surface),
            strain_peak=frozen(peak),
            margin=frozen(margin),
            energy=frozen(shells / elements.area),
            generalised=frozen(scaled.averaged),
            kind=frozen(uses.argmax(axis=0)),
            kinds=tuple(use),
        ),
        mesh=mesh_part,
    )


def _rim_load(
    model: TubModel, state: State, setup: LoadCaseSetup, solution: Solution, rims: tuple[SolvedRim, ...]
) -> RimLoad:
    both_hands = setup.torsion is not None
    return RimLoad(state, setup.column, _margin_scale(model, setup), both_hands, solution.u[setup.column], rims)


def _factorisations(model: TubModel) -> str:
    """How often the stiffness was factorised: once for each way of holding the tub."""
    cases, states = len(model.case.load_cases), len(model.states)
    served = f"{cases} load cases" if cases > 1 else "the load case"
    if any(table.buckling for table in model.case.load_cases.values()):
        served += ", their buckling"
    served += "" if model.modes is None else " and the modes"
    times = "once" if states == 1 else f"{states} times, once for each way of holding the tub"
    return f"The stiffness was factorised {times}, for {served}."


def _margin_scale(model: TubModel, setup: LoadCaseSetup) -> float:
    limit = model.case.margins.asked_torque
    return 1.0 if limit is None or setup.torsion is None else limit / setup.torsion.torque


def _regions(tub: _Tub, loaded: Loaded, energy: Energy) -> tuple[dict[str, RegionFindings], dict[str, Floats]]:
    """Findings of every region, and the use (e,) of every element by kind."""
    use = element_use(loaded)
    regions = {}
    for index, name in enumerate(tub.elements.regions):
        worst = {kind: worst_of_region(loaded, kind, found, index) for kind, found in use.items()}
        core = tuple(worst[kind] for kind in KINDS if worst[kind] is not None)
        regions[name] = RegionFindings(
            name=name,
            mass=tub.mass.regions[name],
            area=tub.mass.areas[name],
            strain_energy_share=energy.regions[name],
            worst_first_damage=worst[FIRST_DAMAGE],
            worst_fibre=worst[FIBRE],
            worst_core=min(core, key=lambda w: w.margin, default=None),
            core=core,
            worst_interlaminar=worst[INTERLAMINAR],
        )
    return regions, use


def _checks(state: State, setup: LoadCaseSetup, solution: Solution) -> tuple[CheckFinding, ...]:
    """The solver's own checks, and where the tub is free the reactions, which must vanish."""
    found = [CheckFinding(CHECKS.get(check.name, check.name), check.value, check.limit) for check in solution.checks]
    if setup.free:
        reactions = solution.reactions[setup.column][:, :3]
        applied = np.abs(state.shell.loads[:, setup.column].reshape(-1, 6)[:, :3]).max()
        found.append(CheckFinding("reaction_sum", float(np.abs(reactions).max() / applied), REACTIONS))
    return tuple(found)
