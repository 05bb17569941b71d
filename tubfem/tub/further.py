"""Where plies more of a patch would lie: the stacks of a laid tub told apart by it.

A stepped patch ends every ply inside the one before, so the next one covers cells of its own. The tub is laid once more
with marks in the place of such plies; what is found keeps the numbers of the stacks and mixtures that there were, and
adds new ones where a stack is marked.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tubfem.arrays import frozen
from tubfem.case.schema import Case
from tubfem.case.stuff import StackEntry
from tubfem.laminate.stack import Stack, make_stack
from tubfem.tub.layup import lay_plies
from tubfem.tub.model import LayupField, Mark, TubModel
from tubfem.tub.plies import MARK

FURTHER = 4  # plies more of a stepped patch that are told apart


@dataclass(frozen=True, slots=True)
class PatchLaid:
    """One of [patches] or the patch of a mount: `label` in the texts of its plies, entries, whether each ply steps in.

    A mount's plies step in by its list of radii, which goes on with the smallest: its further plies do not.
    """

    label: str
    entries: tuple[StackEntry, ...]
    stagger: bool


def laid_patches(case: Case) -> dict[str, PatchLaid]:
    """Everything that `patch:NAME` may mean."""
    mounts = {
        name: PatchLaid(f"patch of {name}", mount.patch, False) for name, mount in case.mounts.items() if mount.patch
    }
    return mounts | {
        name: PatchLaid(f"patch {name}", patch.ply, patch.stagger > 0) for name, patch in case.patches.items()
    }


def tell_apart(model: TubModel) -> TubModel:
    """The model with the stacks of its layup told apart by where plies more of its patches would lie."""
    layup, patched = model.layup, bool(laid_patches(model.case))
    stacks, entries = list(layup.stacks), list(layup.stack_entries)
    marks: list[tuple[Mark, ...]] = [()] * len(stacks)
    if not patched:
        return replace(model, layup=replace(layup, marks=tuple(marks)))
    laid = lay_plies(model.case, model.mesh, whole=model.whole, further=FURTHER)
    known = {(stack.key(), texts): s for s, (stack, texts) in enumerate(zip(stacks, entries, strict=True))}
    number = []
    for stack, texts in zip(laid.stacks, laid.stack_entries, strict=True):
        plain, own = _without_marks(stack, texts)
        s = known[plain.key(), tuple(text for text in texts if not text.startswith(MARK))]
        if own:
            stacks.append(stacks[s])
            entries.append(entries[s])
            marks.append(own)
            s = len(stacks) - 1
        number.append(s)
    return replace(model, layup=_numbered(layup, laid, number, (stacks, entries, marks)))


def _without_marks(stack: Stack, texts: Sequence[str]) -> tuple[Stack, tuple[Mark, ...]]:
    layers, marks = [], []
    for ply, angle, text in zip(stack.plies, stack.angle, texts, strict=True):
        if text.startswith(MARK):
            step, label = text.removeprefix(MARK).split(" ", 1)
            marks.append(Mark(len(layers), label, int(step), float(np.sign(angle))))
        else:
            layers.append((angle, ply))
    return make_stack(layers, tool_z=stack.z[0]), tuple(marks)


def _numbered(
    layup: LayupField,
    laid: LayupField,
    number: Sequence[int],
    told: tuple[list[Stack], list[tuple[str, ...]], list[tuple[Mark, ...]]],
) -> LayupField:
    """The layup with the mixtures of what is laid with marks; `number` (s,) of its stacks among those told apart."""
    pairs, back = np.unique(np.column_stack([layup.mixture, laid.mixture]), axis=0, return_inverse=True)
    parts, weights, filling = list(layup.mixture_stacks), list(layup.mixture_weights), list(layup.filling)
    mixtures = []
    for before, now in pairs.tolist():
        shares: Counter[int] = Counter()
        for s, share in zip(laid.mixture_stacks[now], laid.mixture_weights[now], strict=True):
            shares[number[s]] += share
        if max(shares) < len(layup.stacks):
            mixtures.append(before)
            continue
        mixtures.append(len(parts))
        parts.append(tuple(shares))
        weights.append(tuple(shares.values()))
        filling += filling[before : before + 1]
    stacks, entries, marks = told
    return replace(
        layup,
        stacks=tuple(stacks),
        stack_entries=tuple(entries),
        marks=tuple(marks),
        mixture_stacks=tuple(parts),
        mixture_weights=tuple(weights),
        mixture=frozen(np.array(mixtures)[back.ravel()]),
        filling=tuple(filling),
    )
