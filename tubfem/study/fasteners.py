"""What a thicker laminate does to the bolts through it: Huth's flexibility knows both panels."""

from functools import reduce

import numpy as np

from tubfem.arrays import Floats
from tubfem.case.changes import add_plies
from tubfem.case.joining import bolt_diameter
from tubfem.case.joint_table import Part, joint_kind_for, kind_named
from tubfem.case.schema import Case
from tubfem.laminate.stack import make_stack
from tubfem.shell.model import Springs
from tubfem.study.family import Family, plain_joint
from tubfem.tub.line_stiffness import DIRECTIONS, Side, fastened, side_of
from tubfem.tub.model import TubModel
from tubfem.tub.plies import entry_layers


def fastener_change(model: TubModel, family: Family, springs: tuple[Springs, ...], *texts: str) -> dict[int, Floats]:
    """Share by which springs of fastened joints change when texts, as --add takes them, are laid on one region."""
    case = model.case
    region = texts[0].partition("=")[0]
    joints = [ties for ties in model.joints if ties.kind == "fastened"]
    touched = [ties for ties in joints if region in (model.mesh.panels[p].region for p in ties.panels)]
    if not touched:
        return {}
    changed = reduce(add_plies, texts, case)
    found: dict[int, Floats] = {}
    for ties in touched:
        panels = [model.mesh.panels[p] for p in ties.panels]
        resolved = joint_kind_for(case, *(Part(panel.name, panel.plain, panel.region) for panel in panels))
        if resolved is None:
            continue
        kind = kind_named(case, resolved[1])
        given = kind.stiffness
        before, now = (
            fastened(bolt_diameter(kind.bolt), kind.pitch, *(_side(each, panel.region) for panel in panels)).values()
            for each in (case, changed)
        )
        per_length = springs[0].stiffness[ties.rows] / ties.lengths[:, None]  # plies that bridge the line included
        share = (now - before) / per_length.mean(axis=0)
        for k in family.named("joint", plain_joint(ties.name)):
            direction = family.groups[k].part
            if given is None or getattr(given, direction) is None:
                found[k] = np.full((1, 1), share[DIRECTIONS.index(direction)])
    return found


def _side(case: Case, region: str) -> Side:
    layup = case.layups[region]
    layers = entry_layers(case, layup.stack, layup=layup, label=region)
    return side_of(make_stack([(layer.angle, layer.ply) for layer in layers]))
