"""A small tub with made-up findings: everything a report needs, without meshing or solving."""

from dataclasses import replace

import numpy as np
import tub_builders

from tubfem.arrays import frozen
from tubfem.case.schema import Case, Mesh
from tubfem.findings.hand_results import CellFlow, HandCheck, Section, WallOfSection
from tubfem.findings.joint_results import Fixity, JointStrength
from tubfem.findings.mass_results import JointMass, Mass
from tubfem.findings.results import (
    Band,
    BandReason,
    Bay,
    CheckFinding,
    Energy,
    Factor,
    Fields,
    Findings,
    HotSpot,
    JointFindings,
    LoadCaseFindings,
    MeshBand,
    MeshSize,
    RegionFindings,
    Torsion,
    Worst,
)
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import CorePly, Ply
from tubfem.shell.model import Block as ShellBlock
from tubfem.shell.model import ShellModel
from tubfem.tub.model import LayupField, State, TubModel

LENGTH = 1.45
STRENGTH = JointStrength(
    0.06, {"bond shear": 3.2, "tab plies": 0.41}, 1e5, 2e6, 3e6, 0.7, width=0.06, width_needed=0.012, peel=-0.35
)


def judged_joints(load_case):
    """Its joints, each that is not continuous with a strength, a margin and a fixity."""
    return {
        name: joint
        if joint.kind == "continuous"
        else replace(joint, strength=STRENGTH, margin=0.41, fixity=Fixity(10.0, 90.0, 0.1))
        for name, joint in load_case.joints.items()
    }


def mirrored(point):
    return point[0], -point[1], point[2]


def small_tub(cells=4):
    """Floor, tunnel, two sills, two bulkheads; the bulkheads end on the sills' outer walls."""
    n, m = 6 * cells, cells
    front = {"root": (0.12, 0.0), "edge": (0.09, 0.2), "low": (0.46, 0.0), "top": (0.48, 0.21), "out": (0.62, 0.21)}
    rear = {"root": (0.17, 0.0), "edge": (0.13, 0.25), "low": (0.46, 0.0), "top": (0.48, 0.21), "out": (0.62, 0.21)}
    front["bottom"] = rear["bottom"] = (0.62, 0.0)
    rear["root"], rear["edge"] = front["root"], front["edge"]

    def wall(name, a, b, region, across=m):
        fa, fb = (0.0, *front[a]), (0.0, *front[b])
        ra, rb = (LENGTH, *rear[a]), (LENGTH, *rear[b])
        right = tub_builders.panel(f"{name}.right", [fa, ra, rb, fb], (n, across), region=region, section=True)
        left = [mirrored(p) for p in (fb, rb, ra, fa)]
        zero = (1.0, 0.0, 0.0)
        return right, tub_builders.panel(
            f"{name}.left", left, (n, across), region=region, zero=zero, section=True, mirrored=True
        )

    def over(name, a, region, across):
        y, z = front[a]
        plate = [(0.0, -y, z), (LENGTH, -y, z), (LENGTH, y, z), (0.0, y, z)]
        return tub_builders.panel(name, plate, (n, across), region=region)

    panels = [
        *wall("floor", "root", "low", "floor", 2 * m),
        over("closing_panel", "root", "closing_panel", 2 * m),
        over("tunnel.top", "edge", "tunnel", 2 * m),
        *wall("tunnel.side", "root", "edge", "tunnel"),
        *wall("sill.inner", "low", "top", "sill"),
        *wall("sill.top", "top", "out", "sill"),
        *wall("sill.outer", "out", "bottom", "sill"),
        *wall("sill.bottom", "bottom", "low", "sill"),
    ]
    for name, x in (("front_bulkhead", 0.0), ("rear_bulkhead", LENGTH)):
        pieces = [
            [("root", -1), ("root", 1), ("edge", 1), ("edge", -1)],
            [("root", 1), ("low", 1), ("top", 1), ("edge", 1)],
            [("low", 1), ("bottom", 1), ("out", 1), ("top", 1)],
            [("low", -1), ("root", -1), ("edge", -1), ("top", -1)],
            [("bottom", -1), ("low", -1), ("top", -1), ("out", -1)],
        ]
        for k, piece in enumerate(pieces):
            corners = [(x, side * front[c][0], front[c][1]) for c, side in piece]
            across = 2 * m if k < 2 or k == 3 else m
            panels.append(tub_builders.panel(f"{name}.{k}" if k else name, corners, (across, m), region=name))
    mounts = [("front_low.right", "front_bulkhead.1", (0.0, 0.3, 0.1), 0.03, 0.06)]
    return tub_builders.tub_mesh(panels, size=LENGTH / n, mounts=mounts)


