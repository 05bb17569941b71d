"""The joint table: which kind holds two panels together along a line, and what the table leaves unsaid.

Names and lengths only: where panels meet is known from the mesh, and is told to `resolve_joints`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

from tubfem.case.joining import JointKind
from tubfem.case.regions import regions, section_walls, wall_region
from tubfem.case.schema import Case
from tubfem.errors import CaseError

CONTINUOUS = "continuous"  # name of the kind inside one region, which no table needs to say
NUMBERING = 1e-3  # m: places nearer than this are one line and its mirror image


@dataclass(frozen=True, slots=True)
class Part:
    """A panel that meets others: `name` with its side, `plain` without ("SECTION.WALL" for a wall), and its region."""

    name: str
    plain: str
    region: str


@dataclass(frozen=True, slots=True)
class Line:
    """A connected line along which the same parts meet: its length [m] and the place of its middle [m]."""

    parts: tuple[Part, ...]
    length: float
    middle: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Tie:
    """Two bodies of one line, each moulded of one or more parts (positions in `Line.parts`), and what ties them.

    name : "A/B" as the case writes it, with sides
    kind : name of the joint kind
    """

    name: str
    kind: str
    first: tuple[int, ...]
    second: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ResolvedLine:
    """What holds on one line: name and kind of every pair of parts, bodies of continuous parts, ties between bodies."""

    names: dict[tuple[int, int], str]
    kinds: dict[tuple[int, int], str]
    bodies: tuple[tuple[int, ...], ...]
    ties: tuple[Tie, ...]


@cache
def joint_parts(name: str) -> tuple[str, str, int | None] | None:
    """The two sides of "A/B" or "A/B.2" and the line's number; None if it is not such a name."""
    match = re.fullmatch(r"\s*([^/\s]+)\s*/\s*([^/\s]+?)(?:\.(\d+))?\s*", name)
    return None if match is None else (match[1], match[2], int(match[3]) if match[3] else None)


def known_parts(case: Case) -> tuple[str, ...]:
    """Every name that a joint may use for a side: panels, recesses, sections, walls, regions."""
    names = [*case.panels, *case.sections, *regions(case)]
    for section_name, section in case.sections.items():
        names += [f"{section_name}.{wall}" for wall in section_walls(section)]
    for panel_name, panel in case.panels.items():
        for recess_name in panel.recesses:
            names += [f"{panel_name}.{recess_name}", f"{panel_name}.{recess_name}.walls"]
    return tuple(dict.fromkeys(names))


def kind_named(case: Case, name: str) -> JointKind:
    """The joint kind of a name that `resolve_joints` gave."""
    return JointKind(kind=CONTINUOUS) if name == CONTINUOUS else case.joint_kinds[name]


def joint_kind_for(case: Case, a: Part, b: Part, numbers: dict[str, int] | None = None) -> tuple[str, str] | None:
    """The most exact entry of [joints] for two parts and the name of its kind; None if no entry covers them.

    a/b goes before a/*, that before */*; a line's number before none; a panel or wall before its section or region.
    Parts of one region are continuous unless an entry names both of them as panels or walls.

    Parameters
    ----------
    numbers : for entries with a number, "A/B" -> number of the line in question; None if it is not known

    Raises
    ------
    CaseError
        Two equally exact entries name different kinds.
    """
    inside = a.region == b.region or _is_recess(case, a, b)
    found: dict[tuple[int, int, int], list[str]] = {}
    for entry in case.joints:
        rank = _rank(entry, a, b, numbers)
        if rank is not None and (not inside or rank[2] == 2 * PANEL):
            found.setdefault(rank, []).append(entry)
    if not found:
        return ("", CONTINUOUS) if inside else None
    best = found[max(found)]
    kinds = dict.fromkeys(case.joints[entry] for entry in best)
    if len(kinds) > 1:
        says = ", ".join(f'"{entry}" says {case.joints[entry]}' for entry in best)
        pair = "/".join(sorted((a.region, b.region) if best[0].count("*") else (a.plain, b.plain)))
        raise CaseError(f'{case.where("joints", best[0])}: {pair}: {says}; add "{pair}"')
    return best[0], case.joints[best[0]]


PANEL, REGION, ANY = 2, 1, 0


def _match(written: str, part: Part) -> int | None:
    """How exactly a side of an entry names a part."""
    if written == part.plain:
        return PANEL
    section = part.plain.split(".")[0]
    if written in (part.region, section):
        return REGION
    return ANY if written == "*" else None


