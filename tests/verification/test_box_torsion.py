"""Thin-walled boxes and channels in torsion: Bredt, Saint-Venant and Vlasov, and shells converged beyond them.

Mid-line 200 x 100 mm, 1 m long. Both end sections keep their shape: v, w and θx of every wall follow the section,
which turns and may shift in its plane; "held" also stops warping (u, θy, θz). Isotropic walls are 2 mm, E = 70 GPa,
ν = 0.3. References in N·m/rad, computed independently by a p-version Reissner-Mindlin shell of order 6 to 10; the
classical values (R. Bredt 1896; V. Z. Vlasov, Thin-walled Elastic Beams) stand beside them.
"""

from itertools import pairwise

import numpy as np
import pytest
from laminates import stack, ud
from meshes import block, freedoms, isotropic, shell

from tubfem.laminate.shear import stiffness8
from tubfem.shell.solve import solve
from tubfem.shell.ties import Support

ALUMINIUM = isotropic(70e9, 0.3, 0.002)
CARBON = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)
CLOSED = [(-0.1, -0.05), (0.1, -0.05), (0.1, 0.05), (-0.1, 0.05), (-0.1, -0.05)]
SQUARE = [(-0.05, -0.05), (0.05, -0.05), (0.05, 0.05), (-0.05, 0.05), (-0.05, -0.05)]
SLIT = [(0.0, -0.05), *CLOSED[1:], (0.0, -0.05)]
CHANNEL = [(0.05, -0.05), (0.0, -0.05), (0.0, 0.05), (0.05, 0.05)]


def section(corners, size):
    """Nodes (m, 2) along a polyline, walls divided into elements of about `size`; a slit's two edges stay apart."""
    corners = np.array(corners)
    nodes = [corners[:1]]
    for a, b in pairwise(corners):
        n = round(np.linalg.norm(b - a) / size)
        nodes.append(a + np.arange(1, n + 1)[:, None] / n * (b - a))
    return np.concatenate(nodes)


def tube(corners, size, length=1.0, *, closed, kind="quad4"):
    """Nodes and elements, normals inwards of a section that runs anticlockwise in (y, z); 0° along the axis."""
    yz = section(corners, size)
    yz = yz[:-1] if closed else yz
    m, n = len(yz), round(length / size)
    points = np.column_stack([np.repeat(np.linspace(0, length, n + 1), m), np.tile(yz, (n + 1, 1))])
    node = np.arange((n + 1) * m).reshape(n + 1, m)
    node = np.column_stack([node, node[:, :1]]) if closed else node
    conn = np.stack([node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]], -1).reshape(-1, 4)
    return points, block(conn, kind=kind)


def stiffness(points, elements, C, ends):
    """Torque per angle [N·m/rad]; `ends` is "free free", "held free" or "held held" against warping.

    The far section is turned, and shifted in its plane so that only a couple acts on it.
    """
    near, far = (np.flatnonzero(np.isclose(points[:, 0], x)) for x in (0, points[:, 0].max()))
    y, z = points[far, 1], points[far, 2]
    one, zero = np.ones(len(far)), np.zeros(len(far))
    motion = np.stack([[-z, y, one], [one, zero, zero], [zero, one, zero]], -1)  # v w θx of turning and of two shifts
    supports = [
        Support(freedoms(near, [1, 2, 3])),
        Support(freedoms(far, [1, 2, 3]), motion.transpose(1, 0, 2).reshape(-1, 3)),
    ]
    warping = {"free": [], "held": [0, 4, 5]}
    start, stop = ends.split()
    supports += [Support(freedoms(nodes, warping[end])) for nodes, end in ((near, start), (far, stop)) if end == "held"]
    if ends == "free free":
        supports.append(Support(freedoms(near[:1], [0])))
    model = shell(points, [elements], C, np.zeros((6 * len(points), 3)), supports=supports)
    r = solve(model).reactions[:, far]
    shear = r[:, :, 1:3].sum(1)
    torque = (r[:, :, 3] + y * r[:, :, 2] - z * r[:, :, 1]).sum(1)
    shift = np.linalg.solve(shear[1:].T, -shear[0])
    return torque[0] + shift @ torque[1:]


ENDS = ["free free", "held free", "held held"]


def rows(*columns):
    return [(end, value) for end, value in zip(ENDS, columns, strict=True)]


# Bredt 143 590, with the walls' own Saint-Venant torsion 143 633.
@pytest.mark.parametrize(("ends", "reference"), rows(143639, 143909, 144545))
def test_closed_box(record, ends, reference):
    """A closed box of isotropic walls: folds, drilling passed from wall to wall, the couple and how twist is read."""
    points, elements = tube(CLOSED, 0.1, closed=True)
    record(f"closed box 100 mm, {ends}", stiffness(points, elements, ALUMINIUM, ends), reference, 0.2)


# Triangles at twice the density; only with free ends, as holding θy and θz would hold their true drilling rotation.
def test_closed_box_of_triangles(record):
    """The same closed box of triangles."""
    points, elements = tube(CLOSED, 0.05, closed=True, kind="tria3")
    record("closed box 50 mm triangles, free free", stiffness(points, elements, ALUMINIUM, ENDS[0]), 143639, 0.2)


