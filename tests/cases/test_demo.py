"""The demo as shipped: its size, its balance, and two facts of the trade.

The facts are common practice, no source: a tunnel without its closing panel loses far more stiffness than mass, and the
closed tunnel and sills of an open tub carry most of its torsion.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tub_runs import run_of, stiffness

from tubfem.geometry.mesh import areas, centroids
from tubfem.run import change_case, model_case

COARSE = 0.05  # m: comparisons on one mesh do not need a finer one
REAR_OF_DASH, AHEAD_OF_SEAT_BACK = 0.75, 1.40  # m: the open bay, where only tunnel, sills and floor are


@pytest.fixture(scope="module")
def shipped():
    """Model, solution and findings of the torsion case at the case's own mesh size."""
    model, (solution,), findings = run_of("two_seat_roadster")
    return model, solution, findings


@pytest.fixture(scope="module")
def coarse():
    return run_of("two_seat_roadster", COARSE)


def test_size(shipped):
    _, _, findings = shipped
    assert len(findings.regions) >= 14
    assert findings.mesh.freedoms >= 40_000


def test_reactions_vanish_and_energy_balances(shipped):
    """A couple that balances itself leaves determinate supports without load; work and energy agree to 1e-9."""
    model, solution, findings = shipped
    state = model.states[0]
    column = state.load_cases[0].column
    applied = np.abs(state.shell.loads[:, column].reshape(-1, 6)[:, :3]).max()
    assert np.abs(solution.reactions[column]).max() < 1e-6 * applied  # moments [N m] held to the same number
    u, load = solution.u[column].ravel(), state.shell.loads[:, column]
    energy = findings.load_cases["torsion"].energy.total
    assert_allclose(energy, 0.5 * u @ load, rtol=1e-9)
    checks = {check.name: check.value for check in findings.load_cases["torsion"].checks}
    assert checks["energy_balance"] < 1e-9
    assert checks["residual"] < 1e-10
    assert checks["reaction_sum"] < 1e-6


def test_twist_and_work_say_the_same_stiffness(shipped):
    """Two ways to one number: half torque times twist is the strain energy."""
    found = shipped[2].load_cases["torsion"]
    torsion = found.torsion
    assert_allclose(0.5 * torsion.torque * np.radians(torsion.twist_deg), found.energy.total, rtol=1e-9)
    assert_allclose(torsion.pickup_to_pickup, torsion.torque / torsion.twist_deg, rtol=1e-12)
    assert torsion.between_stations > torsion.pickup_to_pickup  # mounts and subframes are springs in series


def test_energy_is_all_accounted_for(shipped):
    energy = shipped[2].load_cases["torsion"].energy
    parts = (
        energy.mounts + energy.drilling + sum(sum(of.values()) for of in (energy.regions, energy.joints, energy.foams))
    )
    assert_allclose(parts, 1.0, rtol=1e-9)
    assert energy.drilling < 0.005  # a stabilisation, not a stiffness


def test_without_the_closing_panel_stiffness_falls_by_far_more_than_mass(coarse):
    """Common practice, no source. The panel is some 3 % of the mass."""
    model, _, findings = coarse
    opened = model_case(change_case(model.case, without=["closing_panel"]), base=model.case)
    lost = 1 - stiffness(opened) / findings.load_cases["torsion"].torsion.pickup_to_pickup
    share = findings.mass.regions["closing_panel"] / findings.mass.total
    print(f"closing panel: {100 * lost:.1f} % of the stiffness, {100 * share:.1f} % of the mass")
    assert lost > 3 * share


def test_tunnel_and_sills_carry_the_open_bay(shipped):
    """Common practice, no source: where the tub is open, the strain energy of the twist is in its closed cells.

    Between dash and seat-back are tunnel, closing panel, sills and floor, the floor with nearly half the area.
    """
    model, _, findings = shipped
    mesh, energy = model.mesh, findings.load_cases["torsion"].fields.energy * areas(model.mesh)
    x = np.concatenate([centroids(mesh.points, block.conn)[:, 0] for block in mesh.blocks])
    bay = (x > REAR_OF_DASH) & (x < AHEAD_OF_SEAT_BACK)
    closed = ("tunnel", "closing_panel", "sill_inner", "sill_outer")
    cells = np.isin(findings.element_region, [findings.regions.index(name) for name in closed])
    share = energy[bay & cells].sum() / energy[bay].sum()
    print(f"tunnel and sills: {100 * share:.1f} % of the strain energy in the open bay")
    assert share > 0.5


def test_opened_tunnel_and_sills_leave_less_than_half(coarse):
    """Common practice, no source: without the cells the rest of the tub carries little of the torsion."""
    model, _, findings = coarse
    opened = model_case(change_case(model.case, without=["closing_panel", "sill.outer"]), base=model.case)
    left = stiffness(opened) / findings.load_cases["torsion"].torsion.pickup_to_pickup
    print(f"with tunnel and sills open: {100 * left:.1f} % of the stiffness left")
    assert left < 0.5
