"""Runs of the cases in `cases/`, kept for all tests of a process, and numbers read from them."""

from functools import cache

import numpy as np
from case_texts import CASES

from tubfem.case.read import load_case
from tubfem.findings.torsion import axle_twist
from tubfem.run import run_case
from tubfem.shell.solve import solve
from tubfem.tub.build import build_model
from tubfem.tub.layup import lay_plies
from tubfem.tub.plies import base_thickness

MIRROR = np.array([1.0, -1.0, 1.0])


def sized(case, size):
    """The case on another mesh size [m]."""
    return case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": size})})


@cache
def run_of(name, size=None):
    """Model, solutions and findings of a case in `cases/`, as shipped or on another mesh size [m]."""
    case = load_case(CASES / f"{name}.toml")
    return run_case(case if size is None else sized(case, size))


def torsion_motion(model):
    """Set-up, points (p, 3) [m] and motion (p, 6) of a model's first torsion case."""
    state = next(s for s in model.states if any(case.torsion for case in s.load_cases))
    found = next(case for case in state.load_cases if case.torsion)
    return found.torsion, state.shell.points, solve(state.shell).u[found.column]


def stiffness(model):
    """Torsional stiffness pickup to pickup [N m/deg]."""
    setup, points, motion = torsion_motion(model)
    return setup.torque / np.degrees(axle_twist(points, motion, setup))


def changed_stiffness(base, case):
    """Stiffness [N m/deg] of a changed case on the mesh that a model of the unchanged one has."""
    layup = lay_plies(case, base.mesh, base_thickness(base.case))
    return stiffness(build_model(case, base.mesh, layup))
