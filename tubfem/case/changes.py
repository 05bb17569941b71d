"""Changes asked on the command line, as Case -> Case: plies added and dropped.

The grammar of one change is TARGET=PLY[@ANGLE][*N][:FACE], several TARGETs with commas between.

TARGET  a region; a section (each of its regions); a panel (its region); `joint:NAME`, the tab of a joint kind or of the
        one joint "A/B"; `patch:NAME`, the patch of a mount or of [patches]
ANGLE   degrees; left out, the angle at which most of that ply lies in the stack already, else 0
N       how many plies, 1 if left out
:far    on the face last laid (so it is if nothing is said)
:tool   on the tool face, before everything else
:core   straight on the core, on the side last laid (of several cores, the last)
:under  under the covering last laid: the last entry and those of the same ply just below it
:over   over the covering of the tool face: the first entry and those of the same ply just above it

Dropping takes plies of that name (and angle, if said) from the same places, and leaves the entry's laps on what stays.
"""

import math
import re
from collections import Counter
from dataclasses import dataclass
from typing import Literal, get_args

from tubfem.case.faults import nearest
from tubfem.case.joining import JointKind
from tubfem.case.joint_table import Part, joint_kind_for, joint_parts
from tubfem.case.regions import panel_region, regions, section_walls
from tubfem.case.schema import Case
from tubfem.case.stuff import Face, Stack, StackEntry
from tubfem.errors import CaseError

GRAMMAR = "TARGET=PLY[@ANGLE][*N][:FACE], for example 'tunnel=biax600*2'"
CHANGE = re.compile(
    r"""\s*(?P<targets>[^=]+?)\s*=\s*(?P<ply>[^\W\d][\w-]*)\s*
        (?:@\s*(?P<angle>[-+]?\d+(?:\.\d*)?)\s*)?(?:\*\s*(?P<count>\d+)\s*)?(?::\s*(?P<face>\w+)\s*)?""",
    re.VERBOSE,
)
SAME_ANGLE = 1e-6  # rad
FACES = get_args(Face)


@dataclass(frozen=True, slots=True)
class Change:
    """Plies to add or drop: `angle` [rad] is None for the usual one."""

    targets: tuple[str, ...]
    ply: str
    angle: float | None = None
    count: int = 1
    face: Face = "far"

    @property
    def text(self) -> str:
        """The change as the command line takes it."""
        angle = "" if self.angle is None else f"@{round(math.degrees(self.angle), 6):g}"
        count = f"*{self.count}" if self.count > 1 else ""
        face = f":{self.face}" if self.face != "far" else ""
        return f"{','.join(self.targets)}={self.ply}{angle}{count}{face}"


def parse_change(text: str) -> Change:
    """Read TARGET=PLY[@ANGLE][*N][:FACE].

    Raises
    ------
    CaseError
        The text does not follow the grammar.
    """
    match = CHANGE.fullmatch(text)
    if match is None:
        raise CaseError(f"cannot be read; write {GRAMMAR}")
    face = match["face"] or "far"
    if face not in FACES:
        raise CaseError(f"no face {face}{nearest(face, FACES)}")
    count = int(match["count"] or 1)
    if count == 0:
        raise CaseError("no plies; write *1 or more, or leave it out")
    targets = tuple(target.strip() for target in match["targets"].split(","))
    if not all(targets):
        raise CaseError(f"a target is empty; write {GRAMMAR}")
    angle = None if match["angle"] is None else math.radians(float(match["angle"]))
    return Change(targets, match["ply"], angle, count, face)


def add_plies(case: Case, text: str) -> Case:
    """The case with plies added, `text` as --add takes it.

    Raises
    ------
    CaseError
        The text cannot be read, or names a target or ply that is not there (with the nearest spelling).
    """
    return _change(case, "--add", text)


def drop_plies(case: Case, text: str) -> Case:
    """The case with plies dropped, `text` as --drop takes it.

    Raises
    ------
    CaseError
        As `add_plies`, or there are not so many plies, or nothing would be left.
    """
    return _change(case, "--drop", text)


