"""Reading a case: the starter as it is, and the message for every mistake a newcomer makes in it."""

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from tubfem.case.joining import JointKind
from tubfem.case.loads import Margins
from tubfem.case.planning import Schedule
from tubfem.case.read import load_case
from tubfem.case.schema import Case, case_schema
from tubfem.case.stuff import Core, Layup, Ply, StackEntry
from tubfem.errors import CaseError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter_like.toml").read_text()


def write(folder, text, name="b.toml"):
    path = folder / name
    path.write_text(text)
    return path


def faults(folder, text):
    """Messages for a text; the case must not be read."""
    with pytest.raises(CaseError) as caught:
        load_case(write(folder, text))
    return caught.value.messages


def changed(old, new):
    assert old in STARTER, f"the starter has no {old!r}"
    return STARTER.replace(old, new, 1)


def line_of(text, part):
    return text[: text.index(part)].count("\n") + 1


def test_the_starter_is_read_to_si():
    case = load_case(DATA / "starter_like.toml")
    assert case.cautions == (
        "starter_like.toml:55: joint_kinds.tab60: biax600 is a +-45 cloth; @ 45 lays its fibres along and across the "
        "line. For +-45 across the joint write @ 0",
    )
    assert case.stations["rear"].x_at(0.3) == pytest.approx(1.48)
    assert case.sections["sill"].at["front"]["in_top"] == (0.49, 0.22)
    assert case.plies["biax600"].areal_weight == pytest.approx(0.6)
    assert case.plies["biax600"].resin == "epoxy, room-temperature cure"
    assert case.mounts["front_upper"].bolt == "M10"
    assert case.mounts["front_upper"].radius == pytest.approx(0.03)
    assert case.layups["rear_bulkhead"].stack == case.layups["front_bulkhead"].stack
    assert case.layups["floor"].stack[2].thickness == pytest.approx(0.015)
    assert case.load_cases["torsion"].torque == 1000.0
    assert case.where("mounts", "rear_lower", "at") == "starter_like.toml:67"


MISTAKES = tomllib.loads((DATA / "mistakes.toml").read_text())
SYNTAX = sorted(name for name, mistake in MISTAKES.items() if mistake.get("syntax"))
TOLD = sorted(set(MISTAKES) - set(SYNTAX))
MANY = {  # a mistake that others follow from: how many messages at most
    "station misspelt in a section": 2,
    "mount without bolt": 4,
    "name of a panel twice": 4,
    "unknown table": 3,
    "no resin": 2,
    "no process": 2,
    "region with a section's name": 2,
}


def with_mistake(name, text=STARTER):
    old = MISTAKES[name]["instead_of"]
    assert old in text, f"the starter has no {old!r}"
    return text.replace(old, MISTAKES[name]["written"], 1)


@pytest.mark.parametrize("mistake", SYNTAX)
def test_slips_of_toml_are_told_in_the_builders_words(tmp_path, mistake):
    text = with_mistake(mistake)
    (message,) = faults(tmp_path, text)
    assert message.startswith(f"b.toml:{line_of(text, MISTAKES[mistake]['written'])}: "), message
    assert MISTAKES[mistake]["told"] in message


@pytest.mark.parametrize("mistake", TOLD)
def test_mistakes_are_told_at_their_line_and_little_else(tmp_path, mistake):
    messages = faults(tmp_path, with_mistake(mistake))
    assert any(MISTAKES[mistake]["told"] in message for message in messages), messages
    assert all(re.match(r"(b\.toml:\d+: |.*b\.toml: no load case)", message) for message in messages), messages
    assert len(messages) <= MANY.get(mistake, 1), messages


def test_lines_are_those_of_the_key(tmp_path):
    text = changed('areal_weight = "600 g/m^2"', 'areal_weight = "600 g/m"')
    (message,) = faults(tmp_path, text)
    assert message.startswith(f"b.toml:{line_of(text, 'biax600 =')}: plies.biax600.areal_weight: ")


def test_several_faults_are_reported_together_in_the_order_of_the_file(tmp_path):
    text = STARTER
    for mistake in ("minus y", "tool face misspelt", "ply misspelt", "joint of nothing", "wrong dimension"):
        text = with_mistake(mistake, text)
    messages = faults(tmp_path, text)
    assert [message.split(": ")[1].split(".")[0] for message in messages] == [
        "sections",
        "panels",
        "plies",
        "layups",
        "joints",
    ]


def test_short_tubs_may_be_in_inches(tmp_path):
    caution = load_case(write(tmp_path, changed("rear = 1480", "rear = 58"))).cautions[-1]
    assert 'the tub is 58 mm long between stations; were these inches? Write units = "in" or "58 in"' in caution


