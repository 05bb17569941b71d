"""Where a core ends against a laminate without one: how the skin that comes down the chamfer is peeled. Weak estimate.

The skin turns by the chamfer's angle at its crest and again at its foot. What it carries square to the edge then has a
part across the skin: at the crest a compressed skin is lifted off the core, at the foot a stretched one off the
laminate. That line load on a beam (the skin) on an elastic layer (the core, the resin) has its peak in closed form
(M. Hetenyi, Beams on Elastic Foundation, 1946). Tapered panels are known to come apart there (S. S. Vel, V. Caccese and
H. Zhao, J. Compos. Mater. 2005); how soon, only a test tells.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import CORE, FIRST_DAMAGE, Allowables
from tubfem.findings.core_edge_results import CoreEdge
from tubfem.findings.joint_names import pair_names
from tubfem.findings.joints import Sides
from tubfem.findings.margins import Loaded, Rules
from tubfem.findings.sandwich import CoreUse
from tubfem.findings.strains import Elements
from tubfem.laminate.adhesive import kink_peel
from tubfem.laminate.stack import Stack, abd, make_stack
from tubfem.materials.bonds import bond
from tubfem.tub.line_stiffness import GLUE_LINE, GLUE_TENSION, RESIN_SHEAR
from tubfem.tub.model import LayupField, TubModel

ENOUGH = 1.0  # margin below which a test is asked
UNUSED = 1e-9


CREST, FOOT = "crest, off the core", "foot, off the laminate"


@dataclass(frozen=True, eq=False, slots=True)
class EdgeOfCore:
    """A line on which a core ends, places m, each at an element of the cored panel.

    Attributes
    ----------
    joint, panel : the line; index of the panel whose core ends
    element, middle : (m,), (m, 3) [m]
    force : (m, 8) force of the chamfered skin square to the edge [N/m] per unit generalised strain
    peel, allowable : by `CREST` and `FOOT`, (m,) peel [Pa] per force [N/m], and what it may be [Pa]
    """

    joint: str
    panel: int
    element: Ints
    middle: Floats
    force: Floats
    peel: dict[str, Floats]
    allowable: dict[str, Floats]


@dataclass(frozen=True, slots=True)
class _Skin:
    """The far skin of a stack: map (8, 3) of its forces [N/m], peel [Pa] per force and allowable by place."""

    forces: Floats
    peel: dict[str, float]
    allowable: dict[str, float]


def edges_of_cores(model: TubModel, elements: Elements, rules: Rules, allowables: Allowables) -> tuple[EdgeOfCore, ...]:
    """Every line on which a cored panel is moulded to panels without a core, and to none with one."""
    names, mesh, layup = pair_names(model.joint_kinds), model.mesh, model.layup
    skins = {s: _skin(model, s, core, allowables) for s, core in enumerate(rules.cores) if core is not None}
    over = [_thickest_part(layup, m, skins) for m in range(len(layup.mixture_stacks))]
    cored = np.array([s is not None for s in over])
    sides, found = Sides.of(mesh), []
    for line in mesh.joints:
        beside = {panel: sides.at(line.edges, panel) for panel in line.panels}
        with_core = [panel for panel, (_, at) in beside.items() if cored[layup.mixture[at]].any()]
        for panel in with_core:
            moulded = {
                other: name
                for other in line.panels
                if other != panel
                and (name := names.get(frozenset((mesh.panels[panel].name, mesh.panels[other].name))))
                and model.joint_kinds[name] == "continuous"
            }
            if moulded and not set(with_core) & set(moulded):
                row, element = beside[panel]
                keep = cored[layup.mixture[element]]
                ends = mesh.points[line.edges[row[keep]]]
                joint = next(iter(moulded.values()))
                own = [skins[over[m]] for m in layup.mixture[element[keep]]]
                found.append(_edge(joint, panel, element[keep], ends, own, elements))
    return tuple(found)


def core_edges(loaded: Loaded, edges: tuple[EdgeOfCore, ...]) -> dict[str, CoreEdge]:
    """The worst place of every joint at which a core ends, at the load that margins are taken at."""
    found: dict[str, CoreEdge] = {}
    for edge in edges:
        force = (edge.force * loaded.strains.averaged[edge.element]).sum(axis=1)
        lifts = {CREST: -force, FOOT: force}
        if loaded.both_hands:
            lifts = dict.fromkeys(lifts, np.abs(force))
        uses = {where: np.maximum(lift, 0) * edge.peel[where] / edge.allowable[where] for where, lift in lifts.items()}
        where = max(uses, key=lambda where: uses[where].max())
        k = int(uses[where].argmax())
        use, allowable = float(uses[where][k]), float(edge.allowable[where][k])
        old = found.get(edge.joint)
        if use <= UNUSED or (old is not None and 1 / use - 1 >= old.margin):
            continue
        part = loaded.model.mesh.panels[edge.panel]
        found[edge.joint] = CoreEdge(
            joint=edge.joint,
            region=part.region,
            panel=part.name,
            position=tuple(edge.middle[k].tolist()),
            where=where,
            force=float(force[k]),
            chamfer=loaded.model.case.defaults.chamfer,
            demand=use * allowable,
            allowable=allowable,
            margin=1 / use - 1,
            test_needed=1 / use - 1 < ENOUGH,
        )
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


def _edge(joint: str, panel: int, element: Ints, ends: Floats, skins: list[_Skin], elements: Elements) -> EdgeOfCore:
    """One line; `ends` (m, 2, 3) of its edge at every place."""
    e1, e3 = elements.axis[element], elements.normal[element]
    square = np.cross(e3, ends[:, 1] - ends[:, 0])
    square /= np.linalg.norm(square, axis=1)[:, None]
    c, n = (square * e1).sum(axis=1), (square * np.cross(e3, e1)).sum(axis=1)
    forces = np.array([skin.forces for skin in skins])  # (m, 8, 3)
    return EdgeOfCore(
        joint,
        panel,
        element,
        ends.mean(axis=1),
        np.einsum("mik,mk->mi", forces, np.stack([c * c, n * n, 2 * c * n], axis=1)),
        {where: np.array([skin.peel[where] for skin in skins]) for where in (CREST, FOOT)},
        {where: np.array([skin.allowable[where] for skin in skins]) for where in (CREST, FOOT)},
    )


def _thickest_part(layup: LayupField, mixture: int, skins: Mapping[int, _Skin | None]) -> int | None:
    """The stack with a far skin on a core that covers most of a mixture."""
    pairs = zip(layup.mixture_weights[mixture], layup.mixture_stacks[mixture], strict=True)
    return max(((weight, s) for weight, s in pairs if skins.get(s) is not None), default=(0.0, None))[1]


def _skin(model: TubModel, s: int, use: CoreUse, allowables: Allowables) -> _Skin | None:
    skin = next((skin for skin in use.skins if skin.face.side == "far"), None)
    if skin is None:
        return None
    stack, core, glue = model.layup.stacks[s], skin.core, bond()
    depth = float(np.diff(stack.z)[skin.face.core])
    lift = float(np.sin(model.case.defaults.chamfer))
    layers = {CREST: core.Ec / depth, FOOT: GLUE_TENSION * RESIN_SHEAR / GLUE_LINE}
    bending = _bending(stack, skin.face.first, skin.face.last)
    weaker = min(core.compressive_strength, glue.peel) * allowables.knock_down["core compression"]
    return _Skin(
        skin.stress * skin.thickness,
        {where: float(kink_peel(lift, bending, layer)) for where, layer in layers.items()},
        {
            CREST: weaker / allowables.required[CORE],
            FOOT: glue.peel * allowables.knock_down["bond"] / allowables.required[FIRST_DAMAGE],
        },
    )


def _bending(stack: Stack, first: int, last: int) -> float:
    """Bending stiffness [N m] of a skin alone, the lesser of its two directions, about its own middle."""
    A, B, D = abd(make_stack(list(zip(stack.angle[first:last].tolist(), stack.plies[first:last], strict=True))))
    reduced = D - B @ np.linalg.solve(A, B)
    return float(min(reduced[0, 0], reduced[1, 1]))
