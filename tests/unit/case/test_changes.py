"""--add and --drop as Case -> Case."""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tubfem.case.changes import Change, add_plies, drop_plies, parse_change, usual_angle
from tubfem.case.read import load_case
from tubfem.case.stuff import Layup
from tubfem.errors import CaseError

CASES = Path(__file__).parents[3] / "cases"
STARTER = load_case(Path(__file__).parents[2] / "data" / "starter_like.toml")


def texts(case, region):
    return [entry.text for entry in case.layups[region].stack]


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("tunnel=biax600", Change(("tunnel",), "biax600")),
        ("tunnel=biax600*2", Change(("tunnel",), "biax600", None, 2)),
        ("tunnel=biax600@45*2:tool", Change(("tunnel",), "biax600", math.radians(45), 2, "tool")),
        ("tunnel,floor=uni300@-30.5:core", Change(("tunnel", "floor"), "uni300", math.radians(-30.5), 1, "core")),
        ("joint:dash/floor=biax600", Change(("joint:dash/floor",), "biax600")),
        ("joint:front_bulkhead/*=biax600*2", Change(("joint:front_bulkhead/*",), "biax600", None, 2)),
        ("patch:front_low = biax600 * 2", Change(("patch:front_low",), "biax600", None, 2)),
    ],
)
def test_reads_the_grammar(text, change):
    assert parse_change(text) == change


@given(
    st.sampled_from(["tunnel", "joint:a/b", "patch:m"]),
    st.none() | st.integers(-90, 90),
    st.integers(1, 9),
    st.sampled_from(["far", "tool", "core"]),
)
def test_a_change_reads_back_as_it_is_written(target, angle, count, face):
    change = Change((target,), "biax600", None if angle is None else math.radians(angle), count, face)
    assert parse_change(change.text) == change


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("tunnel", "cannot be read"),
        ("tunnel=", "cannot be read"),
        ("tunnel=biax600*0", "no plies"),
        ("tunnel=biax600:inside", "no face inside"),
        ("tunel=biax600", 'no region "tunel"; nearest: tunnel'),
        ("tunnel=biax60", "no ply biax60; nearest: biax600"),
        ("tunnel=foam80", "foam80 is a core"),
        ("tunnel=biax600:core", "tunnel has no core"),
        ("joint:tab06=biax600", 'no joint or joint kind "tab06"; nearest: tab60'),
        ("joint:moulded=biax600", "joint moulded is continuous and has no tab"),
        ("joint:tab60=biax600:tool", "a tab has no :tool"),
        ("patch:front_upper=biax600", "mount front_upper has no patch"),
        ("patch:nothing=biax600", 'no patch or mount "nothing"'),
        ("edge:floor=biax600", 'no target "edge:floor"'),
    ],
)
def test_says_what_is_wrong_and_names_the_flag(text, words):
    with pytest.raises(CaseError) as caught:
        add_plies(STARTER, text)
    assert str(caught.value).startswith(f"--add {text}: ")
    assert words in str(caught.value)


def test_adds_on_the_face_last_laid_once_at_the_usual_angle():
    case = add_plies(STARTER, "tunnel=biax600")
    assert texts(case, "tunnel") == ["plain200 @ 0", "3 x biax600 @ 0", "biax600 @ 0"]
    assert [entry.added for entry in case.layups["tunnel"].stack] == [None, None, "far"]


def test_tool_and_core_say_where():
    case = add_plies(add_plies(STARTER, "floor=biax600*2:tool"), "floor=plain200@45:core")
    assert texts(case, "floor") == [
        "2 x biax600 @ 0",
        "plain200 @ 0",
        "2 x biax600 @ 0",
        "foam80 15 mm",
        "plain200 @ 45",
        "biax600 @ 0",
        "plain200 @ 0",
    ]


@pytest.mark.parametrize(
    ("stack", "degrees"),
    [
        (["a @ 30", "3 x a @ -45", "a @ 30"], -45),
        (["a @ 30", "a @ 60"], 60),
        (["b @ 30"], 0),
        (["a @ 90", "b @ 0", "b @ 0", "b @ 0"], 90),
    ],
)
def test_the_usual_angle_is_that_of_most_plies_of_the_name(stack, degrees):
    stack = Layup.model_validate([entry for entry in stack]).stack
    assert math.degrees(usual_angle(stack, "a")) == pytest.approx(degrees)


