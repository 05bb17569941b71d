"""--without: a panel, wall or section taken off with what names it."""

from pathlib import Path

import pytest

from tubfem.case.read import load_case
from tubfem.case.regions import regions
from tubfem.case.sections import plain_tub
from tubfem.case.without import take_off
from tubfem.errors import CaseError

CASES = Path(__file__).parents[3] / "cases"
STARTER = load_case(Path(__file__).parents[2] / "data" / "starter_like.toml")


def test_a_panel_goes_with_its_joints_and_layup():
    case = load_case(CASES / "two_seat_roadster.toml")
    smaller = take_off(case, "closing_panel")
    assert "closing_panel" in case.panels
    assert "closing_panel" not in smaller.panels
    assert "closing_panel" not in smaller.layups
    assert not any("closing_panel" in joint for joint in smaller.joints)
    assert set(case.joints) - set(smaller.joints) == {joint for joint in case.joints if "closing_panel" in joint}


def test_laps_onto_what_is_gone_are_not_laid():
    case = load_case(CASES / "two_seat_roadster.toml")
    smaller = take_off(case, "tunnel")
    assert any("tunnel" in entry.laps for entry in case.layups["floor"].stack)
    assert not any("tunnel" in entry.laps for layup in smaller.layups.values() for entry in layup.stack)
    assert any("sill_inner" in entry.laps for entry in smaller.layups["floor"].stack)


def test_a_wall_goes_and_its_region_and_corners_stay():
    smaller = take_off(STARTER, "tunnel.top")
    assert smaller.without == ("tunnel.top",)
    assert regions(smaller)["tunnel"] == ("tunnel.side",)
    assert smaller.sections == STARTER.sections
    assert "tunnel" in smaller.layups


def test_a_section_is_all_its_walls():
    smaller = take_off(STARTER, "tunnel")
    assert smaller.without == ("tunnel.side", "tunnel.top")
    assert "tunnel" not in regions(smaller)
    assert "floor/tunnel" not in smaller.joints
    assert take_off(take_off(STARTER, "tunnel.top"), "tunnel").without == ("tunnel.top", "tunnel.side")


def test_mounts_and_patches_on_it_go_unless_something_hangs_on_them():
    with pytest.raises(CaseError) as caught:
        take_off(STARTER, "front_bulkhead")
    assert caught.value.messages == (
        "--without front_bulkhead: pickups.front hangs on front_upper, front_lower, which would go with it; move the "
        "mounts to another panel first",
    )
    hung = {"front": STARTER.pickups["rear"]}
    assert set(take_off(STARTER.model_copy(update={"pickups": hung}), "front_bulkhead").mounts) == {
        "rear_upper",
        "rear_lower",
    }


def test_a_box_of_foam_needs_all_its_walls():
    case = load_case(CASES / "two_seat_roadster.toml")
    with pytest.raises(CaseError, match="pillar is filled with foam80, which needs all its walls"):
        take_off(case, "pillar.rear")
    assert not any(part.startswith("pillar") for parts in regions(take_off(case, "pillar")).values() for part in parts)


@pytest.mark.parametrize(
    ("name", "nearest"), [("flor", "floor"), ("tunnel.tops", "tunnel.top"), ("sil", "sill"), ("zzz", "there are floor")]
)
def test_unknown_names_get_the_nearest_spelling(name, nearest):
    with pytest.raises(CaseError, match=nearest):
        take_off(STARTER, name)


def test_loads_on_it_are_told():
    case = load_case(CASES / "closed_box.toml")
    static = case.load_cases["twist"]
    pressed = type(static).model_validate(
        {
            "kind": "static",
            "supports": [{"on": "stations.rear", "fix": "all"}],
            "pressures": [{"on": "sections.box.top", "pressure": "700 Pa"}],
        }
    )
    case = case.model_copy(update={"load_cases": {"press": pressed}})
    with pytest.raises(CaseError, match=r"load_cases.press.pressures entry 1 acts on sections.box.top"):
        take_off(case, "box.top")
    assert take_off(case, "box.bottom").without == ("box.bottom",)


def test_a_wall_taken_off_is_not_meshed_and_its_neighbours_stay_where_they_were():
    case = load_case(CASES / "two_seat_roadster.toml")
    thickness = dict.fromkeys(regions(case), 0.004)
    whole = {panel.name: panel for panel in plain_tub(case, thickness).panels}
    for name, gone in (
        ("tunnel.top", {"tunnel.top"}),
        ("pillar", {name for name in whole if name.startswith("pillar.")}),
    ):
        left = {panel.name: panel for panel in plain_tub(take_off(case, name), thickness).panels}
        assert set(whole) - set(left) == gone
        assert all(left[each].faces == whole[each].faces for each in left)


def test_what_the_car_carries_or_is_lifted_by_cannot_go():
    case = load_case(CASES / "two_seat_roadster_road.toml")
    with pytest.raises(CaseError, match=r"vehicle\.masses\.fuel acts on panels\.rear_shelf; take it off"):
        take_off(case, "rear_shelf")
    jacked = case.load_cases["jacking"].model_copy(update={"on": ("sections.tail.side",)})
    changed = case.model_copy(update={"load_cases": {**case.load_cases, "jacking": jacked}})
    with pytest.raises(CaseError, match=r"load_cases\.jacking\.on acts on sections\.tail\.side"):
        take_off(changed, "tail")
