"""A closed box tub built by hand: four walls, ends that keep their shape, pickups on them."""

import numpy as np
from tub_builders import nearest, panel, tub_mesh

from tubfem.arrays import frozen
from tubfem.case.loads import Torsion
from tubfem.case.schema import Case
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import mass_moments
from tubfem.shell.model import Block, ShellModel, Springs
from tubfem.shell.ties import Rigid, Support, tie
from tubfem.tub.model import JointTies, LayupField, LoadCaseSetup, State, TorsionSetup, TubModel
from tubfem.tub.split import split_mesh

LENGTH, WIDTH, HEIGHT, TORQUE = 1.0, 0.2, 0.1, 1000.0
WALLS = ("bottom", "right", "top", "left")


def box_mesh(cells=(20, 4, 2), zero=(1.0, 0.0, 0.0)):
    """Walls round the mid-line in order, normals outwards."""
    n, across, up = cells
    y, z = WIDTH / 2, HEIGHT
    corner = [(-y, 0.0), (y, 0.0), (y, z), (-y, z)]
    walls = []
    for k, name in enumerate(WALLS):
        (y0, z0), (y1, z1) = corner[k], corner[(k + 1) % 4]
        outline = [(LENGTH, y0, z0), (0, y0, z0), (0, y1, z1), (LENGTH, y1, z1)]
        walls.append(panel(name, outline, (n, across if k % 2 == 0 else up), zero=zero))
    return tub_mesh(walls, size=LENGTH / n)


def box_tub(stack, *, case=None, tie_stiffness=None, cells=(20, 4, 2)):
    """TubModel of the box; with `tie_stiffness` [N/m2] the line bottom/right is parted and tied along itself."""
    mesh = box_mesh(cells)
    parted = {"bottom/right": "tab"} if tie_stiffness else {}
    names = {}
    per_line = []
    for line in mesh.joints:
        a, b = line.panels
        names[f"{mesh.panels[a].name}/{mesh.panels[b].name}"] = line.panels
        per_line.append({line.panels: parted.get(f"{mesh.panels[a].name}/{mesh.panels[b].name}")})
    split = split_mesh(mesh, per_line)
    springs, ties = (), ()
    if tie_stiffness:
        springs, ties = _tied(mesh, split, tie_stiffness)
    first = len(split.mesh_node)
    place = {"front": (0.0, 0.0, HEIGHT / 2), "rear": (LENGTH, 0.0, HEIGHT / 2)}
    extra = [place["front"], place["rear"]]
    extra += [(x, side * 0.3, 0.12) for x in (-0.05, LENGTH + 0.05) for side in (-1, 1)]
    points = np.concatenate([mesh.points[split.mesh_node], extra])
    front, rear = first, first + 1
    rigid = []
    for master, x, pickups in ((front, 0.0, (first + 2, first + 3)), (rear, LENGTH, (first + 4, first + 5))):
        ring = np.flatnonzero(np.abs(points[:first, 0] - x) < 1e-9)
        rigid += [Rigid(master, np.array(pickups)), Rigid(master, ring, components=(1, 2, 3))]
    held = [
        6 * rear + np.arange(6),
        6 * front + np.array([0, 1, 2, 4, 5]),
        [6 * nearest(mesh.points, (LENGTH, 0.1, 0))],
    ]
    load = np.zeros((len(points), 6))
    force = TORQUE / 0.6
    for node, sign in ((first + 3, 1), (first + 2, -1), (first + 5, -1), (first + 4, 1)):
        load[node, 2] = sign * force
    links = tie(points, 1, supports=[Support(np.concatenate(held))], rigid=rigid)
    mixture = np.zeros(mesh.element_count, dtype=np.int64)
    blocks = (Block("quad4", split.conn[0], mixture, mesh.blocks[0].direction),)
    shell = ShellModel(
        points, blocks, stiffness8(stack)[None], mass_moments(stack)[None], springs, links, load.reshape(-1, 1)
    )
    setup = TorsionSetup(TORQUE, (first + 2, first + 3), (first + 4, first + 5), "free")
    texts = tuple(f"wall {k + 1} {ply.name}" for k, ply in enumerate(stack.plies))
    table = Torsion(torque=f"{TORQUE} N*m", front="front", rear="rear")
    return TubModel(
        case=case or Case(load_cases={"torsion": table}),
        mesh=mesh,
        layup=LayupField((stack,), ((0,),), ((1.0,),), frozen(mixture), (texts,)),
        states=(State(shell, (LoadCaseSetup("torsion", "torsion", 0, setup, free=True),)),),
        mesh_node=frozen(np.concatenate([split.mesh_node, np.full(6, -1)])),
        pickups={},
        mounts={},
        subframes={},
        joints=ties,
        joint_kinds={name: "tabbed" if name in parted else "continuous" for name in names},
        probes={},
        cautions=(),
        notes=(),
    )


def _tied(mesh, split, stiffness):
    """Springs along the parted line, stiff in the other three directions."""
    (seam,) = split.seams
    pairs = np.unique(np.concatenate([np.stack([seam.a[:, k], seam.b[:, k]], 1) for k in (0, 1)]), axis=0)
    x = mesh.points[split.mesh_node[pairs[:, 0]], 0]
    step = np.diff(np.sort(x))[0]
    lengths = np.where((x < step / 2) | (x > LENGTH - step / 2), step / 2, step)
    frame = np.array([[1.0, 0, 0], [0, 1.0, 0], [0, 0, 1.0]])
    rows = np.concatenate([frame, frame[:1]])
    freedoms, k = [], []
    for (a, b), length in zip(pairs, lengths, strict=True):
        moved = np.concatenate([6 * a + np.arange(3), 6 * b + np.arange(3)])
        freedoms += [moved, moved, moved, moved + 3]
        k += [stiffness * length, 1e12 * length, 1e12 * length, 1e8 * length]
    coefficients = np.tile(np.concatenate([rows, -rows], axis=1), (len(pairs), 1))
    springs = Springs(np.array(freedoms), coefficients, np.array(k))
    numbers = np.arange(4 * len(pairs)).reshape(-1, 4)
    frames = np.tile(frame, (len(pairs), 1, 1))
    return (springs,), (JointTies("bottom/right", seam.panels, "tabbed", pairs, frames, lengths, numbers),)
