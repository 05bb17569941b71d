"""The starter written again as free panels, without stations, sections or mirror, and turned in space by odd angles.

Everything is read and meshed anew: other zero directions in words, other tool faces, left panels as panels of their own
with the mirror image of the layup. Only the mesh differs, so stiffnesses agree within the mesh band.
"""

import numpy as np
import pytest
from case_texts import read_tables, tables_of
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation
from tub_runs import MIRROR, stiffness

from tubfem.case.frames import WORDS
from tubfem.case.sections import plain_tub
from tubfem.run import model_case
from tubfem.shell.solve import solve
from tubfem.tub.layup import region_mass
from tubfem.tub.plies import base_thickness

SIZE = 50  # mm
TURN = Rotation.from_euler("zyx", (23.0, -17.0, 31.0), degrees=True).as_matrix()
SHIFT = np.array([0.4, -1.3, 0.7])
MIDDLE = 1e-9  # m: on the middle plane


@pytest.fixture(scope="module")
def upright(tmp_path_factory):
    """The starter as it is, but measured on the middle of its laminates: free panels can then stand where they are."""
    tables = tables_of("starter")
    tables["mesh"]["size"] = SIZE
    tables["defaults"]["measured"] = "middle"
    return tables, model_case(read_tables(tables, tmp_path_factory.mktemp("upright")))


def whole_outline(face, across):
    """Corners (n, 3) [m] of a face; of one over the middle with its mirror image, without points on the middle."""
    corners = np.array([edge.points[0] for edge in face.edges])
    if not across:
        return corners
    on_middle = np.abs(corners[:, 1]) < MIDDLE
    start = next(i for i in range(len(corners)) if on_middle[i - 1] and not on_middle[i])
    half = np.roll(corners, -start, axis=0)
    half = half[np.abs(half[:, 1]) >= MIDDLE]
    return np.concatenate([half, half[::-1] * MIRROR])


def written(name):
    """A panel's name as a free panel's: no dots."""
    return name.replace(".", "_")


def word(direction):
    """The word that a tool face's direction is nearest to."""
    words = ("fore", "aft", "in", "out", "down", "up")
    return max(words, key=lambda each: float(direction @ WORDS[each]))


def mirrored(stack):
    """A layup's mirror image: a +-45 cloth at 90 degrees has its layers swapped, a woven one looks the same."""
    return [entry + " @ 90" if "biax" in entry else entry for entry in stack]


def place(point):
    return (1e3 * (TURN @ np.asarray(point) + SHIFT)).tolist()


def free_tables(tables, model):
    """The case's tables with every panel as a free outline, turned and shifted."""
    case = model.case
    plain = plain_tub(case, base_thickness(case))
    panels, layups, mounts = {}, {}, {}
    for panel in plain.panels:
        (face,) = panel.faces
        sides = {"": np.ones(3)} if panel.side == "across" else {".right": np.ones(3), ".left": MIRROR}
        for side, image in sides.items():
            region = panel.region + ("_left" if side == ".left" else "")
            stack = tables["layups"][panel.region]
            stack = tables["layups"]["front_bulkhead"] if isinstance(stack, dict) else stack
            layups[region] = mirrored(stack) if side == ".left" else stack
            panels[written(panel.name + side)] = {
                "outline": [place(corner * image) for corner in whole_outline(face, panel.side == "across")],
                "tool": word(TURN @ (np.array(panel.tool) * image)),
                "zero": (TURN @ (np.array(panel.zero) * image)).tolist(),
                "region": region,
            }
    for mount in model.mesh.mounts:
        table = tables["mounts"][mount.name.split(".")[0]]
        mounts[written(mount.name)] = {"on": written(model.mesh.panels[mount.panel].name), "at": place(mount.centre)}
        assert table["on"] in mounts[written(mount.name)]["on"]
    joints = {
        "/".join(written(part) for part in name.split("/")): next(
            (kind for kind, entry in tables["joint_kinds"].items() if entry["kind"] == found)
        )
        for name, found in model.joint_kinds.items()
    }
    points = model.states[0].shell.points
    pickups = {
        written(name): {
            "at": place(points[node]),
            "carried_by": [m for m in mounts if m.startswith(name.split(".")[0]) and m.endswith(name.split(".")[1])],
        }
        for name, node in model.pickups.items()
    }
    forces = []
    for end, sign in (("front", 1.0), ("rear", -1.0)):
        left, right = (points[model.pickups[f"{end}.{side}"]] for side in ("left", "right"))
        force = TURN @ [0.0, 0.0, sign * 1000.0 / (right - left)[1]]
        forces += [{"on": f"{end}_right", "force": [f"{value!r} N" for value in force.tolist()]}]
        forces += [{"on": f"{end}_left", "force": [f"{-value!r} N" for value in force.tolist()]}]
    supports = [{"on": "rear_right", "fix": ["x", "y", "z", "rx", "ry", "rz"]}]
    load_case = {"kind": "static", "supports": supports, "forces": forces, "probes": {name: name for name in pickups}}
    kept = {key: tables[key] for key in ("title", "mesh", "defaults", "plies", "cores", "joint_kinds")}
    own = {"panels": panels, "layups": layups, "joints": joints, "mounts": mounts, "pickups": pickups}
    return kept | own | {"load_cases": {"turned": load_case}}


@pytest.fixture(scope="module")
def free(upright, tmp_path_factory):
    return model_case(read_tables(free_tables(*upright), tmp_path_factory.mktemp("free")))


def test_the_rotated_case_has_the_same_stiffness(upright, free):
    """Within 1 %."""
    model = upright[1]
    solution = solve(free.states[0].shell)
    angle = {}
    for end in ("front", "rear"):
        motion = {side: TURN.T @ solution.u[0][free.pickups[f"{end}_{side}"], :3] for side in ("left", "right")}
        span = 2 * model.case.pickups[end].at[1]
        angle[end] = (motion["right"][2] - motion["left"][2]) / span
    found = 1000.0 / np.degrees(angle["front"] - angle["rear"])
    reference = stiffness(model)
    print(f"{found:.1f} against {reference:.1f} N m/deg, {100 * (found / reference - 1):+.3f} %")
    assert_allclose(found, reference, rtol=0.01)


def test_the_rotated_case_has_the_same_mass(upright, free):
    masses = [sum(region_mass(model.mesh, model.layup).values()) for model in (upright[1], free)]
    assert_allclose(masses[1], masses[0], rtol=1e-4)


def test_the_turn_is_odd(free):
    """No axis of the tub is left near an axis of space, or the test would be half as good."""
    assert np.abs(TURN).max() < 0.95
    assert free.case.mirror is None
