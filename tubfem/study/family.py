"""The stiffness of a tub as parameters: groups of elements and of springs whose stiffness changes as one.

A region is one group, or a few where laps and patches lie on it: elements of like thickness. A change of lay-up adds
one matrix dC to all elements of a group, the mean over its elements weighted by the strain energy of the unchanged tub
in them. Elements of the left half are read in mirrored axes, so that a region's two halves are one group. A joint has a
group for each of its four directions, a mount one for all its springs; their stiffness is a factor of what it was.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import nnls

from tubfem.arrays import Floats, Ints
from tubfem.shell.assemble import padded_stiffness
from tubfem.shell.model import ShellModel, Springs
from tubfem.tub.layup import mixed
from tubfem.tub.line_stiffness import DIRECTIONS
from tubfem.tub.model import TubModel, plain_joint

COMPONENTS = 9  # eight generalised strains and the drilling strain
MIRRORED = np.array([1.0, 1, -1, 1, 1, -1, 1, -1, -1])  # of strains read in the axes of the mirror image
CLASSES = 3  # groups of a region, at most
ON_A_LINE = 1e-8  # of the largest stiffness: how far a mean may lie from where it is found
LEAST = 0.05  # of a group's mean stiffness: what every element keeps under a change
SAME = 1e-6  # m: thicknesses that are one
TURNED = 1e-9  # of coefficients: more than this and rows are others

Change = Mapping[int, Floats]  # group -> dC (9, 9) [N/m, N, N·m], or (1, 1) for springs, as a share of what there was


@dataclass(frozen=True, eq=False, slots=True)
class Group:
    """Elements or springs with one change of stiffness.

    Attributes
    ----------
    name : region, joint, section or frame, without sides
    kind : "region", "joint", "mount" (all bolts of mounts), "foam" in a section, "frame" of beams
    part : class of the region by thickness, or direction of the joint's springs
    members : elements through the blocks in order, or rows of all spring sets in order
    C : (n, n) mean stiffness, n = 9, or 1 for springs (their own stiffness is the unit)
    corners : (m, n, n) stiffnesses of which every one that occurs in the group is a weighted mean
    """

    name: str
    kind: str
    part: str
    members: Ints
    C: Floats
    corners: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Family:
    """All groups of a tub, with what it takes to read changes.

    `sign` (e, 9) turns strains of mirrored elements; `weight` (e,) is the energy of the unchanged tub; `of_element`
    (e,) the group of every element; `spring_rows` maps a row of all spring sets to its group, -1 without stiffness.
    """

    groups: tuple[Group, ...]
    sign: Floats
    weight: Floats
    of_element: Ints
    of_spring: Ints
    stiffness: Floats

    def named(self, kind: str, name: str) -> list[int]:
        """Numbers of the groups of one region, joint or mount."""
        return [k for k, group in enumerate(self.groups) if (group.kind, group.name) == (kind, name)]


def make_family(model: TubModel, shell: ShellModel, weight: Floats) -> Family:
    """Groups of a model; `weight` (e,) > 0 says how much each element counts in its group's mean."""
    mesh, layup = model.mesh, model.layup
    panel = mesh.element_panel
    mirrored = np.array([part.mirrored for part in mesh.panels])[panel]
    sign = np.where(mirrored[:, None], MIRRORED, 1.0)
    C = element_matrices(shell, sign)
    thickness = mixed(layup, np.array([stack.thickness for stack in layup.stacks]))[layup.mixture]
    groups: list[Group] = []
    of_element = np.full(len(panel), -1)
    regions = dict.fromkeys(part.region for part in mesh.panels)
    region = np.array([part.region for part in mesh.panels])[panel]
    for name in regions:
        members = np.flatnonzero(region == name)
        for number, own in enumerate(_classes(thickness[members], weight[members])):
            chosen = members[own]
            of_element[chosen] = len(groups)
            mean = np.average(C[chosen], axis=0, weights=weight[chosen])
            keys = np.unique(np.stack([layup.mixture[chosen], mirrored[chosen]], 1), axis=0, return_index=True)[1]
            groups.append(Group(name, "region", f"{number}", chosen, mean, _corners(C[chosen[keys]])))
    of_spring = np.full(sum(len(s.stiffness) for s in shell.springs), -1)
    for kind, name, part, rows in _spring_rows(model, shell):
        of_spring[rows] = len(groups)
        groups.append(Group(name, kind, part, rows, np.eye(1), np.ones((1, 1, 1))))
    return Family(tuple(groups), sign, weight, of_element, of_spring, C)


def element_matrices(shell: ShellModel, sign: Floats) -> Floats:
    """Stiffness (e, 9, 9) of every element in its group's axes."""
    C = padded_stiffness(shell.stiffness, shell.drilling)
    return C[np.concatenate([block.stack for block in shell.blocks])] * sign[:, :, None] * sign[:, None, :]


def layup_change(family: Family, stiffness: Floats) -> dict[int, Floats]:
    """Change of every group whose elements have other stiffness (e, 9, 9) now, in the groups' axes."""
    difference = stiffness - family.stiffness
    size = np.abs(difference).max(axis=(1, 2)) > 1e-12 * np.abs(family.stiffness).max(axis=(1, 2))
    change = {}
    for k in np.unique(family.of_element[size]).tolist():
        members = family.groups[k].members
        mean = np.average(difference[members], axis=0, weights=family.weight[members])
        change[k] = stiff_everywhere(family.groups[k], mean)
    return change