def test_only_the_target_changes_and_the_case_given_stays_as_it_was():
    before = STARTER.model_dump()
    case = add_plies(STARTER, "front_bulkhead=biax600")
    assert STARTER.model_dump() == before
    assert case.layups["rear_bulkhead"] == STARTER.layups["rear_bulkhead"]  # written same_as, changed on its own
    changed = {name for name in case.layups if case.layups[name] != STARTER.layups[name]}
    assert changed == {"front_bulkhead"}
    assert case.model_copy(update={"layups": STARTER.layups}) == STARTER


def test_a_section_is_all_its_regions_and_a_wall_its_own():
    case = load_case(CASES / "two_seat_roadster.toml")
    changed = add_plies(case, "sill=biax600")
    assert {name for name in case.layups if case.layups[name] != changed.layups[name]} == {"sill_inner", "sill_outer"}
    changed = add_plies(case, "sill.inner=biax600")
    assert {name for name in case.layups if case.layups[name] != changed.layups[name]} == {"sill_inner"}


def test_several_targets_at_once():
    case = add_plies(STARTER, "tunnel,sill=biax600@45")
    assert texts(case, "tunnel")[-1] == texts(case, "sill")[-1] == "biax600 @ 45"


def test_a_joint_kind_changes_for_all_and_a_joint_for_itself():
    everywhere = add_plies(STARTER, "joint:tab60=biax600")
    assert [entry.text for entry in everywhere.joint_kinds["tab60"].tab] == ["biax600 @ 45", "biax600 @ 45"]
    for name in ("floor/tunnel", "front_bulkhead/floor"):  # one has an entry, the other falls under a pattern
        one = add_plies(STARTER, f"joint:{name}=biax600")
        assert one.joint_kinds["tab60"] == STARTER.joint_kinds["tab60"]
        assert len(one.joint_kinds[one.joints[name]].tab) == 2
        assert one.joint_kinds[one.joints[name]].width == STARTER.joint_kinds["tab60"].width


def test_a_patch_with_stepped_radii_goes_on_with_the_smallest():
    case = load_case(CASES / "two_seat_roadster.toml")
    mount = next(name for name, each in case.mounts.items() if len(each.patch_radius) > 1)
    radii = case.mounts[mount].patch_radius
    plies = sum(entry.count for entry in case.mounts[mount].patch)
    ply = case.mounts[mount].patch[0].name
    assert add_plies(case, f"patch:{mount}={ply}*2").mounts[mount].patch_radius == (*radii, radii[-1], radii[-1])
    dropped = drop_plies(case, f"patch:{mount}={ply}").mounts[mount]
    assert dropped.patch_radius == radii[:-1]
    assert sum(entry.count for entry in dropped.patch) == plies - 1


def test_a_stepped_patch_takes_no_more_plies_than_find_room():
    """Of 126 mm with steps of 12 mm the eleventh ply is left 6 mm, the twelfth nothing."""
    case = load_case(CASES / "two_seat_roadster.toml")
    assert sum(entry.count for entry in add_plies(case, "patch:pillar_foot=biax600*9").patches["pillar_foot"].ply) == 11
    with pytest.raises(CaseError, match="leaves nothing of ply 12 on 126 mm"):
        add_plies(case, "patch:pillar_foot=biax600*10")


def test_drops_from_the_face_last_laid():
    assert texts(drop_plies(STARTER, "floor=biax600"), "floor") == [
        "plain200 @ 0",
        "2 x biax600 @ 0",
        "foam80 15 mm",
        "plain200 @ 0",
    ]
    assert texts(drop_plies(STARTER, "floor=biax600*2"), "floor") == [
        "plain200 @ 0",
        "biax600 @ 0",
        "foam80 15 mm",
        "plain200 @ 0",
    ]
    assert texts(drop_plies(STARTER, "floor=plain200:tool"), "floor")[0] == "2 x biax600 @ 0"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("tunnel=biax600*4", "tunnel has 3 of biax600, so 4 cannot be dropped"),
        ("tunnel=biax600@45", "tunnel has 0 of biax600 @ 45"),
        ("floor=biax600*2:core", "has 1 of biax600 beyond the core"),
    ],
)
def test_no_more_is_dropped_than_there_is(text, words):
    with pytest.raises(CaseError, match=words):
        drop_plies(STARTER, text)


def test_something_is_left_after_dropping():
    bare = drop_plies(STARTER, "tunnel=biax600*3")
    with pytest.raises(CaseError, match="no plies left"):
        drop_plies(bare, "tunnel=plain200")


@given(st.sampled_from(["tunnel", "floor", "sill"]), st.integers(1, 5), st.sampled_from(["", ":tool"]))
def test_dropping_undoes_adding(region, count, face):
    text = f"{region}=plain200@30*{count}{face}"
    assert drop_plies(add_plies(STARTER, text), text) == STARTER
