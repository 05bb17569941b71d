"""Distinct places of high strain, ranked, with their twin, joint and mount."""

from dataclasses import replace

import numpy as np
import pytest
from box_tub import box_tub
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.findings.hot_spots import hot_spots
from tubfem.findings.joint_names import joint_places, pair_names
from tubfem.findings.strains import describe_elements
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import isotropic


@pytest.fixture(scope="module")
def tub():
    """Two plates that meet on y = 0, 1 m x 1 m each, elements of 20 mm."""
    mesh = tub_mesh(
        [
            panel("left", [(0, -1, 0), (1, -1, 0), (1, 0, 0), (0, 0, 0)], (50, 50), region="a"),
            panel("right", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], (50, 50), region="b"),
        ],
        size=0.02,
        mounts=[("bolt", "right", (0.5, 0.81, 0), 0.02, 0.05)],
    )
    model = box_tub(make_stack([(0.0, isotropic(70e9, 0.3, 2700.0, 1e-3))]))
    layup = replace(model.layup, mixture=np.zeros(mesh.element_count, dtype=np.int64))
    return mesh, describe_elements(replace(model, mesh=mesh, layup=layup))


def spots(tub, *peaks, mirrored=False):
    mesh, elements = tub
    strain = np.full(mesh.element_count, 1e-5)
    for x, y, value in peaks:
        away = np.linalg.norm(elements.centre - [x, y, 0], axis=1)
        strain = np.maximum(strain, value * np.exp(-((away / 0.03) ** 2)))
    places = joint_places(mesh, pair_names({"left/right": "tabbed"}))
    return hot_spots(mesh, elements, places, strain, 1.5 * strain, 1 / strain, mirrored=mirrored)


def test_places_come_highest_first_and_only_once(tub):
    found = spots(tub, (0.21, 0.31, 2e-3), (0.81, 0.71, 3e-3))
    assert_allclose(found[0].position[:2], [0.81, 0.71], atol=1e-9)
    assert_allclose(found[1].position[:2], [0.21, 0.31], atol=1e-9)
    assert_allclose([found[0].strain_averaged, found[1].strain_averaged], [3e-3, 2e-3], rtol=1e-9)
    assert found[2].strain_averaged < 1e-3
    places = np.array([spot.position for spot in found])
    apart = np.linalg.norm(places[:, None] - places[None], axis=-1) + np.eye(len(places))
    assert apart.min() >= 0.08


def test_peak_stands_beside(tub):
    found = spots(tub, (0.2, 0.3, 2e-3))
    assert_allclose(found[0].strain_peak, 1.5 * found[0].strain_averaged, rtol=1e-12)


def test_joint_and_mount_are_named(tub):
    near, bolt = spots(tub, (0.2, 0.11, 3e-3), (0.51, 0.81, 2e-3))[:2]
    assert near.joint == "left/right"
    assert_allclose(near.joint_distance, 0.11, atol=0.012)
    assert (near.mount, bolt.mount, near.region, near.panel) == (None, "bolt", "b", "right")


def test_twins_of_a_mirrored_tub_are_one_place(tub):
    twins = ((0.3, 0.5, 3e-3), (0.3, -0.5, 2.9e-3), (0.7, 0.5, 2e-3))
    both, alone = spots(tub, *twins, mirrored=True)[:2]
    assert (both.both_sides, alone.both_sides) == (True, False)
    assert_allclose(alone.position[0], 0.7, atol=0.02)
    assert not any(spot.both_sides for spot in spots(tub, *twins))
    assert_allclose(spots(tub, *twins)[1].position[:2], [0.3, -0.5], atol=0.02)
