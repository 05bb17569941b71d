"""Where a tub ripples first under a load case, how much more or less than the load that takes, and by hand."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.bays import Bay, check_bay, find_bays
from tubfem.findings.energy import element_stiffness
from tubfem.findings.results import LoadCaseFindings, Torsion
from tubfem.findings.stability_results import BayCheck, BucklingFindings, BucklingMode
from tubfem.findings.strains import Elements
from tubfem.shell.eigen import Buckling
from tubfem.shell.recover import generalised_strains
from tubfem.tub.model import State, TubModel

COARSE = 1.3  # upper over lower factor: the mesh is said to be coarse for the ripple
NO_RIPPLE = 3.0  # above, the mode is the mesh's own: rotations that alternate from node to node
RECTANGLE = 0.6  # of its smallest rectangle: a bay that fills less is not one


def find_buckling(
    model: TubModel,
    state: State,
    found: LoadCaseFindings,
    solved: Buckling,
    elements: Elements,
    *,
    required: float,
) -> BucklingFindings:
    """First mode for the load, and in a torsion case for the load the other way round.

    Parameters
    ----------
    state : whose shell model was solved
    found : the load case without its buckling
    solved : its modes from `tubfem.shell.eigen.buckling`
    required : the factor that the margin asks
    """
    stiffness = element_stiffness(state.shell)
    strains = generalised_strains(state.shell, found.fields.displacement[None])
    mean = np.concatenate([each.mean[0] for each in strains])
    forces = np.einsum("eij,ej->ei", stiffness[:, :3], mean)
    bays = find_bays(model.mesh, elements)
    checks = [check_bay(bay, elements, stiffness, forces) for bay in bays]
    modes = []
    for sign in (1, -1) if found.torsion is not None else (1,):
        own = np.flatnonzero(np.sign(solved.factors) == sign)
        rippling = own[solved.coarse[own] < NO_RIPPLE]
        for k in (rippling if len(rippling) else own)[:1]:
            modes.append(_mode(model, state, solved, int(k), elements, bays, checks, found.margin_scale * required))
    modes.sort(key=lambda mode: mode.factor)
    acting = [check for check in checks if check.factors != (None, None)]
    acting.sort(key=lambda check: min(factor for factor in check.factors if factor is not None))
    return BucklingFindings(tuple(modes), tuple(acting), required)


def _mode(
    model: TubModel,
    state: State,
    solved: Buckling,
    k: int,
    elements: Elements,
    bays: tuple[Bay, ...],
    checks: list[BayCheck],
    asked: float,
) -> BucklingMode:
    shape = solved.shapes[k]
    energy = np.concatenate([each.energy[0] for each in generalised_strains(state.shell, shape[None])])
    share = np.bincount(elements.region, energy, minlength=len(elements.regions)) / energy.sum()
    region = int(share.argmax())
    mine = np.where(elements.region == region, energy, 0.0)
    panel = int(np.bincount(elements.panel, mine, minlength=len(model.mesh.panels)).argmax())
    inside = np.where(elements.panel == panel, amplitude(state, shape), 0.0)
    factor = abs(float(solved.factors[k]))
    rippling = max(range(len(bays)), key=lambda i: energy[bays[i].elements].sum(), default=None)
    hand = checks[rippling] if rippling is not None and bays[rippling].fill >= RECTANGLE else None
    return BucklingMode(
        sign=int(np.sign(solved.factors[k])),
        factor=factor,
        upper=factor * float(solved.coarse[k]),
        margin=factor / asked - 1,
        region=elements.regions[region],
        panel=model.mesh.panels[panel].name,
        position=tuple(elements.centre[inside.argmax()].tolist()),
        share=float(share[region]),
        shape=shape,
        hand=hand,
    )


def amplitude(state: State, shape: Floats) -> Floats:
    """Mean translation (e,) of every element in a shape (P, 6)."""
    size = np.linalg.norm(shape[:, :3], axis=1)
    return np.concatenate([size[block.conn].mean(1) for block in state.shell.blocks])


def buckling_sentences(buckling: BucklingFindings, torsion: Torsion | None) -> tuple[str, ...]:
    """The first ripple of either sign, what the stiffness is worth beyond it, and the hand value beside it."""
    if not buckling.modes:
        return ("No multiple of this load makes a panel ripple.",)
    words = []
    for mode in buckling.modes:
        load = f"{mode.factor:.3g} times the load"
        if torsion is not None:
            load = f"{'+' if mode.sign > 0 else '-'}{_three(mode.factor * torsion.torque)} N·m, {load}"
        x, y, z = (1000 * value for value in mode.position)
        place = f"{mode.panel} at x {x:.0f}, y {y:.0f}, z {z:.0f} mm"
        words.append(
            f"Ripples first at {load}: {mode.region} ({place}), {100 * mode.share:.0f} % of the ripple."
            f"{_hand(mode)}{_coarse(mode)}"
        )
    first = buckling.modes[0]
    if first.factor < 1:
        limit = f"{first.factor:.3g} times the load"
        if torsion is not None:
            limit = f"{_three(first.factor * torsion.torque)} N·m"
        words.append(
            f"The stiffness is valid up to {limit}: beyond that {first.region} ripples, and what it carried goes "
            "elsewhere."
        )
    return tuple(words)


def _hand(mode: BucklingMode) -> str:
    if mode.hand is None:
        return ""
    factor = mode.hand.factors[0 if mode.sign > 0 else 1]
    if factor is None:
        return ""
    return (
        f" By hand, as a simply supported {1e3 * mode.hand.a:.0f} x {1e3 * mode.hand.b:.0f} mm rectangle under its "
        f"mean load: {factor:.3g} times."
    )


def _coarse(mode: BucklingMode) -> str:
    if mode.upper <= COARSE * mode.factor:
        return ""
    return f" The mesh is coarse for this ripple, up to {mode.upper:.3g} times is possible; refine it there."


def _three(value: float) -> str:
    """Three significant digits without an exponent."""
    return f"{float(f'{value:.3g}'):.10g}"