def worst(region, margin, kind="first damage", ply="floor 2a biax600 +45", **changed):
    values = {
        "margin": margin,
        "margin_peak": margin - 0.31,
        "kind": kind,
        "mode": "matrix tension" if kind == "first damage" else "fibre compression",
        "ply": ply,
        "ply_index": 1,
        "face": "top",
        "panel": f"{region}.right",
        "region": region,
        "position": (0.71234, 0.4512, 0.0021),
        "demand": 0.00123456,
        "allowable": 0.00234567,
        "unit": "-",
        "sign": -1,
        "length": 0.02,
    }
    return Worst(**(values | changed))


def hand_checked(x):
    """Two sections, the second open, that turn by 0.35 degrees between the ends of x."""
    walls = (
        WallOfSection("floor.right", True, 0.4, 2.5e7, 80.0),
        WallOfSection("tunnel.top", True, 0.2, 2.0e7, 90.0),
        WallOfSection("sill.bottom.right", False, 0.14, 2.0e7, 90.0),
    )
    cells = (CellFlow(("floor.right", "tunnel.top"), 0.05, 4321.0),)
    middle = 0.5 * (x[0] + x[-1])
    sections = (
        Section(0.5 * (x[0] + middle), x[0], middle, 4.0e5, 216.0, cells, walls),
        Section(0.5 * (middle + x[-1]), middle, x[-1], 216.0, 216.0, (), walls[2:]),
    )
    return HandCheck(
        stiffness=2857.1,
        twist_deg=0.35,
        finite_element=2710.7,
        ratio=2857.1 / 2710.7,
        sections=sections,
        x=frozen(np.array([x[0], middle, x[-1]])),
        curve_deg=frozen(np.array([0.0, 0.15, 0.35])),
        openings=("floor.right, x = 565 to 595 mm",),
        reasons=("Joints count as moulded here; they hold 9 % of the strain energy, which makes that softer.",),
    )


def torsion_findings(mesh, pickups):
    """A tub that turns as a whole about x, softest in the middle bay."""
    x = np.linspace(0.05, LENGTH - 0.05, 15)
    rate = 0.12 + 0.35 * np.exp(-(((x - 0.75) / 0.2) ** 2))
    curve = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(x))])
    bays = (
        Bay("front", "dash", (0.0, 0.5), 0.08, 0.16),
        Bay("dash", "seat_back", (0.5, 1.0), 0.2, 0.4),
        Bay("seat_back", "rear", (1.0, LENGTH), 0.07, 0.156),
    )
    why = (
        BandReason("spread of the pickup loads, soft or rigid insert", -1.5, 2.5),
        BandReason("tab stiffness, half or twice", -4.0, 3.1),
    )
    return Torsion(
        torque=1000.0,
        twist_deg=0.41234,
        pickup_to_pickup=2425.123,
        between_stations=2710.7,
        hub_to_hub=None,
        stations_x=(0.05, 1.4),
        band=Band(2290.2, 2561.9, why, ("material scatter", "mesh")),
        restraint="free",
        x=frozen(x),
        curve_deg=frozen(curve),
        gauges=frozen(np.zeros((15, 2), dtype=np.int64)),
        bays=bays,
        softest=bays[1],
        front_share=0.06,
        rear_share=0.05,
        hand_check=hand_checked(x),
        sentences=(
            "The softest bay lies between dash and seat_back (x = 500 to 1000 mm): it takes 0.2 degrees of the twist.",
        ),
    )


