"""Gauge pairs on meshes that are mirrored or not, and the bays read from them."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.case.shapes import Station
from tubfem.findings.gauges import Gauges, bays, place_gauges, rotation, softest


def trough(left_y=-0.5):
    """Floor with two side walls, 2 m long."""
    right = 0.5
    return tub_mesh(
        [
            panel("floor", [(0, left_y, 0), (2, left_y, 0), (2, right, 0), (0, right, 0)], (20, 8)),
            panel("wall.right", [(0, right, 0), (2, right, 0), (2, right, 0.3), (0, right, 0.3)], (20, 3)),
            panel("wall.left", [(0, left_y, 0.3), (2, left_y, 0.3), (2, left_y, 0), (0, left_y, 0)], (20, 3)),
        ],
        size=0.1,
    )


def stations(**at):
    return {name: Station.model_validate(value) for name, value in at.items()}


def test_pairs_of_a_mirrored_mesh_are_mirror_images():
    mesh = trough()
    gauges = place_gauges(mesh, stations(dash=733))
    left, right = mesh.points[gauges.pairs[:, 0]], mesh.points[gauges.pairs[:, 1]]
    assert_allclose(left * [1, -1, 1], right, atol=1e-12)
    assert_allclose(right[:, 1], 0.5)
    assert (np.diff(gauges.x) > 0).all()
    assert len(gauges.x) >= 12
    assert np.abs(gauges.x - 0.733).min() <= 0.05


def test_gauges_stay_on_the_outermost_line():
    # posts stand on the floor 40 mm inside of the walls, with nodes exactly where gauges are asked
    posts = [
        panel(
            f"post{k}{side:+d}",
            [(x, side * 0.46, 0), (x + 0.1, side * 0.46, 0), (x + 0.1, side * 0.46, 0.2), (x, side * 0.46, 0.2)],
            (2, 2),
        )
        for k, x in enumerate((0.6, 1.2))
        for side in (-1, 1)
    ]
    floor = [
        panel(f"floor{k}", [(0, a, 0), (2, a, 0), (2, b, 0), (0, b, 0)], (40, cells))
        for k, (a, b, cells) in enumerate(((-0.5, -0.46, 1), (-0.46, 0.46, 8), (0.46, 0.5, 1)))
    ]
    walls = [
        panel(
            f"wall{side:+d}",
            [(0, side * 0.5, 0), (2, side * 0.5, 0), (2, side * 0.5, 0.3), (0, side * 0.5, 0.3)],
            (40, 3),
        )
        for side in (-1, 1)
    ]
    mesh = tub_mesh([*floor, *posts, *walls], size=0.05)
    gauges = place_gauges(mesh, stations(post=625))
    assert_allclose(np.abs(mesh.points[gauges.pairs, 1]), 0.5)


def test_a_tub_off_the_middle_line_is_read_as_well():
    mesh = trough(left_y=0.1)
    gauges = place_gauges(mesh, {})
    assert_allclose(mesh.points[gauges.pairs[:, 0], 1], 0.1)
    assert_allclose(mesh.points[gauges.pairs[:, 1], 1], 0.5)


def test_a_mesh_without_joint_lines_lends_its_nodes():
    mesh = tub_mesh([panel("plate", [(0, -1, 0), (3, -1, 0), (3, 1, 0), (0, 1, 0)], (30, 10))], size=0.1)
    gauges = place_gauges(mesh, {})
    assert len(gauges.x) >= 12
    assert_allclose(np.abs(mesh.points[gauges.pairs, 1]), 1.0)


def test_a_narrow_part_has_no_gauge():
    mesh = tub_mesh(
        [
            panel("body", [(0, -0.5, 0), (1, -0.5, 0), (1, 0.5, 0), (0, 0.5, 0)], (10, 10)),
            panel("tongue", [(1, -0.1, 0), (2, -0.1, 0), (2, 0.1, 0), (1, 0.1, 0)], (10, 2)),
        ],
        size=0.1,
    )
    gauges = place_gauges(replace(mesh, joints=()), {})
    assert gauges.x.max() <= 1.0 + 1e-9


def test_rotation_of_a_rigid_roll_is_exact():
    mesh = trough()
    roll = 0.01
    motion = np.zeros((len(mesh.points), 6))
    motion[:, 1], motion[:, 2] = -roll * mesh.points[:, 2], roll * mesh.points[:, 1]
    motion[:, 2] += 0.02 * mesh.points[:, 0] + 0.1  # heave and pitch do not count
    gauges = place_gauges(mesh, {})
    assert_allclose(rotation(mesh.points, motion, gauges.pairs), roll, rtol=1e-12)


@pytest.fixture
def even():
    x = np.linspace(0, 2, 11)
    return Gauges(np.zeros((11, 2), dtype=np.int64), x, np.zeros(11))


def test_the_softest_bay_is_the_steepest_not_the_one_with_most_twist(even):
    curve = np.interp(even.x, [0, 1.2, 1.4, 2.0], [0, 0.6, 1.0, 1.2])
    found = bays(even, curve, stations(dash=600, seat_back=1200, rear=1400), 0.05)
    assert [bay.start for bay in found] == ["the front end", "dash", "seat_back", "rear"]
    worst = softest(found)
    assert (worst.start, worst.end) == ("seat_back", "rear")
    assert_allclose(worst.twist_deg_per_m, 2.0, rtol=1e-9)
    assert_allclose(sum(bay.twist_deg for bay in found), 1.2, rtol=1e-12)


def test_marks_nearer_than_two_elements_are_one(even):
    found = bays(even, even.x, stations(dash=1000, dash_seam=1030), 0.05)
    assert [bay.end for bay in found] == ["x = 0.50 m", "dash", "x = 1.50 m", "the rear end"]


def test_without_stations_the_tub_is_cut_in_even_parts(even):
    found = bays(even, even.x, {}, 0.05)
    assert_allclose([bay.x[1] - bay.x[0] for bay in found], 0.5)


def test_leaning_stations_are_met_at_the_gauges_height(even):
    raised = Gauges(even.pairs, even.x, np.full(11, 0.2))
    found = bays(raised, even.x, stations(toe=[[900, 0], [1100, 400]]), 0.05)  # x = 1.0 at z = 0.2
    assert any(abs(bay.x[1] - 1.0) < 1e-9 for bay in found)


def test_backward_twist_counts_by_its_size(even):
    curve = np.interp(even.x, [0, 1.0, 2.0], [0, 0.1, -0.4])
    assert softest(bays(even, curve, stations(dash=1000), 0.05)).x[0] >= 1.0
