"""What a thicker laminate does to the springs of its joints: bolts, and tabs on both faces of a panel, see the panels.

Flexibility of a bolt knows both panels (J.5); what two tabs hold against turning goes with the thickness between them.
"""

from functools import reduce

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import add_plies
from tubfem.case.joint_table import kind_named
from tubfem.findings.joint_strength import region_side
from tubfem.shell.model import Springs
from tubfem.study.family import Family
from tubfem.tub.line_stiffness import DIRECTIONS, line_springs
from tubfem.tub.model import TubModel, plain_joint

SEE_SIDES = ("tabbed", "fastened")  # kinds whose springs know the laminates that they join


def side_change(model: TubModel, family: Family, springs: tuple[Springs, ...], *texts: str) -> dict[int, Floats]:
    """Share by which springs of joints change when texts, as --add takes them, are laid on one region."""
    region = texts[0].partition("=")[0]
    touched = [
        ties
        for ties in model.joints
        if ties.kind in SEE_SIDES and region in (model.mesh.panels[p].region for p in ties.standing)
    ]
    if not touched:
        return {}
    case = model.case
    changed = reduce(add_plies, texts, case)
    names = {model.mesh.panels[p].region for ties in touched for p in ties.standing}
    plain = {name: region_side(case, name) for name in names}
    thicker = plain | {region: region_side(changed, region)}
    total: dict[int, float] = {}
    for ties in touched:
        kind = kind_named(case, ties.means)
        regions = [model.mesh.panels[p].region for p in ties.standing]
        made = {"angle": ties.angle, "bridges": ties.bridges, "corners": ties.corners}
        old, new = (
            line_springs(case, kind, *(sides[r] for r in regions), **made).values() for sides in (plain, thicker)
        )
        for k in family.named("joint", plain_joint(ties.name)):
            more = (new - old)[DIRECTIONS.index(family.groups[k].part)]
            if more:
                total[k] = total.get(k, 0.0) + more * ties.lengths.sum()
    return {
        k: np.full((1, 1), more / springs[0].stiffness[family.groups[k].members].sum()) for k, more in total.items()
    }
