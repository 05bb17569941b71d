"""A reduced model that is read again gives the same numbers, and only for the tub that it was made from."""

import shutil
from dataclasses import replace

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose
from tub_runs import sized

from tubfem.case.read import load_case
from tubfem.geometry.mesh import areas
from tubfem.run import change_case, model_case
from tubfem.study import store
from tubfem.study.bracket import bracket
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import lay_more
from tubfem.study.reduce import torsion_of
from tubfem.study.reduced import galerkin
from tubfem.study.store import FILE, ready


@pytest.fixture(scope="module")
def model():
    return model_case(sized(load_case(CASES / "starter.toml"), 0.09))


@pytest.fixture(scope="module")
def made(model, tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept") / "results"
    tub, again = ready(model, folder)
    assert not again
    return folder, tub


def answers(model, tub):
    laid = lay_more(model, tub.family, areas(model.mesh), "tunnel=biax600@45")
    margin, region, kind = lowest_margin(tub.hot, galerkin(tub.reduced, laid.change), laid.stacks)
    return (*bracket(tub.reduced, laid.change), margin), (region, kind)


def test_read_again_it_says_the_same(model, made):
    folder, tub = made
    read, again = ready(model, folder)
    assert again
    numbers, names = answers(model, read)
    assert_allclose(numbers, answers(model, tub)[0], rtol=1e-12)
    assert names == answers(model, tub)[1]
    assert read.stiffness == tub.stiffness


def test_made_anew_for_another_tub(model, made, tmp_path):
    folder = shutil.copytree(made[0], tmp_path / "kept")
    changed = model_case(change_case(model.case, drop=["tunnel=biax600"]), base=model.case, mesh=model.mesh)
    tub, again = ready(changed, folder)
    assert not again
    assert tub.stiffness < made[1].stiffness
    assert ready(changed, folder)[1]  # it has taken the old one's place


def test_how_sides_bulge_is_part_of_what_it_was_made_from(model):
    """Alike in all else: a case and one that comes to the same by a change differ in nothing but their edges."""
    state, setup = torsion_of(model)
    straight = tuple(replace(block, bulge=0.5 * block.bulge) for block in state.shell.blocks)
    other = replace(state, shell=replace(state.shell, blocks=straight))
    assert store.digest(model, state, setup) != store.digest(model, other, setup)


@pytest.mark.parametrize("what", ["of something else", "empty", "text", "cut off", "spoilt in the middle"])
def test_a_file_that_is_not_its_own_or_not_whole_is_made_anew(model, made, tmp_path, monkeypatch, what):
    whole, path = (made[0] / FILE).read_bytes(), tmp_path / FILE
    if what == "of something else":
        np.savez(path, other=np.zeros(3))
    else:
        middle = len(whole) // 2
        spoilt = whole[:middle] + bytes(64) + whole[middle + 64 :]
        path.write_bytes({"empty": b"", "text": b"words", "cut off": whole[:middle]}.get(what, spoilt))
    monkeypatch.setattr(store, "twist_tub", lambda *_: None)
    monkeypatch.setattr(store, "make_ready", lambda _: "made")
    monkeypatch.setattr(store, "keep", lambda *_: None)
    assert ready(model, tmp_path) == ("made", False)
