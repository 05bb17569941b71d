"""What must hold for whole cases, from the text of the file to the twist: units, scale, faces, load, cuts, holes."""

from dataclasses import replace

import numpy as np
import pytest
from case_texts import read_tables, tables_of
from free_bodies import by_block, element_forces, spring_forces
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from tub_runs import run_of, stiffness

from tubfem.run import model_case
from tubfem.shell.solve import solve

CHECK = settings(
    max_examples=4, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
COARSE = {"closed_box": 100.0, "open_channel": 50.0}  # mm
# Text of a number in another unit: factor from the first to the second by definition.
UNITS = {
    "mm": [("mm", 1.0), ("cm", 0.1), ("in", 1 / 25.4), ("m", 1e-3)],
    "GPa": [("GPa", 1.0), ("MPa", 1e3), ("psi", 1e9 * 0.0254**2 / 4.4482216152605)],
    "kg/m^3": [("kg/m^3", 1.0), ("g/cm^3", 1e-3)],
    "g/m^2": [("g/m^2", 1.0), ("kg/m^2", 1e-3), ("oz/yd^2", 0.9144**2 / 28.349523125)],
    "N*m": [("N*m", 1.0), ("kN*m", 1e-3), ("ft*lbf", 1 / (4.4482216152605 * 0.3048))],
    "kN*m": [("kN*m", 1.0), ("N*m", 1e3)],
}


def coarse_tables(name):
    tables = tables_of(name)
    tables["mesh"]["size"] = COARSE[name]
    return tables


def turned(model):
    """Angle [rad] about x per N·m at the front probe of every static case."""
    found = []
    for state in model.states:
        u = solve(state.shell).u
        for case in state.load_cases:
            load = state.shell.loads[:, case.column].reshape(-1, 6)
            found.append(u[case.column, model.probes[case.name]["front"], 3] / np.abs(load[:, 3]).max())
    return np.array(found)


def each_number(value, change, key=""):
    """The tables with `change(number, key, unit)` for every number, the unit None where it is bare."""
    if isinstance(value, dict):
        return {k: each_number(v, change, k) for k, v in value.items()}
    if isinstance(value, list):
        return [each_number(v, change, key) for v in value]
    if isinstance(value, str):
        number, _, unit = value.partition(" ")
        if unit in UNITS and number.replace(".", "").isdigit():
            return change(float(number), key, unit)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return change(float(value), key, None)
    return value


@settings(CHECK, max_examples=2)
@given(data=st.data())
def test_units(tmp_path, data):
    """Every quantity of the starter written in any unit: the same case, so the same mesh and the same twist."""

    def other(number, key, unit):
        if unit is None:
            return number
        name, factor = data.draw(st.sampled_from(UNITS[unit]))
        return f"{number * factor!r} {name}"

    tables = tables_of("starter")
    tables["mesh"]["size"] = "80 mm"
    case = read_tables(each_number(tables, other), tmp_path)
    model = run_of("starter", 0.08)[0]
    written = model_case(case)
    assert_allclose(written.states[0].shell.points, model.states[0].shell.points, atol=1e-9)
    assert_allclose(stiffness(written), stiffness(model), rtol=1e-8)


def test_bare_lengths_in_inches(tmp_path):
    """A file in inches is the file in millimetres divided by 25.4."""
    tables = coarse_tables("closed_box")
    mm = turned(model_case(read_tables(tables, tmp_path)))
    for name in ("stations", "sections", "mesh"):
        tables[name] = each_number(tables[name], lambda number, key, unit: number / 25.4)
    for key in ("front", "rear"):
        rigid = tables["load_cases"]["twist"]["rigid"][key]
        rigid["at"] = [number / 25.4 for number in rigid["at"]]
    tables["units"] = "in"
    assert_allclose(turned(model_case(read_tables(tables, tmp_path))), mm, rtol=1e-8)


@pytest.mark.parametrize("name", COARSE)
@CHECK
@given(factor=st.floats(0.01, 100.0))
def test_moduli(tmp_path, name, factor):
    """Moduli times μ: twist divided by μ."""
    tables = coarse_tables(name)
    soft = turned(model_case(read_tables(tables, tmp_path)))

    def stiffer(number, key, unit):
        return f"{number * factor!r} {unit}" if unit == "GPa" else number if unit is None else f"{number!r} {unit}"

    tables["plies"] = each_number(tables["plies"], stiffer)
    assert_allclose(factor * turned(model_case(read_tables(tables, tmp_path))), soft, rtol=1e-8)


@pytest.mark.parametrize("name", COARSE)
@CHECK
@given(factor=st.floats(0.3, 4.0))
def test_size(tmp_path, name, factor):
    """All lengths times λ, thickness too: torsional stiffness times λ³."""
    tables = coarse_tables(name)
    small = turned(model_case(read_tables(tables, tmp_path)))

    def larger(number, key, unit):
        if unit is None:
            return number * factor
        return f"{number * factor!r} mm" if unit == "mm" else f"{number!r} {unit}"

    for part in ("stations", "sections", "mesh"):
        tables[part] = each_number(tables[part], larger)
    for ply in tables["plies"].values():
        ply["thickness"] = each_number(ply["thickness"], larger)
    for case in tables["load_cases"].values():
        for rigid in case["rigid"].values():
            rigid["at"] = [factor * number for number in rigid["at"]]
    assert_allclose(factor**3 * turned(model_case(read_tables(tables, tmp_path))), small, rtol=1e-7)


def test_floor_laid_from_the_other_face(tmp_path):
    """Mould above instead of below, plies in reverse: the same floor. A stitched ±45 cloth turned over is itself."""
    tables = tables_of("starter")
    tables["mesh"]["size"] = 80
    tables["panels"]["floor"]["measured"] = "middle"
    one = stiffness(model_case(read_tables(tables, tmp_path)))
    tables["panels"]["floor"]["tool"] = "up"
    tables["layups"]["floor"] = tables["layups"]["floor"][::-1]
    assert_allclose(stiffness(model_case(read_tables(tables, tmp_path))), one, rtol=1e-6)


def test_a_filled_opening_never_lowers_stiffness(tmp_path):
    """A hatch in the starter's floor, closed again: on two meshes, so beyond what the mesh itself moves (0.1 %)."""
    tables = tables_of("starter")
    tables["mesh"]["size"] = 60
    whole = stiffness(model_case(read_tables(tables, tmp_path)))
    tables["panels"]["floor"]["openings"] = {"hatch": {"at": [700, 300], "rectangle": [200, 150], "corner_radius": 20}}
    assert stiffness(model_case(read_tables(tables, tmp_path))) <= whole * 1.001


@pytest.fixture(scope="module")
def tub():
    """Shell model of the starter's torsion case and its motion."""
    model, (solution,), _ = run_of("starter", 0.08)
    return model, model.states[0].shell, solution.u


@CHECK
@given(seed=st.integers(0, 10_000))
def test_superposition_and_reciprocity(tub, seed):
    """Two forces anywhere on pickups, mounts or laminate: motions add, and each does the same work on the other's."""
    _, model, _ = tub
    rng = np.random.default_rng(seed)
    loads = np.zeros((len(model.points), 6, 3))
    for column in (0, 1):
        node = rng.choice(len(model.points), 3, replace=False)
        loads[node, :3, column] = rng.standard_normal((3, 3))
    loads[..., 2] = 2.0 * loads[..., 0] - 3.0 * loads[..., 1]
    ties = replace(model.ties, u0=np.zeros((6 * len(model.points), 3)))
    u = solve(replace(model, loads=loads.reshape(-1, 3), ties=ties)).u
    assert_allclose(u[2], 2.0 * u[0] - 3.0 * u[1], atol=1e-8 * np.abs(u).max())
    work = np.einsum("cpd,pde->ce", u, loads)
    assert_allclose(work[0, 1], work[1, 0], atol=1e-8 * np.sqrt(work[0, 0] * work[1, 1]))


@CHECK
@given(lean=st.lists(st.floats(-0.25, 0.25), min_size=2, max_size=2), share=st.floats(0.25, 0.75))
def test_every_section_passes_the_torque(tub, lean, share):
    """Cut by any plane between the axles, the front part pushes on the rear one with the torque and nothing else."""
    case, model, u = tub
    torque = case.states[0].load_cases[0].torsion.torque
    normal = np.array([1.0, *lean])
    middle = np.concatenate([model.points[b.conn].mean(1) for b in model.blocks]) @ normal
    level = middle.min() + share * (middle.max() - middle.min())
    ahead = middle < level

    def touched(chosen, side):
        nodes = [b.conn[some].ravel() for b, some in by_block(model, chosen)]
        nodes += [s.freedoms[side(model.points[s.freedoms // 6].mean(1))].ravel() // 6 for s in model.springs]
        return np.unique(np.concatenate(nodes))

    force = element_forces(model, u, ahead) + spring_forces(model, u, lambda x: x @ normal < level)
    cut = np.intersect1d(touched(ahead, lambda x: x @ normal < level), touched(~ahead, lambda x: x @ normal >= level))
    f, at = force[0, cut], model.points[cut]
    size = np.abs(f[:, :3]).sum()
    assert_allclose(f[:, :3].sum(0), 0, atol=1e-8 * size)
    assert_allclose(np.abs((f[:, 3:] + np.cross(at, f[:, :3])).sum(0)), [torque, 0, 0], atol=1e-8 * size)