def _change(case: Case, flag: Literal["--add", "--drop"], text: str) -> Case:
    try:
        change = parse_change(text)
        if change.ply in case.cores:
            raise CaseError(f"{change.ply} is a core; only plies are added and dropped")
        if change.ply not in case.plies:
            raise CaseError(f"no ply {change.ply}{nearest(change.ply, case.plies)}")
        for target in change.targets:
            family, colon, name = target.partition(":")
            if colon and family == "joint":
                case = _change_tab(case, flag, name, change)
            elif colon and family == "patch":
                case = _change_patch(case, flag, name, change)
            elif colon:
                raise CaseError(f'no target "{target}": write a region, joint:NAME or patch:NAME')
            else:
                for region in _target_regions(case, target):
                    layup = case.layups[region]
                    stack = _changed(layup.stack, flag, change, region)
                    case = _with(case, "layups", region, layup.model_copy(update={"stack": stack}))
    except CaseError as error:
        raise CaseError([f"{flag} {text}: {message}" for message in error.messages]) from None
    return case


def _with(case: Case, family: str, name: str, table: object) -> Case:
    return case.model_copy(update={family: {**getattr(case, family), name: table}})


def _target_regions(case: Case, target: str) -> tuple[str, ...]:
    known = regions(case)
    if target in known:
        return (target,)
    if target in case.panels:
        return (panel_region(target, case.panels[target]),)
    section_name, _, wall = target.partition(".")
    section = case.sections.get(section_name)
    if section is not None and (not wall or wall in section_walls(section)):
        walls = {f"{section_name}.{each}" for each in ((wall,) if wall else section_walls(section))}
        found = tuple(region for region, parts in known.items() if walls & set(parts))
        if found:
            return found
    raise CaseError(f'no region "{target}"{nearest(target, [*known, *case.sections])}')


def _changed(stack: Stack, flag: str, change: Change, place: str) -> Stack:
    """A stack with the change made; `place` is its name for messages."""
    if change.face == "core" and not any(entry.is_core for entry in stack):
        raise CaseError(f"{place} has no core; leave :core out")
    if change.face in ("under", "over"):
        if flag == "--drop":
            raise CaseError(f"nothing is dropped by :{change.face}; leave it out")
        if not 0 < len(stack) - _covering(stack, last=change.face == "under"):
            raise CaseError(f"{place} is all one ply and has no covering; leave :{change.face} out")
    return _added(stack, change) if flag == "--add" else dropped(stack, change, place)


def _added(stack: Stack, change: Change) -> Stack:
    angle = usual_angle(stack, change.ply) if change.angle is None else change.angle
    entry = StackEntry(name=change.ply, count=change.count, angle=angle, added=change.face)
    position = {
        "far": len(stack),
        "tool": 0,
        "core": _after_core(stack),
        "under": len(stack) - _covering(stack, last=True),
        "over": _covering(stack, last=False),
    }[change.face]
    return (*stack[:position], entry, *stack[position:])


def _covering(stack: Stack, *, last: bool) -> int:
    """How many entries of one ply lie together at the end or the beginning of a stack."""
    names = [entry.name for entry in (reversed(stack) if last else stack)]
    return next((k for k, name in enumerate(names) if name != names[0]), len(names))


def _after_core(stack: Stack) -> int:
    return max((index + 1 for index, entry in enumerate(stack) if entry.is_core), default=0)


def usual_angle(stack: Stack, ply: str) -> float:
    """Angle [rad] at which most plies of that name lie, the one last laid if several are equal; 0 if there are none."""
    counts: Counter[float] = Counter()
    for entry in reversed(stack):
        if entry.name == ply:
            counts[entry.angle] += entry.count
    return counts.most_common(1)[0][0] if counts else 0.0


