"""A ply added anywhere never costs stiffness.

A, B and D about the frozen surface grow with every ply. The shear stiffness of a sandwich, from equilibrium, need not:
a tub may fall by a hair, never by more than 1e-4 of itself.
"""

import pytest
from numpy.testing import assert_array_equal
from tub_runs import changed_stiffness, run_of, stiffness

from tubfem.case.changes import add_plies
from tubfem.run import change_case, model_case

HAIR = 1e-4
STARTER, DEMO = 0.08, 0.05  # m
REGIONS = ("floor", "tunnel", "sill", "front_bulkhead", "rear_bulkhead")
CORED = ("floor", "front_bulkhead", "rear_bulkhead")
CHANGES = [
    *(f"{region}={ply}" for region in REGIONS for ply in ("plain200", "biax600")),
    *(f"{region}=biax600:tool" for region in REGIONS),
    *(f"{region}=biax600:core" for region in CORED),
    "joint:tab60=biax600",
]
SAMPLE = (  # of the demo: a lap's layup, a sandwich, a mount's patch, carbon, an angle
    "tunnel=biax600*2",
    "dash=plain200:tool",
    "patch:front_low=biax600",
    "sill_inner=twill200c@45",
    "floor=uni300@90:core",
)


@pytest.fixture(scope="module")
def starter():
    model = run_of("starter", STARTER)[0]
    return model, stiffness(model)


@pytest.fixture(scope="module")
def demo():
    model, _, findings = run_of("two_seat_roadster", DEMO)
    return model, findings.load_cases["torsion"].torsion.pickup_to_pickup


@pytest.mark.parametrize("change", CHANGES)
def test_starter(starter, change):
    model, before = starter
    after = changed_stiffness(model, add_plies(model.case, change))
    print(f"{change}: {100 * (after / before - 1):+.3f} %")
    assert after > before * (1 - HAIR)


@pytest.mark.parametrize("change", SAMPLE)
def test_demo(demo, change):
    model, before = demo
    after = changed_stiffness(model, add_plies(model.case, change))
    print(f"{change}: {100 * (after / before - 1):+.3f} %")
    assert after > before * (1 - HAIR)


def test_added_plies_leave_the_mesh_alone(starter):
    """What the others stand on: with the unchanged case as base the changed one has the very same mesh."""
    model, _ = starter
    changed = model_case(change_case(model.case, add=["floor=biax600*3", "sill=biax600:tool"]), base=model.case)
    assert_array_equal(changed.mesh.points, model.mesh.points)
    assert_array_equal(changed.mesh.blocks[0].conn, model.mesh.blocks[0].conn)
