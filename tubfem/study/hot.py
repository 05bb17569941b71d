"""Margins in the reduced model: the elements that governed, their strains in the basis, uses with changed stacks.

Uses are those of `findings.margins`, averaged over the lengths of the laminates as they are laid, but only the elements
that were most used in the unchanged tub are looked at, and averages go no farther than elements are kept for: a margin
found here is an indication. What decides anything is solved in full.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import Allowables, allowables
from tubfem.findings.at_once import Tables, joined, tables_of, use_at_once
from tubfem.findings.average import Pairs, averaging, averaging_length, close_pairs, means_within
from tubfem.findings.margins import Loaded, Rules, element_use, margin_rules
from tubfem.findings.strains import Elements, Strains, describe_elements, gather_strains, laminate_faces
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack
from tubfem.shell.model import ShellModel
from tubfem.shell.reading import without_stretch
from tubfem.shell.recover import generalised_strains, read_means
from tubfem.study.reduce import Twisted
from tubfem.study.reduced import Basis
from tubfem.study.threads import one_thread
from tubfem.tub.model import LayupField, TubModel

EACH = 3  # elements of every region and kind that are kept
CLOSE = 0.7  # of the greatest use anywhere: every such element is kept
WIDER = (0.020, 0.040)  # [m] elements most used over these lengths are kept too: those of a skin that gets a core
REACH, FARTHER = 0.060, 0.020  # [m] averages can go so far, or so much farther than they do in the unchanged tub


@dataclass(frozen=True, eq=False, slots=True)
class Hot:
    """The most used elements of a tub.

    `near` (m,) are they and all that their averages may need, `elements` describes those with averages of the most used
    alone, `around` their pairs; `own` (m, 10, n) the mean strain of each in its material frame at the torque that
    margins are taken at, then how much of its transverse shear the twisting moment drives. `tables` are of the rules.
    """

    model: TubModel
    near: Ints
    elements: Elements
    around: Pairs
    own: Floats
    mirrored: NDArray[np.bool_]
    rules: Rules
    tables: Tables
    allowables: Allowables


@one_thread
def find_hot(twisted: Twisted, basis: Basis) -> Hot:
    """The elements of a tub whose margins are followed."""
    model, setup = twisted.model, twisted.setup
    loaded, scale = loaded_now(model, twisted.state.shell, twisted.vectors.U[:, 0], setup.torsion.torque)
    elements, rules = loaded.elements, loaded.rules
    near, few, around, mirrored = around_hot(model, elements, _most_used(loaded))
    own = np.zeros((len(near), 10, basis.V.shape[1]))
    for cell in twisted.stiff.cells:
        here = np.flatnonzero(np.isin(cell.elements, near))
        if not len(here):
            continue
        part = cell.part(here)
        strain = basis.at_points(part)[:, :, :8] * twisted.stiff.family.sign[part.elements, None, :8, None]
        mean, driven = read_means(twisted.state.shell, part.elements, part.dA, strain)
        own[np.searchsorted(near, part.elements)] = scale * np.concatenate([mean, driven], axis=1)
    return Hot(model, near, few, around, own, mirrored, rules, tables_of(rules), allowables(model.case.margins))


def loaded_now(model: TubModel, shell: ShellModel, motion: Floats, torque: float) -> tuple[Loaded, float]:
    """The tub under the motion (d,) of a torque [N·m], and what it is times to get what margins are taken at."""
    elements, rules = describe_elements(model), margin_rules(model.layup, allowables(model.case.margins))
    asked = model.case.margins.asked_torque
    scale = 1.0 if asked is None else asked / torque
    found = generalised_strains(shell, motion.reshape(1, -1, 6))
    base = gather_strains(elements, tuple(f.strain[0] for f in found), tuple(f.area for f in found)).times(scale)
    return Loaded(model, elements, rules, base, both_hands=True), scale


def around_hot(model: TubModel, elements: Elements, hot: Ints) -> tuple[Ints, Elements, Pairs, NDArray[np.bool_]]:
    """All elements (m,) that averages of those that are `hot` (h,) may need, and what `Hot` says of them."""
    chosen = np.zeros(len(elements.area), dtype=bool)
    chosen[hot] = True
    pairs = close_pairs(elements.centre, elements.panel, _reach(elements.length), chosen)
    near = np.unique(pairs.column)
    around = Pairs(np.searchsorted(near, pairs.row), np.searchsorted(near, pairs.column), pairs.distance)
    few, mirrored = near_elements(model, elements, hot, near)
    return near, few, around, mirrored


def near_elements(model: TubModel, elements: Elements, hot: Ints, near: Ints) -> tuple[Elements, NDArray[np.bool_]]:
    """The elements `near` (m,) alone, with averages of those that are `hot` (h,), and which are on mirrored panels."""
    averages = sparse.lil_array((len(near), len(near)))
    averages[np.searchsorted(near, hot)] = elements.mean[hot][:, near]
    mirrored = np.array([panel.mirrored for panel in model.mesh.panels])[model.mesh.element_panel[near]]
    return _some(elements, near, sparse.csr_array(averages)), mirrored


def with_fixed_lengths(hot: Hot) -> Hot:
    """The same averages whatever is laid, over the lengths of the laminates as they are: fewer elements are needed."""
    rows = np.unique(hot.elements.mean.indices)
    mean = sparse.csr_array(hot.elements.mean[rows][:, rows])
    row, column = mean.nonzero()
    around = Pairs(row, column, np.zeros(len(row)))  # at no distance: within every length
    elements = _some(hot.elements, rows, mean)
    return replace(
        hot, near=hot.near[rows], elements=elements, around=around, own=hot.own[rows], mirrored=hot.mirrored[rows]
    )


@one_thread
def lowest_margin(hot: Hot, b: Floats, stacks: Mapping[tuple[int, bool], Stack]) -> tuple[float, str, str]:
    """Lowest margin, its region and kind.

    Parameters
    ----------
    b : (n,) amounts of the basis
    stacks : stacks that are others now, by (number, whether on a mirrored panel)
    """
    return _lowest(hot, b, *_with_stacks(hot, stacks))


@one_thread
def region_uses(
    hot: Hot, b: Floats, stacks: Mapping[tuple[int, bool], Stack], known: dict[int, Rules] | None = None
) -> dict[str, float]:
    """Greatest use of any kind in every region that is followed; arguments as `lowest_margin`.

    `known` keeps the rules of every stack by its `id`, for a caller who keeps the stacks and tries them again.
    """
    use, followed, elements = _used(hot, b, *_with_stacks(hot, stacks, known))
    greatest = np.zeros(len(elements.regions))
    np.maximum.at(greatest, elements.region[followed], np.max(list(use.values()), axis=0)[followed])
    return {elements.regions[r]: float(greatest[r]) for r in np.unique(elements.region[followed])}


@one_thread
def lowest_margin_laid(hot: Hot, b: Floats, layup: LayupField) -> tuple[float, str, str]:
    """Lowest margin, its region and kind, where the whole tub is laid anew on the same mesh."""
    near = replace(layup, mixture=layup.mixture[hot.near])
    rules = margin_rules(layup, hot.allowables)
    return _lowest(hot, b, replace(hot.model, layup=near), rules, tables_of(rules))


def beyond_reach(hot: Hot, layup: LayupField) -> tuple[str, ...]:
    """Regions where the whole tub is laid anew so thick that averages end at the elements that are kept.

    The mean is over less than the length there, so that a peak counts for more than in a run in full.
    """
    over = _length(layup, layup.mixture[hot.near]) > _reach(hot.elements.length)
    over &= np.diff(hot.elements.mean.indptr) > 0
    return tuple(hot.elements.regions[r] for r in np.unique(hot.elements.region[over]))


def _lowest(hot: Hot, b: Floats, model: TubModel, rules: Rules, tables: Tables) -> tuple[float, str, str]:
    use, _, elements = _used(hot, b, model, rules, tables)
    kind = max(use, key=lambda name: float(use[name].max()))
    at = int(use[kind].argmax())
    return float(1 / use[kind][at] - 1), elements.regions[elements.region[at]], kind


def _used(
    hot: Hot, b: Floats, model: TubModel, rules: Rules, tables: Tables
) -> tuple[dict[str, Floats], NDArray[np.bool_], Elements]:
    """Uses (m,) by kind, zero of elements that are not followed; which are, and the elements."""
    mean = means_within(hot.around, hot.elements.area, _length(model.layup, model.layup.mixture))
    rows = np.unique(mean.indices)
    elements = _some(hot.elements, rows, sparse.csr_array(mean[rows][:, rows]))
    found = (hot.own.reshape(-1, len(b)) @ b).reshape(-1, 10)[rows]
    own = found[:, :8]
    before = _shear_of_twist(hot.model.layup, hot.model.layup.mixture[hot.near[rows]])
    now = _shear_of_twist(model.layup, model.layup.mixture[rows])
    own[:, 6:] += (now / before - 1)[:, None] * found[:, 8:]
    strain = Strains((), (), own, elements.mean @ own)
    near = replace(model, layup=replace(model.layup, mixture=model.layup.mixture[rows]))
    followed = np.diff(elements.mean.indptr) > 0  # the rest is there for the averages alone
    return use_at_once(Loaded(near, elements, rules, strain, both_hands=True), tables, followed), followed, elements


def _shear_of_twist(layup: LayupField, mixture: Ints) -> Floats:
    """D66 over shear stiffness (m,), as which the shear strain that a change of twist drives goes with the stack.

    Stacks of a mixture count alike, as they do in the page: changed stacks come without the shares they cover.
    """
    kinds, back = np.unique(mixture, return_inverse=True)
    return np.array([np.mean([_over_shear(layup.stacks[s]) for s in layup.mixture_stacks[k]]) for k in kinds])[back]


@lru_cache(maxsize=4096)
def _over_shear(stack: Stack) -> float:
    C = stiffness8(stack)
    return float(without_stretch(C[None])[0, 2, 2] / np.sqrt(np.linalg.det(C[6:, 6:])))


def _length(layup: LayupField, mixture: Ints) -> Floats:
    """Length (m,) [m] to average over where these mixtures (m,) lie."""
    faces = laminate_faces(replace(layup, mixture=mixture))
    return averaging_length(faces[:, 1] - faces[:, 0])


def _reach(length: Floats) -> Floats:
    """How far (e,) [m] averages can go that go over a length (e,) in the unchanged tub."""
    return np.maximum(REACH, length + FARTHER)


def _some(elements: Elements, rows: Ints, mean: sparse.csr_array) -> Elements:
    """Some of the elements with the averages `mean` between them."""
    names = ("area", "centre", "normal", "axis", "panel", "region", "faces", "length")
    return replace(elements, **{name: getattr(elements, name)[rows] for name in names}, mean=mean)


def _most_used(loaded: Loaded) -> Ints:
    """Elements near the greatest use anywhere, and the most used of every region and kind, over longer lengths too."""
    elements, use = loaded.elements, element_use(loaded)
    greatest = max(float(own.max()) for own in use.values())
    chosen = {e for own in use.values() for e in np.flatnonzero(own > CLOSE * greatest).tolist()}
    uses = list(use.values())
    for least in WIDER:
        length = np.maximum(elements.length, least)
        mean = averaging(elements.centre, elements.area, elements.panel, length)
        strains = replace(loaded.strains, averaged=mean @ loaded.strains.own)
        uses += element_use(replace(loaded, elements=replace(elements, mean=mean), strains=strains)).values()
    for region in range(len(elements.regions)):
        members = np.flatnonzero(elements.region == region)
        for own in uses:
            chosen.update(members[np.argsort(-own[members], kind="stable")[:EACH]].tolist())
    return np.array(sorted(chosen), dtype=np.int64)


def _with_stacks(
    hot: Hot, stacks: Mapping[tuple[int, bool], Stack], known: dict[int, Rules] | None = None
) -> tuple[TubModel, Rules, Tables]:
    """The model with the mixtures of the near elements alone, changed stacks behind the others; rules of all."""
    layup = hot.model.layup
    kinds, back = np.unique(2 * layup.mixture[hot.near] + hot.mirrored, return_inverse=True)
    before = [(layup.mixture_stacks[kind // 2], bool(kind % 2)) for kind in kinds.tolist()]
    present = {(s, side) for own, side in before for s in own}
    number = {key: len(layup.stacks) + k for k, key in enumerate(sorted(present & stacks.keys()))}
    parts: dict[tuple[int, ...], int] = {}
    mixture = []
    for own, side in before:
        now = tuple(number.get((s, side), s) for s in own)
        mixture.append(parts.setdefault(now, len(parts)))
    new = tuple(stacks[key] for key in number)
    both = replace(
        layup,
        stacks=(*layup.stacks, *new),
        mixture_stacks=tuple(parts),
        mixture_weights=tuple(tuple(1 / len(own) for _ in own) for own in parts),
        mixture=np.array(mixture)[back],
    )
    added = _rules_of(hot, both, new, {} if known is None else known)
    where = np.zeros((len(both.stacks), len(parts)), dtype=bool)
    for m, own in enumerate(parts):
        where[list(own), m] = True
    plies = {kind: (*before, *added.plies[kind]) for kind, before in hot.rules.plies.items()}
    between, cores = (*hot.rules.between, *added.between), (*hot.rules.cores, *added.cores)
    rules = replace(hot.rules, plies=plies, between=between, cores=cores, mixtures=where)
    return replace(hot.model, layup=both), rules, joined(hot.tables, tables_of(added)) if new else hot.tables


def _rules_of(hot: Hot, layup: LayupField, stacks: Sequence[Stack], known: dict[int, Rules]) -> Rules:
    """Rules of some stacks, those of each put into `known`."""
    for stack in stacks:
        if id(stack) not in known:
            known[id(stack)] = margin_rules(replace(layup, stacks=(stack,), mixture_stacks=()), hot.allowables)
    each = [known[id(stack)] for stack in stacks]
    return replace(
        hot.rules,
        plies={kind: tuple(use for own in each for use in own.plies[kind]) for kind in hot.rules.plies},
        between=tuple(use for own in each for use in own.between),
        cores=tuple(use for own in each for use in own.cores),
    )
