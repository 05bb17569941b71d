"""Whole tubs in another shell element: Quad4 of `pyfe3d` (S. G. P. Castro, a general-purpose finite element library).

The same nodes, elements, stiffness A, B, D and shear, springs, constraints and loads; only the element differs. Quad4
is flat (a warped quadrilateral is projected), has drilling rotations that are part of its membrane field, and keeps no
director: at folds and on flat panels both are the same theory, first-order shear deformation. On strongly warped
elements they are not, so no twisted beam is compared.
"""

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import splu
from tub_runs import run_of, stiffness, torsion_motion
from verification.test_simplified_tub import tub

from tubfem.findings.torsion import axle_twist
from tubfem.shell.assemble import spring_matrix

pyfe3d = pytest.importorskip("pyfe3d", reason="install the extra `test`")


def property_of(C):
    """A stack's 8 x 8 stiffness as the library wants it; its 4 is yz and its 5 is xz."""
    from pyfe3d.shellprop import ShellProp

    prop = ShellProp()
    for name, rows, columns in (("A", 0, 0), ("B", 0, 3), ("D", 3, 3)):
        for i, j, digits in ((0, 0, "11"), (0, 1, "12"), (0, 2, "16"), (1, 1, "22"), (1, 2, "26"), (2, 2, "66")):
            setattr(prop, name + digits, C[rows + i, columns + j])
    prop.A44, prop.A45, prop.A55 = C[7, 7], C[6, 7], C[6, 6]
    prop.h = np.sqrt(12 * C[3, 3] / C[0, 0])  # only compared with the element's size, to choose a quadrature
    return prop


def turn_to(element, direction):
    """Give the element its 0° direction; its own way of doing so stumbles over a cosine of 1 + 1e-16."""
    along = direction @ [element.r11, element.r21, element.r31]
    across = direction @ [element.r12, element.r22, element.r32]
    cosine, sine = np.array([along, across]) / np.hypot(along, across)
    element.m11, element.m12, element.m21, element.m22 = cosine, -sine, sine, cosine


def stiffness_matrix(model):
    """Stiffness of the model's quadrilaterals in the other library, with the model's own springs."""
    data, probe = pyfe3d.Quad4Data(), pyfe3d.Quad4Probe()
    each, count = data.KC0_SPARSE_SIZE, sum(len(block.conn) for block in model.blocks)
    rows, columns = (np.zeros(each * count, dtype=pyfe3d.INT) for _ in range(2))
    values = np.zeros(each * count, dtype=pyfe3d.DOUBLE)
    x = model.points.ravel().copy()
    properties = [property_of(C) for C in model.stiffness]
    place = 0
    for block in model.blocks:
        assert block.kind == "quad4"
        for conn, stack, direction in zip(block.conn, block.stack, block.direction, strict=True):
            element = pyfe3d.Quad4(probe)
            element.c1, element.c2, element.c3, element.c4 = (int(6 * node) for node in conn)
            element.init_k_KC0 = place
            element.update_rotation_matrix(x)
            turn_to(element, direction)
            element.update_probe_xe(x)
            element.update_KC0(rows, columns, values, properties[stack])
            place += each
    size = 6 * len(model.points)
    return sparse.csc_array((values, (rows, columns)), shape=(size, size)) + spring_matrix(model)


def motion(model):
    """Motion (p, 6) of the first load case."""
    ties, K = model.ties, stiffness_matrix(model)
    A = sparse.csc_array(ties.T.T @ K @ ties.T)
    b = ties.T.T @ (model.loads - K @ ties.u0)
    q = splu(A, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve(b)
    return (ties.T @ q + ties.u0)[:, 0].reshape(-1, 6)


# Both err at 50 mm by a few tenths against the converged 11 003, in the same direction.
def test_simplified_tub(record):
    """A whole tub of flat aluminium panels: two elements, one stiffness."""
    ours, model, solution, _ = tub(0.05)
    u, v = solution.u[0], motion(model)
    loads = model.loads[:, 0].reshape(-1, 6)
    theirs = ours * (u * loads).sum() / (v * loads).sum()
    record("simplified tub, stiffness [N·m/deg]", ours, theirs, 1.0, mesh="50 mm")


def test_starter(record):
    """A laminated and sandwich tub as a case file describes it, joints and mounts included."""
    model = run_of("starter", 0.08)[0]
    setup, points, _ = torsion_motion(model)
    state = next(s for s in model.states if any(case.torsion for case in s.load_cases))
    theirs = setup.torque / np.degrees(axle_twist(points, motion(state.shell), setup))
    record("starter tub, stiffness [N·m/deg]", stiffness(model), theirs, 1.0, mesh="80 mm")
