"""A plain box with bulkheads, mounts and pickups, as a case and a mesh made by hand."""

import numpy as np
from tub_builders import panel, tub_mesh

from tubfem.case.schema import Case
from tubfem.shell.solve import solve
from tubfem.tub.build import build_model
from tubfem.tub.layup import lay_plies

PLIES = {"sheet": {"E": "70 GPa", "nu": 0.3, "thickness": 2.0, "density": "2700 kg/m^3"}}
KINDS = {"moulded": {"kind": "continuous"}}
LENGTH, HALF, HEIGHT = 1.0, 0.3, 0.2
MOUNT_AT = {"low_l": (-0.2, 0.04), "low_r": (0.2, 0.04), "high_l": (-0.2, 0.16), "high_r": (0.2, 0.16)}


def box_panels(cells=(8, 30, 10), *, leave_out=()):
    """Walls of the box: floor, top, left, right, front, rear; normals out of the box."""
    nx, ny, nz = cells
    a, b, h = LENGTH, HALF, HEIGHT
    walls = [
        panel("floor", [(0, -b, 0), (0, b, 0), (a, b, 0), (a, -b, 0)], (ny, nx), zero=(1, 0, 0), shift=0.001),
        panel("top", [(0, -b, h), (a, -b, h), (a, b, h), (0, b, h)], (nx, ny), zero=(1, 0, 0), shift=0.001),
        panel("left", [(0, -b, 0), (a, -b, 0), (a, -b, h), (0, -b, h)], (nx, nz), zero=(1, 0, 0), shift=0.001),
        panel("right", [(0, b, 0), (0, b, h), (a, b, h), (a, b, 0)], (nz, nx), zero=(1, 0, 0), shift=0.001),
        panel("front", [(0, -b, 0), (0, -b, h), (0, b, h), (0, b, 0)], (nz, ny), zero=(0, 1, 0), shift=0.001),
        panel("rear", [(a, -b, 0), (a, b, 0), (a, b, h), (a, -b, h)], (ny, nz), zero=(0, 1, 0), shift=0.001),
    ]
    return [wall for wall in walls if wall[0].name not in leave_out]


def box_mesh(cells=(8, 30, 10), *, leave_out=(), **more):
    """The box with four mounts on either bulkhead."""
    mounts = [
        (f"{end}_{name}", end, (x, y, z), 0.03, 0.045)
        for end, x in (("front", 0.0), ("rear", LENGTH))
        for name, (y, z) in MOUNT_AT.items()
    ]
    return tub_mesh(box_panels(cells, leave_out=leave_out), mounts=mounts, **more)


def box_case(*, joints=None, kinds=None, restraint="free", shift_x=0.0, **more):
    """The box's case: pickups on the mounts of their side, one twist."""
    names = ("floor", "top", "left", "right", "front", "rear")
    mounts = {
        f"{end}_{name}": {"at": [0, 1e3 * y, 1e3 * z], "bolt": "M10", "radius": 45}
        for end in ("front", "rear")
        for name, (y, z) in MOUNT_AT.items()
    }
    pickups = {
        f"{end}_{side}": {
            "at": [x + (shift_x if (end, side) == ("front", "l") else 0), y, 100],
            "carried_by": f"{end}_*_{side}",
        }
        for end, x in (("front", -100), ("rear", 1100))
        for side, y in (("l", -400), ("r", 400))
    }
    twist = {
        "torque": "1 kN*m",
        "front": ["front_l", "front_r"],
        "rear": ["rear_l", "rear_r"],
        "kind": "torsion",
        "restraint": restraint,
    }
    table = {
        "plies": PLIES,
        "layups": {name: ["sheet"] for name in names},
        "joint_kinds": {**KINDS, **(kinds or {})},
        "joints": {"*/*": "moulded", **(joints or {})},
        "mounts": mounts,
        "pickups": pickups,
        "load_cases": {"torsion": twist},
    }
    return Case.model_validate({**table, **more})


def solved(case, mesh, **more):
    """Model and the solution of its first state."""
    model = build_model(case, mesh, lay_plies(case, mesh), **more)
    return model, solve(model.states[0].shell)


def twist_stiffness(model, solution):
    """Torque over relative rotation of the two axles [N·m/rad]."""
    setup = model.states[0].load_cases[0].torsion
    u, points = solution.u[0], model.states[0].shell.points

    def turned(pair):
        left, right = pair
        return (u[right, 2] - u[left, 2]) / (points[right, 1] - points[left, 1])

    return setup.torque / (turned(setup.front) - turned(setup.rear))


def plate_case(load, **more):
    """One flat sheet 1 x 0.4 m named plate, points at its corners, with one static load case."""
    corners = {"a": [0, 0, 0], "b": [1000, 0, 0], "c": [1000, 400, 0], "d": [0, 400, 0]}
    table = {
        "plies": PLIES,
        "points": corners,
        "layups": {"plate": ["sheet"]},
        "panels": {"plate": {"outline": ["a", "b", "c", "d"], "tool": "down"}},
        "load_cases": {"static": {"kind": "static", **load}},
    }
    return Case.model_validate({**table, **more})


def plate_mesh(cells=(20, 8), *, shift=0.001):
    """Its mesh, with the edges a-d and b-c named."""
    a, b, c, d = (0, 0, 0), (1, 0, 0), (1, 0.4, 0), (0, 0.4, 0)
    return tub_mesh(
        [panel("plate", [a, b, c, d], cells, shift=shift)],
        points=[("a", a), ("b", b), ("c", c), ("d", d)],
        lines=[("a-d", a, d), ("b-c", b, c)],
    )


def resultant(points, load):
    """Force and moment about the origin (6,) of nodal loads (p, 6)."""
    return np.concatenate([load[:, :3].sum(0), (load[:, 3:] + np.cross(points, load[:, :3])).sum(0)])
