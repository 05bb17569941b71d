from types import SimpleNamespace

import pytest

from tubfem.report.schedule_table import _answer

BASE = {
    "summed": 10000.0,
    "base_stiffness": 9000.0,
    "mass": 2.0,
    "price": None,
    "currency": None,
    "texts": ("floor=a",),
    "drops": (),
    "fewer": False,
}


def answer(**more):
    common = {"strong": True, "possible": True, "reached": True, "worth": 2.0, "asked": SimpleNamespace(least="mass")}
    return _answer(SimpleNamespace(**(BASE | common | more)))


def test_a_bound_is_told_beside_the_run_in_full_where_the_two_agree():
    text = answer(target=None, confirmed=10001.0, bound=10020.0)
    assert "No other choice gives more than 10020, 0.19 % above." in text
    assert "sums" not in text


@pytest.mark.parametrize(("confirmed", "said"), [(10060.0, "0.60 % less"), (9940.0, "0.60 % more")])
def test_a_bound_stays_beside_the_reduced_model_where_the_run_in_full_is_elsewhere(confirmed, said):
    """Otherwise the best found could lie above what nothing is said to be above."""
    text = answer(target=None, confirmed=confirmed, bound=10020.0)
    assert (
        f"this choice 10000, {said} than the run in full: by them no other gives more than 10020, 0.20 % above" in text
    )
    text = answer(target=9900.0, confirmed=confirmed, bound=1.9)
    assert f"this choice {said} stiffness than the run in full, and is no surer than that." in text


def test_a_tub_that_is_stiff_enough_needs_nothing():
    text = answer(target=7000.0, confirmed=9000.0, bound=0.0, worth=0.0, mass=0.0, texts=())
    assert text == "7000 N·m/deg: the tub has 9000 as it is, and nothing need be laid."


def test_what_is_left_out_is_told_as_less_and_the_bound_as_one_of_stiffness_alone():
    """5.82 kg less where 6.45 would be stiff enough: 0.63 kg apart, whatever the margins hold back."""
    more = {"mass": -5.82, "worth": -5.82, "bound": -6.45, "price": -63.0, "currency": "EUR", "fewer": True}
    text = answer(target=8500.0, confirmed=8512.0, summed=8512.0, drops=("floor=a",), texts=(), **more)
    assert "is reached with 5.82 kg less, 63.0 EUR less, the least mass found" in text
    assert "By stiffness alone no choice comes to less than -6.45 kg: 0.630 kg below this one" in text
    text = answer(
        target=8500.0, confirmed=8512.0, summed=8512.0, drops=("floor=a",), texts=(), **more | {"bound": -5.82}
    )
    assert "Stiffness alone allows no less, margins left aside." in text
    text = answer(target=8500.0, confirmed=8512.0, summed=0.0, drops=("floor=a",), texts=(), **more)
    assert "leave nothing of it here: it is only an indication." in text
    text = answer(target=8500.0, confirmed=9000.0, bound=-2.0, worth=0.0, mass=0.0, texts=(), fewer=True)
    assert text.endswith("nothing need be laid. Nothing that was tried may be left out.")
