"""report.html as text: what it says, that names stay names, that it asks for nothing from outside."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
import report_builders

from tubfem.report import html, json_file, review
from tubfem.report.measures import MEASURES

HOSTILE = """</script><script>alert(1)</script><img src=x onerror="alert('2')">"""
VOID = {"meta", "input", "line", "rect", "circle", "polyline", "br", "img", "wbr"}


class Reader(HTMLParser):
    """Elements, text outside scripts, contents of scripts; unbalanced markup is noted."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.open, self.text, self.scripts, self.styles, self.faults = [], [], [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "script":
            self.scripts.append("")
        if tag == "style":
            self.styles.append("")

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        if self.open and self.open[-1] == "script":
            self.scripts[-1] += data
        elif self.open and self.open[-1] == "style":
            self.styles[-1] += data
        elif self.elements and self.elements[-1][0] == "wbr":  # a name that may be broken there
            self.text[-1] += data
        else:
            self.text.append(data)


def contents(model, findings):
    return json_file.results(model, findings, {"solve": 1.0}, "0.0")


def report(model, findings, **more):
    return html.page(model, contents(model, findings), findings, **more)


@pytest.fixture(scope="module")
def small():
    return report_builders.small_report(2)


@pytest.fixture(scope="module")
def text(small):
    return report(*small)


@pytest.fixture(scope="module")
def read(text):
    return Reader(text)


def data_of(reader):
    return json.loads(next(script for script in reader.scripts if script.startswith("{")))


def array(text, kind="<f4"):
    return np.frombuffer(base64.b64decode(text), kind)


def test_cautions_stand_before_the_answer_and_the_answer_before_the_rest(text):
    order = [text.index(words) for words in ("licensed engineer", "2430 N·m/deg", 'id="tub"', 'id="review"')]
    assert order == sorted(order)
    assert "Wet lay-up scatters" in text[: text.index('id="answer"')]


def test_the_answer_has_stiffness_band_mass_margin_bay_and_joint(read):
    said = " ".join(" ".join(read.text).split())
    answer = said[said.index("The answer") : said.index("Twist along")]
    for words in (
        "2430 N·m/deg",
        "2290 N·m/deg",
        "2560 N·m/deg",
        "31.2 kg",
        "tabs: 0.412 kg",
        "filler: 0.153 kg",
        "+0.42",
        "dash to seat_back",
        "tabbed",
    ):
        assert words in answer


def test_the_softest_cut_can_be_followed_by_hand(read):
    """The open one of the two: its strip alone, 4 D66 b = 4 · 90 · 0.14 N·m², against GJ."""
    said = " ".join(" ".join(read.text).split())
    cut = said[said.index("The softest cut") : said.index("Points of the curve")]
    wall = "length b, mm membrane shear Gt, N/mm own torsion 4 D66 b, N·m² sill.bottom.right no 140 20000 50.4"
    for words in ("At x = 1060 mm", "216 N·m² in all", wall):
        assert words in re.sub(r" ([,.])", r"\1", cut)
    assert "shear flow 4" not in cut


