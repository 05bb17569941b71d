"""Single plies on the demo by the reduced model against full solves: 0.05 percentage points of gain, as asked.

The reference is the program's own full solve of the changed case on the same mesh (80 mm); all regions with three plies
each, random changes and heavy ones are in tests/benchmarks/reduced_ratio.py.
"""

import pytest
from tub_runs import changed_stiffness, run_of

from tubfem.geometry.mesh import areas
from tubfem.run import change_case
from tubfem.study.bracket import bracket
from tubfem.study.fasteners import fastener_change
from tubfem.study.laying import lay_more
from tubfem.study.reduce import reduce_tub, twist_tub
from tubfem.tub.further import tell_apart


@pytest.fixture(scope="module")
def reduced():
    twisted = twist_tub(tell_apart(run_of("two_seat_roadster", 0.08)[0]))
    return twisted, reduce_tub(twisted)[0]


# A thick region with laps and carbon, the tool face of a sandwich, a stepped patch beside the bolts of a neighbour.
@pytest.mark.parametrize("text", ["sill_inner=twill200c", "floor=uni300:tool", "patch:pillar_foot=biax600"])
def test_single_plies_on_the_demo(reduced, text):
    twisted, small = reduced
    model, springs = twisted.model, twisted.state.shell.springs
    change = lay_more(model, twisted.stiff.family, areas(model.mesh), text).change
    if not text.startswith("patch:"):
        change = change | fastener_change(model, twisted.stiff.family, springs, text)
    low, high = bracket(small, change)
    true = changed_stiffness(model, change_case(model.case, add=[text]))
    apart = 100 * (0.5 * (low + high) - true) / twisted.stiffness
    print(f"{text}: {100 * (true / twisted.stiffness - 1):+.4f} %, reduced off by {apart:+.4f} points")
    assert abs(apart) < 0.05
    assert 100 * (true / twisted.stiffness - 1) > 0.05  # there is something to be right about
