"""What a support, load or probe acts on: one text, read against the names of the case."""

from collections.abc import Iterable
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Literal

from tubfem.case.faults import nearest
from tubfem.case.schema import Case
from tubfem.case.shapes import Section

Kind = Literal["point", "pickup", "mount", "node", "edge", "panel", "station", "rigid"]


@dataclass(frozen=True, slots=True)
class Target:
    """What a text names.

    kind : point, pickup, mount, node of a frame of tubes (reference points), edge (between two points), panel (whole
    panels and walls), station (all that lies on the plane), rigid (reference point of a rigid set)
    names : the points, panels or walls ("SECTION.WALL"), without side
    side : "left" or "right" if the text says so
    """

    kind: Kind
    names: tuple[str, ...]
    side: Literal["left", "right"] | None = None


def read_target(case: Case, text: str, rigid: tuple[str, ...] = ()) -> Target:
    """Read "A", "A-B", "panels.NAME", "sections.NAME.WALL", "stations.NAME", "subframes.NAME.NODE" or "rigid.NAME".

    Parameters
    ----------
    rigid : names of the rigid sets of this load case

    Raises
    ------
    ValueError
        Says what the text may name.
    """
    plain, side = split_side(text) if case.mirror is not None else (text, None)
    family, _, rest = plain.partition(".")
    if family == "panels":
        return Target("panel", (_known(rest, case.panels, "panel"),), side)
    if family == "stations":
        return Target("station", (_known(rest, case.stations, "station"),), side)
    if family == "rigid":
        return Target("rigid", (_known(rest, rigid, "rigid set"),), side)
    if family == "subframes":
        name, _, node = rest.partition(".")
        subframe = case.subframes[_known(name, case.subframes, "subframe")]
        return Target("node", (f"{name}.{_known(node, subframe.nodes, f'node of {name}')}",), side)
    if family == "sections":
        name, _, wall = rest.partition(".")
        section = case.sections[_known(name, case.sections, "section")]
        walls = (_known(wall, section.walls, f"wall of {name}"),) if wall else tuple(section.walls)
        return Target("panel", tuple(f"{name}.{each}" for each in walls), side)
    kinds: list[Kind] = [kind for kind, family in _points(case).items() if plain in family]
    if len(kinds) > 1:
        raise ValueError(f'"{text}" is the name of a {" and a ".join(kinds)}; give them different names')
    if kinds:
        return Target(kinds[0], (plain,), side)
    for dash in (i for i, character in enumerate(plain) if character == "-"):
        ends = (plain[:dash].strip(), plain[dash + 1 :].strip())
        if all(is_point(case, end) for end in ends):
            return Target("edge", ends, side)
    if is_point(case, plain):
        return Target("point", (plain,), side)
    known = [*case.points, *case.pickups, *case.mounts, *(f"panels.{name}" for name in case.panels)]
    raise ValueError(f'"{text}" is no point, edge, panel, station or rigid set{nearest(plain, known)}')


def split_side(name: str) -> tuple[str, Literal["left", "right"] | None]:
    """A name without `.left` or `.right`, and which."""
    plain, _, side = name.rpartition(".")
    return (plain, side) if plain and side in ("left", "right") else (name, None)


def is_point(case: Case, name: str) -> bool:
    """Whether a text is a point of [points] or a corner at a station ("sill.in_low@front")."""
    if name in case.points:
        return True
    corner, _, station = name.partition("@")
    section_name, _, corner_name = corner.partition(".")
    section: Section | None = case.sections.get(section_name)
    if section is None or corner_name not in section.corners:
        return False
    return station in section.at or station in case.stations


def _points(case: Case) -> dict[Kind, dict[str, object]]:
    return {"point": case.points, "pickup": case.pickups, "mount": case.mounts}


def _known(name: str, names: object, what: str) -> str:
    if name not in names:
        raise ValueError(f'no {what} "{name}"{nearest(name, names)}')
    return name


def mates(mounts: Iterable[str], patterns: tuple[str, ...]) -> tuple[str, ...]:
    """Mounts that names or patterns such as "front_*" match, in the order of the file."""
    return tuple(name for name in mounts if any(fnmatchcase(name, pattern) for pattern in patterns))
