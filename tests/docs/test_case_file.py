"""docs/case-file.md has every key of the schema and no other; the schema itself is fit for an editor."""

import re
import tomllib
from pathlib import Path

import pytest

from tubfem.case.schema import case_schema

TEXT = (Path(__file__).parents[2] / "docs" / "case-file.md").read_text()
SCHEMA = case_schema()
HEADINGS = {  # model of the schema -> heading of the page
    "": "The case itself",
    "Mesh": "`[mesh]`",
    "Defaults": "`[defaults]`",
    "MountDefaults": "`[defaults]` `mount`",
    "Station": "`[stations]`",
    "Section": "`[sections.NAME]`",
    "LayupFrom": "`[sections.NAME]` `layup_from`",
    "Panel": "`[panels.NAME]`",
    "OnWall": "Point on a wall",
    "Arc": "Arc",
    "Spline": "Spline",
    "AlongZero": "Zero along a line",
    "Opening": "`[panels.NAME.openings.NAME]`",
    "Recess": "`[panels.NAME.recesses.NAME]`",
    "Ply": "`[plies.NAME]`",
    "Core": "`[cores.NAME]`",
    "Filler": "`[fillers.NAME]`",
    "Layup": "`[layups]`",
    "StackEntry": "Entry of a stack",
    "Lap": "Lap",
    "JointKind": "`[joint_kinds.NAME]`",
    "JointStiffness": "Stiffness of a joint",
    "Connection": "`[connections.NAME]`",
    "Mount": "`[mounts.NAME]`",
    "Insert": "Insert",
    "MountStiffness": "Stiffness of a mount",
    "Patch": "`[patches.NAME]`",
    "Stiffener": "`[stiffeners.NAME]`",
    "Subframe": "`[subframes.NAME]`",
    "Tube": "Tube of a subframe",
    "Pickup": "`[pickups.NAME]`",
    "Vehicle": "`[vehicle]`",
    "Axle": "`[axles.front]` and `[axles.rear]`",
    "Link": "`[axles.front.links.NAME]`",
    "OnArm": "Place on an arm",
    "Arm": "`[axles.front.arms.NAME]`",
    "Bending": "Bending",
    "Braking": "Braking",
    "Cornering": "Cornering",
    "Bump": "Bump",
    "Kerb": "Kerb",
    "Jacking": "Jacking",
    "Towing": "Towing",
    "Combination": "Combination",
    "Torsion": "`[load_cases.NAME]`, torsion",
    "Static": "`[load_cases.NAME]`, static",
    "Support": "Support",
    "Load": "Force",
    "PressureLoad": "Pressure",
    "RigidSet": "Rigid set",
    "Modes": "`[modes]`",
    "CarriedMass": "`[modes.masses.NAME]`",
    "Margins": "`[margins]`",
    "LighterAxle": "`[margins]` `lighter_axle`",
    "Coupons": "`[margins]` `coupons`",
    "Heat": "`[heat]`",
    "HeatZone": "`[heat.zones.NAME]`",
    "ResinHeat": "`[heat.resins.NAME]`",
    "Variant": "`[variants.NAME]`",
    "Spread": "`[spread]`",
    "Schedule": "`[schedule]`",
    "Springs": "`[schedule]` `springs`",
    "RegionPlies": "`[schedule.regions.NAME]`",
}


def table(model):
    """The part of the schema that describes a table's keys."""
    schema = SCHEMA["$defs"][model] if model else SCHEMA
    return next((each for each in schema.get("anyOf", ()) if "properties" in each), schema)


def rows(heading):
    """Key -> default column of the table under a heading."""
    start = TEXT.index(f"\n## {heading}\n")
    end = TEXT.find("\n## ", start + 1)
    cells = re.findall(r"^\| `(\w+)` \|(?:[^|]*\|)*?([^|]*)\|$", TEXT[start:end], re.MULTILINE)
    return {key: default.strip() for key, default in cells}


def test_every_model_has_its_heading():
    assert set(SCHEMA["$defs"]) == set(HEADINGS) - {""}


@pytest.mark.parametrize("model", HEADINGS)
def test_the_page_has_every_key_and_no_other(model):
    assert set(rows(HEADINGS[model])) == set(table(model)["properties"])


@pytest.mark.parametrize("model", sorted(set(HEADINGS) - {""}))
def test_what_is_required_is_said(model):
    required = set(table(model).get("required", ()))
    assert {key for key, default in rows(HEADINGS[model]).items() if default.startswith("required")} >= required


def test_its_pieces_of_toml_can_be_read():
    pieces = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    assert pieces
    for piece in pieces:
        assert tomllib.loads(piece)


def test_the_schema_refuses_unknown_keys_everywhere():
    assert SCHEMA["additionalProperties"] is False
    for model in SCHEMA["$defs"]:
        assert table(model)["additionalProperties"] is False, model


def test_what_only_the_reader_sets_is_not_in_the_schema():
    assert not {"path", "cautions", "lines", "without"} & set(SCHEMA["properties"])
