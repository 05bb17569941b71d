"""Closed forms computed independently; wrinkling 0.5 of NASA CR-1457, 0.91 of Hoff and Mautner (from memory)."""

from dataclasses import replace

import numpy as np
import pytest
from laminates import core, ud
from numpy.testing import assert_allclose

from tubfem.laminate.shear import shear_stiffness
from tubfem.laminate.stability import (
    WRINKLING_CODE,
    core_shear_margins,
    crimping_load,
    crimping_margin,
    dimpling_stress,
    faces,
    principal_compression,
    principal_strain,
    wrinkling_margins,
    wrinkling_stress,
)
from tubfem.laminate.stack import abd, make_stack
from tubfem.materials.ply import isotropic

FACE = isotropic(60e9, 0.05, 1.0, 1e-3)
FOAM = core(40e6, 24e6, E=1.0, thickness=20e-3, Ec=130e6, shear=1e6)
SANDWICH = make_stack([(0.0, FACE), (0.0, FOAM), (0.0, FACE)])


@pytest.mark.parametrize(
    ("Ef", "Ec", "Gc", "coefficient", "stress"),
    [
        (60e9, 130e6, 40e6, 0.5, 339.1),
        (60e9, 130e6, 40e6, 0.91, 617.2),
        (50e9, 70e6, 22e6, 0.5, 212.7),
        (70e9, 1000e6, 440e6, 0.5, 1567),
        (14e9, 75e6, 31e6, 0.5, 160),
        (14e9, 75e6, 31e6, WRINKLING_CODE, 96),
        (14e9, 51e6, 22e6, 0.5, 125),
        (14e9, 51e6, 22e6, WRINKLING_CODE, 75),
    ],
)
def test_wrinkling(Ef, Ec, Gc, coefficient, stress):
    assert wrinkling_stress(Ef, Ec, Gc, coefficient) / 1e6 == pytest.approx(stress, abs=0.51 if stress < 200 else 0.5)


def test_crimping():
    assert crimping_load(24e6, 20.5e-3, 20e-3) / 1e3 == pytest.approx(504.3, abs=0.06)


@pytest.mark.parametrize(
    ("E", "nu", "cell", "stress"),
    [(60e9, 0.05, 6.35, 745.9), (60e9, 0.05, 4.76, 1327), (60e9, 0.05, 3.18, 2974), (70e9, 0.33, 6.35, 974)],
)
def test_dimpling(E, nu, cell, stress):
    assert dimpling_stress(E, nu, 0.5e-3, cell * 1e-3) / 1e6 == pytest.approx(stress, rel=4e-4)


def test_faces_of_sandwiches():
    skin, foam = (0.0, FACE), (0.0, FOAM)
    assert faces(make_stack([skin, skin])) == ()
    tool, far = faces(make_stack([skin, skin, foam, skin]))
    assert (tool.first, tool.last, tool.core, tool.side) == (0, 2, 2, "tool")
    assert (far.first, far.last, far.core, far.side) == (3, 4, 2, "far")
    assert [f.side for f in faces(make_stack([skin, foam, skin, foam, skin]))] == ["tool", "far", "tool", "far"]
    assert [f.side for f in faces(make_stack([skin, foam]))] == ["tool"]


def test_wrinkling_of_a_compressed_skin():
    """Uniaxial stress in an isotropic skin: the plain formula, in the direction of the core's G13 or G23."""
    sigma = 100e6
    for axis, G in ((0, 40e6), (1, 24e6)):
        strain = np.zeros(8)
        strain[axis], strain[1 - axis] = -sigma / 60e9, 0.05 * sigma / 60e9
        expected = wrinkling_stress(60e9, 130e6, G) / sigma - 1
        assert_allclose(wrinkling_margins(SANDWICH, strain), expected, rtol=1e-9)
    bent = np.array([0, 0, 0, 0.1, 0, 0, 0, 0])  # kappa > 0 pulls the far skin
    tool, far = wrinkling_margins(SANDWICH, bent)
    assert np.isfinite(tool)
    assert np.isinf(far)
    assert wrinkling_margins(make_stack([(0.0, FACE)]), np.zeros((4, 8))).shape == (4, 0)


def test_wrinkling_in_shear_looks_along_the_compression():
    """Pure shear on a ply laid at 45: the compression runs along it or across it, by the sign."""
    ply = ud(100e9, 5e9, 3e9, 0.3, thickness=1e-3)
    foam = replace(FOAM, G23=FOAM.G13)
    some = make_stack([(np.pi / 4, ply), (0.0, foam), (np.pi / 4, ply)])
    A = abd(some)[0]
    for sign, E in ((1, 5e9), (-1, 100e9)):  # txy > 0 compresses at -45
        strain = np.concatenate([np.linalg.solve(A, [0, 0, sign * 2e4]), np.zeros(5)])
        expected = wrinkling_stress(E, 130e6, 40e6) / 1e7 - 1
        # the core bears 2e-8 of the load
        assert_allclose(wrinkling_margins(some, strain), expected, rtol=1e-6)


def test_wrinkling_takes_the_turned_cores_shear():
    """Isotropic skins in shear on an orthotropic core laid at +45: compression at -45 meets G23, at +45 G13."""
    some = make_stack([(0.0, FACE), (np.pi / 4, FOAM), (0.0, FACE)])
    A = abd(some)[0]
    for sign, G in ((1, 24e6), (-1, 40e6)):
        strain = np.concatenate([np.linalg.solve(A, [0, 0, sign * 2e4]), np.zeros(5)])
        # the core bears 3e-10 of the load
        assert_allclose(wrinkling_margins(some, strain), wrinkling_stress(60e9, 130e6, G) / 1e7 - 1, rtol=1e-6)


def test_crimping_margin_is_shear_stiffness_over_load():
    A = abd(SANDWICH)[0]
    load = np.array([[-100e3, 0, 0], [0, -100e3, 0], [50e3, 0, 0]])
    strain = np.concatenate([np.linalg.solve(A, load.T).T, np.zeros((3, 5))], axis=-1)
    margin = crimping_margin(SANDWICH, strain)
    S = shear_stiffness(SANDWICH)
    assert_allclose(margin[:2], np.diag(S) / 100e3 - 1, rtol=1e-9)
    assert np.isinf(margin[2])
    assert S[1, 1] == pytest.approx(crimping_load(24e6, 21e-3, 20e-3), rel=3e-3)  # thin-skin form


def test_core_shear_margin():
    """V over the distance of the skins' middles, to the share that thick skins carry."""
    force = 5e3
    gamma = np.linalg.solve(shear_stiffness(SANDWICH), [0, force])
    margin = core_shear_margins(SANDWICH, np.concatenate([np.zeros(6), gamma]), 0.8)
    assert margin[1] == pytest.approx(0.8e6 / (force / 21e-3) - 1, rel=3e-3)
    assert np.isinf(margin[[0, 2]]).all()


def test_principal_values():
    stress = np.random.default_rng(0).normal(size=(20, 3))
    angle, least = principal_compression(stress)
    tensors = np.stack([stress[:, [0, 2]], stress[:, [2, 1]]], axis=1)
    assert_allclose(least, np.linalg.eigvalsh(tensors)[:, 0], rtol=1e-10)
    n = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    assert_allclose(np.einsum("ei,eij,ej->e", n, tensors, n), least, rtol=1e-9, atol=1e-12)
    great, small = principal_strain(np.array([1e-3, -1e-3, 2e-3]))
    assert (great, small) == (pytest.approx(2**0.5 * 1e-3), pytest.approx(-(2**0.5) * 1e-3))
