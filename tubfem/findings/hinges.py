"""Joints that act as hinges: how much of a built-in edge's moment each can give."""

import numpy as np

from tubfem.arrays import Floats
from tubfem.findings.joint_results import Fixity
from tubfem.findings.strains import Elements
from tubfem.tub.model import JointTies, TubModel

HINGE = 0.25  # of the moment of a built-in edge: less is said to act as a hinge


def fixity(model: TubModel, elements: Elements, ties: list[JointTies]) -> Fixity:
    """Fixity of a joint against the softer of its two panels (F.8).

    Notes
    -----
    A panel of bending stiffness D and span l turns its edge with 3 D / l when the far edge is held. In series with a
    joint of stiffness k it takes the share k / (k + 3 D / l) of the moment of a built-in edge (our own).
    """
    lengths = np.concatenate([part.lengths for part in ties])
    rows = np.concatenate([part.rows for part in ties])
    rotation = float(model.states[0].shell.springs[0].stiffness[rows[:, 3]].sum() / lengths.sum())
    panels = {panel for part in ties for panel in part.panels}
    turning = min(_turning(model, elements, panel, float(lengths.sum())) for panel in panels)
    return Fixity(rotation, turning, rotation / (rotation + turning))


def _turning(model: TubModel, elements: Elements, panel: int, line: float) -> float:
    """3 D / span [N/rad] of a panel, D the mean of both directions, span its area over the line's length."""
    mine = np.flatnonzero(elements.panel == panel)
    mixture = np.bincount(model.layup.mixture[mine], weights=elements.area[mine]).argmax()
    compliance = np.linalg.inv(_membrane_bending(model.states[0].shell.stiffness[mixture]))
    D = 0.5 * (1 / compliance[3, 3] + 1 / compliance[4, 4])
    return float(3 * D * line / elements.area[mine].sum())


def _membrane_bending(stiffness: Floats) -> Floats:
    return stiffness[:6, :6]
