"""Names and the order of tables are the builder's own: they change neither the mesh nor the answer."""

import numpy as np
import pytest
from case_texts import CASES, read_tables, renamed, reordered, tables_of
from numpy.testing import assert_allclose, assert_array_equal
from tub_runs import run_of, sized, stiffness

from tubfem.case.read import load_case
from tubfem.run import model_case

SIZES = {"starter": 80, "two_seat_roadster": 50}
FAMILIES = ("stations", "sections", "panels", "plies", "cores", "joint_kinds", "mounts", "subframes", "pickups")
KEYS = {"front", "rear"}  # names in the cases that are keys of a torsion case as well


def new_names(tables):
    """Another name for everything that has one, in another alphabetical order.

    Corners, walls, openings and recesses have names of their own. Subframes find mounts by patterns ("front_*"): what
    stands before the star stays.
    """
    words = {name for family in FAMILIES for name in tables.get(family, {})}
    for section in tables["sections"].values():
        words |= {corner for corners in section["at"].values() for corner in corners}
        words |= {*section["walls"], *section.get("regions", {}).values()} - {"*"}
    for panel in tables["panels"].values():
        words |= {*panel.get("openings", {}), *panel.get("recesses", {})}
    mounts = tables["mounts"]
    return {
        word: (word.split("_")[0] + "_" if word in mounts else "") + f"{chr(97 + i % 26)}{i}_{word[:3]}"
        for i, word in enumerate(sorted(words - KEYS, reverse=True))
    }


@pytest.fixture(scope="module", params=SIZES)
def pair(request, tmp_path_factory):
    """Models of a case as written, and renamed and reordered."""
    tables = tables_of(request.param)
    tables["mesh"]["size"] = SIZES[request.param]
    other = read_tables(reordered(renamed(tables, new_names(tables))), tmp_path_factory.mktemp("names"))
    return run_of(request.param, SIZES[request.param] / 1e3)[0], model_case(other)


def test_the_same_mesh(pair):
    first, second = (model.mesh for model in pair)
    assert_allclose(second.points, first.points, rtol=0, atol=1e-12)
    assert len(second.blocks) == len(first.blocks)
    for one, other in zip(first.blocks, second.blocks, strict=True):
        rows = [np.sort(block.conn, axis=1) for block in (one, other)]
        ordered = [row[np.lexsort(row.T)] for row in rows]
        assert_array_equal(*ordered)


def test_the_same_answer(pair):
    """To 1e-6: only the order of sums differs."""
    first, second = pair
    assert_allclose(stiffness(second), stiffness(first), rtol=1e-6)
    mass = [sum(model.states[0].shell.mass[:, 0]) for model in pair]
    assert_allclose(mass[1], mass[0], rtol=1e-9)


def test_a_case_written_again_is_the_same_case(tmp_path):
    """What the other tests stand on: the tables written by the tests read as the file itself."""
    for name in SIZES:
        case, again = load_case(CASES / f"{name}.toml"), read_tables(tables_of(name), tmp_path)
        for field in type(case).model_fields:
            if field not in ("path", "lines", "cautions"):
                assert getattr(again, field) == getattr(case, field)
    assert sized(case, 0.1).mesh.size == 0.1
