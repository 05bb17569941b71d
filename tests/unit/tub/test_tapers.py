"""Plies that end one after another: over a wall, between stations, along a corner; mass by hand on three meshes."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.case.read import load_case
from tubfem.case.sections import plain_tub
from tubfem.case.without import take_off
from tubfem.errors import CaseError
from tubfem.geometry.mesher import mesh_tub
from tubfem.tub.drops import ply_drops, steep_drops
from tubfem.tub.layup import lay_plies, region_mass
from tubfem.tub.plies import base_thickness

SIZES = (0.06, 0.04, 0.025)
AREAL = 1.8  # kg/m² of a ply
CASE = """
mirror = "y"
[mesh]
size = 40
[stations]
front = 0
mid = 600
back = 1000
rear = 1500
lean = [[1000, 0], [1100, 200]]
[sections.sill]
walls = { inner = ["a", "b"], top = ["b", "c"], outer = ["c", "d"], bottom = ["d", "a"] }
at.front = { a = [400, 0], b = [400, 200], c = [550, 200], d = [550, 0] }
at.rear = { a = [400, 0], b = [400, 200], c = [550, 200], d = [550, 0] }
measured = "middle"
[plies]
ply = { E = "20 GPa", nu = 0.3, thickness = 1.0, density = "1800 kg/m^3" }
[layups]
sill = ["ply", "2 x ply"]
thick = { same_as = "sill", add = ["2 x ply", "ply"] }
other = ["ply", "ply"]
[load_cases.static]
supports = [{ on = "sill.a@front", fix = "all" }]
forces = [{ on = "sill.b@rear", force = ["0 N", "0 N", "1 N"] }]
"""


def case(tmp_path, text, base=CASE):
    path = tmp_path / "case.toml"
    path.write_text(base + text)
    return load_case(path)


def added(own, size):
    """Mass [kg] of both sills over that of their own schedule, and the layup."""
    own = own.model_copy(update={"mesh": own.mesh.model_copy(update={"size": size})})
    thickness = base_thickness(own)
    mesh = mesh_tub(plain_tub(own, thickness))
    layup = lay_plies(own, mesh, thickness)
    return sum(region_mass(mesh, layup).values()) - 2 * 0.7 * 1.5 * 3 * AREAL, layup


@pytest.mark.parametrize("size", SIZES)
def test_another_schedule_ends_one_ply_after_another(tmp_path, size):
    bay = '[sections.sill]\nlayup_from = [{ wall = "top", from = "mid", to = "back", layup = "thick", taper = 90 }]'
    mass, layup = added(case(tmp_path, "", CASE.replace("[sections.sill]", bay)), size)
    # hand sum: three plies more on 400 mm of a top 150 mm wide; beyond both ends they end at 90, 60 and 30 mm
    assert_allclose(mass, 2 * 0.15 * AREAL * (3 * 0.4 + 2 * (0.09 + 0.06 + 0.03)), rtol=5e-3)
    # the first laid runs farthest, over all that the wall has of its own
    assert ("sill 1 ply +0", "sill 2a ply +0", "sill 2b ply +0", "taper of sill.top.mid-back 3a ply +0") in (
        layup.stack_entries
    )


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("table", "area"),
    [
        # plies of 400, 360 and 320 mm on a wall 200 mm high
        ('{ on = "sill.outer", from = "mid", to = "back", ply = "3 x ply", stagger = 20 }', 0.2 * 1.08),
        # from a station to the wall's end: only the station's end is stepped
        ('{ on = "sill.outer", from = "back", ply = "3 x ply", stagger = 20 }', 0.2 * (0.5 + 0.48 + 0.46)),
        # up to a leaning plane, half-way up at x = 1050; 20 mm square to it are 22.4 along
        ('{ on = "sill.outer", from = "mid", to = "lean", ply = "2 x ply" }', 2 * 0.2 * 0.45),
        # strips of 50 and 38 mm on both walls of a corner, 1500 mm long
        ('{ around = "corner sill.c", ply = ["ply", "ply"], width = 50, stagger = 12 }', 2 * 1.5 * 0.088),
        # on one of them, between stations
        (
            '{ around = "corner sill.c", on = "sill.top", from = "mid", to = "back", ply = "2 x ply", width = 50, '
            "stagger = 12 }",
            0.4 * 0.05 + 0.376 * 0.038,
        ),
    ],
)
def test_stepped_patches_weigh_what_hand_sums_say(tmp_path, table, area, size):
    mass, _ = added(case(tmp_path, f"[patches]\nextra = {table}"), size)
    assert_allclose(mass, 2 * area * AREAL, rtol=5e-3)


def test_patch_between_stations_lies_on_a_wall_with_two_schedules_and_on_one_side_only(tmp_path):
    bay = '[sections.sill]\nlayup_from = [{ wall = "top", from = "mid", to = "back", layup = "thick" }]'
    text = '[patches]\nextra = { on = "sill.top", from = "mid", ply = "ply", only = "left" }'
    plain, _ = added(case(tmp_path, "", CASE.replace("[sections.sill]", bay)), 0.04)
    mass, _ = added(case(tmp_path, text, CASE.replace("[sections.sill]", bay)), 0.04)
    assert_allclose(mass - plain, 0.15 * 0.9 * AREAL, rtol=5e-3)


def test_one_half_of_a_panel_over_the_middle(tmp_path):
    lid = '[panels.lid]\nbetween = ["sill.b", "sill.b"]\ntool = "up"\nmeasured = "middle"\n[joints]\n"*/*" = "m"\n'
    base = CASE + lid + '[joint_kinds]\nm = { kind = "continuous" }\n[layups.lid]\nstack = ["ply"]\n'
    text = '[patches]\nextra = { on = "lid", from = "mid", to = "back", ply = "2 x ply", stagger = 25, only = "right" }'
    both = added(case(tmp_path, text.replace(', only = "right"', ""), base), 0.04)[0]
    mass, plain = (added(case(tmp_path, each, base), 0.04)[0] for each in (text, ""))
    assert_allclose(mass - plain, 0.4 * (0.4 + 0.35) * AREAL, rtol=5e-3)
    assert_allclose(both - plain, 2 * (mass - plain), rtol=5e-3)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (
            'on = "sill.top", from = "mid", to = "back", ply = "6 x ply", stagger = 45',
            "for all its plies: less stagger",
        ),
        ('on = "sill.top", from = "back", to = "mid", ply = "ply"', "no room on its panel between back and mid"),
    ],
)
def test_no_room_between_stations_is_told(tmp_path, table, words):
    own = case(tmp_path, f"[patches]\nextra = {{ {table} }}")
    with pytest.raises(CaseError, match=words):
        added(own, 0.04)


@pytest.mark.parametrize(
    ("layup", "words"),
    [
        ("other", r"layups.other does not hold all that sill has, in its order; write same_as = \"sill\", add = "),
        ("sill", "nothing to end: layups.sill has no ply more than sill"),
    ],
)
def test_schedules_that_cannot_taper_are_told(tmp_path, layup, words):
    bay = f'layup_from = [{{ wall = "top", from = "mid", to = "back", layup = "{layup}", taper = 90 }}]'
    with pytest.raises(CaseError, match=words):
        case(tmp_path, "", CASE.replace("[sections.sill]", f"[sections.sill]\n{bay}"))


def test_steps_steeper_than_1_in_10_are_told(tmp_path):
    bay = '[sections.sill]\nlayup_from = [{ wall = "top", from = "mid", to = "back", layup = "thick", taper = 27 }]'
    text = """
