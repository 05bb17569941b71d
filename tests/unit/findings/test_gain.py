from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from report_builders import small_report
from rich.console import Console

from tubfem.findings.gain import Moved, gains, other_margins
from tubfem.findings.joint_results import HardPoint, HardPointCheck
from tubfem.report.tables import print_findings


def test_gain_is_counted_against_the_case_as_written():
    _, before = small_report()
    (name, found), *_ = ((n, f) for n, f in before.load_cases.items() if f.torsion is not None)
    stiffer = replace(found, torsion=replace(found.torsion, pickup_to_pickup=1.1 * found.torsion.pickup_to_pickup))
    after = replace(before, mass=replace(before.mass, total=before.mass.total + 2.0), load_cases={name: stiffer})

    (gain,) = gains(before, after)

    won = 0.1 * found.torsion.pickup_to_pickup
    assert gain.gain_Nm_per_deg == pytest.approx(won)
    assert gain.gain_percent == pytest.approx(10.0)
    assert gain.gain_per_kg == pytest.approx(won / 2.0)
    assert (
        gain.worst_margin == gain.worst_margin_before == min(r.worst.margin for r in found.regions.values() if r.worst)
    )


def test_no_gain_per_kilogram_where_nothing_is_added():
    _, before = small_report()
    assert all(gain.gain_per_kg is None for gain in gains(before, before))


def test_where_nothing_is_judged_a_gain_has_no_margins():
    model, before = small_report()
    none = dict.fromkeys(("worst_first_damage", "worst_fibre", "worst_interlaminar", "worst_core"))
    load_cases = {
        name: replace(found, regions={key: replace(region, **none) for key, region in found.regions.items()})
        for name, found in before.load_cases.items()
    }
    unjudged = replace(before, load_cases=load_cases)
    found = gains(unjudged, unjudged)
    assert {(g.worst_margin, g.worst_region, g.worst_margin_before) for g in found} == {(None, "", None)}
    console = Console(record=True, width=120, file=StringIO())
    print_findings(console, model, replace(unjudged, gains=found), ("floor=biax600",))
    (line,) = (line for line in console.export_text().splitlines() if line.strip().startswith("plies and cores "))
    assert line.split() == ["plies", "and", "cores", "-", "-"]


def test_the_weakest_joint_and_hard_point_are_told_before_and_after():
    """Names and numbers set by hand: the weakest is another joint after; a joint that cannot fail is not told."""
    model, before = small_report()
    (name, found), *_ = ((n, f) for n, f in before.load_cases.items() if f.torsion is not None)
    joint = next(iter(found.joints.values()))
    check = HardPointCheck("bearing", 2.0, 3.0, "Pa", "by hand")
    point = HardPoint("bolt", "a", np.zeros(3), 0.0, 0.0, 0.0, 0.01, 0.1, "plate", (check,), "")

    def with_margins(one, other, demand):
        joints = {"a/b": replace(joint, margin=one), "a/c": replace(joint, margin=other)}
        joints["a/d"] = replace(joint, margin=None)
        points = {"bolt": replace(point, checks=(replace(check, demand=demand, allowable=3.0),))}
        return {name: replace(found, joints=joints, hard_points=points, frames={}, openings={})}

    then = replace(before, load_cases=with_margins(0.5, 0.7, 2.0))
    now = replace(before, load_cases=with_margins(0.9, -0.1, 1.0))
    (gain,) = gains(then, now)
    assert gain.others == (Moved("joints", 0.5, "a/b", -0.1, "a/c"), Moved("hard points", 0.5, "bolt", 2.0, "bolt"))
    console = Console(record=True, width=100, file=StringIO())
    print_findings(console, model, replace(before, gains=(gain,)), ("floor=biax600",))
    told = [" ".join(line.split()) for line in console.export_text().splitlines()]
    assert "joints +0.50 -0.10 a/b, now a/c" in told
    assert "hard points +0.50 +2.00 bolt" in told


def test_what_nothing_loads_has_no_margin_among_the_others():
    _, before = small_report()
    found = next(iter(before.load_cases.values()))
    check = HardPointCheck("bearing", 0.0, 3.0, "Pa", "by hand")
    point = HardPoint("bolt", "a", np.zeros(3), 0.0, 0.0, 0.0, 0.01, 0.1, "plate", (check,), "")
    loaded = replace(point, checks=(replace(check, demand=2.0),))
    assert other_margins(replace(found, hard_points={"a": point, "b": loaded}))["hard points"] == {"b": 0.5}