def _rank(entry: str, a: Part, b: Part, numbers: dict[str, int] | None) -> tuple[int, int, int] | None:
    first, second, number = joint_parts(entry)
    if number is not None and (numbers or {}).get(f"{first}/{second}") != number:
        return None
    ranks = []
    for one, other in ((a, b), (b, a)):
        levels = _match(first, one), _match(second, other)
        if None not in levels:
            ranks.append((sum(level > ANY for level in levels), int(number is not None), sum(levels)))
    return max(ranks, default=None)


def _is_recess(case: Case, a: Part, b: Part) -> bool:
    """Whether one is a recess of the other, or both belong to one recess."""
    for name, panel in case.panels.items():
        for recess in panel.recesses:
            own = {f"{name}.{recess}", f"{name}.{recess}.walls"}
            if {a.plain, b.plain} <= own | {name} and (a.plain in own or b.plain in own):
                return True
    return False


def resolve_joints(case: Case, lines: Sequence[Line]) -> list[ResolvedLine]:
    """What [joints] says of every line on which panels meet.

    Parameters
    ----------
    lines : every connected line and the parts that meet there, both halves of a mirrored tub

    Returns
    -------
    list of ResolvedLine, in the order of `lines`

    Raises
    ------
    CaseError
        All of: lines between regions that no entry covers, with their lengths; equally exact entries that differ;
        entries for parts that do not meet; lines where continuous and other kinds contradict each other.
    """
    numbers = _numbered(case, lines)
    faults: dict[str, None] = {}
    open_lines: dict[str, list[float]] = {}
    resolved, used = [], set()
    for position, line in enumerate(lines):
        kinds: dict[tuple[int, int], str] = {}
        names: dict[tuple[int, int], str] = {}
        for i, j in combinations(range(len(line.parts)), 2):
            a, b = line.parts[i], line.parts[j]
            used |= {entry for entry in case.joints if _rank(entry, a, b, numbers[position])}
            try:
                found = joint_kind_for(case, a, b, numbers[position])
            except CaseError as error:
                faults |= dict.fromkeys(error.messages)
                continue
            if found is None:
                pair = "/".join(sorted((a.region, b.region)))
                open_lines.setdefault(pair, []).append(line.length)
                continue
            kinds[i, j], names[i, j] = found[1], _pair_name(found[0], a, b)
        if len(kinds) < len(line.parts) * (len(line.parts) - 1) // 2:
            continue
        bodies = _bodies(case, len(line.parts), kinds)
        if text := _contradiction(case, line, bodies, kinds, names):
            faults[text] = None
        else:
            resolved.append(ResolvedLine(names, kinds, bodies, _ties(bodies, kinds, names)))
    if open_lines:
        faults[_uncovered(case, open_lines)] = None
    faults |= dict.fromkeys(_unused(case, lines, used))
    if faults:
        raise CaseError(list(faults))
    return resolved


def _pair_name(entry: str, a: Part, b: Part) -> str:
    """The joint's name with its sides: in the order of an entry that names both, else of the alphabet."""
    parts = joint_parts(entry) if entry else None
    if parts is None or "*" in parts[:2]:
        return "/".join(sorted((a.name, b.name)))
    first = _match(parts[0], a) is not None and _match(parts[1], b) is not None
    return f"{a.name}/{b.name}" if first else f"{b.name}/{a.name}"


def _numbered(case: Case, lines: Sequence[Line]) -> list[dict[str, int]]:
    """For every line and every "A/B" that some entry numbers: its place by z, y, x, mirror images alike."""
    numbers: list[dict[str, int]] = [{} for _ in lines]
    pairs = {f"{p[0]}/{p[1]}" for p in map(joint_parts, case.joints) if p[2] is not None}
    for pair in pairs:
        there: list[tuple[tuple[int, int, int], int]] = []
        for position, line in enumerate(lines):
            if any(_rank(pair, a, b, None) for a, b in combinations(line.parts, 2)):
                x, y, z = line.middle
                there.append(((round(z / NUMBERING), round(abs(y) / NUMBERING), round(x / NUMBERING)), position))
        order = {key: number for number, key in enumerate(sorted({key for key, _ in there}), start=1)}
        for key, position in there:
            numbers[position][pair] = order[key]
    return numbers


