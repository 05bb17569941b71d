import numpy as np
import report_builders
import tub_builders
from numpy.testing import assert_allclose

from tubfem.report.views import (
    ABOVE,
    BELOW,
    arrange,
    carriers,
    corners,
    feature_edges,
    look_from,
    plain_edges,
    project,
    round_scale,
    tied_edges,
    view_from,
)

NO_EDGES = np.empty((0, 2), dtype=np.int64)


def test_views_are_right_handed_and_see_what_they_say():
    for view in (ABOVE, BELOW):
        frame = np.stack([view.right, view.up, view.towards])
        assert_allclose(frame @ frame.T, np.eye(3), atol=1e-15)
        assert np.linalg.det(frame) > 0
    assert ABOVE.towards[2] > 0 > BELOW.towards[2]
    _, near = project(np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0]]), ABOVE)
    assert near[1] > near[0]


def two_plates(cells=4):
    """A small plate of cells x cells elements above a large one of as large ones."""
    large = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
    small = [(0.25, 0.25, 0.5), (0.75, 0.25, 0.5), (0.75, 0.75, 0.5), (0.25, 0.75, 0.5)]
    panels = [
        tub_builders.panel("small", small, (cells, cells)),
        tub_builders.panel("large", large, (2 * cells, 2 * cells)),
    ]
    return tub_builders.tub_mesh(panels, size=0.5 / cells)


def test_far_elements_are_painted_first():
    mesh = two_plates()
    view = view_from((0.0, -1e-3, 1.0))
    drawing = arrange(mesh.points, corners(mesh), NO_EDGES, np.empty(0), view)
    assert set(drawing.source[:64]) == set(range(16, 80))


def test_a_line_comes_after_its_own_elements_and_before_what_hides_it():
    mesh = two_plates()
    view = view_from((0.0, -1e-3, 1.0))
    quads = corners(mesh)
    hidden = quads[16 + 27][None, :2]  # an edge of the large plate, under the small one
    order = arrange(mesh.points, quads, hidden, np.array([0.01]), view).source.tolist()
    assert order.index(16 + 27) < order.index(80) < min(order.index(e) for e in range(16))


def test_strokes_have_their_width_and_go_a_little_further():
    mesh = two_plates()
    view = view_from((0.0, -1e-3, 1.0))
    edge = corners(mesh)[0][None, :2]
    drawing = arrange(mesh.points, corners(mesh), edge, np.array([0.01]), view)
    stroke = drawing.polygons[drawing.source == 80][0]
    sides = np.linalg.norm(np.roll(stroke, -1, axis=0) - stroke, axis=1)
    assert_allclose(np.sort(sides), [0.01, 0.01, 0.135, 0.135], rtol=1e-5)


def test_what_is_hidden_is_known_and_the_visible_middle_is_in_sight():
    mesh = two_plates()
    seen = look_from(mesh, view_from((0.0, -1e-3, 1.0)))
    under, beside, above = [0.5, 0.5, 0.0], [0.1, 0.1, 0.0], [0.5, 0.5, 0.5]
    assert seen.hides(np.array([under, beside, above]), tolerance=0.1).tolist() == [True, False, False]
    middles = seen.middles(mesh.element_panel, 2, least=2)
    assert_allclose(middles[0], [0.5, 0.5], atol=0.03)
    assert not (0.25 < middles[1][0] < 0.75 and 0.25 < middles[1][1] < 0.75)


def test_covered_elements_need_no_paint():
    mesh = two_plates(8)
    seen = look_from(mesh, view_from((0.0, -1e-3, 1.0)))
    centre = mesh.points[corners(mesh)].mean(axis=1)
    covered = (np.abs(centre[:, :2] - 0.5) < 0.1).all(axis=1) & (centre[:, 2] < 0.1)
    assert covered.any()
    assert not seen.bare[covered].any()
    assert seen.bare[centre[:, 2] > 0.1].all()
    assert seen.bare[(np.abs(centre[:, :2] - 0.5) > 0.4).any(axis=1)].all()


def test_nothing_off_the_paper_is_hidden():
    seen = look_from(two_plates(), ABOVE)
    assert not seen.hides(np.array([[9.0, 9.0, -9.0], [-9.0, -9.0, 0.0]]), tolerance=0.1).any()


def test_tied_and_plain_edges_share_out_the_features():
    model, _ = report_builders.small_report(3)
    tied, plain = tied_edges(model), plain_edges(model)
    together = {tuple(sorted(edge)) for edge in np.concatenate([tied, plain]).tolist()}
    assert together == {tuple(sorted(edge)) for edge in feature_edges(model.mesh).tolist()}
    assert not {tuple(sorted(e)) for e in tied.tolist()} & {tuple(sorted(e)) for e in plain.tolist()}
    assert len(tied)
    assert len(plain)


def test_carriers_are_empty_for_a_case_without_pickup_tables():
    model, _ = report_builders.small_report(3)
    assert carriers(model) == []


def test_scales_are_round():
    assert [round_scale(f) for f in (1.0, 1.99, 2.0, 4.9, 77.0, 0.013)] == [1.0, 1.0, 2.0, 2.0, 50.0, 0.01]
