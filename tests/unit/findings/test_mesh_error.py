"""The estimate of the mesh's part: nothing where the mesh lacks nothing, and held against known errors."""

from dataclasses import replace

import numpy as np
import pytest
from case_texts import read_tables, tables_of
from numpy.testing import assert_allclose
from report_builders import small_report

from tubfem.findings.mesh_error import FOUND, LIMIT, SAFETY, gradients, mesh_doubts
from tubfem.findings.results import MeshBand
from tubfem.run import run_case

HOLED = 83_990.0  # N m/rad, its top holed: independently computed, p-version shells of two orders (0.16 %)


def test_linear_fields_have_their_gradient_on_any_mesh():
    rng = np.random.default_rng(3)
    centre = np.concatenate([rng.uniform(-1, 1, (30, 2)), np.zeros((30, 1))], axis=1)
    e1, e2 = np.tile([0.6, 0.8, 0.0], (30, 1)), np.tile([-0.8, 0.6, 0.0], (30, 1))
    row, column = (grid.ravel() for grid in np.meshgrid(np.arange(30), np.arange(30)))
    pairs = row[row != column], column[row != column]
    slope = rng.normal(size=(2, 8))
    values = np.stack([(centre * e1).sum(1), (centre * e2).sum(1)], -1) @ slope + rng.normal(size=8)
    assert_allclose(gradients(pairs, centre, e1, e2, values), np.broadcast_to(slope, (30, 2, 8)), atol=1e-10)


def test_an_element_in_a_row_has_a_gradient_along_the_row_only():
    centre = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])
    e1, e2 = np.tile([1.0, 0, 0], (3, 1)), np.tile([0.0, 1, 0], (3, 1))
    pairs = np.array([0, 1, 1, 2]), np.array([1, 0, 2, 1])
    found = gradients(pairs, centre, e1, e2, np.array([[0.0], [3.0], [6.0]]))
    assert_allclose(found[:, :, 0], [[3, 0]] * 3, atol=1e-12)


def test_no_neighbours_no_gradient():
    none = np.zeros(0, np.int64)
    one = np.array([[1.0, 0, 0]])
    assert_allclose(gradients((none, none), np.zeros((1, 3)), one, one[:, [1, 0, 2]], np.ones((1, 8))), 0.0)


def box(tmp_path, size, opening):
    """cases/closed_box.toml in 2 mm aluminium on another mesh, its top a panel with or without an opening."""
    tables = tables_of("closed_box")
    del tables["sections"]["box"]["walls"]["top"]
    top = {"between": ["box.left_top", "box.right_top"], "measured": "middle", "tool": "down"}
    if opening:
        top["openings"] = {"hole": {"rectangle": [200, 100], "at": [500, 0]}}
    tables["panels"] = {"top": top}
    limits = dict.fromkeys(("e1t", "e1c", "e2t", "e2c", "g12"), 0.002)
    tables["plies"] = {"sheet": {"E": "70 GPa", "nu": 0.3, "thickness": "2 mm", "density": "2700 kg/m^3", **limits}}
    tables["layups"] = {"box": ["sheet"], "top": ["sheet"]}
    tables["joint_kinds"], tables["joints"] = {"m": {"kind": "continuous"}}, {"*/*": "m"}
    tables["mesh"]["size"] = size
    _, _, findings = run_case(read_tables(tables, tmp_path))
    return findings.load_cases["twist"]


def test_even_shear_is_free_of_error(tmp_path):
    """A closed box in pure torsion: constant strains, which every mesh holds."""
    assert box(tmp_path, 50, opening=False).mesh.error < 2e-4


@pytest.mark.parametrize("size", [25, 12.5])
def test_corners_of_an_opening(tmp_path, size):
    """The estimate is between 0.8 and 1.3 of the true error, and the band holds it: corners, order one."""
    found = box(tmp_path, size, opening=True)
    compliance = 1e6 / HOLED
    lacking = 1 - 2 * found.energy.total / compliance
    print(f"size {size} mm: {100 * lacking:.2f} % lacking, estimated {100 * found.mesh.error:.2f} %")
    assert 0.8 < found.mesh.error * 2 * found.energy.total / compliance / lacking < 1.3
    assert found.mesh.band * 2 * found.energy.total > compliance - 2 * found.energy.total
    assert_allclose(found.mesh.band, SAFETY * found.mesh.error)
    assert_allclose(sum(found.mesh.regions.values()), found.mesh.error)
    assert max(found.mesh.regions, key=found.mesh.regions.get) == "top"


def test_a_wide_band_is_said():
    _, findings = small_report()
    (name,) = findings.load_cases
    assert mesh_doubts(findings) == []
    wide = MeshBand(LIMIT, 1.25 * LIMIT, {"floor": 0.02, "sill": 0.01})
    findings = replace(findings, load_cases={name: replace(findings.load_cases[name], mesh=wide)})
    (doubt,) = mesh_doubts(findings)
    assert "3.8 %" in doubt
    assert "floor" in doubt


def test_the_calibration_is_that_of_the_docs():
    assert (FOUND, SAFETY) == (0.5, 1.25)
