"""Two tubs as case texts, and what comes of a text: its case, or the faults of its geometry."""

import tomllib
from functools import cache

import pytest

from tubfem.case.schema import Case
from tubfem.case.sections import plain_tub
from tubfem.errors import CaseError

STARTER = """
mirror = "y"
[stations]
front = 0
rear = 1480
[sections.tunnel]
walls = { side = ["root", "edge"], top = ["edge", "edge"] }
at.front = { root = [120, 0], edge = [95, 210] }
at.rear = { root = [170, 0], edge = [140, 260] }
[sections.sill]
walls.inner = ["in_low", "in_top"]
walls.top = ["in_top", "out_top"]
walls.outer = ["out_top", "out_low"]
walls.bottom = ["out_low", "in_low"]
at.front = { in_low = [470, 0], in_top = [490, 220], out_top = [640, 220], out_low = [640, 0] }
at.rear = { in_low = [490, 0], in_top = [510, 220], out_top = [660, 220], out_low = [660, 0] }
[panels.floor]
between = ["sill.in_low", "sill.in_low"]
tool = "down"
[panels.front_bulkhead]
on = "front"
outline = ["sill.out_low", "sill.out_top", [600, 430]]
across = true
tool = "fore"
[panels.rear_bulkhead]
on = "rear"
outline = ["sill.out_low", "sill.out_top", [600, 470]]
across = true
tool = "aft"
[mounts]
front_upper = { on = "front_bulkhead", at = [420, 340], bolt = "M10", radius = 30 }
"""
TWO_SEATER = """
mirror = "y"
[stations]
front = 0
toe = [[300, 0], [180, 330]]
dash = 640
riser = 940
seat_back = [[1400, 0], [1520, 620]]
rear = 1820
[sections.tunnel]
walls = { side = ["root", "edge"], top = ["edge", "edge"] }
at.front = { root = [95, 0], edge = [75, 200] }
at.dash = { root = [110, 0], edge = [90, 230] }
at.seat_back = { root = [165, 0], edge = [132, 284] }
at.rear = { root = [190, 0], edge = [150, 310] }
[sections.sill]
walls.inner = ["in_low", "in_top"]
walls.top = ["in_top", "out_top"]
walls.outer = ["out_top", "out_low"]
walls.bottom = ["out_low", "in_low"]
regions = { inner = "sill_inner", "*" = "sill_outer" }
at.front = { in_low = [500, 0], in_top = [510, 200], out_top = [620, 200], out_low = [620, 0] }
at.dash = { in_low = [530, 0], in_top = [545, 290], out_top = [720, 290], out_low = [730, 20] }
at.seat_back = { in_low = [545, 0], in_top = [558, 290], out_top = [720, 290], out_low = [730, 20] }
at.rear = { in_low = [530, 0], in_top = [540, 260], out_top = [650, 260], out_low = [650, 10] }
[sections.scuttle]
walls = { side = ["foot", "edge"], top = ["edge", "crown"] }
at.front = { foot = [560, 200], edge = [520, 400], crown = [0, 440] }
at.dash = { foot = [650, 290], edge = [590, 560], crown = [0, 620] }
[sections.tail]
walls = { side = ["foot", "edge"], top = ["edge", "edge"] }
at.seat_back = { foot = [640, 290], edge = [600, 480] }
at.rear = { foot = [600, 260], edge = [560, 430] }
[sections.pillar]
walls.front = ["in_front", "out_front"]
walls.outer = ["out_front", "out_rear"]
walls.rear = ["out_rear", "in_rear"]
walls.inner = ["in_rear", "in_front"]
at.base.in_front = [640, 650, 290]
at.base.out_front = [640, 712, 290]
at.base.out_rear = [725, 712, 290]
at.base.in_rear = [725, 650, 290]
at.knee.in_front = [640, 600, 660]
at.knee.out_front = [640, 655, 660]
at.knee.out_rear = [730, 655, 660]
at.knee.in_rear = [730, 600, 660]
at.head.in_front = [860, 540, 930]
at.head.out_front = [860, 580, 930]
at.head.out_rear = [905, 580, 930]
at.head.in_rear = [905, 540, 930]
cap = ["head"]
[panels.floor]
between = ["tunnel.root", "sill.in_low"]
tool = "down"
openings.drain = { circle = 30, at = [560, 300] }
[panels.floor.recesses.seat]
rectangle = [350, 290]
at = [1195, 345]
depth = 25
towards = "down"
draft = "30 deg"
layup = "seat_pan"
[panels.closing_panel]
between = ["tunnel.root", "tunnel.root"]
tool = "down"
removable = true
[panels.dash]
on = "dash"
outline = ["tunnel.edge", "tunnel.root", "sill.in_low", "sill.in_top", "scuttle.foot", "scuttle.edge", "scuttle.crown"]
across = true
tool = "aft"
openings.legs = { rectangle = [330, 300], corner_radius = 70, at = [320, 190] }
openings.column = { circle = 90, at = [320, 480], only = "left" }
[panels.seat_back]
on = "seat_back"
outline = ["tunnel.edge", "tunnel.root", "sill.in_low", "sill.in_top", "tail.foot", "tail.edge"]
across = true
tool = "fore"
openings.belt = { slot = [120, 40], at = [330, 440] }
[panels.toe_board]
on = "toe"
outline = ["tunnel.edge", "tunnel.root", "sill.in_low", "sill.in_top", "scuttle.foot", { on = "scuttle.side", z = 330 }]
across = true
tool = "aft"
[panels.seat_riser]
on = "riser"
outline = ["tunnel.root", "sill.in_low", { on = "sill.inner", z = 110 }, { on = "tunnel.side", z = 110 }]
tool = "fore"
"""


@cache
def case_of(text):
    """The case of a text without a file."""
    return Case.model_validate(tomllib.loads(text))


def faults(text, thickness=None):
    """Messages for a text, which must not expand."""
    with pytest.raises(CaseError) as caught:
        plain_tub(case_of(text), thickness or {})
    return caught.value.messages