def _bodies(case: Case, count: int, kinds: dict[tuple[int, int], str]) -> tuple[tuple[int, ...], ...]:
    """Parts that continuous pairs make one, as positions in the line."""
    body = list(range(count))
    for (i, j), kind in kinds.items():
        if kind_named(case, kind).kind == CONTINUOUS:
            old, new = max(body[i], body[j]), min(body[i], body[j])
            body = [new if each == old else each for each in body]
    return tuple(tuple(k for k in range(count) if body[k] == first) for first in sorted(set(body)))


def _ties(
    bodies: tuple[tuple[int, ...], ...], kinds: dict[tuple[int, int], str], names: dict[tuple[int, int], str]
) -> tuple[Tie, ...]:
    ties = []
    for first, second in combinations(bodies, 2):
        pairs = sorted((min(i, j), max(i, j)) for i in first for j in second)
        ties.append(Tie(names[pairs[0]], kinds[pairs[0]], first, second))
    return tuple(ties)


def _contradiction(
    case: Case,
    line: Line,
    bodies: tuple[tuple[int, ...], ...],
    kinds: dict[tuple[int, int], str],
    names: dict[tuple[int, int], str],
) -> str | None:
    """Words for a line whose pairs do not go together, naming parts without sides."""
    plain = {pair: "/".join(sorted((line.parts[pair[0]].plain, line.parts[pair[1]].plain))) for pair in kinds}
    where = "line near " + ", ".join(f"{axis} = {v * 1e3:.0f}" for axis, v in zip("xyz", line.middle, strict=True))
    place = case.where("joints")
    for body in bodies:
        inside = [pair for pair in kinds if set(pair) <= set(body)]
        held = [plain[pair] for pair in inside if kind_named(case, kinds[pair]).kind == CONTINUOUS]
        for pair in inside:
            kind = kind_named(case, kinds[pair]).kind
            if kind != CONTINUOUS:
                return (
                    f"{place}: {where}: {' and '.join(held)} are continuous, {plain[pair]} is {kind}; a panel cannot "
                    f"be both moulded on and {kind} to the same body"
                )
    for first, second in combinations(bodies, 2):
        pairs = [pair for pair in kinds if set(pair) & set(first) and set(pair) & set(second)]
        if len({kinds[pair] for pair in pairs}) > 1:
            says = ", ".join(f"{plain[pair]} is {kinds[pair]}" for pair in pairs)
            return f"{place}: {where}: {says}; one body is tied to another in one way: give these the same kind"
    return None


def _uncovered(case: Case, open_lines: dict[str, list[float]]) -> str:
    count = sum(len(lengths) for lengths in open_lines.values())
    total = sum(sum(lengths) for lengths in open_lines.values())
    pairs = ", ".join(f"{pair} {sum(lengths):.2f} m" for pair, lengths in open_lines.items())
    noun = "line between regions has" if count == 1 else "lines between regions have"
    advice = f'Add them, or say "*/*" = "{_moulded(case)}" if they came out of one mould'
    return f"{case.where('joints')}: {count} {noun} no joint ({total:.1f} m): {pairs}. {advice}"


def _moulded(case: Case) -> str:
    """Name of the case's own continuous kind, for advice."""
    return next((name for name, kind in case.joint_kinds.items() if kind.kind == CONTINUOUS), "moulded")


def _unused(case: Case, lines: Sequence[Line], used: set[str]) -> list[str]:
    """Entries for parts that do not meet, with what they do meet."""
    faults = []
    for entry in case.joints:
        first, second, number = joint_parts(entry)
        if entry in used or (first, second) == ("*", "*") or _opened(case, first) or _opened(case, second):
            continue
        one, other = (first, second) if first != "*" else (second, first)
        meets = sorted(
            {
                other_part.plain
                for line in lines
                for part in line.parts
                if _match(one, part)
                for other_part in line.parts
                if other_part.plain != part.plain
            }
        )
        numbered = number is not None and other in {p for line in lines for p in _names(line) if p}
        what = f"there is no line {number}" if numbered else "these do not meet along a line"
        tail = f". {one} meets: {', '.join(meets)}" if meets else f". {one} meets nothing"
        faults.append(f'{case.where("joints", entry)}: joints."{entry}": {what}{tail}; take it out or name what meets')
    return faults


def _opened(case: Case, part: str) -> bool:
    """Whether walls of the section that a side of an entry names were taken off."""
    sections = {wall.split(".")[0] for wall in case.without}
    return part.split(".")[0] in sections or any(
        part == wall_region(name, case.sections[name], wall)
        for name, _, wall in (each.partition(".") for each in case.without)
    )


def _names(line: Line) -> set[str]:
    return {name for part in line.parts for name in (part.plain, part.region, part.plain.split(".")[0])}
