"""What must hold for any small shell: motion in space, mirror, numbering, units, scale, faces, load, and cuts.

Sheets are skewed and warped, of quads, triangles or both, and their stacks as unsymmetric and unbalanced as they come.
"""

from dataclasses import dataclass, replace

import numpy as np
from free_bodies import by_block, element_forces
from hypothesis import given, settings
from hypothesis import strategies as st
from laminates import core, ud
from meshes import block, fit_edges, freedoms, grid, held, shell
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation

from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.shell.solve import solve

CHECK = settings(max_examples=20, deadline=None, derandomize=True)
CARBON = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.5e-3)
GLASS = ud(24e9, 22e9, 4e9, 0.12, G13=3e9, G23=3e9, thickness=1e-3)
FOAM = core(30e6, 20e6, E=80e6, thickness=10e-3)
ANGLE = st.floats(-90.0, 90.0)
SKIN = st.lists(st.tuples(ANGLE, st.sampled_from([CARBON, GLASS])), min_size=1, max_size=3)
LAYERS = st.one_of(SKIN, st.tuples(SKIN, SKIN).map(lambda s: [*s[0], (0.0, FOAM), *s[1]]))
AXIAL = np.diag([-1.0, 1.0, -1.0])  # how a reflection in y turns rotations


@dataclass(frozen=True)
class Sheet:
    """A sheet on a grid, clamped at one edge; `shape` moves its nodes."""

    seed: int
    kind: str
    layers: list

    def model(self, *, size=1.0, modulus=1.0):
        rng = np.random.default_rng(self.seed)
        s, conn = grid(5, 4)
        x, y = s.T
        a, b, c, d = rng.uniform(-0.3, 0.3, 4)
        points = np.column_stack([x + a * y, 0.7 * y + b * x * y, c * x * y + d * x**2 + 0.15 * y])
        inner = ((s > 0) & (s < 1)).all(1)
        points[inner] += rng.uniform(-0.04, 0.04, (inner.sum(), 3)) * [1, 1, 0.3]
        cut = {
            "quad4": np.zeros(len(conn), bool),
            "tria3": np.ones(len(conn), bool),
            "both": rng.random(len(conn)) < 0.4,
        }
        parts = (("quad4", conn[~cut[self.kind]]), ("tria3", conn[cut[self.kind]]))
        blocks = [block(some, (1.0, 0.2, 0.1), kind=kind) for kind, some in parts if len(some)]
        loads = rng.standard_normal((len(points), 6, 2)) * np.array([1, 1, 1, 0.1, 0.1, 0.1])[:, None]
        loads[:, :3] *= modulus * size**2
        loads[:, 3:] *= modulus * size**3
        layers = [(np.radians(angle), scaled(ply, size, modulus)) for angle, ply in self.layers]
        C = stiffness8(make_stack(layers))
        clamped = [held(freedoms(x == 0, range(6)))]
        return shell(size * points, blocks, C, loads, supports=clamped)


def scaled(ply, size, modulus):
    """A ply of another thickness and other moduli."""
    names = ("E1", "E2", "G12", "G13", "G23")
    return replace(ply, thickness=size * ply.thickness, **{name: modulus * getattr(ply, name) for name in names})


SHEETS = st.builds(Sheet, st.integers(0, 10_000), st.sampled_from(["quad4", "tria3", "both"]), LAYERS)


def moved(model, Q, *, flip=False):
    """The model under x -> Q x; a reflection reverses the order round every element."""
    axial = Q * np.linalg.det(Q)
    T = np.kron(np.eye(2), np.eye(3))
    T[:3, :3], T[3:, 3:] = Q, axial
    blocks = [replace(b, conn=b.conn[:, ::-1] if flip else b.conn, direction=b.direction @ Q.T) for b in model.blocks]
    loads = np.einsum("ij,pjc->pic", T, model.loads.reshape(-1, 6, 2))
    clamped = [held(model.ties.supported)]
    return shell(model.points @ Q.T, blocks, model.stiffness, loads, supports=clamped), T


def assert_same_motion(found, expected, *, rtol=1e-7):
    """Translations and rotations, each against its own largest. Far below any mesh error; sums differ in order only."""
    for part in (slice(0, 3), slice(3, 6)):
        assert_allclose(found[..., part], expected[..., part], atol=rtol * np.abs(expected[..., part]).max())


@CHECK
@given(SHEETS, st.lists(st.floats(-3, 3), min_size=3, max_size=3), st.lists(st.floats(-20, 20), min_size=3, max_size=3))
def test_turned_and_moved(sheet, turn, shift):
    model = sheet.model()
    other, T = moved(model, Rotation.from_rotvec(turn).as_matrix())
    other = shell(
        other.points + shift, other.blocks, other.stiffness, other.loads, supports=[held(other.ties.supported)]
    )
    assert_same_motion(solve(other).u, solve(model).u @ T.T)


@CHECK
@given(SHEETS)
def test_mirror_image_with_opposite_angles(sheet):
    model = sheet.model()
    image, T = moved(model, np.diag([1.0, -1.0, 1.0]), flip=True)
    opposite = Sheet(sheet.seed, sheet.kind, [(-angle, ply) for angle, ply in sheet.layers]).model()
    image = fit_edges(replace(image, stiffness=opposite.stiffness))
    assert_same_motion(solve(image).u, solve(model).u @ T.T)


