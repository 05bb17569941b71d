"""What `schedule` is asked: springs, stock, limits, and the mistakes that can be made in it."""

import pytest
from case_texts import CASES
from numpy.testing import assert_allclose

from tubfem.case.asking import with_asked
from tubfem.case.planning import DEGREE, Springs, bias_kept
from tubfem.case.read import load_case
from tubfem.errors import CaseError


@pytest.fixture(scope="module")
def case():
    return load_case(CASES / "starter.toml")


@pytest.mark.parametrize(("ratio", "kept"), [(1, 0.81), (2, 0.89), (3, 0.93), (5, 0.95), (10, 0.98)])
def test_bias_kept(ratio, kept):
    """By hand: lambda / (lambda + x (1 - x)) with x = 0.6, in whole per cent."""
    assert round(bias_kept(1000.0 * ratio, 600.0, 400.0), 2) == kept


def test_two_springs_with_a_tub_between():
    """The equilibrium itself: two axles on springs, their moments given, a twisting spring between."""
    front, rear, K, m = 520.0, 310.0, 1900.0, 0.45
    a, b, det = front + K, rear + K, (front + K) * (rear + K) - K * K
    turned = (m * b + (1 - m) * K) / det
    x = front / (front + rear)
    assert_allclose(front * turned, m + (x - m) * bias_kept(K, front, rear))
    assert a > K


def test_the_stiffness_that_keeps_a_share(case):
    springs = Springs.model_validate({"front": "520 N*m/deg", "rear": "310 N*m/deg", "keep": 0.9})
    assert_allclose(bias_kept(springs.stiffness, springs.front, springs.rear), 0.9)
    asked = with_asked(case, (), {"springs": {"front": "520 N*m/deg", "rear": "310 N*m/deg", "keep": "90 %"}})
    assert_allclose(asked.schedule.target, springs.stiffness * DEGREE)


def test_stock_names_the_candidates(case):
    asked = with_asked(case, ["biax600 = 6 m"], {})
    assert asked.schedule.candidates == ("biax600",)
    assert (asked.plies["biax600"].on_hand.amount, asked.plies["biax600"].on_hand.unit) == (6, "m")
    assert with_asked(case, ["biax600=6 m"], {"candidates": ("plain200",)}).schedule.candidates == ("plain200",)


@pytest.mark.parametrize(
    ("stock", "wanted", "words"),
    [
        (["biax60=6 m"], {}, "biax600"),
        (["biax600"], {}, "write 'PLY=6 m'"),
        (["biax600=6 kg"], {}, "neither metres"),
        (["biax600=6"], {}, "6 what"),
        ([], {"candidates": ("biax60",)}, "biax600"),
        ([], {"candidates": ("biax600*2",)}, "leave the count out"),
        ([], {"candidates": ("biax600:inside",)}, "PLY"),
        ([], {"covering": "plain20"}, "plain200"),
        ([], {"regions": {"flor": 1}}, "floor"),
        ([], {"regions": {"joint:tab6": 1}}, "tab60"),
        ([], {"regions": {"patch:foot": 1}}, "no patch"),
        ([], {"regions": {"floor": {"min": 3, "max": 1}}}, "min = 3"),
        ([], {"regions": {"joint:tab60": {"min": -1}}}, "taken off regions alone"),
        ([], {"fewer": -1}, "fewer"),
        ([], {"least": "weight"}, "least"),
        ([], {"springs": {"front": "450", "rear": "350 N*m/deg"}}, "unit"),
    ],
)
def test_mistakes_are_told(case, stock, wanted, words):
    with pytest.raises(CaseError, match=words.replace("*", r"\*")):
        with_asked(case, stock, wanted)


def test_limits_of_a_place_are_its_own_or_those_of_all(case):
    regions = {"floor": {"min": 1}, "sill": 2, "front_bulkhead": 0, "rear_bulkhead": {"min": -1}, "joint:tab60": 0}
    asked = with_asked(case, (), {"most": 4, "fewer": 2, "regions": regions}).schedule
    places = ("tunnel", *regions, "joint:floor/tunnel.side")
    wanted = [(-2, 4), (1, 4), (-2, 2), (0, 0), (-1, 4), (0, 0), (0, 4)]
    assert [asked.limits(place) for place in places] == wanted
