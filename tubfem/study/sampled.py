"""Many draws of a tub at once: a small Galerkin model of its stiffness, maps for the uses of its hottest elements.

What a parameter does to the stiffness is worked out once, element by element, at STEP standard deviations to either
side; between them the stiffness goes along a parabola, and the changes of several parameters add up (S.5). Springs
follow their factors exactly. The basis is the tub's own motion u0 and K0⁻¹ dK u0 for every parameter, of springs
K0⁻¹ dK K0⁻¹ dK u0 too: Galerkin's stiffness is wrong only by the square of what the basis lacks.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import cho_factor, cho_solve

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import allowables
from tubfem.findings.margins import Loaded, Rules, element_use, margin_rules
from tubfem.findings.strains import Elements, Strains
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import Factored
from tubfem.study.basis import spring_root
from tubfem.study.hot import loaded_now, near_elements
from tubfem.study.parts import Part, cells_of, changed_parts, times
from tubfem.study.sampled_joints import FollowedJoints, follow_joints, logarithm, uses_of_joints
from tubfem.study.scatter import BONDS, FRACTION, JOINTS, MOUNTS, STRENGTH, Scatter
from tubfem.study.scattered import Source, drawn_stacks, spring_rows
from tubfem.study.threads import one_thread
from tubfem.tub.model import LayupField, LoadCaseSetup, State, TubModel

STEP = 1.5
CHUNK = 64  # draws at a time
EACH = 3  # elements of every region and kind whose margins are followed
LEAST = 1e-10  # of a direction's square, all vectors of length one: less is not kept


@dataclass(frozen=True, eq=False, slots=True)
class Solved:
    """A tub's state with its factorised stiffness, its torsion load case, motion (d,) and stiffness [N·m/deg] there."""

    source: Source
    state: State
    setup: LoadCaseSetup
    factored: Factored
    motion: Floats
    stiffness: float


@dataclass(frozen=True, eq=False, slots=True)
class Followed:
    """The elements whose uses are followed (m), others that their averages need among them.

    `layup` of them alone, `elements` with averages of the `chosen` (m,) alone, `own` (m, 8, n) strains in the basis at
    the torque that margins are taken at; `stacks` numbers of their stacks in the whole layup, `rules` of these stacks.
    """

    model: TubModel
    layup: LayupField
    elements: Elements
    own: Floats
    chosen: NDArray[np.bool_]
    stacks: Ints
    rules: Rules


@dataclass(frozen=True, eq=False, slots=True)
class Responses:
    """How a tub answers to its parameters (p), in a basis of n vectors that is orthonormal in its stiffness.

    Attributes
    ----------
    load : (n,) of the load case
    plies : numbers (k,) of the parameters that change plies; `linear`, `square` (k, n (n+1)/2) with z and z²/2, lower
        triangles
    springs : numbers (j,) of those that are factors on springs; `tied` (j, n (n+1)/2)
    use : (2, p, kinds, m) of the logarithm of every use at the strains there are, with z and z²/2
    joints : those that can be judged
    """

    solved: Solved
    scatter: Scatter
    followed: Followed
    load: Floats
    plies: Ints
    linear: Floats
    square: Floats
    springs: Ints
    tied: Floats
    use: Floats
    joints: FollowedJoints


@dataclass(frozen=True, eq=False, slots=True)
class _Pass:
    """Parameters changed together, by name, and the stacks at STEP deviations up and down.

    A fibre fraction acts on its own region alone, so all regions' are changed at once.
    """

    key: str
    numbers: Mapping[str, int]
    ends: tuple[tuple, tuple]


@one_thread
def responses(solved: Solved, scatter: Scatter) -> Responses:
    """Work out what each parameter does to the stiffness and to the uses of the hottest elements."""
    shell, model = solved.state.shell, solved.source.model
    passes = _passes(solved.source, scatter)
    parts = _ply_parts(solved, passes)
    rows = spring_rows(model, shell)
    root = spring_root(shell)
    tied = {k: root[rows[p.key, p.name]] for k, p in enumerate(scatter.parameters) if p.key in (JOINTS, MOUNTS)}
    V = _basis(solved, parts, tied)
    lower = np.tril_indices(V.shape[1])
    projected = [[(V.T @ KV)[lower] for KV in times(own, V)] for own in parts.values()]
    linear, square = (np.array([pair[n] for pair in projected]).reshape(-1, len(lower[0])) for n in (0, 1))
    roots = (root @ V for root in tied.values())
    followed = _followed(solved, V)
    load = V.T @ shell.loads[:, solved.setup.column]
    return Responses(
        solved,
        scatter,
        followed,
        load,
        np.array(list(parts), dtype=np.int64),
        linear,
        square,
        np.array(list(tied), dtype=np.int64),
        np.array([(root.T @ root)[lower] for root in roots]).reshape(-1, len(lower[0])),
        _use_slopes(followed, scatter, passes, load),
        follow_joints(solved.source, shell, solved.setup, V, load, scatter, STEP),
    )


