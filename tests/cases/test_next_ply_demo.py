"""Single plies on the demo by the reduced model against full solves: 0.05 percentage points of gain, as asked.

The reference is the program's own full solve of the changed case on the same mesh (50 mm).
"""

import pytest
from tub_runs import changed_stiffness, run_of

from tubfem.geometry.mesh import areas
from tubfem.run import change_case
from tubfem.study.bracket import bracket
from tubfem.study.fasteners import fastener_change
from tubfem.study.laying import lay_more
from tubfem.study.reduce import reduce_tub, twist_tub

TEXTS = (  # thin and thick regions, both faces, a cloth turned, a bolted neighbour, a patch
    "sill_outer=biax600",
    "tunnel=biax600:tool",
    "floor=uni300:tool",
    "front_bulkhead=twill200c:tool",
    "seat_back=biax300@45",
    "pillar=plain200",
    "patch:pillar_foot=biax600",
)


@pytest.mark.slow
def test_single_plies_on_the_demo():
    model = run_of("two_seat_roadster", 0.05)[0]
    twisted = twist_tub(model)
    reduced, _ = reduce_tub(twisted)
    springs = twisted.state.shell.springs
    for text in TEXTS:
        change = lay_more(model, twisted.stiff.family, areas(model.mesh), text).change
        if not text.startswith("patch:"):
            change = change | fastener_change(model, twisted.stiff.family, springs, text)
        low, high = bracket(reduced, change)
        true = changed_stiffness(model, change_case(model.case, add=[text]))
        apart = 100 * (0.5 * (low + high) - true) / twisted.stiffness
        print(f"{text}: {100 * (true / twisted.stiffness - 1):+.4f} %, reduced off by {apart:+.4f} points")
        assert abs(apart) < 0.05
