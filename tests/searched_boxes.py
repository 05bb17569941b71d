"""Boxes made by hand with all that a schedule may choose for them, coarse enough to solve every choice in full."""

import numpy as np
from tub_box import box_case, box_mesh

from tubfem.study.cuts import make_program
from tubfem.study.options import all_options
from tubfem.study.search import Search
from tubfem.study.store import ready
from tubfem.study.together import together
from tubfem.tub.build import build_model
from tubfem.tub.layup import lay_plies

STRAINS = {name: 0.02 for name in ("e1t", "e1c", "e2t", "e2c", "g12")}
SHEET = {"E": "20 GPa", "nu": 0.3, "thickness": 0.5, "density": "2000 kg/m^3", **STRAINS}
BIAX = {"fibre": "e-glass", "architecture": "biaxial +-45 stitched", "areal_weight": "600 g/m^2"}
CLOTH = {**BIAX, "resin": "epoxy, room-temperature cure", "process": "hand"}
STIFF_ENDS = {"front": ["20 x sheet"], "rear": ["20 x sheet"]}
NO_ENDS = {"front": 0, "rear": 0}


def searched(asked, *, plies, layups, left=None, cells=(4, 10, 4), **more):
    case = box_case(plies=plies, layups=layups, **more)
    mesh = box_mesh(cells)
    tub, _ = ready(build_model(case, mesh, lay_plies(case, mesh)))
    options = all_options(tub, asked)
    return Search(tub, make_program(options, left or {}), together(tub.model, tub.family), None), options


def masses(search):
    return np.array([option.mass for option in search.program.options])