[patches]
together = { on = "sill.top", at = [300, 475, 200], ply = "2 x ply", radius = 60 }
flat = { on = "sill.outer", from = "mid", ply = "3 x ply", stagger = 10 }
single = { on = "sill.outer", to = "mid", ply = "ply" }
[defaults]
mount = { bolt = "M8", radius = 20 }
[mounts]
seat = { on = "sill.top", at = [800, 475, 200], patch = "3 x ply", patch_radius = [60, 50, 45] }
"""
    own = case(tmp_path, text, CASE.replace("[sections.sill]", bay))
    slopes = {drop.what: drop.slope for drop in ply_drops(own)}
    # 1 mm plies: 27 mm in three steps, all at once, 10 mm each, 5 mm at the steepest
    expected = {"taper of sill.top.mid-back": 9, "patch together": 0, "patch flat": 10, "patch of mount seat": 5}
    assert slopes.keys() == expected.keys()
    assert_allclose([slopes[what] for what in expected], list(expected.values()), rtol=1e-9)
    told = steep_drops(own)
    assert [text.split(":")[0] for text in told] == [what for what in slopes if slopes[what] < 9.5]
    assert any("3 plies end 9 mm apart, 1 in 9 (1 mm each); 1 in 10 is common practice" in text for text in told)
    assert any("patch together: 2 plies end together" in text and "a stagger of 10 to 20 mm" in text for text in told)


def test_a_tapered_ply_keeps_its_direction(tmp_path):
    bay = '[sections.sill]\nlayup_from = [{ wall = "top", from = "mid", to = "back", layup = "thick", taper = 60 }]'
    base = CASE.replace("[sections.sill]", bay).replace('add = ["2 x ply", "ply"]', 'add = ["ud @ 30"]')
    ud = 'ud = { E1 = "40 GPa", E2 = "10 GPa", G12 = "4 GPa", nu12 = 0.3, thickness = 0.5, density = "1800 kg/m^3" }'
    _, layup = added(case(tmp_path, "", base.replace("[plies]", f"[plies]\n{ud}")), 0.06)
    found = {
        round(float(np.degrees(angle)), 6)
        for stack, texts in zip(layup.stacks, layup.stack_entries, strict=True)
        for angle, text in zip(stack.angle, texts, strict=True)
        if text.startswith("taper of ")
    }
    assert found == {30.0, -30.0}  # the left half is the mirror image


def test_a_patch_along_a_corner_goes_with_its_section_and_stays_on_the_wall_that_is_left(tmp_path):
    lid = '[panels.lid]\nbetween = ["sill.b", "sill.b"]\ntool = "up"\nmeasured = "middle"\n[joints]\n"*/*" = "m"\n'
    base = CASE + lid + '[joint_kinds]\nm = { kind = "continuous" }\n[layups.lid]\nstack = ["ply"]\n'
    own = case(tmp_path, '[patches]\nrim = { around = "corner sill.c", ply = "ply", width = 50 }', base)
    assert not take_off(own, "sill").patches
    left = take_off(own, "sill.outer")
    assert left.patches
    _, layup = added(left, 0.06)
    assert {note.split(":")[0] for note in layup.notes} == {
        "patch rim on sill.top.left",
        "patch rim on sill.top.right",
    }
