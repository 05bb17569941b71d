"""A small case on several meshes."""

import numpy as np
import pytest
from case_texts import CASES
from numpy.testing import assert_allclose

from tubfem.case.read import load_case
from tubfem.errors import CaseError
from tubfem.run import Stages
from tubfem.study.refine import ENERGY, USE, checked_sizes, doubts_of, refine_case, sized


@pytest.fixture(scope="module")
def channel():
    """The open channel on three meshes: two load cases, none of them torsion of a tub."""
    return refine_case(sized(load_case(CASES / "open_channel.toml"), 0.02), [0.02, 0.04, 0.028])


def test_meshes_run_from_the_finest(channel):
    assert [mesh.size for mesh in channel.meshes] == [0.02, 0.028, 0.04]
    assert np.diff([mesh.elements for mesh in channel.meshes]).max() < 0
    assert channel.own == 0
    assert len(channel.seconds) == 3
    assert channel.left_out == ()


def test_every_load_case_has_its_energy_and_its_regions(channel):
    found = [(q.load_case, q.what, q.region) for q in channel.quantities]
    assert found == [(name, what, r) for name in ("free", "held") for what, r in ((ENERGY, None), (USE, "channel"))]
    for quantity in channel.quantities:
        assert len(quantity.convergence.values) == 3
    # Vlasov: 55.4 N m/rad held at one end, 14.36 free (cases/open_channel.toml); layers at edges and folds bring 2 %
    energies = {q.load_case: q.convergence.values[0] for q in channel.quantities if q.what == ENERGY}
    assert_allclose(energies["held"], 0.5 / 55.4, rtol=0.02)
    assert_allclose(energies["free"], 0.5 / 14.36, rtol=0.02)


def test_the_band_is_that_of_the_stiffness_on_the_own_mesh(channel):
    bands = [q.convergence.band[channel.own] for q in channel.quantities if q.what == ENERGY]
    assert_allclose(channel.band, max(bands))
    assert bool(doubts_of(channel)) == (channel.band > 0.03)
    assert set(channel.estimates) == {"free", "held"}


def test_stages_are_told_mesh_by_mesh():
    told = []
    stages = Stages(told.append)
    refine_case(load_case(CASES / "closed_box.toml"), [0.05, 0.1, 0.07], stages=stages)
    assert told == ["mesh 100 mm", "mesh 70 mm", "mesh 50 mm"]
    assert list(stages.seconds) == ["mesh 100 mm", "mesh 70 mm", "mesh 50 mm"]


@pytest.mark.parametrize(
    ("sizes", "message"),
    [
        ([0.04, 0.02], "2 given"),
        ([0.04, 0.038, 0.02], "40 and 38 are too near"),
        ([0.04, 0.03, 0.0], "0 is no size"),
        ([0.04, float("nan"), 0.02], "nan is no size"),
    ],
)
def test_sizes_that_say_nothing_are_refused(sizes, message):
    with pytest.raises(CaseError, match=message):
        checked_sizes(sizes)
