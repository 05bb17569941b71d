"""The tub in service: temperatures by region and zone, the warm model, what is not credited."""

import numpy as np
import pytest
from case_texts import read_tables, tables_of

from tubfem.findings.collect import find
from tubfem.findings.heat import add_heat, heat_doubts, heat_sentences
from tubfem.run import model_case, run_case
from tubfem.shell.solve import solve
from tubfem.tub.heat import service, warm_model


@pytest.fixture(scope="module")
def starter():
    return {**tables_of("starter"), "mesh": {"size": 80}}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("heat")


@pytest.fixture(scope="module")
def base(starter, folder):
    return model_case(read_tables({**starter, "heat": {"temperature": "20 degC"}}, folder))


@pytest.fixture
def with_heat(base, starter, folder):
    return lambda **heat: model_case(read_tables({**starter, "heat": heat}, folder), mesh=base.mesh)


def stiffness(model):
    findings = find(model, tuple(solve(state.shell) for state in model.states))
    return findings.load_cases["torsion"].torsion.pickup_to_pickup


def test_at_room_temperature_nothing_changes(base):
    state = service(base)
    assert (state.celsius == 20).all()
    assert state.credited.all()
    assert stiffness(warm_model(base, state)) == pytest.approx(stiffness(base), rel=1e-9)


def test_region_pattern_and_zone(with_heat):
    regions = {"*bulkhead": "25 degC", "rear_bulkhead": "35 degC"}
    zone = {"on": ["tunnel", "floor"], "from": "front", "temperature": "45 degC"}
    cold_end = {"on": "tunnel.top", "to": "front", "temperature": "90 degC"}
    model = with_heat(temperature="22 degC", regions=regions, zones={"hot": zone, "none": cold_end})
    celsius, mesh = service(model).celsius, model.mesh
    region = np.array([panel.region for panel in mesh.panels])[mesh.element_panel]
    assert (celsius[region == "front_bulkhead"] == 25).all()
    assert (celsius[region == "rear_bulkhead"] == 35).all()
    assert (celsius[(region == "tunnel") | (region == "floor")] == 45).all()
    assert (celsius[region == "sill"] == 22).all()


def test_a_zone_ends_at_its_station(starter, folder):
    zone = {"on": "sill", "to": "middle", "temperature": "60 degC"}
    stations = {**starter["stations"], "middle": 700}
    model = model_case(read_tables({**starter, "stations": stations, "heat": {"zones": {"half": zone}}}, folder))
    hot = service(model).celsius == 60
    x = np.concatenate([model.mesh.points[block.conn].mean(axis=1)[:, 0] for block in model.mesh.blocks])
    region = np.array([panel.region for panel in model.mesh.panels])[model.mesh.element_panel]
    assert hot.any()
    assert (hot == ((region == "sill") & (x <= 0.7))).all()


def test_warm_is_softer_and_what_is_not_credited_softer_still(with_heat):
    model = with_heat(temperature="22 degC", regions={"tunnel": "40 degC"})
    state = service(model)
    region = np.array([panel.region for panel in model.mesh.panels])[model.mesh.element_panel]
    assert (state.credited == (region != "tunnel")).all()
    models = model, warm_model(model, state), warm_model(model, state, credited_only=True)
    cold, warm, credited = (stiffness(each) for each in models)
    assert credited < warm < cold


def test_mass_does_not_change(with_heat):
    model = with_heat(temperature="35 degC", moisture="1 %")
    cold, warm = (find(m, tuple(solve(s.shell) for s in m.states)) for m in (model, warm_model(model, service(model))))
    assert warm.mass.total == pytest.approx(cold.mass.total, rel=1e-12)
    assert warm.element_thickness == pytest.approx(cold.element_thickness)


def test_a_run_says_so_in_words_and_doubts(starter, folder):
    heat = {"temperature": "22 degC", "regions": {"tunnel": "40 degC"}}
    model, _, findings = run_case(read_tables({**starter, "heat": heat}, folder))
    assert [region.name for region in findings.heat.too_hot] == ["tunnel"]
    assert findings.heat.regions[0].name == "tunnel"
    assert findings.heat.regions[0].limit == pytest.approx(22.0)  # 50 degC of the room-cured resin less 28 K
    (twist,) = findings.heat.stiffness
    assert twist.cold == findings.load_cases["torsion"].torsion.pickup_to_pickup
    assert twist.credited < twist.warm < twist.cold
    words = " ".join(heat_sentences(findings.heat))
    assert "tunnel (40 degC, limit 22)" in words
    assert f"{twist.warm:.0f} N·m/deg" in words
    assert "too hot to be credited: tunnel, 40 degC, limit 22 degC" in heat_doubts(findings)
    cool = add_heat(findings, model, service(model), findings, None)
    assert cool.heat.stiffness[0].credited is None
