"""Connections of the case: which joints lie between the two parts, half by half."""

from dataclasses import dataclass
from fnmatch import fnmatchcase
from itertools import combinations

from tubfem.arrays import Ints
from tubfem.case.schema import Case
from tubfem.errors import CaseError
from tubfem.geometry.mesh import Panel, TubMesh


@dataclass(frozen=True, slots=True)
class PathLine:
    """One line along which two panels meet: (panel of the one part, panel of the other), edges (m, 2), joint's name."""

    panels: tuple[int, int]
    edges: Ints
    joint: str


@dataclass(frozen=True, slots=True)
class Connection:
    """One connection on one half; `paths` maps joint names, without the half, to their lines."""

    name: str
    one: tuple[int, ...]
    other: tuple[int, ...]
    paths: dict[str, tuple[PathLine, ...]]


def connections(case: Case, mesh: TubMesh, joint_kinds: dict[str, str]) -> tuple[Connection, ...]:
    """Every connection with its paths.

    Raises
    ------
    CaseError
        A name fits no panel, a panel is on both sides, or the two parts meet nowhere.
    """
    found: list[Connection] = []
    faults: list[str] = []
    names = {frozenset(name.split("/", 1)): name for name in joint_kinds}
    for name, table in case.connections.items():
        sides = [_panels(mesh, patterns) for patterns in (table.one, table.other)]
        for key, panels, patterns in zip(("one", "other"), sides, (table.one, table.other), strict=True):
            if not panels:
                faults.append(
                    case.message(("connections", name, key), f"{', '.join(patterns)}: no such panel or region")
                )
        both = set(sides[0]) & set(sides[1])
        if both:
            text = f"{mesh.panels[min(both)].plain} is in both parts"
            faults.append(case.message(("connections", name), text))
        elif sides[0] and sides[1]:
            halves = _halves(mesh, sides, names)
            if not halves:
                faults.append(case.message(("connections", name), "the two parts meet nowhere"))
            found += [
                Connection(name + half, tuple(sides[0]), tuple(sides[1]), paths) for half, paths in halves.items()
            ]
    if faults:
        raise CaseError(faults)
    return tuple(found)


def _panels(mesh: TubMesh, patterns: tuple[str, ...]) -> list[int]:
    return [k for k, panel in enumerate(mesh.panels) if any(_fits(panel, pattern) for pattern in patterns)]


def _fits(panel: Panel, pattern: str) -> bool:
    section = panel.plain.partition(".")[0] if panel.section else panel.plain
    return any(fnmatchcase(name, pattern) for name in (panel.name, panel.plain, panel.region, section))


def _halves(
    mesh: TubMesh, sides: list[list[int]], names: dict[frozenset[str], str]
) -> dict[str, dict[str, tuple[PathLine, ...]]]:
    halves: dict[str, dict[str, tuple[PathLine, ...]]] = {}
    for line in mesh.joints:
        for a, b in combinations(line.panels, 2):
            if a in sides[1] and b in sides[0]:
                a, b = b, a
            if a not in sides[0] or b not in sides[1]:
                continue
            pair = mesh.panels[a].name, mesh.panels[b].name
            half = next((side for side in (".left", ".right") if any(text.endswith(side) for text in pair)), "")
            joint = names[frozenset(pair)]
            paths = halves.setdefault(half, {})
            paths[joint] = (*paths.get(joint, ()), PathLine((a, b), line.edges, joint))
    return halves
