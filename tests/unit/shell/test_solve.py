"""What cannot be solved is refused, with the points that move; both factorisations agree."""

import numpy as np
import pytest
from meshes import block, freedoms, grid, held, isotropic, shell, tied
from numpy.testing import assert_allclose
from scipy import sparse

from tubfem.errors import SolveError
from tubfem.shell import factor
from tubfem.shell.checks import Check, refuse_failed
from tubfem.shell.factor import NotDefiniteError, factorise
from tubfem.shell.floating import FloatingError
from tubfem.shell.normals import ElementError
from tubfem.shell.solve import solve

S, CONN = grid(4, 3)
POINTS = np.column_stack([S, np.zeros(len(S))])
CLAMPED = held(freedoms(S[:, 0] == 0, range(6)))
C = isotropic(70e9, 0.3, 0.002)


def loads(count=20):
    F = np.zeros((count, 6))
    F[-1, 2] = 1.0
    return F


def test_unheld_sheet_floats_even_under_a_balanced_load():
    F = np.zeros((len(POINTS), 6))
    F[0, 0], F[4, 0] = -1.0, 1.0
    with pytest.raises(FloatingError, match="6 rigid motions") as error:
        solve(shell(POINTS, [block(CONN)], C, F))
    assert_allclose(error.value.nodes, np.arange(len(POINTS)))


def test_supports_in_a_line_leave_one_motion():
    support = held(freedoms(S[:, 0] == 0, [0, 1, 2]))
    with pytest.raises(FloatingError, match="1 rigid motions"):
        solve(shell(POINTS, [block(CONN)], C, loads(), supports=[support]))


def test_second_sheet_floats_and_is_named():
    points = np.concatenate([POINTS, POINTS + np.array([0, 0, 1])])
    n = len(POINTS)
    model = shell(points, [block(CONN), block(CONN + n)], C, loads(2 * n), supports=[CLAMPED])
    with pytest.raises(FloatingError, match="a part of 20 points") as error:
        solve(model)
    assert_allclose(error.value.nodes, np.arange(n, 2 * n))


def test_lone_point_floats():
    points = np.concatenate([POINTS, [[0, 0, 1.0]]])
    with pytest.raises(FloatingError) as error:
        solve(shell(points, [block(CONN)], C, loads(len(points)), supports=[CLAMPED]))
    assert_allclose(error.value.nodes, [len(POINTS)])


def test_point_on_a_spring_without_rotation_is_a_mechanism():
    points = np.concatenate([POINTS, POINTS[-1:]])
    n = len(POINTS)
    spring = tied([n - 1], [n], [1e6, 1e6, 1e6, 0, 0, 0])
    with pytest.raises(FloatingError, match="without resistance") as error:
        solve(shell(points, [block(CONN)], C, loads(n + 1), supports=[CLAMPED], springs=[spring]))
    assert_allclose(error.value.nodes, [n])


def test_two_sheets_on_a_hinge_line_are_a_mechanism():
    """Held in all translations along one line only, the second sheet swings about it: rounding, not zero, as pivot."""
    n = len(POINTS)
    points = np.concatenate([POINTS, POINTS + np.array([1, 0, 0])])
    a, b = np.flatnonzero(S[:, 0] == 1), n + np.flatnonzero(S[:, 0] == 0)
    spring = tied(a, b, [1e9, 1e9, 1e9, 0, 0, 0])
    model = shell(points, [block(CONN), block(CONN + n)], C, loads(2 * n), supports=[CLAMPED], springs=[spring])
    with pytest.raises(FloatingError, match="without resistance") as error:
        solve(model)
    assert set(error.value.nodes) <= set(range(n, 2 * n))
    assert 2 * n - 1 in error.value.nodes