@CHECK
@given(SHEETS, st.randoms(use_true_random=False))
def test_nodes_and_elements_in_any_order(sheet, random):
    model = sheet.model()
    order = np.array(random.sample(range(len(model.points)), len(model.points)))  # new number -> old
    rank = np.argsort(order)
    blocks = []
    for b in model.blocks:
        rows = np.array(random.sample(range(len(b.conn)), len(b.conn)), dtype=int)
        blocks.append(
            replace(b, conn=np.roll(rank[b.conn[rows]], random.randint(0, 3), axis=1), direction=b.direction[rows])
        )
    loads = model.loads.reshape(-1, 6, 2)[order]
    clamped = [held(6 * rank[model.ties.supported // 6] + model.ties.supported % 6)]
    found = solve(shell(model.points[order], blocks, model.stiffness, loads, supports=clamped)).u
    assert_same_motion(found[:, rank], solve(model).u)


@CHECK
@given(SHEETS, st.floats(-3, 3), st.floats(-6, 6))
def test_scale_and_units(sheet, size, modulus):
    """Lengths times λ, moduli times μ, forces times μλ², moments times μλ³: motion times λ, rotations as before.

    A change of units is such a scaling, from metres and pascals to millimetres and megapascals: λ = 1000, μ = 1e-6.
    """
    size, modulus = 10**size, 10**modulus
    u, v = solve(sheet.model()).u, solve(sheet.model(size=size, modulus=modulus)).u
    assert_same_motion(v / np.array([size] * 3 + [1] * 3), u)


@CHECK
@given(SHEETS, st.floats(-0.02, 0.02))
def test_laid_from_the_other_face(sheet, tool_z):
    """Elements turned over, plies in reverse with opposite angles, reference surface where it was: nothing moves."""
    model = sheet.model()
    layers = [(np.radians(angle), ply) for angle, ply in sheet.layers]
    height = sum(ply.thickness for _, ply in layers)
    one = make_stack(layers, tool_z=tool_z)
    other = make_stack([(-angle, ply) for angle, ply in layers[::-1]], tool_z=-(tool_z + height))
    over = tuple(replace(b, conn=b.conn[:, ::-1]) for b in model.blocks)
    u = solve(fit_edges(replace(model, stiffness=stiffness8(one)[None]))).u
    v = solve(fit_edges(replace(model, blocks=over, stiffness=stiffness8(other)[None]))).u
    assert_same_motion(v, u)


@CHECK
@given(SHEETS, st.floats(-5, 5), st.floats(-5, 5))
def test_superposition(sheet, a, b):
    model = sheet.model()
    u = solve(model).u
    both = solve(replace(model, loads=model.loads @ np.array([[a], [b]]))).u[0]
    assert_allclose(both, a * u[0] + b * u[1], atol=1e-9 * (abs(a) + abs(b) + 1e-9) * np.abs(u).max())


@CHECK
@given(SHEETS)
def test_reciprocity(sheet):
    """The first load's work on the second motion is the second's on the first (Betti, 1872)."""
    model = sheet.model()
    u, loads = solve(model).u, model.loads.reshape(-1, 6, 2)
    work = np.einsum("cpd,pde->ce", u, loads)
    assert_allclose(work[0, 1], work[1, 0], atol=1e-9 * np.sqrt(work[0, 0] * work[1, 1]))


@CHECK
@given(SHEETS, st.integers(0, 3), st.integers(1, 3), st.integers(0, 2), st.integers(1, 2))
def test_filling_a_hole_never_lowers_stiffness(sheet, i, wide, j, high):
    """A window or notch filled on the same mesh: no load does more work than before.

    Beyond 1e-4: the elements put back turn the directors along the edge of the hole a little.
    """
    model = replace(sheet, kind="quad4").model()
    (whole,) = model.blocks
    column, row = np.arange(len(whole.conn)) % 5, np.arange(len(whole.conn)) // 5
    stays = (column == 0) | (column < i) | (column >= i + wide) | (row < j) | (row >= j + high)
    rest = block(whole.conn[stays], whole.direction[stays])
    unused = np.setdiff1d(np.arange(len(model.points)), rest.conn)
    loads = model.loads.reshape(-1, 6, 2).copy()
    loads[unused] = 0.0
    clamped = [held(np.union1d(model.ties.supported, freedoms(unused, range(6))))]
    holed = shell(model.points, [rest], model.stiffness, loads, supports=clamped)
    filled = replace(model, loads=holed.loads)
    work = [np.einsum("cpd,pdc->c", solve(m).u, loads) for m in (filled, holed)]
    assert (work[0] <= work[1] * (1 + 1e-4)).all()


@CHECK
@given(SHEETS, st.lists(st.floats(-1, 1), min_size=3, max_size=3), st.floats(0.1, 0.9))
def test_every_free_body_is_in_equilibrium(sheet, normal, share):
    """Cut by any plane, the elements on one side push on the cut with the loads and reactions that act on that side."""
    model = sheet.model()
    solution = solve(model)
    normal = np.array([*normal[:2], normal[2] + 1e-3])
    middles = np.concatenate([model.points[b.conn].mean(1) for b in model.blocks]) @ normal
    inside = middles < np.quantile(middles, share)
    outside = model.loads.T.reshape(2, -1, 6) + solution.reactions
    part, rest = (element_forces(model, solution.u, chosen) for chosen in (inside, ~inside))
    scale = np.abs(part).sum() + np.abs(outside).sum()
    assert_allclose(part + rest, outside, atol=1e-9 * scale)
    touched = [
        np.unique(np.concatenate([b.conn[c].ravel() for b, c in by_block(model, chosen)]))
        for chosen in (inside, ~inside)
    ]
    within, cut = np.setdiff1d(*touched), np.intersect1d(*touched)
    body = np.zeros_like(part)
    body[:, within], body[:, cut] = outside[:, within], part[:, cut]
    assert_allclose(body[:, :, :3].sum(1), 0, atol=1e-9 * scale)
    assert_allclose((body[:, :, 3:] + np.cross(model.points[None], body[:, :, :3])).sum(1), 0, atol=1e-9 * scale)
