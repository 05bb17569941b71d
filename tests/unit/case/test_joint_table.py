"""The joint table: most exact entry, numbered lines, bodies and ties, and what is left unsaid."""

from pathlib import Path

import pytest

from tubfem.case.joint_table import CONTINUOUS, Line, Part, joint_kind_for, joint_parts, kind_named, resolve_joints
from tubfem.case.read import load_case
from tubfem.errors import CaseError

STARTER = load_case(Path(__file__).parents[2] / "data" / "starter_like.toml")

FLOOR = Part("floor", "floor", "floor")
FRONT = Part("front_bulkhead", "front_bulkhead", "front_bulkhead")
TOP = Part("tunnel.top", "tunnel.top", "tunnel")


def tunnel_side(side):
    return Part(f"tunnel.side.{side}", "tunnel.side", "tunnel")


def sill(wall, side="right"):
    return Part(f"sill.{wall}.{side}", f"sill.{wall}", "sill")


def with_joints(joints, **kinds):
    return STARTER.model_copy(update={"joints": joints, "joint_kinds": {**STARTER.joint_kinds, **kinds}})


def line(*parts, length=1.0, middle=(0.7, 0.1, 0.0)):
    return Line(parts, length, middle)


def messages(case, lines):
    with pytest.raises(CaseError) as caught:
        resolve_joints(case, lines)
    return caught.value.messages


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("floor/sill", ("floor", "sill", None)),
        ("*/*", ("*", "*", None)),
        ("dash/tunnel.side", ("dash", "tunnel.side", None)),
        ("dash/tunnel.2", ("dash", "tunnel", 2)),
        ("dash / tunnel.side.1", ("dash", "tunnel.side", 1)),
        ("floor", None),
        ("a/b/c", None),
    ],
)
def test_names_of_joints(text, parts):
    assert joint_parts(text) == parts


@pytest.mark.parametrize(
    ("joints", "entry"),
    [
        ({"*/*": "moulded", "front_bulkhead/*": "tab60"}, "front_bulkhead/*"),
        ({"front_bulkhead/*": "tab60", "front_bulkhead/tunnel": "moulded"}, "front_bulkhead/tunnel"),
        ({"tunnel/front_bulkhead": "moulded", "front_bulkhead/tunnel.side": "tab60"}, "front_bulkhead/tunnel.side"),
        ({"tunnel.side/*": "tab60", "*/tunnel": "moulded"}, "tunnel.side/*"),
        ({"*/*": "tab60"}, "*/*"),
    ],
)
def test_the_most_exact_entry_wins_however_it_is_turned(joints, entry):
    case = with_joints(joints)
    for a, b in ((FRONT, tunnel_side("left")), (tunnel_side("left"), FRONT)):
        assert joint_kind_for(case, a, b) == (entry, joints[entry])


def test_nothing_covers_the_pair():
    assert joint_kind_for(with_joints({"floor/tunnel": "tab60"}), FRONT, TOP) is None


def test_equally_exact_entries_that_differ_are_an_error():
    case = with_joints({"front_bulkhead/*": "tab60", "*/tunnel.top": "moulded"})
    with pytest.raises(
        CaseError, match=r'"front_bulkhead/\*" says tab60, "\*/tunnel.top" says moulded; add "front_bulkhead/tunnel"'
    ):
        joint_kind_for(case, FRONT, TOP)
    assert joint_kind_for(with_joints({"front_bulkhead/*": "tab60", "*/tunnel.top": "tab60"}), FRONT, TOP)


def test_one_region_is_continuous_unless_two_panels_are_named():
    case = with_joints({"*/*": "tab60", "tunnel/tunnel": "tab60"})
    assert joint_kind_for(case, TOP, tunnel_side("left")) == ("", CONTINUOUS)
    assert kind_named(case, CONTINUOUS).kind == "continuous"
    case = with_joints({"tunnel.side/tunnel.top": "tab60"})
    assert joint_kind_for(case, TOP, tunnel_side("left")) == ("tunnel.side/tunnel.top", "tab60")


def test_a_recess_is_moulded_on_to_its_panel():
    panel = STARTER.panels["floor"]
    recess = {"rectangle": [300, 270], "at": [700, 340], "depth": 25, "towards": "down"}
    floor = type(panel).model_validate({"between": panel.between, "tool": "down", "recesses": {"seat": recess}})
    case = with_joints({"*/*": "tab60"}).model_copy(update={"panels": {**STARTER.panels, "floor": floor}})
    walls = Part("floor.seat.walls.right", "floor.seat.walls", "floor.seat")
    assert joint_kind_for(case, FLOOR, walls) == ("", CONTINUOUS)
    assert joint_kind_for(case, FRONT, walls) == ("*/*", "tab60")