# A square tube of even walls does not warp (Neuber): 53 846 by Bredt, 53 875 with Saint-Venant.
@pytest.mark.parametrize(("ends", "reference"), rows(53877, 53881, 53881)[:2])
def test_square_box(record, ends, reference):
    """A square box, which does not warp."""
    points, elements = tube(SQUARE, 0.05, closed=True)
    record(f"square box 50 mm, {ends}", stiffness(points, elements, ALUMINIUM, ends), reference, 0.2)


# Slit along the middle of a wide wall; G Σ b t³/3 = 43.08.
@pytest.mark.parametrize(("ends", "reference"), rows(42.91, 14192, 44386))
def test_slit_box(record, ends, reference):
    """A box slit along its length: nothing left but bending of walls and restrained warping."""
    points, elements = tube(SLIT, 0.05, closed=False)
    record(f"slit box 50 mm, {ends}", stiffness(points, elements, ALUMINIUM, ends), reference, 1.0)


# 50 x 100 x 50: Saint-Venant 14.359; Vlasov with one end held 55.42, with both 170.3. Free to warp it is the section's
# own torsion constant that counts, and where twisting moment ends. A solid has two such places, its free edges (0.105
# t⁴ of J each), and fuller corners: 14.333, warping problem of the section solved by `sectionproperties` on 0.06 mm²
# (14.337 on 0.25, 14.357 on 1 mm²). In a shell twisting moment ends at folds as well, in layers a third of the wall
# wide, for it would be a couple about the next wall's normal: 14.092 with all six resolved (elements of 0.25 mm there).
# The p-version shell's 14.195 lies between, its layers partly resolved. 25 mm elements have those at the free edges.
@pytest.mark.parametrize(("ends", "reference"), rows(14.195, 55.15, 168.4))
def test_channel(record, ends, reference):
    """An open channel, free to warp and held: Saint-Venant and Vlasov torsion."""
    points, elements = tube(CHANNEL, 0.025, closed=False)
    ours = stiffness(points, elements, ALUMINIUM, ends)
    record(f"channel 25 mm, {ends}", ours, reference, 0.7)
    if ends == "free free":
        record("channel 25 mm, free free, its section by `sectionproperties`", ours, 14.333, 0.7)


# Walls 135/10/5 GPa, plies of 0.25 mm counted inwards, 0° along the axis. Balanced walls follow Bredt with A66; an
# unbalanced one 1/a66 when it may stretch; an unsymmetric one A66 less what its bending gives back.
LAMINATED = [
    ((45, -45, -45, 45), 0.1, 0.3, (93301, 93335, 93427)),
    ((0, 90, 90, 0), 0.1, 0.3, (13335, 13449, 13693)),
    ((0, 45, -45, 90, 90, -45, 45, 0), 0.1, 0.3, (106655, 106845, 107330)),
    ((45, -45), 0.025, 0.6, (45420, 46042, 46710)),
    ((15, 15, 15, 15), 0.05, 0.5, (14990, 15092, 31995)),
]


@pytest.mark.parametrize(
    ("angles", "size", "percent", "ends", "reference"),
    [(a, size, percent, *row) for a, size, percent, values in LAMINATED for row in rows(*values)],
)
def test_laminated_box(record, angles, size, percent, ends, reference):
    """Closed boxes of laminated walls: balanced, cross-ply, unsymmetric, helical."""
    points, elements = tube(CLOSED, size, closed=True)
    ours = stiffness(points, elements, stiffness8(stack(angles, CARBON)), ends)
    record(f"laminated box {angles} {1000 * size:.0f} mm, {ends}", ours, reference, percent)


@pytest.mark.parametrize(("angles", "percent", "values"), [(a, p, v) for a, _, p, v in LAMINATED[:3]])
def test_laminated_box_of_triangles(record, angles, percent, values):
    """Laminated boxes of triangles."""
    points, elements = tube(CLOSED, 0.05, closed=True, kind="tria3")
    ours = stiffness(points, elements, stiffness8(stack(angles, CARBON)), "free free")
    record(f"laminated box {angles} 50 mm triangles", ours, values[0], percent)


def test_stretch_of_a_twisted_unbalanced_box_changes_sign_with_the_angle(record):
    """[15]4 and [-15]4 twist alike and stretch oppositely; the size follows from A16 of N_x = 0 walls."""
    points, elements = tube(CLOSED, 0.05, closed=True)
    stretch = []
    for angle in (15, -15):
        far, near = (np.isclose(points[:, 0], x) for x in (1.0, 0.0))
        turn = np.stack([-points[far, 2], points[far, 1], np.ones(far.sum())], -1).ravel() * 1e-3
        supports = [
            Support(freedoms(near, [1, 2, 3])),
            Support(freedoms(near, [0])[:1]),
            Support(freedoms(far, [1, 2, 3]), turn),
        ]
        model = shell(
            points, [elements], stiffness8(stack([angle] * 4, CARBON)), np.zeros(6 * len(points)), supports=supports
        )
        u = solve(model).u[0]
        stretch.append(u[far, 0].mean() - u[near, 0].mean())
    assert abs(stretch[0] + stretch[1]) < 1e-9 * abs(stretch[0])
    C = stiffness8(stack([15] * 4, CARBON))
    a = np.linalg.inv(C[:3, :3])
    shear = a[2, 2] * 14984 * 1e-3 / (2 * 0.02)  # q = T/2A gives γ = a66 q, and εx = a16 q
    record("stretch of [15]4 box", stretch[0], -a[0, 2] / a[2, 2] * shear * -1.0, 2.0)