def test_springs_alone_make_a_model():
    points, push = np.zeros((2, 3)), np.zeros((2, 6))
    push[1, 0] = 1.0
    springs = [tied([0], [1], np.full(6, 10.0))]
    model = shell(points, [], np.zeros((0, 8, 8)), push, supports=[held(np.arange(6))], springs=springs)
    assert_allclose(solve(model).u[0, 1], [0.1, 0, 0, 0, 0, 0], atol=1e-15)


def test_stack_without_stiffness_is_refused():
    broken = C.copy()
    broken[3:6, 3:6] *= -1
    with pytest.raises(SolveError):
        solve(shell(POINTS, [block(CONN)], broken, loads(), supports=[CLAMPED]))


def test_bad_elements_are_refused():
    flat = POINTS.copy()
    flat[6] = flat[7]
    with pytest.raises(ElementError, match="no area") as error:
        solve(shell(flat, [block(CONN)], C, loads(), supports=[CLAMPED]))
    assert 6 in error.value.nodes
    with pytest.raises(ElementError, match="within 10°"):
        solve(shell(POINTS, [block(CONN, (0.1, 0, 1))], C, loads(), supports=[CLAMPED]))


def test_failed_check_is_an_error():
    refuse_failed((Check("residual", 1e-12, 1e-10),))
    for value in (1e-3, np.nan, np.inf):
        with pytest.raises(SolveError, match="residual check failed"):
            refuse_failed((Check("residual", value, 1e-10),))


def test_no_free_motion_is_solved_too():
    model = shell(POINTS, [block(CONN)], C, loads(), supports=[held(np.arange(6 * len(POINTS)))])
    solution = solve(model)
    assert_allclose(solution.u, 0)
    assert_allclose(solution.reactions[0].sum(0)[2], -1.0)


@pytest.fixture(params=["superlu", "cholmod"])
def library(request, monkeypatch):
    if request.param == "cholmod":
        pytest.importorskip("cvxopt")
    else:
        monkeypatch.setattr(factor, "cholmod", None)


@pytest.mark.usefixtures("library")
def test_factorisations_solve_and_refuse():
    A = sparse.random_array((60, 60), density=0.1, rng=np.random.default_rng(0))
    A = sparse.csc_array(A @ A.T + 0.1 * sparse.eye_array(60))
    b = np.random.default_rng(1).standard_normal((60, 3))
    solve_it = factorise(A)
    assert_allclose(A @ solve_it(b), b, atol=1e-12)
    assert_allclose(A @ solve_it(b[:, 0]), b[:, 0], atol=1e-12)
    with pytest.raises(NotDefiniteError):
        factorise(sparse.csc_array(A - 50.0 * sparse.eye_array(60)))
    with pytest.raises(NotDefiniteError):
        factorise(sparse.csc_array(sparse.diags_array(np.r_[np.ones(5), 0.0])))


@pytest.mark.usefixtures("library")
@pytest.mark.parametrize("columns", [1, 2, 5, 70])
def test_many_right_hand_sides_are_solved_together(columns):
    """A x = b, columns and single entries of zero among them: they are left out inside, not in the answer."""
    rng = np.random.default_rng(columns)
    A = np.diag(np.r_[rng.uniform(1, 2, 9), 3.0])
    A[:9, :9] += 0.1 * rng.random() * np.ones((9, 9))  # the last freedom hangs on nothing else
    b = rng.normal(size=(10, columns))
    b[-1, ::2] = 0.0
    b[:, columns // 2] *= columns < 5
    x = factorise(sparse.csc_array(A))(b)
    assert x.shape == b.shape
    assert_allclose(A @ x, b, atol=1e-12)


@pytest.mark.usefixtures("library")
def test_sheet_solves_with_either_library():
    u = solve(shell(POINTS, [block(CONN)], C, loads(), supports=[CLAMPED])).u
    # Corner load on a cantilever plate: between a beam of full width and twice that.
    beam = 1.0 / (3 * 70e9 * 0.002**3 / 12)
    assert beam < u[0, -1, 2] < 2 * beam