def test_continuous_parts_form_bodies_and_ties_join_bodies():
    right = line(FLOOR, sill("inner"), sill("bottom"), FRONT)
    case = with_joints({"floor/sill": "moulded", "front_bulkhead/*": "tab60"})
    (resolved,) = resolve_joints(case, [right])
    assert resolved.bodies == ((0, 1, 2), (3,))
    (tie,) = resolved.ties
    assert (tie.name, tie.kind, tie.first, tie.second) == ("floor/front_bulkhead", "tab60", (0, 1, 2), (3,))
    assert resolved.kinds[0, 1] == "moulded"
    assert resolved.kinds[1, 2] == CONTINUOUS
    assert resolved.names[1, 3] == "front_bulkhead/sill.inner.right"


def test_pairs_are_named_as_the_case_writes_them_with_their_sides():
    case = with_joints({"tunnel/floor": "tab60", "front_bulkhead/*": "tab60"})
    lines = [line(FLOOR, tunnel_side("left")), line(tunnel_side("right"), FRONT)]
    assert [list(each.names.values()) for each in resolve_joints(case, lines)] == [
        ["tunnel.side.left/floor"],
        ["front_bulkhead/tunnel.side.right"],
    ]


def test_lines_left_unsaid_are_listed_with_their_lengths():
    case = with_joints({"floor/tunnel": "tab60"})
    lines = [
        line(FLOOR, tunnel_side("left"), length=1.5),
        line(FLOOR, sill("inner"), length=1.48),
        line(FLOOR, sill("inner", "left"), length=1.48),
        line(FRONT, TOP, length=0.2),
    ]
    (message,) = messages(case, lines)
    assert message == (
        "starter_like.toml:57: 3 lines between regions have no joint (3.2 m): floor/sill 2.96 m, "
        "front_bulkhead/tunnel 0.20 m. Add them, or say "
        '"*/*" = "moulded" if they came out of one mould'
    )


def test_entries_for_what_does_not_meet_say_what_does():
    case = with_joints({"floor/tunnel": "tab60", "floor/front_bulkhead": "tab60", "rear_bulkhead/*": "tab60"})
    told = messages(case, [line(FLOOR, tunnel_side("left")), line(FLOOR, tunnel_side("right"))])
    assert any(
        'joints."floor/front_bulkhead": these do not meet along a line. floor meets: tunnel.side' in m for m in told
    )
    assert any(
        'joints."rear_bulkhead/*": these do not meet along a line. rear_bulkhead meets nothing' in m for m in told
    )


def test_moulded_on_and_bolted_to_one_body_is_a_contradiction():
    bolted = type(STARTER.joint_kinds["tab60"])(kind="fastened", bolt="M6", pitch=80)
    case = with_joints(
        {"floor/tunnel": "moulded", "tunnel/front_bulkhead": "moulded", "floor/front_bulkhead": "bolted"}, bolted=bolted
    )
    (message,) = messages(case, [line(FLOOR, tunnel_side("left"), FRONT)])
    assert "line near x = 700, y = 100, z = 0: " in message
    assert (
        "floor/tunnel.side and front_bulkhead/tunnel.side are continuous, floor/front_bulkhead is fastened" in message
    )
    assert "both moulded on and fastened to the same body" in message


def test_two_kinds_between_the_same_bodies_are_told():
    case = with_joints(
        {"floor/tunnel": "moulded", "tunnel/front_bulkhead": "tab60", "floor/front_bulkhead": "tab50"},
        tab50=STARTER.joint_kinds["tab60"],
    )
    (message,) = messages(case, [line(FLOOR, tunnel_side("left"), FRONT)])
    assert "floor/front_bulkhead is tab50, front_bulkhead/tunnel.side is tab60" in message


def test_lines_of_the_same_pair_are_numbered_upwards_and_alike_on_both_sides():
    joints = {"front_bulkhead/sill": "tab60", "front_bulkhead/sill.2": "moulded"}
    low = [line(FRONT, sill("bottom", side), middle=(0, y, 0.0)) for side, y in (("left", -0.5), ("right", 0.5))]
    high = [line(FRONT, sill("top", side), middle=(0, y, 0.22)) for side, y in (("left", -0.5), ("right", 0.5))]
    resolved = resolve_joints(with_joints(joints), [high[0], low[0], low[1], high[1]])
    assert [each.kinds[0, 1] for each in resolved] == ["moulded", "tab60", "tab60", "moulded"]
    (message,) = messages(with_joints({**joints, "front_bulkhead/sill.3": "moulded"}), low + high)
    assert 'joints."front_bulkhead/sill.3": there is no line 3' in message


def test_the_input_is_not_changed():
    lines = [line(FLOOR, tunnel_side("left"))]
    before = STARTER.model_dump()
    resolve_joints(with_joints({"floor/tunnel": "tab60"}), lines)
    assert STARTER.model_dump() == before