def test_markup_is_balanced_and_labels_point_at_what_exists(read):
    assert read.faults == []
    assert read.open == []
    ids = [attrs["id"] for _, attrs in read.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    targets = {attrs["href"][1:] for tag, attrs in read.elements if tag == "a" and attrs["href"].startswith("#")}
    targets |= {attrs["aria-labelledby"] for _, attrs in read.elements if "aria-labelledby" in attrs}
    assert targets <= set(ids)
    for tag, attrs in read.elements:
        if tag == "svg":
            assert attrs.get("aria-label"), attrs


def test_nothing_comes_from_outside(read):
    for tag, attrs in read.elements:
        assert tag not in {"link", "iframe", "object", "embed", "base", "form"}
        assert not {"src", "srcset", "action", "style"} & attrs.keys()
        assert not any(name.startswith("on") for name in attrs)
        assert attrs.get("href", "#").startswith("#")


def test_the_policy_allows_the_page_s_own_scripts_and_style_by_digest_and_nothing_else(read):
    policy = next(a["content"] for t, a in read.elements if a.get("http-equiv") == "Content-Security-Policy")
    allowed = set(re.findall(r"'sha256-([^']+)'", policy))
    own = [*(script for script in read.scripts if not script.startswith("{")), *read.styles]
    assert {base64.b64encode(hashlib.sha256(part.encode()).digest()).decode() for part in own} == allowed
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


def test_names_of_the_case_are_text(small):
    model, findings = small
    load_case = findings.load_cases["torsion"]
    panels = tuple(replace(p, name=f"{HOSTILE}{p.name}", region=f"{HOSTILE}{p.region}") for p in model.mesh.panels)
    model = replace(
        model,
        case=model.case.model_copy(update={"title": HOSTILE, "path": HOSTILE}),
        mesh=replace(model.mesh, panels=panels),
        joint_kinds={f"{HOSTILE}{name}": kind for name, kind in model.joint_kinds.items()},
        cautions=(HOSTILE,),
        notes=(HOSTILE,),
    )
    regions = {f"{HOSTILE}{n}": replace(r, name=f"{HOSTILE}{n}") for n, r in load_case.regions.items()}
    joints = {f"{HOSTILE}{n}": replace(j, name=f"{HOSTILE}{n}") for n, j in load_case.joints.items()}
    bays = tuple(replace(bay, start=HOSTILE) for bay in load_case.torsion.bays)
    changed = replace(load_case, name=HOSTILE, regions=regions, joints=joints)
    torsion = replace(load_case.torsion, bays=bays, softest=bays[1], restraint=HOSTILE)
    changed = replace(changed, torsion=torsion)
    findings = replace(findings, load_cases={HOSTILE: changed}, cautions=(HOSTILE,), sentences=(HOSTILE,))
    reader = Reader(report(model, findings, studies={"compare": {HOSTILE: [{HOSTILE: HOSTILE}], "b": HOSTILE}}))
    plain = Reader(report(*small))
    assert reader.faults == []
    assert len(reader.scripts) == len(plain.scripts)
    assert "img" not in {tag for tag, _ in reader.elements}
    assert not any(name.startswith("on") for _, attrs in reader.elements for name in attrs)
    assert HOSTILE in "".join(reader.text)
    assert any(name.startswith(HOSTILE) for name in data_of(reader)["scene"]["regions"])


def test_every_quantity_keeps_its_si_value_for_the_other_units(read):
    kinds = {attrs["data-kind"] for _, attrs in read.elements if "data-kind" in attrs}
    assert {"stiffness", "mass", "length", "line_force"} <= kinds <= MEASURES.keys()
    values = [float(a["value"]) for t, a in read.elements if t == "data" and a["data-kind"] == "stiffness"]
    assert 2425.123 in values


@pytest.mark.parametrize(
    ("kind", "si", "inch"),
    [  # by exact definitions: 1 lb = 0.45359237 kg, 1 in = 25.4 mm, g = 9.80665 m/s2 (NIST SP 811, appendix B)
        ("mass", 0.45359237, 1.0),
        ("length", 0.0254, 1.0),
        ("torque", 1.3558179483, 1.0),
        ("line_force", 175.12683525, 1.0),
        ("stress", 6.8947572932e6, 1.0),
        ("areal", 4.8824276364, 1.0),
        ("energy_density", 14.593902937, 1.0),
        ("line_stiffness", 6.8947572932e3, 1.0),  # lbf/in per in is a pound per square inch
        ("line_turning", 4.4482216153, 1.0),
        ("modulus", 6.8947572932e9, 1.0),
        ("density", 16.018463374, 1.0),
        ("cloth", 0.033905747475, 1.0),
        ("cut", 6.4516e-4, 1.0),
        ("volume", 1.6387064e-5, 1.0),
    ],
)
def test_inch_pound_factors(kind, si, inch):
    assert si * MEASURES[kind].inch_factor == pytest.approx(inch, rel=1e-9)


def test_the_drawing_s_arrays_are_the_model_s(small, read):
    model, findings = small
    scene, fields = data_of(read)["scene"], findings.load_cases["torsion"].fields
    points = array(scene["points"]).reshape(-1, 3)
    corners = array(scene["corners"], "<u4").reshape(-1, 4)
    conn = np.concatenate([block.conn for block in model.mesh.blocks if block.kind == "quad4"])
    np.testing.assert_allclose(points[corners[: len(conn)]], model.mesh.points[conn], atol=1e-6)
    found = scene["load_cases"]["torsion"]
    np.testing.assert_allclose(array(found["strain"]), fields.strain, rtol=1e-6)
    np.testing.assert_allclose(array(found["generalised"]).reshape(-1, 8), fields.generalised, rtol=1e-6)
    regions = [scene["regions"][i] for i in array(scene["region"], "<u2")]
    assert regions == [findings.regions[i] for i in findings.element_region]


def test_a_static_load_case_has_a_page(small):
    model, findings = small
    static = report_builders.without_torsion(findings.load_cases["torsion"])
    reader = Reader(report(model, report_builders.with_load_case(findings, static)))
    assert reader.faults == []
    assert not any(attrs.get("id") == "twist" or attrs.get("href") == "#twist" for _, attrs in reader.elements)


def test_look_gives_the_page_without_results(small):
    model, _ = small
    text = html.page(model, json_file.about(model, "0.0"))
    reader = Reader(text)
    assert reader.faults == []
    assert "nothing solved" in text
    assert "Is this the tub you measured?" in text
    assert not {"twist", "regions", "joints"} & {attrs.get("id") for _, attrs in reader.elements}
    assert data_of(reader)["scene"]["load_cases"] == {}


def test_an_earlier_run_and_studies_in_the_folder_are_shown(small, tmp_path):
    model, findings = small
    past = contents(model, findings)
    past["mass"]["total"] = 29.0
    (tmp_path / "results.json").write_text(json.dumps(past))
    rows = [{"change": "floor=biax600", "gain_Nm_per_deg": 67.3214, "confirmed": True}]
    (tmp_path / "next_ply.json").write_text(json.dumps({"rows": rows}))
    (tmp_path / "compare.json").write_text("{ not JSON")
    now = contents(model, findings)
    now["since"] = review.since(tmp_path, now)
    html.write_report(tmp_path / "page.html", model, now, findings, beside=tmp_path)
    said = " ".join(" ".join(Reader((tmp_path / "page.html").read_text()).text).split())
    assert "Since the earlier run" in said
    assert "29.0 kg 31.2 kg" in said
    assert "gain, N·m/deg" in said
    assert "floor=biax600 67.3 yes" in said
    assert "Variants side by side" not in said


def test_a_failed_check_is_called_failed(small):
    model, findings = small
    failing = report_builders.failing(findings.load_cases["torsion"])
    assert "FAILED" in report(model, report_builders.with_load_case(findings, failing))