def test_inches_scale_bare_lengths(tmp_path):
    text = changed("width = 60", "width = 2.5").replace("fillet = 8", "fillet = 0.3")
    case = load_case(write(tmp_path, 'units = "in"\n' + text))
    assert case.sections["sill"].at["front"]["in_low"] == pytest.approx((470 * 0.0254, 0.0))
    assert case.layups["floor"].stack[2].thickness == pytest.approx(0.015)
    assert case.joint_kinds["tab60"].width == pytest.approx(2.5 * 0.0254)


def test_a_layup_laid_nowhere_is_a_caution(tmp_path):
    text = changed("[joint_kinds]", 'flor = ["plain200"]\n[joint_kinds]')
    (caution,) = [each for each in load_case(write(tmp_path, text)).cautions if "flor" in each]
    assert caution == f"b.toml:{line_of(text, 'flor =')}: layups.flor is laid nowhere; nearest: floor"


def test_a_core_without_plies_on_a_face_is_a_caution(tmp_path):
    text = changed('"foam80 15 mm", "biax600", "plain200"]', '"foam80 15 mm"]')
    (caution,) = [each for each in load_case(write(tmp_path, text)).cautions if "bare" in each]
    assert caution.startswith(f"b.toml:{line_of(text, 'floor = [')}: layups.floor: the core lies bare on the far face")


def test_a_turned_bias_cloth_in_a_layup_is_a_caution(tmp_path):
    text = changed('tunnel = ["plain200", "3 x biax600"]', 'tunnel = ["plain200", "3 x biax600 @ -45"]')
    assert any("layups.tunnel entry 2" in caution for caution in load_case(write(tmp_path, text)).cautions)


def test_no_such_file(tmp_path):
    with pytest.raises(CaseError, match="no such file"):
        load_case(tmp_path / "a.toml")


def test_bytes_that_are_not_text(tmp_path):
    (tmp_path / "a.toml").write_bytes(b'title = "caf\xe9"\n')
    with pytest.raises(CaseError, match="UTF-8"):
        load_case(tmp_path / "a.toml")


def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path):
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbf" + STARTER.replace("\n", "\r\n").encode())
    assert load_case(tmp_path / "a.toml").where("panels", "floor") == f"a.toml:{line_of(STARTER, '[panels.floor]')}"


def test_like_copies_and_own_keys_win(tmp_path):
    text = changed(
        "fillet = 8 }", 'fillet = 8 }\ntab50 = { like = "tab60", width = 50 }\ntab40 = { like = "tab50", sides = 2 }'
    )
    text = text.replace('"rear_bulkhead/*" = "tab60"', '"rear_bulkhead/*" = { like = "tab50", fillet = 3 }')
    case = load_case(write(tmp_path, text))
    tab = case.joint_kinds["tab40"]
    assert (tab.kind, tab.width, tab.sides, tab.fillet, tab.like) == ("tabbed", 0.05, 2, 0.008, None)
    assert case.joints["rear_bulkhead/*"] == "rear_bulkhead/*"
    assert case.joint_kinds["rear_bulkhead/*"].fillet == 0.003
    assert case.joint_kinds["rear_bulkhead/*"].width == 0.05


def test_a_copied_ply_has_one_resin_content_and_no_stock(tmp_path):
    thick = 'thick = { like = "biax600", mass_fraction = 0.4, on_hand = "6 m" }'
    thin = 'thin = { like = "thick", thickness = 0.6 }'
    text = changed("\n[cores]", f"{thick}\n{thin}\n\n[cores]")
    plies = load_case(write(tmp_path, text)).plies
    assert (plies["thin"].thickness, plies["thin"].mass_fraction, plies["thin"].on_hand) == (0.0006, None, None)
    assert plies["thin"].areal_weight == plies["biax600"].areal_weight


def test_likes_in_a_circle_are_told(tmp_path):
    text = changed("fillet = 8 }", 'fillet = 8 }\na = { like = "b" }\nb = { like = "a" }')
    assert any("goes round in a circle" in message for message in faults(tmp_path, text))


def test_defaults_fill_what_is_absent_and_nothing_else(tmp_path):
    text = changed('process = "hand"', 'process = "hand"\nmeasured = "middle"\nstagger = 12')
    text = text.replace('architecture = "plain",', 'architecture = "plain", process = "vacuum bag",')
    text = text.replace(
        'between = ["sill.in_low", "sill.in_low"]', 'between = ["sill.in_low", "sill.in_low"]\nmeasured = "far"'
    )
    text = text.replace(
        '{ on = "front_bulkhead", at = [420, 340] }', '{ on = "front_bulkhead", at = [420, 340], bolt = "M8" }'
    )
    case = load_case(write(tmp_path, text))
    assert case.plies["plain200"].process == "vacuum bag"
    assert case.plies["biax600"].process == "hand"
    assert case.panels["floor"].measured == "far"
    assert case.sections["sill"].measured == "middle"
    assert case.mounts["front_upper"].bolt == "M8"
    assert case.layups["floor"].stack[0].stagger == 0.012


