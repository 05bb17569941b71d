"""Where a core ends against a laminate without one: how the skin that comes down the chamfer is peeled. Weak estimate.

The skin turns by the chamfer's angle at its crest and again at its foot. What it carries square to the edge then has a
part across the skin: at the crest a compressed skin is lifted off the core, at the foot a stretched one off the
laminate. That line load on a beam (the skin) on an elastic layer (the core, the resin) has its peak in closed form
(M. Hetenyi, Beams on Elastic Foundation, 1946). Tapered panels are known to come apart there (S. S. Vel, V. Caccese and
H. Zhao, J. Compos. Mater. 2005); how soon, only a test tells.
"""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import CORE, FIRST_DAMAGE, Allowables
from tubfem.findings.core_edge_results import CoreEdge
from tubfem.findings.joint_names import pair_names
from tubfem.findings.joints import Sides
from tubfem.findings.margins import Loaded
from tubfem.findings.sandwich import CoreUse
from tubfem.geometry.mesh import JointLine
from tubfem.laminate.adhesive import kink_peel
from tubfem.laminate.stack import Stack, abd, make_stack
from tubfem.materials.bonds import bond
from tubfem.tub.line_stiffness import GLUE_LINE, GLUE_TENSION, RESIN_SHEAR
from tubfem.tub.model import TubModel

ENOUGH = 1.0  # margin below which a test is asked
UNUSED = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class EdgeOfCore:
    """A cored panel's elements (m,) along a line moulded to uncored ones; `middle`, `along` (m, 3) of the line."""

    joint: str
    element: Ints
    middle: Floats
    along: Floats


def edges_of_cores(model: TubModel) -> tuple[EdgeOfCore, ...]:
    """Every line on which a cored panel is moulded to panels without a core, and to none with one."""
    names, mesh = pair_names(model.joint_kinds), model.mesh
    cored = np.array([any(_core_of(model, s) for s in stacks) for stacks in model.layup.mixture_stacks])
    sides, found = Sides.of(mesh), []
    for line in mesh.joints:
        beside = {panel: sides.at(line.edges, panel)[1] for panel in line.panels}
        with_core = {panel for panel, elements in beside.items() if cored[model.layup.mixture[elements]].any()}
        for panel in with_core:
            moulded = {
                other: name
                for other in line.panels
                if other != panel
                and (name := names.get(frozenset((mesh.panels[panel].name, mesh.panels[other].name))))
                and model.joint_kinds[name] == "continuous"
            }
            if moulded and not with_core & set(moulded):
                found.append(_edge(model, sides, line, panel, next(iter(moulded.values()))))
    return tuple(found)


def core_edges(loaded: Loaded, edges: tuple[EdgeOfCore, ...], allowables: Allowables) -> dict[str, CoreEdge]:
    """The worst place of every joint at which a core ends, at the load that margins are taken at."""
    found: dict[str, CoreEdge] = {}
    for edge in edges:
        for k, element in enumerate(edge.element.tolist()):
            worst = _place(loaded, edge, k, element, allowables)
            old = found.get(edge.joint)
            if worst is not None and (old is None or worst.margin < old.margin):
                found[edge.joint] = worst
    return dict(sorted(found.items(), key=lambda item: item[1].margin))


def core_edge_sentences(found: dict[str, CoreEdge]) -> tuple[str, ...]:
    """Where a core's edge has to be tested."""
    weak = [f"{name} ({edge.margin:+.2f})" for name, edge in found.items() if edge.test_needed]
    if not weak:
        return ()
    return (
        "Test needed, the skin may peel where its core ends (margins by a weak estimate, not part of the others): "
        f"{', '.join(weak)}.",
    )


def _edge(model: TubModel, sides: Sides, line: JointLine, panel: int, joint: str) -> EdgeOfCore:
    row, element = sides.at(line.edges, panel)
    ends = model.mesh.points[line.edges[row]]
    return EdgeOfCore(joint, element, ends.mean(axis=1), ends[:, 1] - ends[:, 0])


def _core_of(model: TubModel, s: int) -> bool:
    return any(ply.core for ply in model.layup.stacks[s].plies)


def _place(loaded: Loaded, edge: EdgeOfCore, k: int, element: int, allowables: Allowables) -> CoreEdge | None:
    """Peel at one element beside the edge; None where its skin carries nothing square to it."""
    model, elements, layup = loaded.model, loaded.elements, loaded.model.layup
    mixture = layup.mixture[element]
    pairs = zip(layup.mixture_weights[mixture], layup.mixture_stacks[mixture], strict=True)
    cored = [(weight, s) for weight, s in pairs if loaded.rules.cores[s] is not None]
    if not cored:
        return None
    s = max(cored)[1]
    use: CoreUse = loaded.rules.cores[s]
    skin = next((skin for skin in use.skins if skin.face.side == "far"), None)
    if skin is None:
        return None
    e1, e3 = elements.axis[element], elements.normal[element]
    square = np.cross(e3, edge.along[k])
    square /= np.linalg.norm(square)
    c, n = square @ e1, square @ np.cross(e3, e1)
    Nx, Ny, Nxy = loaded.strains.averaged[element] @ skin.stress * skin.thickness
    force = float(c * c * Nx + n * n * Ny + 2 * c * n * Nxy)
    stack, angle = layup.stacks[s], model.case.defaults.chamfer
    bending = _bending(stack, skin.face.first, skin.face.last)
    core, glue = skin.core, bond()
    depth = float(np.diff(stack.z)[skin.face.core])
    hands = (1, -1) if loaded.both_hands else (1,)
    lift = abs(force) * np.sin(angle)
    places = []
    if min(sign * force for sign in hands) < 0:
        strength = min(core.compressive_strength, glue.peel) * allowables.knock_down["core compression"]
        demand = kink_peel(lift, bending, core.Ec / depth)
        places.append(("crest, off the core", demand, strength / allowables.required[CORE]))
    if max(sign * force for sign in hands) > 0:
        strength = glue.peel * allowables.knock_down["bond"]
        demand = kink_peel(lift, bending, GLUE_TENSION * RESIN_SHEAR / GLUE_LINE)
        places.append(("foot, off the laminate", demand, strength / allowables.required[FIRST_DAMAGE]))
    where, demand, allowable = max(places, key=lambda place: place[1] / place[2])
    demand, allowable = float(demand), float(allowable)
    if demand / allowable <= UNUSED:
        return None
    part = model.mesh.panels[elements.panel[element]]
    return CoreEdge(
        joint=edge.joint,
        region=part.region,
        panel=part.name,
        position=tuple(edge.middle[k].tolist()),
        where=where,
        force=force,
        chamfer=angle,
        demand=demand,
        allowable=allowable,
        margin=allowable / demand - 1,
        test_needed=allowable / demand - 1 < ENOUGH,
    )


def _bending(stack: Stack, first: int, last: int) -> float:
    """Bending stiffness [N m] of a skin alone, the lesser of its two directions, about its own middle."""
    A, B, D = abd(make_stack(list(zip(stack.angle[first:last].tolist(), stack.plies[first:last], strict=True))))
    reduced = D - B @ np.linalg.solve(A, B)
    return float(min(reduced[0, 0], reduced[1, 1]))
