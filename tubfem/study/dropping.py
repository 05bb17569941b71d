"""Plies taken off a region: which may go, and what that does to the stiffness of the groups.

The stacks are those that `lay_plies` would give of the case with its plies dropped: a ply goes from its own region and
from wherever it laps to, what lay on it moves down towards the tool face.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import reduce

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import dropped, parse_change
from tubfem.case.planning import Schedule
from tubfem.case.regions import bay_region, wall_region
from tubfem.case.schema import Case
from tubfem.case.stuff import Stack as Entries
from tubfem.case.stuff import StackEntry
from tubfem.errors import CaseError
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import Stack, make_stack
from tubfem.shell.assemble import padded_stiffness
from tubfem.shell.model import Springs
from tubfem.study.family import Family, layup_change, spring_change
from tubfem.study.laying import Key, Laid
from tubfem.tub.joints import join
from tubfem.tub.layup import mixed
from tubfem.tub.model import TubModel
from tubfem.tub.plies import LETTERS, cured_layers, entry_numbers

Kind = tuple[str, float]  # ply and angle [rad]
Taken = tuple[tuple[str, float, str], ...]  # of each ply taken off: name, angle, and the face from which it is sought
FACES = ("far", "tool")


def fewer_texts(case: Case, asked: Schedule, region: str) -> Iterator[tuple[str, ...]]:
    """Texts, as --drop takes them, of every way to have up to so many plies fewer as are allowed.

    Cores stay, and plies named as covering, the outermost ply on either face, one more ply in every skin that has any
    beside those, and one ply of every entry that laps onto a neighbour. Where another schedule over part of a wall
    ends with a taper, both keep all they have: the taper is what one has more than the other.
    """
    least, _ = asked.limits(region)
    if least >= 0 or region in _tapered(case):
        return
    stack = case.layups[region].stack
    kinds = {(entry.name, entry.angle): None for entry in stack if not entry.is_core}
    kinds = [kind for kind in kinds if kind[0] not in asked.covering]
    steps = [[(*kind, face) for face in FACES] for kind in kinds] if asked.symmetric else []
    steps = steps or [[(*kind, face)] for kind in kinds for face in FACES]
    seen = {_plies(stack)}
    found: list[Taken] = [()]
    for _ in range(-least // len(steps[0]) if steps else 0):
        further: list[Taken] = []
        for taken in found:
            for step in steps:
                more = (*taken, *step)
                texts = _texts(region, more, stack)
                try:
                    now = _left(stack, texts)
                except CaseError:  # there are not so many
                    continue
                if _plies(now) in seen or not _stands(stack, now):
                    continue
                if not asked.symmetric or _symmetric(now) or not _symmetric(stack):
                    seen.add(_plies(now))
                    further.append(more)
                    yield texts
        found = further


def take_off(
    model: TubModel, family: Family, springs: tuple[Springs, ...], area: Floats, region: str, texts: Sequence[str]
) -> Laid:
    """What `--drop` of all the texts does, all of one region; mass and areas are less than 0.

    Parameters
    ----------
    springs : of the unchanged tub, those of the joints first
    area : (e,) [m²] of the elements

    Raises
    ------
    numpy.linalg.LinAlgError
        A group of elements would not be stiff any more.
    """
    case, layup = model.case, model.layup
    left = _left(case.layups[region].stack, texts)
    layups = case.layups | {region: case.layups[region].model_copy(update={"stack": left})}
    changed = case.model_copy(update={"layups": layups})
    gone = _gone(case, region, left)
    stacks: dict[Key, Stack] = {}
    shape = (len(layup.stacks), len(gone))
    difference, mass, counts = np.zeros((shape[0], 9, 9)), np.zeros(shape[0]), np.zeros(shape)
    for s, (stack, labels) in enumerate(zip(layup.stacks, layup.stack_entries, strict=True)):
        of = [next((k for k, label in enumerate(gone) if _is(text, label)), -1) for text in labels]
        if max(of, default=-1) < 0:
            continue
        layers = zip(stack.angle.tolist(), stack.plies, strict=True)
        now = make_stack([layer for layer, k in zip(layers, of, strict=True) if k < 0], tool_z=float(stack.z[0]))
        stacks |= {(s, False): now, (s, True): now}
        own = padded_stiffness(np.stack([stiffness8(now), stiffness8(stack)]), model.states[0].shell.drilling)
        difference[s] = own[0] - own[1]
        for ply, k in zip(stack.plies, of, strict=True):
            if k >= 0:
                mass[s] -= ply.areal_mass
                counts[s, k] += 1
    per_mixture = mixed(layup, difference)[layup.mixture]
    sign = family.sign
    change = layup_change(family, family.stiffness + per_mixture * sign[:, :, None] * sign[:, None, :])
    first, *others = springs
    change |= spring_change(family, (first, *others), (join(changed, model.mesh).springs, *others))
    laid = area @ mixed(layup, counts)[layup.mixture]
    cloth: Counter[str] = Counter()
    for (_, name), layers in zip(gone, laid.tolist(), strict=True):
        cloth[name] -= layers / len(cured_layers(case, name, case.layups[region]))
    total = float(area @ mixed(layup, mass)[layup.mixture])
    return Laid(change, stacks, total, sum(cloth.values()), dict(cloth))


def _tapered(case: Case) -> set[str]:
    """Regions of which one is what the other has and plies more that run out along a taper."""
    found: set[str] = set()
    for name, section in case.sections.items():
        for bay in section.layup_from:
            if bay.taper is not None:
                found |= {bay_region(name, bay.wall, bay.from_, bay.to), wall_region(name, section, bay.wall)}
    return found


def _texts(region: str, taken: Taken, stack: Entries) -> tuple[str, ...]:
    """As --drop takes them, the angle said where a ply lies at several."""
    angles = {entry.name: {other.angle for other in stack if other.name == entry.name} for entry in stack}
    texts = []
    for (name, angle, face), number in Counter(taken).items():
        at = f"@{round(math.degrees(angle), 6):g}" if len(angles[name]) > 1 else ""
        many = f"*{number}" if number > 1 else ""
        texts.append(f"{region}={name}{at}{many}{'' if face == 'far' else f':{face}'}")
    return tuple(texts)


def _left(stack: Entries, texts: Sequence[str]) -> Entries:
    return reduce(lambda now, text: dropped(now, parse_change(text), text), texts, stack)


def _plies(stack: Entries) -> tuple:
    """Every ply and core one by one, and what runs on past a joint."""
    return tuple((e.name, e.angle, e.thickness, tuple(e.laps)) for e in stack for _ in range(e.count))


def _stands(before: Entries, now: Entries) -> bool:
    """Whether a stack with plies fewer has all that has to stay."""
    skins, left = _skins(before), _skins(now)
    if len(left) != len(skins) or sum(bool(e.laps) for e in before) != sum(bool(e.laps) for e in now):
        return False
    for number, (old, new) in enumerate(zip(skins, left, strict=True)):
        outer = [place for place, where in ((0, 0), (-1, len(skins) - 1)) if where == number and old]
        if (old and not new) or any(old[place] != new[place] for place in outer):
            return False
        inside = list(old)
        for place in outer:
            kind = old[place]
            while inside and inside[place] == kind:
                inside.pop(place)
        if inside and len(new) <= len(outer):
            return False
    return True


def _symmetric(stack: Entries) -> bool:
    plies = [(entry.name, entry.angle, entry.thickness) for entry in stack for _ in range(entry.count)]
    return plies == plies[::-1]


def _skins(stack: Entries) -> list[list[Kind]]:
    """Plies on the tool face, between cores, and on the far face."""
    skins: list[list[Kind]] = [[]]
    for entry in stack:
        if entry.is_core:
            skins.append([])
        else:
            skins[-1] += [(entry.name, entry.angle)] * entry.count
    return skins


def _gone(case: Case, region: str, now: Entries) -> list[tuple[str, str]]:
    """How the texts of the layers of every ply begin that is not there now, and its name."""
    left = list(now)
    before = case.layups[region].stack
    gone = []
    for number, entry in zip(entry_numbers(before), before, strict=True):
        kept = left.pop(0).count if left and _bare(left[0]) == _bare(entry) else 0
        for k in range(kept, entry.count):
            letter = LETTERS[k % len(LETTERS)] if entry.count > 1 else ""
            gone.append((f"{region} {number if number > 0 else '+'}{letter} {entry.name} ", entry.name))
    return gone


def _bare(entry: StackEntry) -> StackEntry:
    return entry.model_copy(update={"count": 0})


def _is(text: str, gone: tuple[str, str]) -> bool:
    """Whether the text of a layer is that of a ply, where it is laid or where it laps to."""
    return text.removeprefix("lap of ").startswith(gone[0])