def test_a_recess_takes_the_plies_of_its_panel_without_core(tmp_path):
    recess = 'recesses.seat = { rectangle = [300, 270], at = [700, 340], depth = 25, towards = "down" }'
    case = load_case(write(tmp_path, changed('tool = "down"', f'tool = "down"\n{recess}')))
    names = [entry.name for entry in case.layups["floor.seat"].stack]
    assert names == ["plain200", "biax600", "biax600", "plain200"]


def test_every_key_of_the_schema_can_be_written():
    case = load_case(DATA / "every_key.toml")
    written = {}

    def note(value):
        if isinstance(value, BaseModel):
            written.setdefault(type(value), set()).update(value.model_fields_set)
            for name in type(value).model_fields:
                note(getattr(value, name))
        elif isinstance(value, dict | tuple):
            for inner in value.values() if isinstance(value, dict) else value:
                note(inner)

    note(case)
    reader_sets = {Case: {"path", "lines", "cautions", "without"}, StackEntry: {"added"}, Layup: {"same_as", "add"}}
    filled_in = {Ply: {"like"}, Core: {"like"}, JointKind: {"like"}}
    filled_in |= {Margins: {"limit_torque"}}  # lighter_axle is the other way to say it
    filled_in |= {Schedule: {"stiffness"}}  # and springs that of a stiffness
    for model, fields in written.items():
        left = set(model.model_fields) - fields - reader_sets.get(model, set()) - filled_in.get(model, set())
        assert not left, (model.__name__, left)
    assert {model.__name__ for model in written} >= set(case_schema()["$defs"])


def shelf_and_case():
    """The starter with plies and cores on a shelf of their own."""
    start, end = STARTER.index("[plies]"), STARTER.index("[layups]")
    return STARTER[start:end], 'include = ["shelf.toml"]\n' + STARTER[:start] + STARTER[end:]


def test_included_files_are_merged_and_faults_told_in_their_file(tmp_path):
    shelf, text = shelf_and_case()
    write(tmp_path, shelf, "shelf.toml")
    assert load_case(write(tmp_path, text)).plies == load_case(DATA / "starter_like.toml").plies
    write(tmp_path, shelf.replace('"600 g/m^2"', '"600 g/m"'), "shelf.toml")
    (message,) = faults(tmp_path, text)
    assert message.startswith("shelf.toml:3: plies.biax600.areal_weight: ")


def test_a_name_in_two_files_is_told_and_defaults_of_this_file_win(tmp_path):
    shelf, text = shelf_and_case()
    write(tmp_path, '[defaults]\nprocess = "vacuum bag"\nmeasured = "far"\n' + shelf, "shelf.toml")
    case = load_case(write(tmp_path, text))
    assert case.plies["biax600"].process == "hand"
    assert case.sections["sill"].measured == "far"
    messages = faults(tmp_path, text + '\n[cores]\nfoam80 = { material = "balsa", density = "150 kg/m^3" }\n')
    assert any("cores.foam80 is given twice (shelf.toml:9)" in message for message in messages), messages


def test_a_name_may_be_given_anew(tmp_path):
    shelf, text = shelf_and_case()
    write(tmp_path, 'title = "shelf"\n[mesh]\nsize = 30\n' + shelf, "shelf.toml")
    assert len(faults(tmp_path, text)) == 1  # the title is in both
    text = 'replaces = ["title", "mesh.size", "cores.foam80"]\n' + text
    anew = text + '\n[cores]\nfoam80 = { material = "balsa", density = "100 kg/m^3" }\n'
    case = load_case(write(tmp_path, anew))
    assert case.cores["foam80"].material == "balsa"
    assert case.title != "shelf"
    assert case.mesh.size == 0.025  # gone without, so the default holds
    assert case.where("cores", "foam80").startswith("b.toml:")
    (message,) = [m for m in faults(tmp_path, text.replace('"cores.foam80"', '"cores.foam08"')) if "replaces" in m]
    assert message == 'b.toml:1: replaces: "cores.foam08" is in no included file; nearest: cores.foam80'
    assert any("replaces" in m for m in faults(tmp_path, text.replace('["title"', '["plies"')))  # one name at a time


@pytest.mark.parametrize(
    ("shelf", "words"),
    [
        (None, "no such file beside b.toml"),
        ('include = ["b.toml"]\n', "includes itself in a circle"),
        ("[plies\n", "shelf.toml:1: "),
        ('units = "in"\n[points]\na = [1, 2, 3]\n', "bare numbers are in in shelf.toml and mm here"),
    ],
)
def test_includes_that_cannot_be(tmp_path, shelf, words):
    if shelf is not None:
        write(tmp_path, shelf, "shelf.toml")
    assert any(words in message for message in faults(tmp_path, 'include = ["shelf.toml"]\n' + STARTER))


@pytest.mark.parametrize("key", ["path", "lines", "cautions", "without"])
def test_what_only_the_reader_sets_is_no_key(tmp_path, key):
    assert any(f'no key "{key}" here' in message for message in faults(tmp_path, f'{key} = "x"\n' + STARTER))
