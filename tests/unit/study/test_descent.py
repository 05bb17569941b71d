"""Plies taken off boxes made by hand, and the steps that follow the margins: against known and exhaustive optima."""

from dataclasses import replace
from itertools import product

import pytest
from numpy.testing import assert_allclose
from searched_boxes import CLOTH, NO_ENDS, SHEET, STIFF_ENDS, masses, searched

from tubfem.case.planning import Schedule
from tubfem.study.descent import Goal, descend, lacking, only_more, worth
from tubfem.study.reduce import family_stiffness
from tubfem.study.search import Search, cheapest, try_out

WALLS = ("floor", "top", "left", "right")


def asked(**more):
    """With a stiffness, without which nothing is taken off; the one that is searched for is said later."""
    return Schedule.model_validate({"stiffness": "1 N*m/deg", **more})


@pytest.fixture(scope="module")
def thick():
    """A box of five sheets all round, of which up to three may go and one more may come."""
    layups = {wall: ["5 x sheet"] for wall in WALLS}
    limits = asked(candidates="sheet", most=1, fewer=3, regions=NO_ENDS)
    return searched(limits, plies={"sheet": SHEET}, layups={**layups, **STIFF_ENDS})


def test_bredts_box_loses_what_is_too_much_all_round(thick):
    """By Bredt and Batho a stiffness takes the least mass where all walls are equally thick: three sheets of the five.

    A closed cell of thin walls has the stiffness 4 A² G / sum(s / t): its flexibility goes with 1 / t, while that of
    ends and mounts, in line with it, stays.
    """
    search, options = thick
    trials = [try_out(search, [next(o for o in own if o.plies == -k) for own in options.values()]) for k in range(3)]
    five, four, equal = (1 / trial.stiffness for trial in trials)
    assert_allclose((equal - four) / (four - five), (1 / 3 - 1 / 4) / (1 / 4 - 1 / 5), rtol=0.03)
    equal = trials[2]
    cost = masses(search)
    trial, bound = cheapest(search, cost, 0.995 * equal.stiffness)
    assert {pick.region: pick.plies for pick in trial.picks} == dict.fromkeys(WALLS, -2)
    assert trial.drops == tuple(f"{wall}=sheet*2" for wall in WALLS)
    assert_allclose(bound, cost[search.program.columns(trial.picks)].sum(), rtol=1e-5)
    # 0.6 m wide, 0.2 m high, 1 m long; two sheets of 0.5 mm and 2000 kg/m³ off.
    assert_allclose(bound, -2 * 0.5e-3 * 2000 * 2 * (0.6 + 0.2), rtol=1e-6)


def test_steps_alone_find_bredts_box(thick):
    search, options = thick
    equal = try_out(search, [next(o for o in own if o.plies == -2) for own in options.values()])
    unchanged = try_out(search, [next(o for o in own if o.same) for own in options.values()])
    goal = Goal(masses(search), 0.995 * equal.stiffness)
    found = descend(search, unchanged, goal)
    assert {pick.region: pick.plies for pick in found.picks} == dict.fromkeys(WALLS, -2)


@pytest.fixture(scope="module")
def laminated():
    """Cloth walls of several plies: up to two fewer or two more of one kind; an exhaustive search beside it."""
    plies = {"biax": CLOTH, "uni": {**CLOTH, "architecture": "unidirectional", "areal_weight": "300 g/m^2"}}
    layups = {
        "floor": ["biax", "uni", "uni @ 45", "biax"],
        "top": ["3 x biax"],
        "left": ["biax", "2 x uni", "biax"],
        "right": ["2 x biax"],
        **{end: ["12 x biax"] for end in ("front", "rear")},
    }
    limits = asked(candidates="biax", most=1, fewer=2, regions={**NO_ENDS, "right": {"min": -1, "max": 0}})
    search, options = searched(limits, plies=plies, layups=layups)
    every = []
    for picks in product(*options.values()):
        trial = try_out(search, picks)
        every.append((sum(pick.mass for pick in picks), family_stiffness(search.tub.twisted, trial.change), trial))
    return search, options, every


@pytest.mark.parametrize("share", [0.15, 0.3, 0.45])
def test_the_least_mass_with_plies_fewer_is_that_of_an_exhaustive_search(laminated, share):
    search, options, every = laminated
    assert {len(own) for own in options.values()} >= {2, 4}
    low, high = (pick([stiffness for _, stiffness, _ in every]) for pick in (min, max))
    target = low + share * (high - low)
    true = min(mass for mass, stiffness, _ in every if stiffness >= target)
    trial, bound = cheapest(search, masses(search), target)
    assert bound <= true + 1e-9
    assert_allclose(sum(pick.mass for pick in trial.picks), true, rtol=1e-9)
    assert_allclose(bound, true, rtol=1e-5)
    assert trial.drops


@pytest.mark.parametrize("room", [1.05, 1.25])
def test_margins_hold_plies_as_an_exhaustive_search_says(laminated, room):
    """Strains raised until the tub as it is has so little room: the lightest choice without a negative margin."""
    search, options, every = laminated
    same = try_out(search, [next(o for o in own if o.same) for own in options.values()])
    hot = search.tub.hot
    raised = replace(hot, own=(1 + same.margin) / room * hot.own)
    tight = Search(replace(search.tub, hot=raised), search.program, search.together, None)
    target = 0.7 * search.tub.stiffness
    goal = Goal(masses(tight), target)
    allowed = [mass for mass, _, trial in every if lacking(tight, try_out(tight, trial.picks), goal) <= 1e-9]
    lean, bound = cheapest(search, goal.cost, target)
    plain, _ = cheapest(search, goal.cost, target, only_more(search))
    starts = [try_out(tight, each.picks) for each in (lean, plain)]
    assert lacking(tight, starts[0], goal) > 0
    found = [descend(tight, start, goal) for start in starts]
    best = min(worth(tight, each, goal) for each in found if lacking(tight, each, goal) <= 1e-9)
    assert bound < best < 0
    assert_allclose(best, min(allowed), rtol=1e-9)


def test_what_two_places_do_is_laid_together(laminated):
    """The reduced model of a choice beside full solves of its groups, and of the case laid anew."""
    search, options, _ = laminated
    picks = [next(o for o in own if o.drops) for own in options.values()]
    trial = try_out(search, picks)
    assert trial.low <= family_stiffness(search.tub.twisted, trial.change) <= trial.high * (1 + 1e-9)
    assert len(trial.drops) == 4


def test_no_step_is_taken_that_is_not_better(laminated):
    """What a place may not lose is not taken off, and a choice that nothing betters stays."""
    search, options, _ = laminated
    same = try_out(search, [next(o for o in own if o.same) for own in options.values()])
    kept = Search(search.tub, search.program, search.together, None, kept=frozenset(options))
    found = descend(kept, same, Goal(masses(kept), 0.9 * search.tub.stiffness))
    assert found.texts == found.drops == ()
    assert descend(kept, same, Goal(masses(kept), search.tub.stiffness)) is same