@one_thread
def evaluate(answers: Responses, Z: Floats) -> tuple[Floats, Floats]:
    """Stiffness (s,) [N·m/deg] and greatest use (s, regions and joints) of draws Z (s, p) of the parameters."""
    parts = [_evaluate(answers, Z[k : k + CHUNK]) for k in range(0, len(Z), CHUNK)]
    stiffness, use = zip(*parts, strict=True)
    return np.concatenate(stiffness), np.concatenate(use)


def drawn_of(scatter: Scatter, z: Floats) -> dict[tuple[str, str], float]:
    """One draw z (p,) of the parameters by name."""
    return {(p.key, p.name): float(p.sd * value) for p, value in zip(scatter.parameters, z, strict=True)}


def _evaluate(answers: Responses, Z: Floats) -> tuple[Floats, Floats]:
    followed, load = answers.followed, answers.load
    n = len(load)
    of_plies = Z[:, answers.plies]
    sd = np.array([answers.scatter.parameters[p].sd for p in answers.springs])
    change = of_plies @ answers.linear + of_plies**2 / 2 @ answers.square
    change += np.expm1(Z[:, answers.springs] * sd) @ answers.tied
    lower = np.tril_indices(n)
    amounts = np.empty((len(Z), n))
    for row, own in enumerate(change):
        K = np.eye(n)
        K[lower] += own
        amounts[row] = cho_solve(cho_factor(K, lower=True, overwrite_a=True, check_finite=False), load)
    # the work of the load in the unchanged tub is the square of its part in an orthonormal basis
    stiffness = answers.solved.stiffness * (load @ load) / (amounts @ load)
    own = np.einsum("mcn,sn->smc", followed.own, amounts, optimize=True)
    uses = np.array(list(_uses(followed, followed.rules, own).values())).reshape(-1, len(Z), len(followed.chosen))
    slopes = np.tensordot(Z, answers.use[0], 1) + np.tensordot(Z**2 / 2, answers.use[1], 1)  # (s, kinds, m)
    greatest = np.where(followed.chosen, uses * np.exp(slopes.swapaxes(0, 1)), 0.0).max(axis=0)
    region = followed.elements.region
    by_region = [greatest[:, region == r].max(axis=1) for r in range(len(followed.elements.regions))]
    return stiffness, np.concatenate([np.array(by_region).T, uses_of_joints(answers.joints, Z, amounts)], axis=1)


def _passes(source: Source, scatter: Scatter) -> list[_Pass]:
    fractions = {p.name: k for k, p in enumerate(scatter.parameters) if p.key == FRACTION}
    wanted = [(FRACTION, fractions)] if fractions else []
    others = (FRACTION, BONDS, JOINTS, MOUNTS)
    wanted += [(p.key, {p.name: k}) for k, p in enumerate(scatter.parameters) if p.key not in others]
    found = []
    for key, numbers in wanted:
        up, down = (
            drawn_stacks(source, {(key, name): z * scatter.parameters[p].sd for name, p in numbers.items()})
            for z in (STEP, -STEP)
        )
        found.append(_Pass(key, numbers, (up, down)))
    return found


def _ply_parts(solved: Solved, passes: list[_Pass]) -> dict[int, list[Part]]:
    """What each parameter of plies changes; strength and what is nowhere has no entry."""
    shell, model = solved.state.shell, solved.source.model
    cells = cells_of(shell)
    region = np.array([panel.region for panel in model.mesh.panels])[model.mesh.element_panel]
    found: dict[int, list[Part]] = {}
    for each in passes:
        if each.key == STRENGTH:
            continue
        parts = changed_parts(cells, model.layup, shell.drilling, each.ends, STEP)
        for name, p in each.numbers.items():
            own = [part.within(region == name) for part in parts] if each.key == FRACTION else parts
            if any(part.linear.any() for part in own):
                found[p] = own
    return found


