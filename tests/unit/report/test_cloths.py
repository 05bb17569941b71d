import case_texts
import pytest

from tubfem.errors import CaseError
from tubfem.materials.catalogue import catalogue
from tubfem.report.cloths import library_sheet, ply_entries, ply_sheet


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return case_texts.read_tables(case_texts.tables_of("starter"), tmp_path_factory.mktemp("case"))


def test_every_ply_of_the_case_is_listed_with_thickness_and_mass(case):
    entries = {entry.name: entry.words for entry in ply_entries(case)}
    assert set(entries) == set(case.plies)
    assert "mm" in entries["biax600"]
    assert "g/m2 with resin" in entries["biax600"]


def test_a_ply_sheet_has_a_group_for_every_layer(case):
    sheet = ply_sheet(case, "biax600")
    assert [heading for heading, _ in sheet.groups] == [f"layer at {a} degrees from the roll" for a in ("+45", "-45")]
    assert {"thickness", "E1", "E2", "G12", "nu12"} <= {row.quantity for row in sheet.rows}
    assert all(row.source for row in sheet.rows)


def test_fillers_are_listed_with_density_and_shear_modulus():
    entries = {entry.name: entry for entry in catalogue()}
    assert entries["epoxy with microballoons"].group == "filler"
    assert entries["epoxy with microballoons"].words == "G 0.6 GPa, 800 kg/m3"
    sheet = library_sheet("epoxy with cotton flock")
    assert {row.quantity: row.shown for row in sheet.rows} == {"density": "1100 kg/m3", "G": "1.1 GPa"}
    assert all(row.source for row in sheet.rows)


def test_unknown_names_get_the_nearest_spelling(case):
    with pytest.raises(CaseError, match='nearest: "biax600"'):
        ply_sheet(case, "biax60")
    with pytest.raises(CaseError, match='nearest: "e-glass"'):
        library_sheet("e-glas")
