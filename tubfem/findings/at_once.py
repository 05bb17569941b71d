"""Uses of a few elements in many stacks at once: `margins.element_use` without a loop over the stacks.

Where few elements are judged again and again most of the time goes into calls, not into arithmetic. The maps of all
stacks stand one under the other, and every element is paired with the rows of its own stacks. The formulas are those of
`criteria` and `sandwich`, with a leading axis of pairs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
from numpy.typing import NDArray

from tubfem.arrays import Floats, Ints
from tubfem.findings.allowables import INTERLAMINAR
from tubfem.findings.criteria import Interactive, greatest
from tubfem.findings.margins import BY_SIZE, PLY_KINDS, Loaded, Rules, average_sizes
from tubfem.findings.sandwich import (
    CRIMP,
    DIMPLE,
    KINDS,
    RULE_SHARE,
    SHEAR,
    WRINKLE,
    WRINKLE_RULE,
    CoreUse,
    crimping,
    sandwich_use_of,
    used,
    wrinkling,
)


@dataclass(frozen=True, eq=False, slots=True)
class Rows:
    """Rows of all stacks, those of stack s from `first[s]` to `first[s + 1]`; every part (rows, ...)."""

    first: Ints
    parts: tuple[Floats, ...]

    def pairs(self, stack: Ints) -> tuple[Ints, Ints]:
        """Every entry of `stack` (p,) with each row of its stack: numbers of the entries and of the rows."""
        count = np.diff(self.first)[stack]
        entry = np.repeat(np.arange(len(stack)), count)
        behind = np.arange(len(entry)) - np.repeat(np.cumsum(count) - count, count)
        return entry, self.first[stack][entry] + behind


@dataclass(frozen=True, eq=False, slots=True)
class Tables:
    """Maps of all stacks.

    `plies` by kind: use per unit strain (8,). `by_size` by kind: transverse shear over what it may be (2, 2) per unit
    strain. `skins`: stress (8, 3), compliance (3, 3), angle, G13, G23 and Ec of the core, factor required. `whole`:
    load (8, 3), shear stiffness (2, 2), factor required. `apart` are the stacks whose criteria or cores stay in a loop.
    """

    plies: dict[str, Rows]
    by_size: dict[str, Rows]
    skins: Rows
    whole: Rows
    apart: tuple[int, ...]


def tables_of(rules: Rules) -> Tables:
    """The maps of `margins.margin_rules`, one under the other."""
    none = np.zeros((0, 8))
    plies = {
        kind: _rows([(none if isinstance(use, Interactive) else use.matrix.T,) for use in rules.plies[kind]])
        for kind in PLY_KINDS
    }
    between = [(use.shear.transpose(1, 0, 2) / use.allowable[:, None, None],) for use in rules.between]
    apart = (
        s
        for s, core in enumerate(rules.cores)
        if any(isinstance(rules.plies[kind][s], Interactive) for kind in PLY_KINDS)
        or (core is not None and any(skin.core.cell is not None for skin in core.skins))
    )
    return Tables(
        plies,
        {INTERLAMINAR: _rows(between), SHEAR: _rows([(_core_shear(core),) for core in rules.cores])},
        _rows([_skins(core) for core in rules.cores]),
        _rows([_whole(core) for core in rules.cores]),
        tuple(apart),
    )


def joined(one: Tables, other: Tables) -> Tables:
    """The stacks of one behind those of the other."""
    return Tables(
        {kind: _behind(rows, other.plies[kind]) for kind, rows in one.plies.items()},
        {kind: _behind(rows, other.by_size[kind]) for kind, rows in one.by_size.items()},
        _behind(one.skins, other.skins),
        _behind(one.whole, other.whole),
        (*one.apart, *(len(one.skins.first) - 1 + s for s in other.apart)),
    )


def use_at_once(loaded: Loaded, tables: Tables, wanted: NDArray[np.bool_]) -> dict[str, Floats]:
    """What `element_use` gives for the elements that are `wanted` (e,); zero for others.

    `tables` are of the rules of `loaded`, for both hands of the load.
    """
    layup, strains, count = loaded.model.layup, loaded.strains, len(wanted)
    size = np.array([len(stacks) for stacks in layup.mixture_stacks])
    flat = np.concatenate([np.array(stacks) for stacks in layup.mixture_stacks])
    behind = Rows(np.append(0, np.cumsum(size)), ())
    element, place = behind.pairs(layup.mixture)
    stack = flat[place]
    use = {kind: np.zeros(count) for kind in (*PLY_KINDS, INTERLAMINAR, *KINDS)}
    for kind in BY_SIZE:
        pair, row = tables.by_size[kind].pairs(stack)
        (shear,) = tables.by_size[kind].parts
        stress = np.einsum("pi,pij->pj", strains.own[element[pair], 6:], shear[row])
        np.maximum.at(use[kind], element[pair], np.hypot(stress[:, 0], stress[:, 1]))
    means = average_sizes(loaded, {kind: use[kind] for kind in BY_SIZE})
    use |= {kind: np.where(wanted, mean, 0.0) for kind, mean in means.items()}
    element, stack = element[wanted[element]], stack[wanted[element]]
    for kind in PLY_KINDS:
        pair, row = tables.plies[kind].pairs(stack)
        (matrix,) = tables.plies[kind].parts
        found = np.abs(np.einsum("pi,pi->p", strains.averaged[element[pair]], matrix[row]))
        np.maximum.at(use[kind], element[pair], found)
    hands = np.stack([strains.averaged, -strains.averaged], axis=1)
    pair, row = tables.skins.pairs(stack)
    stress, compliance, *alike, required = (part[row] for part in tables.skins.parts)
    angle, G13, G23, Ec = (each[:, None] for each in alike)
    skin = SimpleNamespace(
        stress=stress, compliance=compliance, core_angle=angle, core=SimpleNamespace(G13=G13, G23=G23, Ec=Ec)
    )
    found = used(*wrinkling(skin, hands[element[pair]])).max(axis=1)
    np.maximum.at(use[WRINKLE], element[pair], required * found)
    np.maximum.at(use[WRINKLE_RULE], element[pair], RULE_SHARE * found)
    pair, row = tables.whole.pairs(stack)
    load, stiffness, required = (part[row] for part in tables.whole.parts)
    core = SimpleNamespace(load=load, stiffness=stiffness)
    found = required * used(*crimping(core, hands[element[pair]])).max(axis=1)
    np.maximum.at(use[CRIMP], element[pair], found)
    _apart(loaded, tables, element, stack, use)
    return use


def _apart(loaded: Loaded, tables: Tables, element: Ints, stack: Ints, use: dict[str, Floats]) -> None:
    """Joined criteria and dimpling, stack by stack, into `use`."""
    rules, averaged = loaded.rules, loaded.strains.averaged
    for s in tables.apart:
        at, core = element[stack == s], rules.cores[s]
        for kind in PLY_KINDS:
            if isinstance(rules.plies[kind][s], Interactive):
                found = greatest(rules.plies[kind][s], averaged[at], both_hands=True)
                use[kind][at] = np.maximum(use[kind][at], found)
        dimple = None if core is None else sandwich_use_of(core, averaged[at], DIMPLE, both_hands=True)
        if dimple is not None:
            use[DIMPLE][at] = np.maximum(use[DIMPLE][at], dimple)


def _core_shear(core: CoreUse | None) -> Floats:
    if core is None:
        return np.zeros((0, 2, 2))
    over = core.required[SHEAR] * core.shear[6:] / core.shear_strength[:, None]
    return over.reshape(2, -1, 2).transpose(1, 0, 2)


def _skins(core: CoreUse | None) -> tuple[Floats, ...]:
    skins = () if core is None else core.skins
    numbers = [(k.core_angle, k.core.G13, k.core.G23, k.core.Ec, core.required[WRINKLE]) for k in skins]
    return (
        np.array([skin.stress for skin in skins]).reshape(-1, 8, 3),
        np.array([skin.compliance for skin in skins]).reshape(-1, 3, 3),
        *np.array(numbers).reshape(-1, 5).T,
    )


def _whole(core: CoreUse | None) -> tuple[Floats, ...]:
    if core is None or not core.skins:
        return np.zeros((0, 8, 3)), np.zeros((0, 2, 2)), np.zeros(0)
    return core.load[None], core.stiffness[None], np.array([core.required[CRIMP]])


def _rows(stacks: Sequence[tuple[Floats, ...]]) -> Rows:
    count = [len(parts[0]) for parts in stacks]
    return Rows(np.append(0, np.cumsum(count)), tuple(np.concatenate(part) for part in zip(*stacks, strict=True)))


def _behind(one: Rows, other: Rows) -> Rows:
    parts = tuple(np.concatenate(both) for both in zip(one.parts, other.parts, strict=True))
    return Rows(np.append(one.first, one.first[-1] + other.first[1:]), parts)
