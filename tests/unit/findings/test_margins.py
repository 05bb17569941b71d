"""Core shear averaged over its length, on a plate whose shear force is known from statics."""

from dataclasses import replace

import numpy as np
import pytest
from box_tub import box_tub
from meshes import block, freedoms, held, shell
from numpy.testing import assert_allclose
from tub_builders import panel, tub_mesh

from tubfem.case.loads import Margins
from tubfem.findings.allowables import allowables
from tubfem.findings.margins import Loaded, element_use, margin_rules, worst_of_region
from tubfem.findings.sandwich import SHEAR
from tubfem.findings.strains import describe_elements, gather_strains
from tubfem.laminate.shear import stiffness8
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import CorePly, isotropic
from tubfem.shell.recover import generalised_strains
from tubfem.shell.solve import solve
from tubfem.tub.model import LayupField

SPAN, WIDTH, CELL = 0.2, 0.06, 0.0025  # [m]
LINES = 0.095, 0.105  # [m] where the plate is pressed down and pulled up
P = 10e3  # [N/m]
SKIN, CORE = 0.5e-3, 0.01  # [m]
LENGTH = 2 * (CORE + 2 * SKIN)  # that margins are averaged over: twice the thickness
BETWEEN = 1 - (LINES[1] - LINES[0]) / SPAN  # of P: shear force between the lines, by moments about an end
BESIDE = 1 - BETWEEN


def strip(solid_from=SPAN):
    """A sandwich on two supports, P down along one line and up along another; solid from a line on; no contraction."""
    corners = [(0, 0, 0), (SPAN, 0, 0), (SPAN, WIDTH, 0), (0, WIDTH, 0)]
    mesh = tub_mesh([panel("plate", corners, (round(SPAN / CELL), round(WIDTH / CELL)))], size=CELL)
    skin = isotropic(60e9, 0.0, 1800.0, SKIN)
    foam = CorePly("foam", 1e3, 1e3, 500.0, 0.0, 40e6, 40e6, CORE, 80.0, 130e6, shear_strength=1e6)
    stack = make_stack([(0.0, skin), (0.0, foam), (0.0, skin)])
    solid = make_stack([(0.0, isotropic(2e9, 0.0, 1800.0, CORE + 2 * SKIN))])
    is_solid = (mesh.points[mesh.blocks[0].conn, 0].mean(axis=1) > solid_from).astype(np.int64)
    x, y = mesh.points[:, 0], mesh.points[:, 1]
    share = np.where((y < CELL / 2) | (y > WIDTH - CELL / 2), 0.5, 1.0) * CELL
    loads = np.zeros((len(x), 6))
    for place, force in zip(LINES, (-P, P), strict=True):
        loads[:, 2] += np.where(np.abs(x - place) < 1e-9, force * share, 0.0)
    ends = (x < 1e-9) | (x > SPAN - 1e-9)
    sets = [freedoms(ends, (2,)), freedoms(np.ones(len(x), dtype=bool), (0, 1, 3, 5))]
    blocks = [replace(block(mesh.blocks[0].conn), stack=is_solid)]
    stiffness = [stiffness8(stack), stiffness8(solid)]
    model = shell(mesh.points, blocks, stiffness, loads, supports=[held(*sets)], mass=np.zeros((2, 3)))
    found = generalised_strains(model, solve(model).u)
    tub = box_tub(stack)
    layup = LayupField((stack, solid), ((0,), (1,)), ((1.0,), (1.0,)), is_solid, (("skin", "foam", "skin"), ("solid",)))
    tub = replace(tub, mesh=mesh, layup=layup)
    elements = describe_elements(tub)
    strains = gather_strains(elements, tuple(f.strain[0] for f in found), tuple(f.area for f in found))
    return Loaded(tub, elements, margin_rules(tub.layup, allowables(Margins())), strains, both_hands=True)


@pytest.fixture(scope="module")
def plate():
    return strip()


def core_shear(force):
    """Shear stress [Pa] in the core under a shear force [N/m], by equilibrium of one skin; the core does not bend."""
    apart = CORE + SKIN
    return force * apart / (apart**2 + SKIN**2 / 3)


def test_core_shear_is_averaged_once(plate):
    """Every element has the mean of the force's size over its length, however often the force turns within it.

    Both lines of load lie on nodes, where the elements have the force of statics itself: 1e-6 is the solver's rounding.
    """
    centre = plate.elements.centre[:, :2]
    force = P * np.where((centre[:, 0] > LINES[0]) & (centre[:, 0] < LINES[1]), BETWEEN, BESIDE)
    near = np.linalg.norm(centre[:, None] - centre, axis=-1) <= LENGTH
    mean = near @ force / near.sum(axis=1)  # every element is as large as its neighbour
    use = element_use(plate)[SHEAR]
    assert_allclose(use, core_shear(mean) / (0.8 * 1e6 / 2), rtol=1e-6)
    worst = worst_of_region(plate, SHEAR, use, 0)
    assert_allclose(worst.demand, core_shear(mean.max()), rtol=1e-6)
    assert_allclose(1 / (1 + worst.margin_peak), core_shear(P * BETWEEN) / (0.8 * 1e6 / 2), rtol=1e-6)


def test_core_shear_s_mean_is_that_of_the_circle(plate):
    """In the middle of the plate: the strip between the lines is a part of the circle that plane geometry gives."""
    half = (LINES[1] - LINES[0]) / 2
    share = 2 * (half * np.sqrt(LENGTH**2 - half**2) + LENGTH**2 * np.arcsin(half / LENGTH)) / (np.pi * LENGTH**2)
    force = P * (BETWEEN * share + BESIDE * (1 - share))
    middle = np.linalg.norm(plate.elements.centre[:, :2] - [SPAN / 2, WIDTH / 2], axis=1).argmin()
    use = element_use(plate)[SHEAR][middle]
    assert_allclose(use, core_shear(force) / (0.8 * 1e6 / 2), rtol=0.02)  # elements of a ninth of the circle's radius


def test_beside_an_insert_the_core_alone_bears_its_shear():
    """The strip is solid beyond the second line: the mean goes over what is left of the core, and nothing of it beyond.

    Statics gives the force whatever is laid, so every element with a core has the mean of its neighbours with one.
    """
    plate = strip(solid_from=LINES[1])
    centre = plate.elements.centre[:, :2]
    cored = centre[:, 0] < LINES[1]
    force = P * np.where((centre[:, 0] > LINES[0]) & cored, BETWEEN, BESIDE)
    near = (np.linalg.norm(centre[:, None] - centre, axis=-1) <= LENGTH) & cored
    mean = near @ force / np.maximum(near.sum(axis=1), 1)
    use = element_use(plate)[SHEAR]
    assert_allclose(use, np.where(cored, core_shear(mean), 0.0) / (0.8 * 1e6 / 2), rtol=1e-6, atol=1e-12)
    assert worst_of_region(plate, SHEAR, use, 0).ply == "foam"
