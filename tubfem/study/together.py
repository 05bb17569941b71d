"""Stacks on which several places have laid plies more."""

from collections.abc import Mapping, Sequence

from tubfem.laminate.stack import Stack, make_stack
from tubfem.materials.ply import CorePly, Ply
from tubfem.study.laying import Key
from tubfem.study.options import PATCH, Option

Layer = tuple[float, Ply | CorePly]  # angle [rad] and ply
SAME_ANGLE = 1e-9  # rad


def on_patch(option: Option) -> bool:
    """Whether an option lays on a patch; these come behind all others."""
    return option.region.startswith(PATCH)


def laid_together(before: Sequence[Stack], stacks: Mapping[Key, Stack], option: Option) -> dict[Key, Stack]:
    """Stacks by (number, mirrored) with those of one option more; a patch's plies lie on those of its region.

    Where two regions lap, the stack of the later one stands: what both lay is not counted twice for a margin.
    """
    found = dict(stacks)
    for key, stack in option.stacks.items():
        both = key in found and on_patch(option)
        found[key] = with_both(before[key[0]], found[key], stack) if both else stack
    return found


def with_both(before: Stack, one: Stack, other: Stack) -> Stack:
    """A stack with all that was laid on it to get `one`, and to get `other`."""
    laid = [_more(before, each) for each in (one, other)]
    layers: list[Layer] = []
    for number, layer in enumerate([*_layers(before), None]):
        for more in laid:
            layers += more.get(number, ())
        if layer is not None:
            layers.append(layer)
    beyond = sum(ply.thickness for more in laid for _, ply in more.get(0, ()))
    return make_stack(layers, tool_z=float(before.z[0]) - beyond)


def _more(before: Stack, after: Stack) -> dict[int, list[Layer]]:
    """Layers laid, by the number of the ply before which they lie; those of `before` are all there in their order."""
    old = _layers(before)
    more: dict[int, list[Layer]] = {}
    slot = 0
    for angle, ply in _layers(after):
        if slot < len(old) and ply == old[slot][1] and abs(angle - old[slot][0]) < SAME_ANGLE:
            slot += 1  # which of several alike is the new one makes no difference
        else:
            more.setdefault(slot, []).append((angle, ply))
    return more


def _layers(stack: Stack) -> list[Layer]:
    return [*zip(stack.angle.tolist(), stack.plies, strict=True)]
