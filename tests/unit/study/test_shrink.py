"""A reduced model small enough for a page: its bracket holds that of the whole one."""

import numpy as np
import pytest
from case_texts import CASES
from tub_runs import sized

from tubfem.case.read import load_case
from tubfem.case.schema import Case
from tubfem.geometry.mesh import areas
from tubfem.run import model_case
from tubfem.study.bracket import bracket
from tubfem.study.hot import lowest_margin
from tubfem.study.laying import lay_more
from tubfem.study.reduced import galerkin
from tubfem.study.shrink import LEAST, shrink
from tubfem.study.store import ready

TEXTS = ("tunnel=biax600", "sill=plain200@45", "floor=biax600*3:tool", "front_bulkhead=biax600*2")


@pytest.fixture(scope="module")
def tub():
    return ready(model_case(sized(load_case(CASES / "starter.toml"), 0.1)))[0]


@pytest.fixture(scope="module")
def small(tub):
    return shrink(tub, 1.2e6)


def test_room_decides_how_many_vectors_are_kept(tub, small):
    held = sum(group.P.nbytes for group in small.reduced.groups)
    assert LEAST < small.reduced.size < tub.reduced.size
    assert held < 1.2e6


def test_the_tub_as_it_is_stays_what_it_is(tub, small):
    assert bracket(small.reduced, {}) == pytest.approx((tub.stiffness, tub.stiffness), rel=1e-9)
    full = lowest_margin(tub.hot, galerkin(tub.reduced, {}), {})
    found = lowest_margin(small.hot, galerkin(small.reduced, {}), {})
    assert found[0] == pytest.approx(full[0], rel=1e-5)  # single precision
    assert found[1:] == full[1:]


@pytest.mark.parametrize("text", TEXTS)
def test_the_bracket_holds_the_whole_model_and_is_narrow(tub, small, text):
    """0.5 % of the stiffness at a fifth of the vectors: what a builder who weighs one ply against another can use."""
    change = lay_more(tub.model, tub.family, areas(tub.model.mesh), text).change
    (low, high), (below, above) = bracket(small.reduced, change), bracket(tub.reduced, change)
    slack = 1e-6 * tub.stiffness  # single precision
    assert low <= below + slack
    assert above <= high + slack
    assert high - low < 5e-3 * tub.stiffness


def test_a_ply_more_on_a_patch_is_as_sure_as_in_the_whole_model():
    """The bracket is wider by less than a tenth of the gain: a patch moves the tub as no region does."""
    side = {"on": "tunnel.side", "from": "front", "to": "rear", "ply": "biax600", "stagger": 100}
    given = Case.model_validate({"patches": {"side": side}}).patches
    case = sized(load_case(CASES / "starter.toml"), 0.1).model_copy(update={"patches": given})
    tub, _ = ready(model_case(case))
    change = lay_more(tub.model, tub.family, areas(tub.model.mesh), "patch:side=biax600*2").change
    (low, high), (below, above) = bracket(shrink(tub, 1.2e6).reduced, change), bracket(tub.reduced, change)
    gain = 0.5 * (below + above) - tub.stiffness
    assert gain > 1e-3 * tub.stiffness
    assert high - low < above - below + 0.1 * gain


def test_several_at_once_are_held_too(tub, small):
    rng = np.random.default_rng(3)
    single = [lay_more(tub.model, tub.family, areas(tub.model.mesh), text).change for text in TEXTS]
    total = {}
    for change in single:
        factor = rng.uniform(0.5, 2.0)
        for group, dC in change.items():
            total[group] = total.get(group, 0.0) + factor * dC
    (low, high), (below, above) = bracket(small.reduced, total), bracket(tub.reduced, total)
    assert low <= below + 1e-6 * tub.stiffness
    assert above <= high + 1e-6 * tub.stiffness
