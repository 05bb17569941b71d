import meshio
import numpy as np
import report_builders
from numpy.testing import assert_allclose, assert_array_equal

from tubfem.report.vtu import NO_LIMIT, write_vtu


def test_round_trip(tmp_path):
    model, findings = report_builders.small_report(3)
    fields = findings.load_cases["torsion"].fields
    write_vtu(tmp_path / "fields.vtu", model, findings)
    read = meshio.read(tmp_path / "fields.vtu")
    nodes = len(model.mesh.points)  # pickups belong to no element and are left out
    assert_allclose(read.points, model.mesh.points, atol=1e-15)
    assert_array_equal(read.cells[0].data, model.mesh.blocks[0].conn)
    assert_allclose(read.point_data["torsion displacement"], fields.displacement[:nodes, :3])
    assert_allclose(read.cell_data["torsion strain"][0], fields.strain)
    assert_array_equal(read.cell_data["region"][0], findings.element_region)
    assert_array_equal(read.cell_data["panel"][0], model.mesh.element_panel)


def test_margins_without_limit_stay_finite(tmp_path):
    model, findings = report_builders.small_report(3)
    load_case = findings.load_cases["torsion"]
    endless = report_builders.changed(load_case, margin=np.full(len(load_case.fields.margin), np.inf))
    write_vtu(tmp_path / "f.vtu", model, report_builders.with_load_case(findings, endless))
    assert (meshio.read(tmp_path / "f.vtu").cell_data["torsion margin"][0] == NO_LIMIT).all()
