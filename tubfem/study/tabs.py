"""Other tabs in joints: what becomes of the springs along their lines (section J of the theory)."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import add_plies
from tubfem.case.joining import JointKind
from tubfem.case.joint_table import kind_named
from tubfem.errors import CaseError
from tubfem.findings.joint_strength import region_side
from tubfem.study.family import Family
from tubfem.tub.fillets import tab_area
from tubfem.tub.joints import join
from tubfem.tub.line_stiffness import DIRECTIONS, line_springs
from tubfem.tub.model import JointTies, TubModel, plain_joint

NAMED = "joint:"  # before a joint's name, as --add takes it


@dataclass(frozen=True, eq=False, slots=True)
class Tabs:
    """Joints of one name, both halves, that one kind of tab ties; `area` [m²] of one ply of all their tabs."""

    name: str
    kind_name: str
    kind: JointKind
    area: float
    ties: tuple[JointTies, ...]

    @property
    def target(self) -> str:
        """As --add takes it."""
        return f"{NAMED}{self.name}"


def tabs_of(model: TubModel) -> tuple[Tabs, ...]:
    """Every joint whose tab can be changed by its name alone.

    Not so where its pieces are of several kinds, or where its springs tie another joint's panels as well.
    """
    by_name: dict[str, list[JointTies]] = {}
    for ties in model.joints:
        by_name.setdefault(plain_joint(ties.name), []).append(ties)
    found = []
    for name, own in by_name.items():
        kinds = {ties.means for ties in own}
        shared = {plain_joint(other) for ties in own for other in ties.also} - {name}
        if len(kinds) == 1 and "" not in kinds and not shared:
            (kind_name,) = kinds
            kind = kind_named(model.case, kind_name)
            if kind.tab:
                found.append(Tabs(name, kind_name, kind, sum(tab_area(kind, ties) for ties in own), tuple(own)))
    return _nameable(model, tuple(found))


def _nameable(model: TubModel, found: tuple[Tabs, ...]) -> tuple[Tabs, ...]:
    """Those for which an entry of their own in [joints] holds: one for a panel or a numbered line goes before it."""
    if not found:
        return ()
    kinds = {**model.case.joint_kinds, **{tabs.name: tabs.kind for tabs in found}}
    joints = {**model.case.joints, **{tabs.name: tabs.name for tabs in found}}
    try:
        joined = join(model.case.model_copy(update={"joint_kinds": kinds, "joints": joints}), model.mesh)
    except CaseError:  # one of them contradicts its neighbours
        half = len(found) // 2
        return _nameable(model, found[:half]) + _nameable(model, found[half:]) if half else ()
    meant: dict[str, set[str]] = {}
    for ties in joined.ties:
        meant.setdefault(plain_joint(ties.name), set()).add(ties.means)
    return tuple(tabs for tabs in found if meant.get(tabs.name) == {tabs.name})


def tab_change(model: TubModel, family: Family, tabs: Tabs, texts: Sequence[str]) -> dict[int, Floats]:
    """Share by which the springs of a joint change when texts, as --add takes them, are laid in its tab."""
    case = model.case
    changed = reduce(add_plies, texts, case)
    total = np.zeros((2, len(DIRECTIONS)))
    for ties in tabs.ties:
        sides = [region_side(case, model.mesh.panels[p].region) for p in ties.standing]
        for row, each in enumerate((case, changed)):
            kind = kind_named(each, tabs.kind_name if each is case else tabs.name)
            springs = line_springs(each, kind, *sides, angle=ties.angle, bridges=ties.bridges, corners=ties.corners)
            total[row] += ties.lengths.sum() * springs.values()
    change = {}
    for k in family.named("joint", tabs.name):
        before, after = total[:, DIRECTIONS.index(family.groups[k].part)]
        if abs(after / before - 1) > 1e-12:
            change[k] = np.full((1, 1), after / before - 1)
    return change
