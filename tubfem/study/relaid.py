"""A changed case as a change of the groups, on the same mesh: cloth, angle, order, fibre fraction, core, joint."""

from tubfem.arrays import Floats
from tubfem.case.schema import Case
from tubfem.run import model_case
from tubfem.study.family import Family, element_matrices, layup_change, spring_change
from tubfem.study.reduce import torsion_of
from tubfem.tub.model import TubModel


def relaid(model: TubModel, family: Family, case: Case, *, base: Case | None = None) -> dict[int, Floats]:
    """DC of every group when a case of the same geometry takes the place of the model's own.

    Parameters
    ----------
    base
        The case whose stacks the meshed surface was the middle of; the model's own by default.
    """
    again = model_case(case, base=base or model.case, mesh=model.mesh)
    before, now = torsion_of(model)[0].shell, torsion_of(again)[0].shell
    C = element_matrices(now, family.sign)
    return layup_change(family, C) | spring_change(family, before.springs, now.springs)