def stiff_everywhere(group: Group, dC: Floats) -> Floats:
    """The change, with as much more as leaves every element a share `LEAST` of the group's new mean in any direction.

    A core under laps moves them far from the middle. Elements with less of a lap than the mean would take its moment
    without its stretch, which no laminate does.
    """
    root = np.linalg.cholesky(group.C + dC)
    half = np.linalg.inv(root)
    for corner in group.corners:
        ratio, along = np.linalg.eigh(half @ (corner + dC) @ half.T)
        if ratio[0] < LEAST:
            turned = root @ along
            dC = dC + (turned * np.maximum(LEAST - ratio, 0.0)) @ turned.T
    return dC


def spring_change(family: Family, before: tuple[Springs, ...], now: tuple[Springs, ...]) -> dict[int, Floats]:
    """Change of every group of springs, as a share of its stiffness; mean over its rows.

    Foam whose walls grow thicker is cut into other bricks, which are other rows; it is left as it was. On the demo a
    core put into both walls of a filled pillar moves the stiffness by 0.07 percentage points more than is told here.
    """
    old = np.concatenate([np.zeros(0), *(s.stiffness for s in before)])
    share, first = np.zeros(len(old)), 0
    for one, other in zip(before, now, strict=False):  # joints and bolts come first
        own = slice(first, first := first + len(one.stiffness))
        alike = one.coefficients.shape == other.coefficients.shape
        if alike and np.allclose(one.coefficients, other.coefficients, rtol=0, atol=TURNED):
            np.divide(other.stiffness - one.stiffness, one.stiffness, out=share[own], where=one.stiffness > 0)
    change = {}
    for k in np.unique(family.of_spring[(np.abs(share) > 1e-12) & (family.of_spring >= 0)]).tolist():
        rows = family.groups[k].members
        change[k] = np.full((1, 1), np.average(share[rows], weights=old[rows]))
    return change


def changed_shell(family: Family, shell: ShellModel, change: Change) -> ShellModel:
    """The shell model with exactly the change of each group: what the reduced model answers for."""
    index = np.unique(family.of_element)
    added = np.zeros((len(family.groups), COMPONENTS, COMPONENTS))
    for k in index:
        if k in change:
            added[k] = change[k]
    C = family.stiffness + added[family.of_element]
    C = C * family.sign[:, :, None] * family.sign[:, None, :]
    blocks, first = [], 0
    for block in shell.blocks:
        stop = first + len(block.conn)
        blocks.append(replace(block, stack=np.arange(first, stop)))
        first = stop
    factor = np.ones(len(family.of_spring))
    for k, share in change.items():
        if family.groups[k].kind != "region":
            factor[family.groups[k].members] = 1 + share[0, 0]
    springs, row = [], 0
    for own in shell.springs:
        part = factor[row : row + len(own.stiffness)]
        springs.append(replace(own, stiffness=own.stiffness * part))
        row += len(own.stiffness)
    mass = np.zeros((len(C), 3))
    return replace(shell, blocks=tuple(blocks), stiffness=C[:, :8, :8], mass=mass, springs=tuple(springs))


def _corners(distinct: Floats) -> Floats:
    """Those of the stiffnesses (m, n, n) that are no weighted means of the others.

    Laps and patches by covered shares give many means of few stacks.
    """
    rows = distinct.reshape(len(distinct), -1)
    rows = rows / np.abs(rows).max(axis=0, initial=1e-300)
    kept = list(np.unique(np.round(rows, 9), axis=0, return_index=True)[1])
    for k in tuple(kept):
        others = [j for j in kept if j != k]
        if others:
            sums = np.vstack([rows[others].T, np.ones(len(others))])
            if nnls(sums, np.append(rows[k], 1.0))[1] < ON_A_LINE:
                kept = others
    return distinct[kept]


def _classes(thickness: Floats, weight: Floats) -> list[Ints]:
    """Members of each class: the thickness with most weight by itself, the rest in bands of equal weight."""
    kinds, back = np.unique(np.round(thickness / SAME), return_inverse=True)
    back = back.ravel()
    total = np.bincount(back, weight)
    base = int(total.argmax())
    if len(kinds) <= CLASSES:
        return [np.flatnonzero(back == k) for k in range(len(kinds))]
    rest = np.flatnonzero(np.arange(len(kinds)) != base)
    part = np.cumsum(total[rest]) / total[rest].sum()
    band = np.minimum(((part - 1e-12) * (CLASSES - 1)).astype(int), CLASSES - 2)
    number = np.zeros(len(kinds), dtype=np.int64)
    number[rest] = 1 + band
    return [members for k in range(CLASSES) if len(members := np.flatnonzero(number[back] == k))]


def _spring_rows(model: TubModel, shell: ShellModel) -> Iterator[tuple[str, str, str, Ints]]:
    """(kind, name, part, rows) of every group of springs with any stiffness."""
    if not shell.springs:
        return
    stiffness = np.concatenate([springs.stiffness for springs in shell.springs])
    tied: dict[str, list[Ints]] = {}
    for ties in model.joints:
        tied.setdefault(plain_joint(ties.name), []).append(ties.rows)
    used = np.zeros(len(stiffness), dtype=bool)
    for name, rows in tied.items():
        together = np.concatenate(rows)
        used[together.ravel()] = True
        for direction, word in enumerate(DIRECTIONS):
            own = together[:, direction]
            if len(own := own[stiffness[own] > 0]):
                yield "joint", name, word, own
    others: dict[tuple[str, str], list[Ints]] = {}
    for name, rows in model.foams:
        others.setdefault(("foam", plain_joint(name)), []).append(rows)
    for frame in model.frames:
        others.setdefault(("frame", plain_joint(frame.name)), []).append(frame.rows)
    for (kind, name), rows in others.items():
        together = np.concatenate(rows)
        used[together] = True
        if len(own := together[stiffness[together] > 0]):
            yield kind, name, "all", own
    rest = np.flatnonzero(~used & (stiffness > 0))
    if len(rest):
        yield "mount", "mounts", "all", rest
