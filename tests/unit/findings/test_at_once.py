"""Uses of all stacks at once against the loop over the stacks, which stands for itself: both are the same formulas."""

from dataclasses import replace

import numpy as np
import pytest
from box_tub import box_tub
from numpy.testing import assert_allclose

from tubfem.case.loads import Margins
from tubfem.findings.allowables import INTERLAMINAR, allowables
from tubfem.findings.at_once import joined, tables_of, use_at_once
from tubfem.findings.criteria import CRITERIA
from tubfem.findings.margins import PLY_KINDS, Loaded, element_use, margin_rules
from tubfem.findings.sandwich import KINDS
from tubfem.findings.strains import Strains, describe_elements
from tubfem.laminate.stack import make_stack
from tubfem.materials.ply import CorePly, Ply

RNG = np.random.default_rng(5)
LIMITS = {"e1t": 0.02, "e1c": 0.01, "e2t": 0.005, "e2c": 0.015, "g12": 0.018, "S13": 30e6}
UNI = Ply("uni", "unidirectional", 30e9, 6e9, 3e9, 0.3, 3e9, 2e9, 1e-3, 1800.0, **LIMITS)
CLOTH = Ply("cloth", "woven", 20e9, 19e9, 3e9, 0.1, 3e9, 2e9, 5e-4, 1800.0, **LIMITS)
FOAM = CorePly("foam", 60e6, 60e6, 23e6, 0.3, 25e6, 25e6, 10e-3, 80.0, Ec=80e6, shear_strength=1e6)
CELLS = CorePly("comb", 1e5, 1e5, 5e4, 0.3, 90e6, 40e6, 8e-3, 48.0, Ec=130e6, shear_strength=2e6, cell=6e-3)
COMB = replace(CELLS, shear_strength_across=1e6)
STACKS = (
    make_stack([(0.3, UNI), (-0.3, UNI)]),
    make_stack([(0.0, CLOTH), (0.2, FOAM), (0.5, UNI)]),
    make_stack([(0.0, UNI), (0.0, COMB), (0.0, CLOTH)]),
    make_stack([(0.0, CLOTH), (0.0, FOAM)]),  # one skin
    make_stack([(0.0, CLOTH), (0.0, FOAM), (0.4, UNI), (0.1, COMB), (0.0, CLOTH)]),
)
MIXTURES = ((0,), (1,), (2, 3), (0, 4), (4,), (3,))


def loaded(criterion):
    """A box under strains drawn at random, with six mixtures of five stacks."""
    tub = box_tub(STACKS[1])
    count = tub.mesh.element_count
    layup = replace(
        tub.layup,
        stacks=STACKS,
        mixture_stacks=MIXTURES,
        mixture_weights=tuple((1 / len(own),) * len(own) for own in MIXTURES),
        mixture=np.arange(count) % len(MIXTURES),
        stack_entries=tuple(("ply",) * len(stack.plies) for stack in STACKS),
    )
    tub = replace(tub, layup=layup)
    elements = describe_elements(tub)
    own = RNG.normal(size=(count, 8)) * np.array([1e-3, 1e-3, 1e-3, 0.1, 0.1, 0.1, 1e-3, 1e-3])
    rules = margin_rules(layup, allowables(Margins(criterion=criterion)))
    return Loaded(tub, elements, rules, Strains((), (), own, elements.mean @ own), both_hands=True)


@pytest.mark.parametrize("criterion", CRITERIA)
def test_all_stacks_at_once_are_used_as_one_by_one(criterion):
    box = loaded(criterion)
    wanted = RNG.random(len(box.elements.area)) < 0.5
    once, each = use_at_once(box, tables_of(box.rules), wanted), element_use(box)
    assert once.keys() == each.keys() == {*PLY_KINDS, INTERLAMINAR, *KINDS}
    for kind, use in each.items():
        assert use[wanted].max() > 0, kind
        assert_allclose(once[kind][wanted], use[wanted], rtol=1e-12, err_msg=kind)
        assert not once[kind][~wanted].any()


@pytest.mark.parametrize("criterion", CRITERIA)
def test_stacks_put_behind_others_keep_their_numbers(criterion):
    box = loaded(criterion)
    layup = box.model.layup
    factors = allowables(Margins(criterion=criterion))
    parts = [
        tables_of(margin_rules(replace(layup, stacks=own, mixture_stacks=()), factors))
        for own in (STACKS[:3], STACKS[3:])
    ]
    every = np.ones(len(box.elements.area), dtype=bool)
    once, apart = use_at_once(box, tables_of(box.rules), every), use_at_once(box, joined(*parts), every)
    for kind, use in once.items():
        assert_allclose(apart[kind], use, rtol=1e-12, err_msg=kind)
