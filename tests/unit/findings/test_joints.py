"""Shear flow read beside continuous lines, from membrane forces that are given."""

from dataclasses import replace

import numpy as np
import pytest
from box_tub import box_tub
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.findings.joint_names import joint_places, pair_names
from tubfem.findings.joints import joint_loads
from tubfem.findings.strains import describe_elements
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import isotropic

SIDE = 0.5


@pytest.fixture(scope="module")
def tee():
    """A floor that goes on under a wall: the line runs along x at y = 0; zero of the wall is up."""
    mesh = tub_mesh(
        [
            panel("floor", [(0, -SIDE, 0), (1, -SIDE, 0), (1, SIDE, 0), (0, SIDE, 0)], (10, 10)),
            panel("wall", [(0, 0, 0), (1, 0, 0), (1, 0, SIDE), (0, 0, SIDE)], (10, 5), zero=(0, 0, 1)),
        ]
    )
    model = box_tub(make_stack([(0.0, isotropic(70e9, 0.3, 2700.0, 1e-3))]))
    layup = replace(model.layup, mixture=np.zeros(mesh.element_count, dtype=np.int64))
    model = replace(model, mesh=mesh, layup=layup, joint_kinds={"floor/wall": "continuous"})
    return model, describe_elements(model)


def flow(tee, left, right, wall):
    """Shear flow of the line for shear forces Nxy (vehicle x and the panel's other direction) of the three fields."""
    model, elements = tee
    membrane = np.zeros((model.mesh.element_count, 3))
    is_wall = elements.panel == 1
    membrane[~is_wall, 2] = np.where(elements.centre[~is_wall, 1] < 0, left, right)
    # the wall's frame is (up, aft): turned by a right angle about its normal, Nxy only changes its sign
    membrane[is_wall, 2] = -wall
    return joint_loads(model, elements, np.zeros(0), np.zeros(0), 1.0, membrane)["floor/wall"]


def test_flow_that_leaves_the_floor_goes_into_the_wall(tee):
    found = flow(tee, 3000.0, 1000.0, 2000.0)
    assert_allclose(np.abs(found.shear_flow), 2000.0, rtol=1e-12)
    assert_allclose(found.peak_shear_flow, 2000.0, rtol=1e-12)
    assert_allclose(found.length, 1.0, rtol=1e-12)
    assert (found.kind, found.peel, found.twist_share, found.margin) == ("continuous", None, None, None)


def test_flow_that_goes_on_under_the_wall_does_not_count(tee):
    assert_allclose(flow(tee, 3000.0, 3000.0, 0.0).shear_flow, 0.0, atol=1e-9)


def test_only_the_lesser_of_both_can_pass(tee):
    assert_allclose(np.abs(flow(tee, 3000.0, 1000.0, 500.0).shear_flow), 500.0, rtol=1e-12)


def test_pull_across_is_no_shear(tee):
    model, elements = tee
    membrane = np.zeros((model.mesh.element_count, 3))
    membrane[:, :2] = 1000.0
    found = joint_loads(model, elements, np.zeros(0), np.zeros(0), 1.0, membrane)["floor/wall"]
    assert_allclose(found.shear_flow, 0.0, atol=1e-9)


def test_lines_inside_a_region_are_no_joints(tee):
    model, elements = tee
    panels = tuple(replace(part, region="one") for part in model.mesh.panels)
    inside = replace(model, mesh=replace(model.mesh, panels=panels))
    assert joint_loads(inside, elements, np.zeros(0), np.zeros(0), 1.0, np.zeros((len(elements.area), 3))) == {}
    places = joint_places(inside.mesh, pair_names(inside.joint_kinds))
    assert places.nearest(np.zeros(3)) == (None, None)