def _basis(solved: Solved, parts: dict[int, list[Part]], tied: dict[int, sparse.csr_array]) -> Floats:
    """Motions (d, n), orthonormal in the stiffness."""
    T, u0 = solved.state.shell.ties.T, solved.motion

    def driven(loads: list[Floats]) -> Floats:
        return T @ solved.factored.inverse(T.T @ np.column_stack(loads))

    vectors = [u0[:, None]]
    if parts:
        vectors.append(driven([times(own, u0[:, None])[0][:, 0] for own in parts.values()]))
    if tied:
        once = driven([root.T @ (root @ u0) for root in tied.values()])
        vectors += [once, driven([root.T @ (root @ once[:, k]) for k, root in enumerate(tied.values())])]
    U = np.concatenate(vectors, axis=1)
    G = U.T @ (solved.factored.K @ U)
    length = np.sqrt(np.diag(G))
    length[length == 0] = 1.0
    squares, directions = np.linalg.eigh(G / length[:, None] / length)
    kept = squares > LEAST
    return (U / length) @ (directions[:, kept] / np.sqrt(squares[kept]))


def _followed(solved: Solved, V: Floats) -> Followed:
    """The most used elements of every region and kind, with their strains in the basis V (d, n)."""
    model, shell = solved.source.model, solved.state.shell
    factors = allowables(model.case.margins)
    loaded, scale = loaded_now(model, shell, solved.motion, solved.setup.torsion.torque)
    elements, use = loaded.elements, element_use(loaded)
    chosen = np.zeros(len(elements.area), dtype=bool)
    for own in use.values():
        for region in range(len(elements.regions)):
            members = np.flatnonzero(elements.region == region)
            chosen[members[np.argsort(-own[members], kind="stable")[:EACH]]] = True
    rows = np.unique(np.concatenate([np.flatnonzero(chosen), elements.mean[chosen].indices]))
    mixtures, back = np.unique(model.layup.mixture[rows], return_inverse=True)
    stacks = sorted({s for m in mixtures for s in model.layup.mixture_stacks[m]})
    number = {s: k for k, s in enumerate(stacks)}
    layup = replace(
        model.layup,
        stacks=tuple(model.layup.stacks[s] for s in stacks),
        mixture_stacks=tuple(tuple(number[s] for s in model.layup.mixture_stacks[m]) for m in mixtures),
        mixture_weights=tuple(model.layup.mixture_weights[m] for m in mixtures),
        mixture=back.ravel(),
    )
    few, _ = near_elements(model, elements, np.flatnonzero(chosen), rows)
    own = np.concatenate([f.mean for f in generalised_strains(shell, V.T.reshape(V.shape[1], -1, 6))], axis=1)[:, rows]
    return Followed(
        model, layup, few, scale * np.moveaxis(own, 0, -1), chosen[rows], np.array(stacks), margin_rules(layup, factors)
    )


def _use_slopes(followed: Followed, scatter: Scatter, passes: list[_Pass], load: Floats) -> Floats:
    """Parabola (2, p, kinds, m) of the logarithm of every use in each parameter, at the strains there are."""
    factors = allowables(followed.model.case.margins)
    own = (followed.own @ load)[None]  # the unchanged tub's amounts are the load's
    base = _uses(followed, followed.rules, own)
    region = np.array(followed.elements.regions)[followed.elements.region]
    slopes = np.zeros((2, len(scatter.parameters), len(base), len(followed.chosen)))
    for each in passes:
        logs = []
        for stacks in each.ends:
            layup = replace(followed.layup, stacks=tuple(stacks[s] for s in followed.stacks))
            found = _uses(followed, margin_rules(layup, factors), own)
            logs.append(np.array([logarithm(found[kind], base[kind]) for kind in base]))
        for name, p in each.numbers.items():
            mine = region == name if each.key == FRACTION else slice(None)
            slopes[0, p][:, mine] = ((logs[0] - logs[1]) / (2 * STEP))[:, mine]
            slopes[1, p][:, mine] = ((logs[0] + logs[1]) / STEP**2)[:, mine]
    return slopes


def _uses(followed: Followed, rules: Rules, own: Floats) -> dict[str, Floats]:
    """Uses (s m,) by kind under strains own (s, m, 8) of s draws."""
    draws = len(own)
    averaged = np.stack([followed.elements.mean @ each for each in own])
    strains = Strains((), (), own.reshape(-1, 8), averaged.reshape(-1, 8))
    layup = replace(followed.layup, mixture=np.tile(followed.layup.mixture, draws))
    mean = sparse.csr_array(sparse.kron(sparse.eye_array(draws), followed.elements.mean))
    elements = replace(followed.elements, mean=mean)
    return element_use(Loaded(replace(followed.model, layup=layup), elements, rules, strains, both_hands=True))