def dropped(stack: Stack, change: Change, place: str) -> Stack:
    """A stack with plies dropped; `place` is its name for messages.

    Raises
    ------
    CaseError
        There are not so many plies, or nothing would be left.
    """
    order = {
        "far": range(len(stack) - 1, -1, -1),
        "tool": range(len(stack)),
        "core": range(_after_core(stack), len(stack)),
    }[change.face]
    counts, left = [entry.count for entry in stack], change.count
    for index in order:
        entry = stack[index]
        if entry.is_core or entry.name != change.ply:
            continue
        if change.angle is not None and abs(entry.angle - change.angle) > SAME_ANGLE:
            continue
        taken = min(left, counts[index])
        counts[index] -= taken
        left -= taken
    if left:
        angle = "" if change.angle is None else f" @ {math.degrees(change.angle):g}"
        there = change.count - left
        where = " beyond the core" if change.face == "core" else ""
        raise CaseError(f"{place} has {there} of {change.ply}{angle}{where}, so {change.count} cannot be dropped")
    kept = tuple(
        entry if entry.count == count else entry.model_copy(update={"count": count})
        for entry, count in zip(stack, counts, strict=True)
        if count
    )
    if not any(not entry.is_core for entry in kept):
        raise CaseError(f"{place} would have no plies left")
    return kept


def _change_tab(case: Case, flag: str, name: str, change: Change) -> Case:
    """The tab of a joint kind, or of one joint, which then gets a kind of its own."""
    if change.face != "far":
        raise CaseError(f"a tab has no :{change.face}; leave it out")
    kind = tab_kind(case, name)
    if not kind.tab:
        raise CaseError(f"joint {name} is {kind.kind} and has no tab")
    changed = kind.model_copy(update={"tab": _changed(kind.tab, flag, change, f"the tab of {name}")})
    if name in case.joint_kinds:
        return _with(case, "joint_kinds", name, changed)
    return _with(_with(case, "joint_kinds", name, changed), "joints", name, name)


def tab_kind(case: Case, name: str) -> JointKind:
    """The joint kind of that name, or that of the one joint "A/B".

    Raises
    ------
    CaseError
        There is neither.
    """
    return case.joint_kinds[name if name in case.joint_kinds else case.joints.get(name) or _covering_kind(case, name)]


def _covering_kind(case: Case, name: str) -> str:
    """Kind of the entry, such as "dash/*", that covers a joint "A/B" which has no entry of its own."""
    parts, known = joint_parts(name), regions(case)
    sides = []
    for part in parts[:2] if parts else ():
        region = next((region for region, panels in known.items() if part in panels), None)
        if region is None and (part in known or part in case.sections):
            region = part
        if region is not None:
            sides.append(Part(part, part, region))
    found = joint_kind_for(case, *sides) if len(sides) == 2 else None
    if found is None or not found[0]:
        raise CaseError(f'no joint or joint kind "{name}"{nearest(name, [*case.joint_kinds, *case.joints])}')
    return found[1]


def _change_patch(case: Case, flag: str, name: str, change: Change) -> Case:
    """The patch of [patches] or of a mount; a mount's stepped radii go on with the smallest one."""
    if change.face != "far":
        raise CaseError(f"a patch has no :{change.face}; leave it out")
    if name in case.patches:
        patch = case.patches[name]
        plies = _changed(patch.ply, flag, change, f"patch {name}")
        if sum(entry.count for entry in plies) > patch.most_plies:
            raise CaseError(f"patch {name}: {patch.no_room}")
        return _with(case, "patches", name, patch.model_copy(update={"ply": plies}))
    mount = case.mounts.get(name)
    if mount is None or not mount.patch:
        known = [*case.patches, *(other for other, table in case.mounts.items() if table.patch)]
        what = f"mount {name} has no patch" if mount is not None else f'no patch or mount "{name}"'
        raise CaseError(f"{what}{nearest(name, known)}")
    plies = _changed(mount.patch, flag, change, f"the patch of {name}")
    radii = mount.patch_radius
    if len(radii) > 1:
        count = sum(entry.count for entry in plies)
        radii = (*radii, *[radii[-1]] * max(count - len(radii), 0))[:count]
    return _with(case, "mounts", name, mount.model_copy(update={"patch": plies, "patch_radius": radii}))
