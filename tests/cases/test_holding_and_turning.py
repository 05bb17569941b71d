"""The stiffness of the demo does not know how the tub is held, nor which way space is turned."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation
from tub_runs import run_of, stiffness

from tubfem.case.loads import Static
from tubfem.shell.solve import solve
from tubfem.tub.build import build_model
from tubfem.tub.torsion import RESTRAINTS

COARSE = 0.05  # m: the statements hold on any mesh
SAME = 1e-6
NODES = {
    "sill_left": (1.2, -0.71, 0.15),
    "sill_right": (1.2, 0.71, 0.15),
    "scuttle": (0.35, 0.2, 0.5),
}  # near these [m]
# Six supports each, statically determinate.
HOLDINGS = {
    "one mount, all six motions": {"front_low.left": ("x", "y", "z", "rx", "ry", "rz")},
    "one pickup, all six motions": {"rear.right": ("x", "y", "z", "rx", "ry", "rz")},
    "three mounts": {"front_face.left": ("x", "y", "z"), "front_face.right": ("x", "z"), "rear_high.left": ("z",)},
    "three nodes of the shell": {"sill_left": ("x", "y", "z"), "sill_right": ("x", "z"), "scuttle": ("z",)},
    "pickups on one side and a mount": {
        "front.right": ("x", "y", "z"),
        "rear.right": ("y", "z"),
        "rear_low.left": ("z",),
    },
}


@pytest.fixture(scope="module")
def demo():
    return run_of("two_seat_roadster", COARSE)[0]


def couple(places, torque):
    """Force [N] on each pickup: +torque at the front, up on the right, and -torque at the rear."""
    forces = {}
    for end, sign in (("front", 1.0), ("rear", -1.0)):
        left, right = places[f"{end}.left"], places[f"{end}.right"]
        force = sign * torque / (right - left)[1]
        forces |= {f"{end}.left": np.array([0, 0, -force]), f"{end}.right": np.array([0, 0, force])}
    return forces


def static(holding, forces):
    """A static load case with these supports, forces and a probe on every pickup."""
    text = [{"on": name, "force": [f"{value!r} N" for value in map(float, force)]} for name, force in forces.items()]
    supports = [{"on": name, "fix": list(fix)} for name, fix in holding.items()]
    table = {"kind": "static", "supports": supports, "forces": text, "probes": {}}
    table["probes"] = {name.replace(".", "_"): name for name in forces}
    return Static.model_validate(table, context={"length_unit": "mm"})


def read(model, state, places, torque, turn):
    """Stiffness [N m/deg] from motion along the tub's own z, and the largest support force over the applied one."""
    solution = solve(state.shell)
    column = state.load_cases[0].column
    motion = solution.u[column][:, :3] @ turn  # in the tub's own axes
    angle = {
        end: (motion[model.pickups[f"{end}.right"], 2] - motion[model.pickups[f"{end}.left"], 2])
        / (places[f"{end}.right"] - places[f"{end}.left"])[1]
        for end in ("front", "rear")
    }
    applied = np.linalg.norm(state.shell.loads[:, column].reshape(-1, 6)[:, :3], axis=1).max()
    reaction = np.abs(solution.reactions[column]).max() / applied
    return torque / np.degrees(angle["front"] - angle["rear"]), reaction


def pickups_of(model):
    points = model.states[0].shell.points
    return {name: points[node] for name, node in model.pickups.items()}


def shell_nodes(model):
    """The mesh node nearest to each of `NODES`, of those that no joint doubles: a support on both copies holds more."""
    alone = np.flatnonzero(np.bincount(model.mesh_node[model.mesh_node >= 0]) == 1)
    distance = {name: np.linalg.norm(model.mesh.points[alone] - at, axis=1) for name, at in NODES.items()}
    return {name: int(alone[found.argmin()]) for name, found in distance.items()}


@pytest.mark.parametrize("restraint", [name for name in RESTRAINTS if name != "rear"])
def test_every_restraint_set_gives_the_same_stiffness(demo, restraint):
    other = build_model(demo.case, demo.mesh, demo.layup, restraint=restraint)
    assert_allclose(stiffness(other), stiffness(demo), rtol=SAME)


def test_any_determinate_holding_gives_the_same_stiffness(demo):
    """Supports on mounts, pickups and bare shell; none of them carries anything.

    Forces on a support against the applied force, moments [N m] against the same number.
    """
    torque, places = 1000.0, pickups_of(demo)
    load_cases = {name: static(holding, couple(places, torque)) for name, holding in HOLDINGS.items()}
    case = demo.case.model_copy(update={"load_cases": load_cases, "points": NODES})
    model = build_model(case, replace(demo.mesh, nodes_at=shell_nodes(demo)), demo.layup)
    reference = stiffness(demo)
    assert len(model.states) == len(HOLDINGS)
    for state in model.states:
        found, reaction = read(model, state, places, torque, np.eye(3))
        assert_allclose(found, reference, rtol=SAME, err_msg=state.load_cases[0].name)
        assert reaction < 1e-6, state.load_cases[0].name


def turned(mesh, turn):
    """The mesh with everything in it turned in space."""
    return replace(
        mesh,
        points=mesh.points @ turn.T,
        blocks=tuple(replace(block, direction=block.direction @ turn.T) for block in mesh.blocks),
        mounts=tuple(
            replace(mount, centre=mount.centre @ turn.T, normal=mount.normal @ turn.T) for mount in mesh.mounts
        ),
    )


@pytest.mark.parametrize("angles", [(31.0, -47.0, 112.0), (90.0, 0.0, 0.0)], ids=["odd", "on its side"])
def test_turned_in_space_the_stiffness_is_the_same(demo, angles):
    """Nodes, directions, mounts, pickups, forces are turned; the plies on each element are those of the unturned tub.

    A couple of a torsion case stands upright in vehicle axes, so it is written here as four forces on turned pickups.
    """
    turn = Rotation.from_euler("xyz", angles, degrees=True).as_matrix()
    torque, places = 1000.0, pickups_of(demo)
    forces = {name: turn @ force for name, force in couple(places, torque).items()}
    pickups = {
        name: demo.case.pickups[name.split(".")[0]].model_copy(update={"at": tuple((turn @ place).tolist())})
        for name, place in places.items()
    }
    holding = {"rear.left": ("x", "y", "z", "rx", "ry", "rz")}
    case = demo.case.model_copy(
        update={"mirror": None, "pickups": pickups, "load_cases": {"turned": static(holding, forces)}}
    )
    model = build_model(case, turned(demo.mesh, turn), demo.layup)
    found, reaction = read(model, model.states[0], places, torque, turn)
    assert_allclose(found, stiffness(demo), rtol=SAME)
    assert reaction < 1e-6