def displacement(points, curve_x, curve_deg):
    """Each station turned about x by the twist curve: (p, 6)."""
    angle = np.radians(np.interp(points[:, 0], curve_x, curve_deg))
    zero = np.zeros(len(points))
    return np.stack([zero, -angle * (points[:, 2] - 0.1), angle * points[:, 1], angle, zero, zero], axis=1)


def small_layup(elements):
    """One stack everywhere: cloth, core, cloth turned by 30 degrees."""
    cloth = Ply("cloth", "unidirectional", 30e9, 8e9, 3e9, 0.3, 3e9, 3e9, 0.001, 1800.0)
    core = CorePly("foam", 80e6, 80e6, 30e6, 0.3, 30e6, 30e6, 0.01, 80.0, 90e6)
    stack = make_stack([(0.0, cloth), (0.0, core), (np.radians(30.0), cloth)])
    texts = ("floor 1 cloth +0", "floor 2 foam", "floor 3 cloth +30")
    return LayupField((stack,), ((0,),), ((1.0,),), frozen(np.zeros(elements, dtype=np.int64)), (texts,))


def small_report(cells=4, *, margin=0.42):
    """TubModel and Findings of the small tub; `margin` is the lowest one."""
    mesh = small_tub(cells)
    pickup_points = np.array([[-0.12, 0.56, 0.21], [-0.12, -0.56, 0.21], [1.57, 0.57, 0.22], [1.57, -0.57, 0.22]])
    points = np.concatenate([mesh.points, pickup_points])
    nodes = len(mesh.points)
    pickups = dict(zip(("front.right", "front.left", "rear.right", "rear.left"), range(nodes, nodes + 4), strict=True))
    case = Case(title="Small tub (invented)", mirror="y", path="cases/small.toml", mesh=Mesh(size=LENGTH / (6 * cells)))
    blocks = tuple(ShellBlock(b.kind, b.conn, np.zeros(len(b.conn)), b.direction) for b in mesh.blocks)
    shell = ShellModel(points, blocks, np.zeros((1, 8, 8)), np.zeros((1, 3)), (), None, np.zeros((6 * len(points), 1)))
    layup = small_layup(mesh.element_count)
    kinds = {}
    for line in mesh.joints:
        names = [mesh.panels[p].name for p in line.panels]
        kind = "tabbed" if any("bulkhead" in name for name in names) else "continuous"
        kind = "fastened" if any("closing" in name for name in names) else kind
        kinds[f"{names[0]}/{names[-1]}"] = kind
    model = TubModel(
        case=case,
        mesh=mesh,
        layup=layup,
        states=(State(shell, ()),),
        mesh_node=frozen(np.concatenate([np.arange(nodes), np.full(4, -1)])),
        pickups=pickups,
        mounts={},
        subframes={},
        joints=(),
        joint_kinds=kinds,
        probes={},
        cautions=("Panel closing_panel is bolted; its slip is not modelled.",),
        notes=("tab60: 21.3 MN/m per metre along the line",),
    )
    regions = tuple(dict.fromkeys(panel.region for panel in mesh.panels))
    of_panel = np.array([regions.index(panel.region) for panel in mesh.panels])
    element_region = of_panel[mesh.element_panel]
    torsion = torsion_findings(mesh, pickups)
    u = displacement(points, torsion.x, torsion.curve_deg)
    centre = mesh.points[np.concatenate([b.conn for b in mesh.blocks])].mean(axis=1)
    strain = 2e-4 + 1.2e-3 * np.exp(-(((centre[:, 0] - 0.75) / 0.25) ** 2)) * np.exp(-((centre[:, 2] / 0.1) ** 2))
    strain += 8e-4 * np.exp(-np.linalg.norm(centre - [0.0, 0.12, 0.1], axis=1) / 0.08)
    own = strain[:, None] * [1.0, -0.3, 0.5, 20.0, 0.0, 10.0, 0.1, 0.0]
    kind = (strain > np.median(strain)).astype(np.int64)
    fields = Fields(
        u,
        frozen(strain),
        frozen(1.3 * strain),
        frozen(2.0e-3 / strain - 1),
        frozen(1e9 * strain**2),
        frozen(own),
        frozen(kind),
        ("first damage", "fibre failure"),
    )
    findings = {}
    for k, name in enumerate(regions):
        core = (worst(name, 1.5 + k, "wrinkling", ply="foam80", unit="Pa", demand=2e7, allowable=5e7),)
        findings[name] = RegionFindings(
            name,
            2.0 + k,
            0.4 + 0.1 * k,
            1.0 / len(regions),
            worst(name, margin + 0.2 * k),
            worst(name, margin + 1 + 0.2 * k, "fibre failure"),
            core[0] if name == "floor" else None,
            core if name == "floor" else (),
        )
    joints = {}
    for index, (name, kind) in enumerate(kinds.items()):
        where = mesh.points[np.unique(mesh.joints[index].edges)]
        flow = np.full(len(where), 3210.0 + index)
        spring = None if kind == "continuous" else flow / 10
        joints[name] = JointFindings(
            name,
            kind,
            0.5,
            where,
            flow,
            spring,
            spring,
            spring,
            3210.0 + index,
            *((None,) * 5 if spring is None else (321.0, 321.0, 4.5, None, 0.03)),
        )
    load_case = LoadCaseFindings(
        name="torsion",
        kind="torsion",
        margin_scale=1.0,
        torsion=torsion,
        mesh=MeshBand(0.008, 0.01, {name: 0.008 / len(findings) for name in findings}),
        probes={},
        checks=(CheckFinding("residual", 3.2e-12, 1e-8), CheckFinding("reaction_sum", 1.1e-10, 1e-6)),
        regions=findings,
        joints=joints,
        hot_spots=(
            HotSpot(
                position=(0.0, 0.12, 0.1),
                region="front_bulkhead",
                panel="front_bulkhead.1",
                joint=next(iter(kinds)),
                joint_distance=0.012,
                mount=None,
                both_sides=True,
                strain_averaged=1.4e-3,
                strain_peak=2.1e-3,
                length=0.01,
                margin=margin,
            ),
        ),
        energy=Energy(3.6, {name: 1.0 / len(regions) for name in regions}, {}, 0.0, 0.0),
        fields=fields,
    )
    result = Findings(
        mesh=MeshSize(nodes, mesh.element_count, 6 * nodes - 6, mesh.size),
        mass=Mass(
            31.234,
            (0.71, 0.0, 0.12),
            {r.name: r.mass for r in findings.values()},
            {r.name: r.area for r in findings.values()},
            joints={"floor/sill": JointMass(0.412, 0.153, 0.0)},
        ),
        factors=(Factor("required", "first damage", 1.5, ("matrix tension",), "hand work", "no source"),),
        regions=regions,
        element_region=frozen(element_region),
        element_mass=frozen(np.full(mesh.element_count, 5.0)),
        element_thickness=frozen(np.full(mesh.element_count, 0.004)),
        load_cases={"torsion": load_case},
        cautions=("Wet lay-up scatters: coupons win.",),
        notes=(),
        sentences=("The floor and the sills hold 60 % of the strain energy, from x = 500 to 1000 mm.",),
    )
    return model, result


def without_torsion(load_case):
    return replace(load_case, torsion=None, kind="static", probes={"tip": (1e-3, 0.0, 0.0, 0.0, 0.01, 0.0)})


def changed(load_case, **fields):
    return replace(load_case, fields=replace(load_case.fields, **fields))


def with_load_case(findings, load_case):
    return replace(findings, load_cases={load_case.name: load_case})


def failing(load_case):
    return replace(load_case, checks=(CheckFinding("residual", 1e-3, 1e-8),))
